"""`cogtally stock kits`: the complete matched sets that the pieces on the shelf make.

Which those are is left to the shelf, their look to `show`.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated

import typer

from cogtally.cli.common.options import BookOption, JsonOption, NoDemoOption
from cogtally.cli.stock.asked import asked_stock
from cogtally.gears.errors import UserError


def kits(
    family: Annotated[
        str | None,
        typer.Argument(metavar="FAMILY", show_default=False, help="Only sets of this family."),
    ] = None,
    by: Annotated[
        str,
        typer.Option(metavar="value|count", help="The most valuable sets, or the most sets."),
    ] = "value",
    sure: Annotated[
        str, typer.Option(metavar="P", help="A piece counts from this probability on, over 0.5.")
    ] = "0.9",
    with_mixed: Annotated[
        bool,
        typer.Option(
            "--with-mixed",
            help="A piece whose teeth several types have alike may be any of them.",
        ),
    ] = False,
    break_up: Annotated[
        bool,
        typer.Option("--break-up", help="Take whole boxes and pairs apart too, at no price."),
    ] = False,
    catalog: BookOption = None,
    demo: NoDemoOption = False,
    as_json: JsonOption = False,
) -> None:
    """Show the complete sets that pieces make.

    Matched sets of loose pieces, and what nearly is one. Each item is used once. A set is complete
    with a piece of each kind that its family has; shafts and sleeves without teeth are not in the
    catalog, look for those yourself.
    """
    path = asked_stock(catalog, demo)
    from cogtally.gears.printed import shown
    from cogtally.shelf.kits import COUNT, VALUE, currency_of, make_kits, parts_of
    from cogtally.shelf.stock import PIECE, naming_of, read_items
    from cogtally.show.stock import Aside, kits_json, show_kits

    if by not in (VALUE, COUNT):
        raise UserError("sets are made by value or by count", f"--by {shown(by)}")
    least = _asked_sure(sure)
    naming = naming_of(path)
    families = naming.catalog.families
    if family is not None:
        from cogtally.catalog.find import find_family

        families = (find_family(naming.catalog, family),)
    items = [item for item in read_items(path) if item.sale is None]
    parts = parts_of(items, naming.catalog, least=least, mixed=with_mixed, broken_up=break_up)
    ids = {one.id for one in families}
    parts = tuple(p for p in parts if any(slot[0] in ids for slot in p.slots))
    try:
        currency = currency_of(items, parts)
    except UserError:
        if by == VALUE:
            raise
        # Amounts that do not add up choose nothing either.
        currency, parts = "", tuple(replace(part, price=None) for part in parts)
    made = make_kits(families, parts, by)
    used = {part.item for part in parts}
    aside = [i for i in items if i.number not in used]
    left = Aside(
        unsure=sum(item.kind == PIECE for item in aside) if family is None else 0,
        whole=sum(item.kind != PIECE for item in aside) if family is None else 0,
        stale=sum(item.now.catalog != naming.digest for item in items),
    )
    if as_json:
        from cogtally.show.screen import print_json

        print_json(kits_json(made, currency, left, str(path)))
        return
    from cogtally.show.screen import console_for

    show_kits(made, naming.catalog, currency, left, console_for())


def _asked_sure(text: str) -> float:
    """Read a probability; at most one type of a piece can have more than a half."""
    from cogtally.gears.printed import shown

    try:
        found = float(text)
    except ValueError:
        found = 0.0
    if not 0.5 < found <= 1.0:
        mend = "write a number over 0.5 and up to 1, for example 0.8"
        raise UserError("this is no such probability", f"--sure {shown(text)}", mend)
    return found
