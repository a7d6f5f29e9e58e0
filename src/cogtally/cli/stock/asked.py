"""What several commands of the stock ask first: the book, a photo, a currency, a price.

What is then done is left to each command.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cogtally.cli.places import asked_book, asked_place
from cogtally.gears.errors import UserError
from cogtally.shelf.stock import Money, parse_money

if TYPE_CHECKING:
    from cogtally.catalog.model import Catalog
    from cogtally.shelf.stock import Want

PlaceOption = Annotated[str | None, typer.Option(metavar="TEXT", help="Where it stands.")]
PriceOption = Annotated[
    str | None, typer.Option(metavar="AMOUNT", help="The price, for example 45 or 45.50.")
]
CurrencyOption = Annotated[
    str | None,
    typer.Option(metavar="ABC", help="Its three letters. If not given: that of the last price."),
]
ConditionOption = Annotated[str | None, typer.Option(metavar="TEXT", help="How worn it is.")]
PhotoOption = Annotated[str | None, typer.Option(metavar="FILE", help="A picture of it.")]
NoteOption = Annotated[str | None, typer.Option(metavar="TEXT", help="Anything else.")]
MarkOption = Annotated[
    list[str] | None,
    typer.Option(
        metavar="TEXT",
        help="What is stamped or cast on it, ? for a character that cannot be read; "
        "of a box PIECE:TEXT. May be given again.",
    ),
]
FeatureOption = Annotated[
    list[str] | None,
    typer.Option(
        metavar="NAME=VALUE",
        help="splines=10, of a box laygear.splines=10. May be given again.",
    ),
]
SoldOption = Annotated[bool, typer.Option("--sold", help="What was sold, instead.")]
AllOption = Annotated[bool, typer.Option("--all", help="What was sold too.")]


def asked_stock(catalog: str | None, demo: bool) -> Path:
    """Return the book whose stock is asked for; raise UserError for what is none."""
    if demo:
        mend = "leave --demo out: no real part is named from an invented catalog"
        raise UserError("the stock stands in your own book", "--demo", mend)
    return asked_book(catalog, there=True)


def asked_wants(catalog: str | None, demo: bool, known: Catalog) -> tuple[Want, ...]:
    """Return what is looked for by the book that is asked; nothing where no book is."""
    if demo:
        return ()
    from cogtally.shelf.stock import read_wants
    from cogtally.store import looks_like_book

    place = asked_place(catalog, demo)
    return read_wants(place, known) if place is not None and looks_like_book(place) else ()


def asked_money(
    book: Path, price: str | None, currency: str | None, option: str = "--price"
) -> Money | None:
    """Return a price in its currency, else in that of the last price; raise UserError."""
    if price is None:
        if currency is not None:
            raise UserError(f"--currency goes with {option}", mend=f"write {option} 45 too")
        return None
    if currency is None:
        from cogtally.shelf.stock import last_currency

        parse_money(price, "XXX", option)
        currency = last_currency(book)
        if not currency:
            mend = "write --currency and its three letters; the next price is taken to be the same"
            raise UserError("no currency was written yet", f"{option} {price}", mend)
    return parse_money(price, currency, option)


def whole_photo(text: str) -> str:
    """Return the whole path of a picture; raise UserError where there is no such file."""
    from cogtally.gears.printed import shown

    if not text.strip():
        return ""
    try:
        path = Path(text).expanduser().absolute()
        there = path.is_file()
    except (OSError, ValueError, RuntimeError):
        there = False
    if not there:
        mend = "name a file that is there, a picture of the item"
        raise UserError("there is no such file", f"--photo {shown(text)}", mend)
    return str(path)
