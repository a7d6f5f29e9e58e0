"""The stock in the book: its tables read whole, and changed an item at a time.

Transactions, the log and taking back are left to the store, what an item is called to `naming`.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cogtally.gears.errors import UserError
from cogtally.shelf.stock.items import Details, Item, Named, Sale, Thing
from cogtally.shelf.stock.rows import ANSWERS, ITEMS, NOW, THEN, answer_row, item_of, item_row
from cogtally.store.reading import reading
from cogtally.store.wrong import damaged

if TYPE_CHECKING:
    import sqlite3

    from cogtally.store.writing import Writing

#: The name of the stock in the log of the book.
ROOM = "stock"
LIST = "'cogtally stock list' lists them"


def read_items(path: Path) -> tuple[Item, ...]:
    """Return every item of the book at `path`, sold ones too, by number; raise UserError."""
    with reading(path) as book:
        return _items(book, path)


def read_item(path: Path, number: int) -> Item:
    """Return one item; raise UserError where the stock has none of that number."""
    with reading(path) as book:
        return _one(_items(book, path, number), number)


def last_currency(path: Path) -> str:
    """Return the currency of the item added last that has a price, empty where none has."""
    with reading(path) as book:
        row = book.execute(
            "SELECT currency FROM items WHERE price IS NOT NULL ORDER BY id DESC LIMIT 1"
        ).fetchone()
    return "" if row is None else str(row[0])


@contextmanager
def stock_writing(path: Path, what: str) -> Iterator[Stock]:
    """Change the stock in the book at `path`: one transaction, logged as `what`, or nothing.

    Raises UserError where the book cannot be written, or is held by another for too long.
    """
    from cogtally.store.writing import writing

    with writing(path, ROOM, what) as change:
        yield Stock(path, change)


class Stock:
    """The stock's tables during one change of the book."""

    def __init__(self, path: Path, change: Writing) -> None:
        from cogtally.store.writing import now

        self.path = path
        self.change = change
        #: The time of the change, UTC.
        self.at = now()

    def add(self, thing: Thing, details: Details, named: Named) -> Item:
        """Write a new item under a number that none ever had, and return it."""
        number = self._next()
        item = Item(number, thing, details, named, named, self.at, self.at)
        self.change.add(ITEMS, [item_row(item)])
        self.change.add(ANSWERS, [answer_row(number, m, named) for m in (THEN, NOW)])
        return item

    def put(self, item: Item) -> Item:
        """Write an item as it is to be in place of what it was, and return it with the time of it.

        What it was called when it was added stays.
        """
        new = replace(item, changed=self.at)
        self.change.put(ITEMS, item_row(new))
        self.change.put(ANSWERS, answer_row(item.number, NOW, item.now))
        return new

    def put_named(self, number: int, named: Named) -> None:
        """Write what an item is called now; that is no change of the item."""
        self.change.put(ANSWERS, answer_row(number, NOW, named))

    def sell(self, number: int, sale: Sale) -> Item:
        """Write that an item was sold; raise UserError if it was sold already."""
        item = self.item(number)
        if item.sale is not None:
            mend = "'cogtally stock log' tells when; 'cogtally stock undo' takes the last sale back"
            raise UserError("this item is sold already", f"item {number}", mend)
        return self.put(replace(item, sale=sale))

    def put_labelled(self, number: int) -> None:
        """Write that a label was made for an item; that is no change of the item."""
        self.change.put(ITEMS, {"id": number, "labelled": self.at})

    def say(self, what: str) -> None:
        """Log the change as `what`, which was not known when it began."""
        self.change.db.conn.execute(
            "UPDATE log SET what = ? WHERE id = ?", [what, self.change.entry]
        )

    def item(self, number: int) -> Item:
        """Return one item as it stands in the middle of this change; raise UserError."""
        return _one(_items(self.change.db.conn, self.path, number), number)

    def items(self) -> tuple[Item, ...]:
        """Return every item as it stands in the middle of this change, by number."""
        return _items(self.change.db.conn, self.path)

    def _next(self) -> int:
        """The number behind the last that was ever given, be its item taken back by now."""
        found = self.change.rows(
            "SELECT max(seq) AS last FROM sqlite_sequence WHERE name = ?", [ITEMS]
        )
        return int(found[0]["last"] or 0) + 1


def _one(items: tuple[Item, ...], number: int) -> Item:
    if not items:
        raise UserError("the stock has no such item", f"item {number}", LIST)
    return items[0]


def _items(book: sqlite3.Connection, path: Path, number: int | None = None) -> tuple[Item, ...]:
    where, values = ("", []) if number is None else ("WHERE {} = ?", [number])
    answers: dict[tuple[int, str], dict[str, Any]] = {}
    for row in _rows(book, f"SELECT * FROM {ANSWERS} {where.format('item')}", values):
        answers[row["item"], row["moment"]] = row
    found = []
    number = 0
    try:
        for row in _rows(book, f"SELECT * FROM {ITEMS} {where.format('id')} ORDER BY id", values):
            number = row["id"]
            found.append(item_of(row, answers[number, THEN], answers[number, NOW]))
    except (ValueError, TypeError, KeyError, AttributeError, UserError) as error:
        raise damaged(path, f"item {number} cannot be read") from error
    return tuple(found)


def _rows(book: sqlite3.Connection, sql: str, values: list[int]) -> Iterator[dict[str, Any]]:
    cursor = book.execute(sql, values)
    names = [column[0] for column in cursor.description]
    for row in cursor:
        yield dict(zip(names, row, strict=True))
