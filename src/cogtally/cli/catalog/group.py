"""`cogtally catalog`: look after the catalog.

What is right in a catalog is left to the catalog's own rooms, how problems look to `show`.
"""

from __future__ import annotations

from typing import Annotated

import typer

from cogtally.cli.catalog import book
from cogtally.cli.catalog import views as catalog_views
from cogtally.cli.catalog.add import add
from cogtally.cli.catalog.apart import apart
from cogtally.cli.catalog.edit import edit
from cogtally.cli.common.commands import CONTEXT
from cogtally.cli.common.lean import LeanCommand, LeanGroup
from cogtally.cli.common.options import JsonOption
from cogtally.cli.completion.words import completing
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
    path: Annotated[
        str | None, typer.Argument(metavar="PATH", help="A TOML or CSV file, or a folder of them.")
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Say all that is wrong with a catalog. Exit code 1 if anything of it is an error."""
    from cogtally.catalog.files.reading import read_catalog
    from cogtally.catalog.problem import PATH_CODES, CatalogError
    from cogtally.evidence.structure import is_entangled

    if path is None:
        mend = "name a TOML or CSV file, or a folder of them"
        raise UserError("PATH is missing", "cogtally catalog check", mend)
    read, problems = read_catalog(path, entangled=is_entangled)
    if any(problem.code in PATH_CODES for problem in problems):
        raise CatalogError(problems)
    if as_json:
        import json

        from cogtally.show.screen import problems_json

        print(json.dumps(problems_json(read, problems), ensure_ascii=False, indent=2))
    else:
        from cogtally.show.screen import console_for, print_problems

        print_problems(console_for(), read, problems)
    if any(problem.is_error for problem in problems):
        raise typer.Exit(FOUND_WRONG)


app.command("apart", cls=LeanCommand, context_settings=CONTEXT)(apart)
app.command("init", cls=LeanCommand, context_settings=CONTEXT)(completing(book.init))
app.command("import", cls=LeanCommand, context_settings=CONTEXT)(completing(book.import_files))
app.command("export", cls=LeanCommand, context_settings=CONTEXT)(book.export)
app.command("log", cls=LeanCommand, context_settings=CONTEXT)(book.log)
app.command("undo", cls=LeanCommand, context_settings=CONTEXT)(completing(book.undo))
app.command("show", cls=LeanCommand, context_settings=CONTEXT)(catalog_views.show)
app.command("list", cls=LeanCommand, context_settings=CONTEXT)(catalog_views.list_families)
app.command("find", cls=LeanCommand, context_settings=CONTEXT)(catalog_views.find)
app.command("add", cls=LeanCommand, context_settings=CONTEXT)(add)
app.command("edit", cls=LeanCommand, context_settings=CONTEXT)(edit)
