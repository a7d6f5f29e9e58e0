"""`cogtally stock recheck`: names worked out again; what changed is left to the shelf."""

from __future__ import annotations

from typing import Annotated

import typer

from cogtally.cli.known import asked_stock
from cogtally.cli.options import BookOption, JsonOption, NoDemoOption
from cogtally.cli.output import now_written


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
