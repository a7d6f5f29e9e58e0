"""Where the catalog or the book stands that a command is to use or to change.

How a catalog is read is left to `known`.
"""

from __future__ import annotations

import os
from pathlib import Path

from cogtally.gears.errors import UserError

PROGRAM_FOLDER, BOOK = "cogtally", "cogtally.db"
VARIABLE = "COGTALLY_CATALOG"


def asked_place(path: str | None, demo: bool) -> Path | None:
    """Return where the catalog stands that a command is to use, None for the demo.

    `path` as typed; without it COGTALLY_CATALOG counts, then the user's own book. Whether there is
    a catalog is asked of the latter alone. Raises UserError where there is none, or where both a
    path and the demo were asked for.
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
