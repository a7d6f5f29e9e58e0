"""Which catalog a command asks: the one named, the demo, or the user's own book.

How a catalog is read is left to `catalog.files`.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from cogtally.gears.errors import UserError

if TYPE_CHECKING:
    from cogtally.catalog.model import Catalog, Family

PROGRAM_FOLDER, BOOK = "cogtally", "cogtally.db"
VARIABLE = "COGTALLY_CATALOG"
#: Reading so many sets takes so long that keeping the words of them does not matter.
MANY_SETS = 1_000
#: Exit codes of an expectation that is not met, and of one that cannot be settled yet.
DENIED, NOT_SETTLED = 1, 3


def asked_catalog(path: str | None, demo: bool) -> Catalog:
    """Return the catalog that a command is to use.

    `path` is a file or folder as typed; without it COGTALLY_CATALOG counts, then the user's own
    book. Raises UserError where there is none, or where both a path and the demo were asked for.
    """
    from cogtally.catalog.files.reading import demo_catalog, load_catalog

    place = asked_place(path, demo)
    if place is None:
        return demo_catalog()
    catalog = load_catalog(place, entangled=_is_entangled)
    if not catalog.families:
        raise empty_catalog(place)
    if path is None and catalog.set_count >= MANY_SETS:
        from cogtally.cli.completion.words import keep_words

        keep_words(place, catalog)
    return catalog


def asked_about(
    catalog: Catalog, family: str | None, expect: str | None
) -> tuple[str | None, tuple[str, str] | None]:
    """Return the id of the one family asked about, and family and set of what is expected.

    Raises UserError for what the catalog does not have, or where the two do not go together.
    """
    from cogtally.catalog.find import find_family, find_set

    only = find_family(catalog, family).id if family is not None else None
    if expect is None:
        return only, None
    of, named = find_set(catalog, expect)
    if only not in (None, of.id):
        raise UserError(
            f"--family asks about {only} alone", expect, f"leave --family out, or say {of.id}"
        )
    return only, (of.id, named.id)


def code_of(expectation: str | None) -> int:
    """Return the exit code of what was expected: `no`, `open`, or anything else."""
    return {"no": DENIED, "open": NOT_SETTLED}.get(expectation or "", 0)


def asked_place(path: str | None, demo: bool) -> Path | None:
    """Return where the catalog stands that a command is to use, None for the demo; else as above.

    Whether there is a catalog is asked of the user's own book alone.
    """
    if demo and path:
        raise UserError(
            "--demo and --catalog name two different catalogs", mend="write one of them"
        )
    if demo:
        return None
    named = path if path is not None else os.environ.get(VARIABLE) or None
    if named is not None:
        return _as_path(named)
    place = own_book()
    if not place.exists():
        raise _no_catalog("; try the invented one with --demo")
    return place


def asked_book(path: str | None, *, there: bool = False) -> Path:
    """Return where the book is that a command is to change.

    `path` is a file as typed; without it COGTALLY_CATALOG counts, then the user's own book.
    `there`: it has to be there. Raises UserError for what can be no book, and where none is there.
    """
    named = path if path is not None else os.environ.get(VARIABLE) or None
    place = own_book() if named is None else _as_path(named)
    if place.is_dir() or place.suffix.lower() in (".toml", ".csv"):
        kind = "a folder" if place.is_dir() else f"a {place.suffix} file"
        source = VARIABLE if path is None else "--catalog"
        mend = f"name a book with --catalog BOOK, or leave {source} out for your own"
        raise UserError(f"this is {kind}, not a book", str(place), mend)
    if there and not place.exists():
        if named is None:
            raise _no_catalog()
        from cogtally.store import check_head

        check_head(place)
    return place


def _no_catalog(demo: str = "") -> UserError:
    """The error for somebody who has no catalog yet: how to begin one; `demo` where it is taken."""
    return UserError(
        "You have no catalog yet",
        mend="begin one with 'cogtally catalog import PATH' or 'cogtally catalog init', or name "
        f"one with --catalog PATH or {VARIABLE}{demo}",
    )


def empty_catalog(place: Path) -> UserError:
    """Return the error for a catalog without a family."""
    mend = "'cogtally catalog import PATH' fills it, or try the invented one with --demo"
    return UserError("the catalog is empty", str(place), mend)


def _is_entangled(family: Family) -> bool:
    from cogtally.evidence.structure import is_entangled

    return is_entangled(family)


def own_book() -> Path:
    """Return where the user's own book stands, whether or not there is one."""
    from platformdirs import user_data_path

    return user_data_path(PROGRAM_FOLDER, appauthor=False) / BOOK


def _as_path(text: str) -> Path:
    if not text.strip():
        raise UserError("the name of the catalog is empty", mend="write --catalog PATH")
    if "\0" in text:
        raise UserError("a path cannot hold a zero character", mend="write --catalog PATH")
    try:
        return Path(text).expanduser()
    except RuntimeError as error:
        raise UserError("there is no such home folder", text, "write the whole path") from error
