"""`cogtally stock add`: put a loose piece, a pair or a whole box on the shelf.

What it is called is left to the shelf, its look to `show`.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cogtally.cli.common.options import BookOption, FromOption, JsonOption, NoDemoOption
from cogtally.cli.common.output import now_written
from cogtally.cli.stock.book import (
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

if TYPE_CHECKING:
    from cogtally.shelf.session.bench import Bench
    from cogtally.shelf.stock.items import Thing

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
        from cogtally.cli.stock.batch import add_from

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
    from cogtally.shelf.stock.book import stock_writing
    from cogtally.shelf.stock.items import Details, whole_text
    from cogtally.shelf.stock.naming import naming_of, thing_of_catalog

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
        from cogtally.show.stock.json import items_json

        print_json(items_json(items, str(path)))
    else:
        from cogtally.show.screen import console_for
        from cogtally.show.stock.screen import show_added

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
    from cogtally.shelf.stock.items import PAIR, PIECE, kind_of, new_thing, whole_text

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
