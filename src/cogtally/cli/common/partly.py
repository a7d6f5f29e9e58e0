"""The catalog of a command that does not need all of it: of a book only what it asks for is read.

Which families a question needs is left to `evidence.kept`, any other catalog to `known`.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from cogtally.cli.common.known import asked_catalog, asked_place, empty_catalog
from cogtally.store.head import looks_like_book

if TYPE_CHECKING:
    from cogtally.catalog.model import Catalog


def asked_partly(path: str | None, demo: bool) -> Catalog:
    """Return the catalog that a command weighs with, as `asked_catalog` does.

    Of a book whose tables stand beside it families are read when they are needed; where there are
    none yet they are written. Raises UserError as `asked_catalog` does.
    """
    place = _book(path, demo)
    if place is None:
        return asked_catalog(path, demo)
    from cogtally.catalog.changes.partly import state_of_book
    from cogtally.evidence.kept import keep_tables, kept_catalog

    found = kept_catalog(place)
    if found is not None:
        return found
    state = state_of_book(place)
    whole = asked_catalog(path, demo)
    keep_tables(place, whole, state)
    return whole


def asked_named(path: str | None, demo: bool) -> Catalog:
    """Return the catalog in which a command looks up families and sets by what they are called.

    Of a book those alone are read. Raises UserError as `asked_catalog` does.
    """
    place = _book(path, demo)
    if place is None:
        return asked_catalog(path, demo)
    from cogtally.catalog.changes.partly import partly_read

    found = partly_read(place)
    if not found.by_id:
        raise empty_catalog(place)
    return found


def _book(path: str | None, demo: bool) -> Path | None:
    """The book that a command is to use, or None for another catalog."""
    place = asked_place(path, demo)
    return place if place is not None and looks_like_book(place) else None
