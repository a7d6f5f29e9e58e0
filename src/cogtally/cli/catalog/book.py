"""`cogtally catalog init | import | export`: the user's own book.

What an import comes to is left to the catalog, transactions to the store, its look to `show`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cogtally.cli import options
from cogtally.cli.known import asked_catalog
from cogtally.cli.options import argument, flag, option
from cogtally.cli.output import now_written
from cogtally.cli.places import asked_book
from cogtally.gears.errors import UserError

if TYPE_CHECKING:
    from cogtally.catalog.model import Catalog


#: Files that somebody may want an export to be; another name is one of a folder.
OTHER_FILES = (".txt", ".json", ".jsonl", ".tsv", ".ods", ".xls", ".xlsx", ".yaml", ".yml", ".db")


def init(catalog: str | None = options.BOOK) -> None:
    """Begin a catalog: make an empty book."""
    from cogtally.catalog.book import make_catalog_book

    path = asked_book(catalog)
    make_catalog_book(path)
    now_written(f"{path} is there, an empty book")
    _say(f"Made an empty book: {path}")
    _note("'cogtally catalog import PATH' fills it from TOML and CSV files.")


def import_files(
    paths: list[str] | None = argument("PATH", "TOML or CSV files, or folders of them."),
    dry_run: bool = flag("--dry-run", "Show what would change, and write nothing."),
    replace: bool = flag("--replace", "Change families and sets that the book has otherwise."),
    catalog: str | None = options.BOOK,
    as_json: bool = options.JSON,
) -> None:
    """Bring families and sets into the book. If one of the files is wrong, none is written."""
    from cogtally.catalog.book import without_collecting
    from cogtally.catalog.changes import import_into, named
    from cogtally.evidence.structure import is_entangled
    from cogtally.show.screen import progress

    if not paths:
        mend = "name TOML or CSV files, or folders of them"
        raise UserError("PATH is missing", "cogtally catalog import", mend)
    book = asked_book(catalog)
    if book.exists():
        from cogtally.store import check_head

        # Said before thousands of files are read.
        check_head(book)
    with without_collecting():
        read = _read(paths)
    made = not book.exists()
    with progress("Writing"), without_collecting():
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
    if as_json:
        from cogtally.show.catalog import plan_json

        _print_json(plan_json(plan, book=str(book), made=made, dry_run=dry_run))
    else:
        from cogtally.show.catalog import show_plan
        from cogtally.show.screen import console_for

        show_plan(plan, console_for(), book=str(book), made=made, dry_run=dry_run)


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
        _note(f"{family}: CSV has no place for {', '.join(what)}; TOML keeps it.")
    from cogtally.show.catalog import count_of

    families = count_of(len(known.families), "family", "families")
    sets = count_of(known.set_count, "set")
    _say(f"Wrote {families}, {sets} into {count_of(len(done.files), 'file')}: {path}")


def _read(paths: list[str]) -> Catalog:
    """Read all files; raise CatalogError with all errors of all of them."""
    from cogtally.catalog.files import read_catalogs
    from cogtally.catalog.problem import CatalogError
    from cogtally.evidence.structure import is_entangled
    from cogtally.show.catalog import count_of
    from cogtally.show.screen import progress

    with progress("Reading and checking") as advance:
        read, problems = read_catalogs(paths, entangled=is_entangled, progress=advance)
    if any(problem.is_error for problem in problems):
        raise CatalogError(problems)
    if problems:
        warnings = count_of(len(problems), "warning")
        _note(f"{warnings}: 'cogtally catalog check PATH' lists {_them(len(problems))}.")
    return read


def _them(number: int) -> str:
    return "it" if number == 1 else "them"


def _say(text: str) -> None:
    from cogtally.show.screen import console_for, plain

    console_for().print(plain(text), soft_wrap=True)


def _note(text: str) -> None:
    from cogtally.show.screen import note

    note(text)


def _print_json(document: dict[str, Any]) -> None:
    from cogtally.show.screen import print_json

    print_json(document)
