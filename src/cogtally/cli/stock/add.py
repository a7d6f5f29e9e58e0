"""`cogtally stock add`: put an item on the shelf, or with --from all the items of a CSV file.

How rows are read and what items are called is left to the shelf, the look of it to `show`.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import TYPE_CHECKING, Annotated

import typer

from cogtally.cli.batch import REFUSED
from cogtally.cli.common.options import BookOption, FromOption, JsonOption, NoDemoOption
from cogtally.cli.common.output import now_written
from cogtally.cli.stock.asked import (
    ConditionOption,
    CurrencyOption,
    FeatureOption,
    MarkOption,
    NoteOption,
    PhotoOption,
    PlaceOption,
    PriceOption,
    asked_money,
    asked_stock,
    whole_photo,
)
from cogtally.gears.errors import UserError
from cogtally.gears.printed import shown
from cogtally.shelf.batch import (
    COUNTS,
    FAMILY,
    FEATURE,
    ITEM,
    MARK,
    ROLE,
    SEEN,
    Row,
    Sheet,
    parts,
    refuse_date,
    unknown_column,
)

if TYPE_CHECKING:
    from cogtally.shelf.session.bench import Bench
    from cogtally.shelf.stock import Details, Item, Named, Naming, Thing


MOST_ALIKE = 999


def add(
    seen: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="SEEN",
            show_default=False,
            help="A loose piece by its counts along the axis, 28 24 19 14 12; or a box, "
            "input=17/28 1=14/31.",
        ),
    ] = None,
    pair: Annotated[
        str | None,
        typer.Option(metavar="PAIR", help="A pair of gears that stay together: 3=24/21."),
    ] = None,
    session: Annotated[
        str | None, typer.Option(metavar="ID", help="A box counted in a session at the bench.")
    ] = None,
    role: Annotated[
        str | None,
        typer.Option(metavar="PIECE", help="What piece it is: laygear, input-shaft, 3-gear."),
    ] = None,
    family: Annotated[
        str | None,
        typer.Option(metavar="FAMILY", help="Of a box or a pair: the only family to ask about."),
    ] = None,
    mark: MarkOption = None,
    feature: FeatureOption = None,
    place: PlaceOption = None,
    price: PriceOption = None,
    currency: CurrencyOption = None,
    condition: ConditionOption = None,
    photo: PhotoOption = None,
    note: NoteOption = None,
    quantity: Annotated[
        str | None,
        typer.Option(metavar="N", help="So many alike, each with a number of its own."),
    ] = None,
    from_file: FromOption = None,
    catalog: BookOption = None,
    demo: NoDemoOption = False,
    as_json: JsonOption = False,
) -> None:
    """Put an item into the stock.

    Its number is said, and what it is. It is named from your own book, and the name is kept beside
    what you typed. In a file the columns are counts, seen (of a box) or pair, and role, family,
    mark, feature, place, price, currency, condition, photo, note, quantity; what is in a column
    item goes before the note.
    """
    path = asked_stock(catalog, demo)
    if from_file is not None:
        from cogtally.cli.batch import refuse_beside

        refuse_beside(
            from_file,
            seen=seen,
            pair=pair,
            session=session,
            role=role,
            family=family,
            mark=mark,
            feature=feature,
            place=place,
            price=price,
            condition=condition,
            photo=photo,
            note=note,
            quantity=quantity,
        )
        raise typer.Exit(add_from(path, from_file, currency, as_json=as_json))
    from cogtally.shelf.stock import Details, naming_of, stock_writing, thing_of_catalog, whole_text

    thing = _thing(seen or [], pair, session, role, family, mark or [], feature or [])
    count = asked_quantity(quantity)
    details = Details(
        condition=whole_text(condition or "", "--condition"),
        place=whole_text(place or "", "--place"),
        price=asked_money(path, price, currency),
        photo=whole_photo(photo or ""),
        note=whole_text(note or "", "--note"),
    )
    naming = naming_of(path)
    thing = thing_of_catalog(naming.catalog, thing)
    named = naming.name(thing)
    with stock_writing(path, "stock add") as stock:
        items = [stock.add(thing, details, named) for _ in range(count)]
        numbers = _numbers([item.number for item in items])
        stock.say(f"stock add: {numbers}")
    there = f"item {numbers} is" if count == 1 else f"items {numbers} are"
    now_written(f"{there} in the stock")
    if as_json:
        from cogtally.show.screen import print_json
        from cogtally.show.stock import items_json

        print_json(items_json(items, str(path)))
    else:
        from cogtally.show.screen import console_for
        from cogtally.show.stock import show_added

        show_added(items, console_for())


def _thing(
    seen: list[str],
    pair: str | None,
    session: str | None,
    role: str | None,
    family: str | None,
    marks: list[str],
    features: list[str],
) -> Thing:
    from cogtally.shelf.stock import PAIR, PIECE, kind_of, new_thing, whole_text

    given = [what for what in (seen, pair, session) if what]
    if not given:
        mend = "write the counts of a piece (28 24 19 14 12) or of a box (input=17/28), or --pair"
        raise UserError("nothing was written of the item", "cogtally stock add", mend)
    if len(given) > 1:
        mend = "write the counts, or --pair, or --session"
        raise UserError("an item is a piece, a pair or a box", mend=mend)
    bench = _bench_of(session) if session else None
    words = [pair] if pair else list(bench.words) if bench else seen
    kind = PAIR if pair else kind_of(words)
    if kind == PIECE and family is not None:
        mend = "leave it out; --role says what piece it is"
        raise UserError("--family is for a box or a pair", mend=mend)
    return new_thing(
        kind,
        words,
        role=(role or "").strip(),
        only_family=(family or "").strip(),
        marks=[*(bench.marks if bench else ()), *(whole_text(m, "--mark") for m in marks)],
        features=[
            *(bench.features if bench else ()),
            *(whole_text(f, "--feature") for f in features),
        ],
    )


def _bench_of(session: str) -> Bench:
    """Where a session at the bench stands, with something counted or turned."""
    from cogtally.cli.session import SESSIONS
    from cogtally.shelf.session.files import default_folder, read_session

    kept = read_session(Path(os.environ.get(SESSIONS) or default_folder()), session)
    if not kept.bench.words:
        raise UserError("nothing was counted in that session", session)
    return kept.bench


def asked_quantity(text: str | None) -> int:
    """Return how many alike are put there, 1 if not written; raise UserError."""
    from cogtally.gears.printed import shown

    if text is None:
        return 1
    digits = text.strip()
    if not (digits.isascii() and digits.isdigit() and len(digits) <= 6):
        raise UserError("this is no number", f"--quantity {shown(text)}", "write 1 or more")
    if not 1 <= int(digits) <= MOST_ALIKE:
        mend = f"write 1 to {MOST_ALIKE}"
        raise UserError("so many are not put there at once", f"--quantity {digits}", mend)
    return int(digits)


def _numbers(numbers: list[int]) -> str:
    return f"{numbers[0]}" if len(numbers) == 1 else f"{numbers[0]} to {numbers[-1]}"


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
        from cogtally.shelf.stock import Details, thing_of_catalog, whole_text

        if row.fault is not None:
            raise row.fault
        cells = row.cells
        thing = thing_of_catalog(self._naming.catalog, _row_thing(cells))
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


def _row_thing(cells: Mapping[str, str]) -> Thing:
    """What a row says that its item is, as it was typed."""
    from cogtally.shelf.stock import PAIR, PIECE, kind_of, new_thing

    given = [column for column in SEEN_IN if column in cells]
    if not given:
        raise UserError("nothing was counted", mend="write counts, for example 28 24 19 _ 12")
    if len(given) > 1:
        mend = f"fill one of {', '.join(SEEN_IN)}"
        raise UserError("an item is a piece, a pair or a box", " and ".join(given), mend)
    text = cells[given[0]]
    refuse_date(text, given[0])
    words = text.split()
    kind = PAIR if given[0] == PAIR else kind_of(words)
    if kind == PIECE and FAMILY in cells:
        raise UserError("a family is of a box or a pair", FAMILY, "leave the cell empty")
    return new_thing(
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
    from cogtally.shelf.stock import naming_of, stock_writing
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
            stock.say(f"stock add --from {sheet.file}: {_numbers_of(added)}")
        there = "item {} is" if len(added) == 1 else "items {} are"
        now_written(f"{there.format(_numbers_of(added))} in the stock")
    _say(added, refused, book, as_json)
    return REFUSED if refused else 0


def _numbers_of(items: Sequence[Item]) -> str:
    first, last = items[0].number, items[-1].number
    return f"{first}" if first == last else f"{first} to {last}"


def _say(
    added: Sequence[Item], refused: Sequence[dict[str, object]], book: Path, as_json: bool
) -> None:
    if as_json:
        from cogtally.show.screen import print_json
        from cogtally.show.stock import items_json

        print_json({**items_json(added, str(book)), "refused": list(refused)})
        return
    from cogtally.show.screen import console_for
    from cogtally.show.stock import end, say

    console = console_for()
    count = f"{len(added):,} {'item' if len(added) == 1 else 'items'}"
    numbers = f" as {_numbers_of(added)}" if added else ""
    left = f" {len(refused):,} of the rows could not be read." if refused else ""
    say(console, f"Added {count}{numbers}.{left}")
    if added:
        say(console, "'cogtally undo' takes all of it back.")
    end(console)


def _check(columns: Sequence[str]) -> UserError | None:
    for column in columns:
        if column not in COLUMNS:
            return unknown_column(column, COLUMNS)
    if set(SEEN_IN).isdisjoint(columns):
        return UserError("the column is missing", COUNTS, f"begin with {ITEM},{COUNTS}")
    return None
