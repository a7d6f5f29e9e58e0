"""The stock in the book: its tables read whole, and changed an item at a time.

What a person typed is kept as typed; `counts` and `turns` hold what it parses to. Transactions,
the log and taking back are left to the store, what an item is called to `naming`.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cogtally.gears.errors import UserError
from cogtally.shelf.stock.items import PIECE, Details, Item, Money, Named, Sale, Share, Thing
from cogtally.store import damaged, read_records, reading, writing

if TYPE_CHECKING:
    import sqlite3

    from cogtally.store import Writing


ITEMS, ANSWERS, WANTS = "items", "item_answers", "wants"
#: The moments of an answer: when the item was added, and last.
THEN, NOW = "then", "now"

Row = dict[str, str | int | float | None]


def item_row(item: Item) -> Row:
    """Return the row of an item, what it is called left out."""
    thing, details, sale = item.thing, item.details, item.sale
    says = parsed(thing)
    return {
        "id": item.number,
        "kind": thing.kind,
        "seen": thing.text,
        "counts": _kept(says["counts"]),
        "turns": _kept(says["turns"]),
        "role": thing.role,
        "only_family": thing.only_family,
        "marks": _kept(thing.marks),
        "features": _kept(thing.features),
        "condition": details.condition,
        "place": details.place,
        "price": details.price.amount if details.price else None,
        "currency": details.price.currency if details.price else None,
        "photo": details.photo,
        "note": details.note,
        "added": item.added,
        "changed": item.changed,
        "labelled": item.labelled or None,
        "sold": sale.at if sale else None,
        "sold_to": sale.to if sale else None,
        "sold_price": sale.price.amount if sale and sale.price else None,
        "sold_currency": sale.price.currency if sale and sale.price else None,
        "sold_note": sale.note if sale else None,
    }


def answer_row(number: int, moment: str, named: Named) -> Row:
    """Return the row of what an item is called at a moment."""
    return {
        "item": number,
        "moment": moment,
        "name": named.name,
        "verdict": named.verdict,
        "family": named.family or None,
        "piece": named.piece or None,
        "teeth": _kept(named.teeth),
        "sets": _kept(named.sets),
        "probability": named.probability,
        "away": named.away,
        "shares": _kept(list(map(_share, named.shares))),
        "catalog": named.catalog,
        "entry": named.entry,
        "at": named.at,
    }


def _share(share: Share) -> dict[str, Any]:
    found = {"family": share.family, "piece": share.piece or None, "teeth": share.teeth or None}
    return {**found, "sets": share.sets, "probability": share.probability}


def item_of(row: Mapping[str, Any], then: Mapping[str, Any], now: Mapping[str, Any]) -> Item:
    """Return the item of a row and its two answers; ValueError or such if it is none."""
    sale = None
    if row["sold"] is not None:
        paid = _money(row["sold_price"], row["sold_currency"])
        sale = Sale(row["sold"], row["sold_to"] or "", paid, row["sold_note"] or "")
    price = _money(row["price"], row["currency"])
    return Item(
        number=row["id"],
        thing=Thing(
            kind=row["kind"],
            words=tuple(row["seen"].split()),
            role=row["role"],
            only_family=row["only_family"],
            marks=_tuple(row["marks"]),
            features=_tuple(row["features"]),
        ),
        details=Details(row["condition"], row["place"], price, row["photo"], row["note"]),
        then=named_of(then),
        now=named_of(now),
        added=row["added"],
        changed=row["changed"],
        labelled=row["labelled"] or "",
        sale=sale,
    )


def named_of(row: Mapping[str, Any]) -> Named:
    """Return what an item is called, of a row."""
    return Named(
        name=row["name"],
        verdict=row["verdict"],
        probability=row["probability"],
        family=row["family"] or "",
        piece=row["piece"] or "",
        teeth=_tuple(row["teeth"]),
        sets=_tuple(row["sets"]),
        away=row["away"],
        shares=tuple(
            Share(
                family=share["family"],
                sets=tuple(share["sets"]),
                probability=share["probability"],
                piece=share["piece"] or "",
                teeth=tuple(share["teeth"] or ()),
            )
            for share in _tuple(row["shares"])
        ),
        catalog=row["catalog"],
        entry=row["entry"],
        at=row["at"],
    )


def parsed(thing: Thing) -> dict[str, Any]:
    """Return what the words of a thing say, as plain values: `counts` and `turns`.

    A count: its place or wheel, teeth (None for `_`), whether unsure, how often. A turn test: the
    gears, turns in and out as exact fractions, `held` for an axle with one wheel held.
    """
    counts: list[Mapping[str, Any]] = []
    by = "place" if thing.kind == PIECE else "wheel"
    for name, found in thing.places:
        where = int(name) if thing.kind == PIECE else name
        counts += [
            {by: where, "teeth": c.teeth, "unsure": c.unsure, "times": c.times} for c in found
        ] or [{by: where, "teeth": None, "unsure": False, "times": 0}]
    turns = [
        {"gears": list(t.gears), "in": str(t.turns_in), "out": str(t.turns_out), "held": t.held}
        for t in (() if thing.kind == PIECE else thing.box.turns)
    ]
    return {"counts": counts, "turns": turns}


def _money(amount: str | None, currency: str | None) -> Money | None:
    return None if amount is None or currency is None else Money(amount, currency)


def _tuple(kept: str | None) -> tuple[Any, ...]:
    return tuple(json.loads(kept)) if kept else ()


def _kept(value: Any) -> str | None:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":")) if value else None


#: The name of the stock in the log of the book.
ROOM = "stock"
#: What the log says of items that were added from a file begins so.
FROM_FILE = "stock add --from "
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
    """Return the currency of the last price of an item, else of a want; empty where none was."""
    with reading(path) as book:
        rows = list(read_records(book, path, WANTS, order="noted"))
        rows += read_records(book, path, ITEMS, order="id")
    return next((str(row["currency"]) for row in reversed(rows) if row["currency"]), "")


def rows_of_files(path: Path) -> tuple[dict[str, Any], ...]:
    """Return the rows of all items that were added from files, as they were added.

    What was taken back with an undo is left out; what was sold, changed or removed since is not.
    """
    with reading(path) as book:
        log = list(read_records(book, path, "log"))
        undone = {entry["undoes"] for entry in log}
        wanted = [
            entry["id"]
            for entry in log
            if entry["what"].startswith(FROM_FILE) and entry["id"] not in undone
        ]
        changes = list(read_records(book, path, "changes", wanted))
    added = (one for one in changes if one["place"] == ITEMS and one["before"] is None)
    return tuple(json.loads(one["after"]) for one in added)


@contextmanager
def stock_writing(path: Path, what: str) -> Iterator[Stock]:
    """Change the stock in the book at `path`: one transaction, logged as `what`, or nothing.

    Raises UserError where the book cannot be written, or is held by another for too long.
    """
    with writing(path, ROOM, what) as change:
        yield Stock(path, change)


class Stock:
    """The stock's tables during one change of the book."""

    def __init__(self, path: Path, change: Writing) -> None:
        self.path = path
        self.change = change
        #: The time of the change, UTC.
        self.at = change.at

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
            raise _is_sold(number, "this item is sold already")
        return self.put(replace(item, sale=sale))

    def take_back(self, number: int) -> Item:
        """Write that a sold item came back, and return it as it was sold; raise UserError."""
        item = self.item(number)
        if item.sale is None:
            mend = "'cogtally stock list --sold' lists what was"
            raise UserError("this item was not sold", f"item {number}", mend)
        self.put(replace(item, sale=None))
        return item

    def remove(self, number: int) -> Item:
        """Take an item that is not sold out of the stock, and return it; raise UserError."""
        item = self.item(number)
        if item.sale is not None:
            raise _is_sold(number, "a sold item is not removed")
        for moment in (THEN, NOW):
            self.change.remove(ANSWERS, {"item": number, "moment": moment})
        self.change.remove(ITEMS, {"id": number})
        return item

    def put_labelled(self, number: int) -> None:
        """Write that a label was made for an item; that is no change of the item."""
        self.change.put(ITEMS, {"id": number, "labelled": self.at})

    def say(self, what: str) -> None:
        """Log the change as `what`, which was not known when it began."""
        self.change.what = what

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


def _is_sold(number: int, sentence: str) -> UserError:
    mend = f"'cogtally stock return {number}' takes the sale back"
    return UserError(sentence, f"item {number}", mend)


def _one(items: tuple[Item, ...], number: int) -> Item:
    if not items:
        raise UserError("the stock has no such item", f"item {number}", LIST)
    return items[0]


def _items(book: sqlite3.Connection, path: Path, number: int | None = None) -> tuple[Item, ...]:
    wanted = None if number is None else [number]
    answers: dict[tuple[int, str], dict[str, Any]] = {}
    for row in read_records(book, path, ANSWERS, wanted):
        answers[row["item"], row["moment"]] = row
    found = []
    number = 0
    items = list(read_records(book, path, ITEMS, wanted, order="id"))
    try:
        for row in items:
            number = row["id"]
            found.append(item_of(row, answers[number, THEN], answers[number, NOW]))
    except (ValueError, TypeError, KeyError, AttributeError, UserError) as error:
        raise damaged(path, f"item {number} cannot be read") from error
    return tuple(found)
