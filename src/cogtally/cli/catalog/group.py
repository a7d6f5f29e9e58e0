"""`cogtally catalog`: look after the catalog.

What is right in a catalog is left to the catalog's own rooms, how problems look to `show`.
"""

from __future__ import annotations

import typer

from cogtally.cli import options
from cogtally.cli.catalog import book
from cogtally.cli.catalog import views as catalog_views
from cogtally.cli.catalog.add import add
from cogtally.cli.catalog.apart import apart
from cogtally.cli.catalog.edit import edit
from cogtally.cli.commands import CONTEXT
from cogtally.cli.completion import completing
from cogtally.cli.lean import LeanCommand, LeanGroup
from cogtally.cli.options import argument, flag
from cogtally.gears.errors import UserError

FOUND_WRONG = 1

app = typer.Typer(
    cls=LeanGroup,
    add_completion=False,
    rich_markup_mode=None,
    context_settings=CONTEXT,
    help="Look after the catalog.",
)


@app.callback(invoke_without_command=True)
def catalog(context: typer.Context) -> None:
    """Look after the catalog."""
    if context.invoked_subcommand is None:
        print(context.get_help())


@app.command("check", cls=LeanCommand, context_settings=CONTEXT)
def check(
    path: str | None = argument("PATH", "A TOML or CSV file, a folder of them, or a book."),
    mend: bool = flag("--mend", "Put spoilt rows of a book back from its log."),
    as_json: bool = options.JSON,
) -> None:
    """Say all that is wrong with a catalog. Exit code 1 if anything of it is an error."""
    from cogtally.catalog.files import read_catalog
    from cogtally.catalog.problem import PATH_CODES, CatalogError
    from cogtally.evidence.structure import is_entangled

    if path is None:
        kinds = "name a TOML or CSV file, a folder of them, or a book"
        raise UserError("PATH is missing", "cogtally catalog check", kinds)
    if mend:
        _mend(path, as_json)
        return
    read, problems = read_catalog(path, entangled=is_entangled)
    if any(problem.code in PATH_CODES for problem in problems):
        raise CatalogError(problems)
    if as_json:
        from cogtally.show.screen import print_json, problems_json

        print_json(problems_json(read, problems))
    else:
        from cogtally.show.screen import console_for, print_problems

        print_problems(console_for(), read, problems)
    if any(problem.is_error for problem in problems):
        raise typer.Exit(FOUND_WRONG)


def _mend(path: str, as_json: bool) -> None:
    """Put the rows of a book back from its log, and say which; exit code 1 where some are lost."""
    from pathlib import Path

    from cogtally.store import check_head, mend

    book = Path(path)
    check_head(book)
    done = mend(book)
    if as_json:
        from cogtally.show.screen import print_json

        print_json(
            {
                "format": 1,
                "damaged": [f"{fault.named}: {fault.says}" for fault in done.found],
                "back": list(done.back),
                "lost": list(done.lost),
                "copy": None if done.copy is None else str(done.copy),
            }
        )
    else:
        from cogtally.show.screen import console_for, plain

        said = [f"{fault.named}: {fault.says}." for fault in done.found]
        said += [f"Put back from the log: {row}." for row in done.back]
        said += [f"Lost: {row}." for row in done.lost]
        said.append(
            "Nothing was wrong: every row is as it was written."
            if done.copy is None
            else f"The book as it was is kept as {done.copy}."
        )
        for line in said:
            console_for().print(plain(line), soft_wrap=True)
    if done.lost:
        raise typer.Exit(FOUND_WRONG)


app.command("apart", cls=LeanCommand, context_settings=CONTEXT)(apart)
app.command("init", cls=LeanCommand, context_settings=CONTEXT)(completing(book.init))
app.command("import", cls=LeanCommand, context_settings=CONTEXT)(completing(book.import_files))
app.command("export", cls=LeanCommand, context_settings=CONTEXT)(book.export)
app.command("show", cls=LeanCommand, context_settings=CONTEXT)(catalog_views.show)
app.command("list", cls=LeanCommand, context_settings=CONTEXT)(catalog_views.list_families)
app.command("find", cls=LeanCommand, context_settings=CONTEXT)(catalog_views.find)
app.command("add", cls=LeanCommand, context_settings=CONTEXT)(add)
app.command("edit", cls=LeanCommand, context_settings=CONTEXT)(edit)
