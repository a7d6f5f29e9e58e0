"""`cogtally stock recheck`: names worked out again; what changed is left to the shelf."""

from __future__ import annotations

from cogtally.cli import options
from cogtally.cli.known import asked_stock
from cogtally.cli.options import argument, flag
from cogtally.cli.output import now_written


def recheck(
    numbers: list[str] | None = argument("ITEM…", "Which items; else all that are for sale."),
    dry_run: bool = flag("--dry-run", "Show what would change, and write nothing."),
    catalog: str | None = options.BOOK,
    demo: bool = options.NO_DEMO,
    as_json: bool = options.JSON,
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
