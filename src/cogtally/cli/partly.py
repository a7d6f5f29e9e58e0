"""The catalog that a plain question asks: of a large book only what the question needs is read.

Which families that are is left to `evidence.kept`, any other catalog to `known`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from cogtally.cli.known import asked_catalog, asked_place
from cogtally.store.head import looks_like_book

if TYPE_CHECKING:
    from cogtally.catalog.model import Catalog


def asked_partly(path: str | None, demo: bool) -> Catalog:
    """Return the catalog that a command is to use, as `asked_catalog` does.

    Of a book whose tables stand beside it families are read when they are needed; where there are
    none yet they are written. Raises UserError as `asked_catalog` does.
    """
    place = asked_place(path, demo)
    if place is None or not looks_like_book(place):
        return asked_catalog(path, demo)
    from cogtally.evidence.kept import keep_tables, kept_catalog, state_of_book

    found = kept_catalog(place)
    if found is not None:
        return found
    state = state_of_book(place)
    whole = asked_catalog(path, demo)
    keep_tables(place, whole, state)
    return whole
