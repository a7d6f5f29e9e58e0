"""`cogtally guide`, `help` and `version`: the pages of the guide, and help on a command."""

import sys

import typer

from cogtally import __version__
from cogtally.cli.options import argument
from cogtally.gears.errors import UserError
from cogtally.show.screen import console_for


def guide(page: str | None = argument("PAGE", "One of the pages; else all are listed.")) -> None:
    """Show a page of the guide."""
    from cogtally.guide import PAGES, page as read_page
    from cogtally.show.guide import show_page, show_pages

    if page is None:
        show_pages(PAGES, console_for())
        return
    name = page.casefold().removesuffix(".md")
    if name not in PAGES:
        from cogtally.catalog.find import did_you_mean

        mend = did_you_mean(name, PAGES, "the pages are", listed=PAGES)
        raise UserError("the guide has no such page", f"guide {page}", mend)
    show_page(read_page(name), console_for())


def help_on(
    context: typer.Context,
    command: list[str] | None = argument("COMMAND", "A command, as in: help stock add."),
) -> None:
    """Show help on a command."""
    from cogtally.cli.main import run

    raise typer.Exit(run([*(command or ()), "--help"]))


def version() -> None:
    """Print the version."""
    print(f"cogtally {__version__}", file=sys.stdout)
