"""`stock add --from`: many items from a CSV file into the stock, as one change of the book.

How rows are read and what items are called is left to the shelf, the rest of `add` to `add`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import TYPE_CHECKING

from cogtally.cli.batch import REFUSED
from cogtally.cli.common.output import now_written
from cogtally.cli.stock.book import asked_money, whole_photo
from cogtally.gears.errors import UserError
from cogtally.gears.printed import shown
from cogtally.shelf.batch.rows import (
    COUNTS,
    FAMILY,
    FEATURE,
    MARK,
    ROLE,
    SEEN,
    parts,
    unknown_column,
)
from cogtally.shelf.batch.sheet import ITEM, Row, Sheet, refuse_date

if TYPE_CHECKING:
    from cogtally.shelf.stock.items import Details, Item, Named, Thing
    from cogtally.shelf.stock.naming import Naming

PAIR, QUANTITY, NOTE = "pair", "quantity", "note"
PLACE, PRICE, CURRENCY, CONDITION, PHOTO = "place", "price", "currency", "condition", "photo"
#: What an item is, in one of these columns, and all that may be said of it.
SEEN_IN = (COUNTS, SEEN, PAIR)
OF_SEEN = (ITEM, *SEEN_IN, ROLE, FAMILY, MARK, FEATURE)
COLUMNS = (*OF_SEEN, PLACE, PRICE, CURRENCY, CONDITION, PHOTO, NOTE, QUANTITY)


@dataclass(frozen=True, slots=True)
class _Wanted:
    """One row as it goes into the stock: so many items alike."""

    thing: Thing
    details: Details
    named: Named
    quantity: int


class _Rows:
    """Rows made into items, named by one catalog; a price has the last currency that was told."""

    def __init__(self, book: Path, naming: Naming, currency: str | None) -> None:
        self._book = book
        self._naming = naming
        self._currency = currency

    def wanted(self, row: Row) -> _Wanted:
        """Return what a row puts into the stock; raise UserError for one that cannot be read."""
        from cogtally.cli.stock.add import asked_quantity
        from cogtally.shelf.stock.items import Details, whole_text
        from cogtally.shelf.stock.naming import thing_of_catalog

        if row.fault is not None:
            raise row.fault
        cells = row.cells
        thing = thing_of_catalog(self._naming.catalog, _thing(cells))
        notes = [cells[column] for column in (ITEM, NOTE) if column in cells]
        price = asked_money(self._book, cells.get(PRICE), self._currency_of(row))
        details = Details(
            condition=whole_text(cells.get(CONDITION, ""), CONDITION),
            place=whole_text(cells.get(PLACE, ""), PLACE),
            price=price,
            photo=whole_photo(cells.get(PHOTO, "")),
            note=whole_text("; ".join(notes), NOTE),
        )
        if price is not None:
            self._currency = price.currency
        quantity = asked_quantity(cells.get(QUANTITY))
        return _Wanted(thing, details, self._naming.name(thing), quantity)

    def _currency_of(self, row: Row) -> str | None:
        return row.cells.get(CURRENCY, self._currency) if PRICE in row.cells else None


def _thing(cells: Mapping[str, str]) -> Thing:
    """What a row says that its item is, as it was typed."""
    from cogtally.shelf.stock import items

    given = [column for column in SEEN_IN if column in cells]
    if not given:
        raise UserError("nothing was counted", mend="write counts, for example 28 24 19 _ 12")
    if len(given) > 1:
        mend = f"fill one of {', '.join(SEEN_IN)}"
        raise UserError("an item is a piece, a pair or a box", " and ".join(given), mend)
    text = cells[given[0]]
    refuse_date(text, given[0])
    words = text.split()
    kind = items.PAIR if given[0] == PAIR else items.kind_of(words)
    if kind == items.PIECE and FAMILY in cells:
        raise UserError("a family is of a box or a pair", FAMILY, "leave the cell empty")
    return items.new_thing(
        kind,
        words,
        role=cells.get(ROLE, ""),
        only_family=cells.get(FAMILY, ""),
        marks=parts(cells.get(MARK)),
        features=parts(cells.get(FEATURE)),
    )


def add_from(book: Path, from_file: str, currency: str | None, *, as_json: bool) -> int:
    """Put every row of a file into the stock; return the exit code.

    The rows that cannot be read are told, the rest are added all at once.
    """
    from cogtally.shelf.stock.book import stock_writing
    from cogtally.shelf.stock.naming import naming_of
    from cogtally.show.batch import reading
    from cogtally.show.screen import note, progress

    rows = _Rows(book, naming_of(book), currency)
    found: list[_Wanted] = []
    refused: list[dict[str, object]] = []
    with progress("naming", left=True) as at, reading(from_file, at) as text:
        sheet = Sheet(text, shown(PurePath(from_file).name), _check)
        for row in sheet.rows():
            try:
                found.append(rows.wanted(row))
            except UserError as error:
                # What is an option for one item is a column here.
                said = str(error).removeprefix("--")
                note(f"cogtally: {sheet.file}:{row.line}: {said}")
                refused.append({"row": row.line, ITEM: row.item, "error": said})
    added: list[Item] = []
    if found:
        with stock_writing(book, f"stock add --from {sheet.file}") as stock:
            for one in found:
                for _ in range(one.quantity):
                    added.append(stock.add(one.thing, one.details, one.named))
            stock.say(f"stock add --from {sheet.file}: {_numbers(added)}")
        there = "item {} is" if len(added) == 1 else "items {} are"
        now_written(f"{there.format(_numbers(added))} in the stock")
    _say(added, refused, book, as_json)
    return REFUSED if refused else 0


def _numbers(items: Sequence[Item]) -> str:
    first, last = items[0].number, items[-1].number
    return f"{first}" if first == last else f"{first} to {last}"


def _say(
    added: Sequence[Item], refused: Sequence[dict[str, object]], book: Path, as_json: bool
) -> None:
    if as_json:
        from cogtally.show.screen import print_json
        from cogtally.show.stock.json import items_json

        print_json({**items_json(added, str(book)), "refused": list(refused)})
        return
    from cogtally.show.screen import console_for
    from cogtally.show.stock.screen import end, say

    console = console_for()
    count = f"{len(added):,} {'item' if len(added) == 1 else 'items'}"
    numbers = f" as {_numbers(added)}" if added else ""
    left = f" {len(refused):,} of the rows could not be read." if refused else ""
    say(console, f"Added {count}{numbers}.{left}")
    if added:
        say(console, "'cogtally stock undo' takes all of it back.")
    end(console)


def _check(columns: Sequence[str]) -> UserError | None:
    for column in columns:
        if column not in COLUMNS:
            return unknown_column(column, COLUMNS)
    if set(SEEN_IN).isdisjoint(columns):
        return UserError("the column is missing", COUNTS, f"begin with {ITEM},{COUNTS}")
    return None
