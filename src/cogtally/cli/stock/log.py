"""`cogtally stock recheck | log | undo`: names worked out again, and what was changed when.

What changed is left to the shelf and the store, its look to `show`.
"""

from __future__ import annotations

from typing import Annotated

import typer

from cogtally.cli.common.options import BookOption, JsonOption, NoDemoOption
from cogtally.cli.common.output import now_written
from cogtally.cli.stock.asked import asked_stock
from cogtally.gears.errors import UserError


def recheck(
    numbers: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="ITEM…", show_default=False, help="Which items; else all that are for sale."
        ),
    ] = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Show what would change, and write nothing.")
    ] = False,
    catalog: BookOption = None,
    demo: NoDemoOption = False,
    as_json: JsonOption = False,
) -> None:
    """Name the items again by the catalog of now. Which are called otherwise is said, and why."""
    path = asked_stock(catalog, demo)
    from cogtally.shelf.stock import keep_recheck, naming_of, parse_number, read_item, read_items
    from cogtally.shelf.stock import recheck as named_again
    from cogtally.show.screen import progress

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
    if as_json:
        from cogtally.show.screen import print_json
        from cogtally.show.stock import recheck_json

        print_json(recheck_json(done, str(path), dry_run=dry_run))
        return
    from cogtally.show.screen import console_for
    from cogtally.show.stock import show_recheck

    show_recheck(done, console_for(), dry_run=dry_run)


def log(
    number: Annotated[
        str | None,
        typer.Argument(
            metavar="NUMBER", show_default=False, help="One entry, with what it changed."
        ),
    ] = None,
    catalog: BookOption = None,
    demo: NoDemoOption = False,
    as_json: JsonOption = False,
) -> None:
    """Show what was changed in the stock, and when. The newest comes first."""
    path = asked_stock(catalog, demo)
    from cogtally.shelf.stock import ROOM
    from cogtally.show.catalog.log import log_json, show_log
    from cogtally.show.screen import console_for, print_json
    from cogtally.show.stock import entry_json, show_entry
    from cogtally.store.log import entries, entry_of

    found = entries(path, ROOM)
    if number is None:
        if as_json:
            print_json(log_json(found))
        else:
            show_log(found, console_for())
        return
    wanted = next((entry.id for entry in found if str(entry.id) == number.strip()), None)
    if wanted is None:
        from cogtally.gears.printed import shown

        mend = "'cogtally stock log' lists them"
        raise UserError("the log of the stock has no such entry", shown(number), mend)
    entry, changes = entry_of(path, ROOM, wanted)
    if as_json:
        print_json(entry_json(entry, changes))
    else:
        show_entry(entry, changes, console_for())


def undo(
    catalog: BookOption = None, demo: NoDemoOption = False, as_json: JsonOption = False
) -> None:
    """Take the last change of the stock back. Given again, the one before it."""
    path = asked_stock(catalog, demo)
    from cogtally.shelf.stock import ROOM
    from cogtally.store.log import undo as undo_last

    entry, changes = undo_last(path, ROOM)
    now_written(f"this change was taken back: {entry.what}")
    if as_json:
        from cogtally.show.screen import print_json
        from cogtally.show.stock import entry_json

        print_json(entry_json(entry, changes))
        return
    from cogtally.show.screen import console_for
    from cogtally.show.stock import show_undone

    show_undone(entry, console_for())
