"""`cogtally stock kits | want | recheck`: sets that pieces make, what is looked for, names anew.

Which those are is left to the shelf, their look to `show`.
"""

from dataclasses import replace

from cogtally.cli import options
from cogtally.cli.known import asked_money, asked_stock
from cogtally.cli.options import argument, flag, option
from cogtally.cli.output import now_written
from cogtally.gears.errors import UserError, shown
from cogtally.show.screen import progress, show_or_json


def kits(
    family: str | None = argument("FAMILY", "Only sets of this family."),
    by: str = option("value|count", "The most valuable sets, or the most sets.", default="value"),
    sure: str = option("P", "A piece counts from this probability on, over 0.5.", default="0.9"),
    with_mixed: bool = flag(
        "--with-mixed", "A piece whose teeth several types have alike may be any of them."
    ),
    break_up: bool = flag("--break-up", "Take whole boxes and pairs apart too, at no price."),
    want_all: bool = flag("--want", "Note all that nearly complete sets lack as wanted."),
    catalog: str | None = options.BOOK,
    demo: bool = options.NO_DEMO,
    as_json: bool = options.JSON,
) -> None:
    """Show the complete sets that pieces make.

    Matched sets of loose pieces, and what nearly is one. Each item is used once. A set is complete
    with a piece of each kind that its family has; shafts and sleeves without teeth are not in the
    catalog, look for those yourself.
    """
    path = asked_stock(catalog, demo)
    from cogtally.shelf.kits import COUNT, VALUE, currency_of, make_kits, parts_of
    from cogtally.shelf.stock import PIECE, Want, naming_of, note_wants, read_items, read_wants
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
    wants = read_wants(path, naming.catalog)
    if want_all:
        noted = {(want.family, want.set, want.piece) for want in wants}
        lacking = [
            Want(near.family, near.set, piece, teeth)
            for near in made.near
            for piece, teeth in near.missing
            if (near.family, near.set, piece) not in noted
        ]
        if lacking and note_wants(path, lacking):
            now_written(f"{len(lacking)} more pieces are wanted")
            wants = read_wants(path, naming.catalog)
    show_or_json(
        as_json,
        lambda: kits_json(made, currency, left, str(path)),
        lambda console: show_kits(made, naming.catalog, currency, left, wants, console),
    )


def want(
    subject: str | None = argument("FAMILY/SET", "For which set."),
    piece: str | None = argument("PIECE", "3-gear, laygear, input-shaft."),
    up_to: str | None = option("AMOUNT", "Up to which price, 30 or 30.50."),
    currency: str | None = options.CURRENCY,
    as_list: bool = flag("--list", "List all that is wanted."),
    take_back: bool = flag("--take-back", "It is not wanted any more."),
    catalog: str | None = options.BOOK,
    demo: bool = options.NO_DEMO,
    as_json: bool = options.JSON,
) -> None:
    """Note a piece that you look for. It is told when you count or add one."""
    path = asked_stock(catalog, demo)
    from cogtally.shelf.stock import drop_want, naming_of, note_wants, read_wants, want_of
    from cogtally.show.screen import say
    from cogtally.show.stock import show_noted, show_wants, undo_text, wants_json

    known = naming_of(path).catalog
    if subject is None and not take_back and up_to is None:
        wants = read_wants(path, known)
        show_or_json(
            as_json,
            lambda: {"format": 1, "book": str(path), "wants": wants_json(wants)},
            lambda console: show_wants(wants, console),
        )
        return
    if as_list or subject is None or piece is None:
        sentence = "--list lists all" if as_list else "FAMILY/SET or PIECE is missing"
        mend = "write 'cogtally stock want FAMILY/SET PIECE --up-to AMOUNT'"
        raise UserError(sentence, "cogtally stock want", mend)
    if take_back and up_to is not None:
        raise UserError("--take-back goes without a price", f"--up-to {up_to}", "leave it out")
    wanted = want_of(known, subject, piece, asked_money(path, up_to, currency, "--up-to"))
    entry = drop_want(path, wanted) if take_back else note_wants(path, [wanted])
    if entry:
        now_written(f"what is wanted is changed: {wanted.text}")
    told = [] if take_back else [wanted]
    gone = f"No more wanted: {wanted.text}. {undo_text(entry)}"
    show_or_json(
        as_json,
        lambda: {"format": 1, "book": str(path), "wants": wants_json(told)},
        lambda console: show_noted(told, entry, console) if told else say(console, gone),
    )


def _asked_sure(text: str) -> float:
    """Read a probability; at most one type of a piece can have more than a half."""
    try:
        found = float(text)
    except ValueError:
        found = 0.0
    if not 0.5 < found <= 1.0:
        mend = "write a number over 0.5 and up to 1, for example 0.8"
        raise UserError("this is no such probability", f"--sure {shown(text)}", mend)
    return found


def recheck(
    numbers: list[str] | None = argument("ITEM…", "Which items; else all that are for sale."),
    dry_run: bool = options.DRY_RUN,
    catalog: str | None = options.BOOK,
    demo: bool = options.NO_DEMO,
    as_json: bool = options.JSON,
) -> None:
    """Name the items again by the catalog of now. Which are called otherwise is said, and why."""
    path = asked_stock(catalog, demo)
    from cogtally.shelf.stock import (
        keep_recheck,
        naming_of,
        parse_number,
        read_item,
        read_items,
        recheck as named_again,
    )
    from cogtally.show.stock import recheck_json, show_recheck

    if numbers:
        wanted = dict.fromkeys(parse_number(number) for number in numbers)
        items = [read_item(path, number) for number in wanted]
    else:
        items = [item for item in read_items(path) if item.sale is None]
    with progress("Naming again") as advance:
        done = named_again(path, items, naming_of(path), advance)
    if not dry_run:
        keep_recheck(path, done, "stock recheck")
        now_written("the stock has its names of now")
    show_or_json(
        as_json,
        lambda: recheck_json(done, str(path), dry_run=dry_run),
        lambda console: show_recheck(done, console, dry_run=dry_run),
    )
