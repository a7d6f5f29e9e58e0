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


def asked_catalog(path: str | None, demo: bool) -> Catalog:
    """Return the catalog that a command is to use.

    `path` is a file or folder as typed; without it COGTALLY_CATALOG counts, then the user's own
    book. Raises UserError where there is none, or where both a path and the demo were asked for.
    """
    from cogtally.catalog.files import demo_catalog, load_catalog

    if demo and path:
        raise UserError(
            "--demo and --catalog name two different catalogs", mend="write one of them"
        )
    if demo:
        return demo_catalog()
    named = path if path is not None else os.environ.get(VARIABLE)
    if named is not None:
        if not named.strip():
            raise UserError("the name of the catalog is empty", mend="write --catalog PATH")
        return load_catalog(_as_path(named), entangled=_is_entangled)
    book = own_book()
    if not book.exists():
        raise UserError(
            "You have no catalog yet",
            mend="write one as a TOML file and name it with --catalog PATH or "
            f"{VARIABLE}, or try the invented one with --demo",
        )
    return load_catalog(book, entangled=_is_entangled)


def _is_entangled(family: Family) -> bool:
    from cogtally.evidence.structure import is_entangled

    return is_entangled(family)


def own_book() -> Path:
    """Return where the user's own book stands, whether or not there is one."""
    from platformdirs import user_data_path

    return user_data_path(PROGRAM_FOLDER, appauthor=False) / BOOK


def _as_path(text: str) -> Path:
    if "\0" in text:
        raise UserError("a path cannot hold a zero character", mend="write --catalog PATH")
    return Path(text).expanduser()
