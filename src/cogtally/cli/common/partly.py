"""The catalog of a command that looks things up: of a book only what it asks for is read.

Any other catalog is left to `known`.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from cogtally.cli.common.known import asked_catalog, asked_place, empty_catalog
from cogtally.store import looks_like_book

if TYPE_CHECKING:
    from cogtally.catalog.model import Catalog


def asked_named(path: str | None, demo: bool) -> Catalog:
    """Return the catalog in which a command looks up families and sets by what they are called.

    Of a book those alone are read. Raises UserError as `asked_catalog` does.
    """
    place = _book(path, demo)
    if place is None:
        return asked_catalog(path, demo)
    from cogtally.catalog.book import partly_read

    found = partly_read(place)
    if not found.by_id:
        raise empty_catalog(place)
    return found


def _book(path: str | None, demo: bool) -> Path | None:
    """The book that a command is to use, or None for another catalog."""
    place = asked_place(path, demo)
    return place if place is not None and looks_like_book(place) else None
