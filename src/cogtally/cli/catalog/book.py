"""`cogtally catalog init | import | export | check`: the user's own book, and what is wrong.

What an import comes to and what is right is left to the catalog, transactions to the store.
"""

import typer

from cogtally.catalog.model import Catalog
from cogtally.cli import options
from cogtally.cli.known import asked_book, asked_catalog, is_entangled
from cogtally.cli.options import argument, flag, option
from cogtally.cli.output import now_written
from cogtally.gears.errors import UserError
from cogtally.show import screen
from cogtally.store import check_head

FOUND_WRONG = 1
#: Files that somebody may want an export to be; another name is one of a folder.
OTHER_FILES = (".txt", ".json", ".jsonl", ".tsv", ".ods", ".xls", ".xlsx", ".yaml", ".yml", ".db")


def init(catalog: str | None = options.BOOK) -> None:
    """Begin a catalog: make an empty book."""
    from cogtally.catalog.book import make_catalog_book

    path = asked_book(catalog)
    make_catalog_book(path)
    now_written(f"{path} is there, an empty book")
    _say(f"Made an empty book: {path}")
    screen.note("'cogtally catalog import PATH' fills it from TOML and CSV files.")


def import_files(
    paths: list[str] | None = argument("PATH", "TOML or CSV files, or folders of them."),
    dry_run: bool = options.DRY_RUN,
    replace: bool = flag("--replace", "Change families and sets that the book has otherwise."),
    catalog: str | None = options.BOOK,
    as_json: bool = options.JSON,
) -> None:
    """Bring families and sets into the book. If one of the files is wrong, none is written."""
    from cogtally.catalog.book import without_collecting
    from cogtally.catalog.changes import import_into, named

    if not paths:
        mend = "name TOML or CSV files, or folders of them"
        raise UserError("PATH is missing", "cogtally catalog import", mend)
    book = asked_book(catalog)
    if book.exists():
        # Said before thousands of files are read.
        check_head(book)
    with without_collecting():
        read = _read(paths)
    made = not book.exists()
    with screen.progress("Writing"), without_collecting():
        plan = import_into(
            book,
            read,
            f"catalog import {named(paths)}",
            replaces=replace,
            dry_run=dry_run,
            entangled=is_entangled,
        )
    if not dry_run:
        now_written("the book has all that was imported")
    from cogtally.show.catalog import plan_json, show_plan

    screen.show_or_json(
        as_json,
        lambda: plan_json(plan, book=str(book), made=made, dry_run=dry_run),
        lambda console: show_plan(plan, console, book=str(book), made=made, dry_run=dry_run),
    )


def export(
    path: str | None = argument(
        "PATH", "A folder, one family a file; or one file that ends in .toml or .csv."
    ),
    form: str | None = option("FORMAT", "toml (else) or csv.", "--format"),
    force: bool = flag("--force", "Write over files that are there already."),
    catalog: str | None = options.CATALOG,
) -> None:
    """Write the catalog as TOML or CSV files. They are there to share or to look through."""
    from pathlib import Path

    from cogtally.catalog.changes import export_catalog

    if not path or "\0" in path:
        mend = "name a folder, or a file that ends in .toml or .csv"
        raise UserError("PATH is missing", "cogtally catalog export", mend)
    place = Path(path).expanduser()
    if place.suffix.lower() in OTHER_FILES and not path.endswith("/") and not place.is_dir():
        mend = "use .toml or .csv; write / at the end of a folder's name"
        raise UserError("the end of the name does not say what to write", path, mend)
    known = asked_catalog(catalog, demo=False)
    done = export_catalog(known, place, form, replaces=force)
    now_written(f"{path} is written")
    for family, what in done.left_out.items():
        screen.note(f"{family}: CSV has no place for {', '.join(what)}; TOML keeps it.")
    families = screen.count_of(len(known.families), "family", "families")
    sets = screen.count_of(known.set_count, "set")
    _say(f"Wrote {families}, {sets} into {screen.count_of(len(done.files), 'file')}: {path}")


def _read(paths: list[str]) -> Catalog:
    """Read all files; raise CatalogError with all errors of all of them."""
    from cogtally.catalog.files import read_catalogs
    from cogtally.catalog.problem import CatalogError

    with screen.progress("Reading and checking") as advance:
        read, problems = read_catalogs(paths, entangled=is_entangled, progress=advance)
    if any(problem.is_error for problem in problems):
        raise CatalogError(problems)
    if problems:
        them = "it" if len(problems) == 1 else "them"
        warnings = screen.count_of(len(problems), "warning")
        screen.note(f"{warnings}: 'cogtally catalog check PATH' lists {them}.")
    return read


def _say(text: str) -> None:
    screen.console_for().print(screen.plain(text), soft_wrap=True)


def check(
    path: str | None = argument("PATH", "A TOML or CSV file, a folder of them, or a book."),
    mend: bool = flag("--mend", "Put spoilt rows of a book back from its log."),
    as_json: bool = options.JSON,
) -> None:
    """Say all that is wrong with a catalog. Exit code 1 if anything of it is an error."""
    from cogtally.catalog.files import read_catalog
    from cogtally.catalog.problem import PATH_CODES, CatalogError

    if path is None:
        kinds = "name a TOML or CSV file, a folder of them, or a book"
        raise UserError("PATH is missing", "cogtally catalog check", kinds)
    if mend:
        _mend(path, as_json)
        return
    read, problems = read_catalog(path, entangled=is_entangled)
    if any(problem.code in PATH_CODES for problem in problems):
        raise CatalogError(problems)
    screen.show_or_json(
        as_json,
        lambda: screen.problems_json(read, problems),
        lambda console: screen.print_problems(console, read, problems),
    )
    if any(problem.is_error for problem in problems):
        raise typer.Exit(FOUND_WRONG)


def _mend(path: str, as_json: bool) -> None:
    """Put the rows of a book back from its log, and say which; exit code 1 where some are lost."""
    from pathlib import Path

    from cogtally.store import mend

    book = Path(path)
    check_head(book)
    done = mend(book)
    found = [f"{fault.named}: {fault.says}" for fault in done.found]
    document = {
        "format": 1,
        "damaged": found,
        "back": list(done.back),
        "lost": list(done.lost),
        "copy": None if done.copy is None else str(done.copy),
    }
    said = [
        *(f"{fault}." for fault in found),
        *(f"Put back from the log: {row}." for row in done.back),
        *(f"Lost: {row}." for row in done.lost),
        "Nothing was wrong: every row is as it was written."
        if done.copy is None
        else f"The book as it was is kept as {done.copy}.",
    ]
    screen.show_or_json(
        as_json,
        lambda: document,
        lambda console: console.print("\n".join(map(screen.plain, said)), soft_wrap=True),
    )
    if done.lost:
        raise typer.Exit(FOUND_WRONG)
