"""The catalog in the book: read whole or in part, changed a family or a set at a time, compared.

The rules that a catalog must meet are left to `check`, transactions and the log to the store.
"""

from __future__ import annotations

from cogtally.catalog.book.compare import (
    CHANGED,
    GONE,
    NEW,
    SAME,
    Difference,
    Key,
    compare_families,
    compare_sets,
    differences_of,
)
from cogtally.catalog.book.partly import PartlyRead, partly_read
from cogtally.catalog.book.reading import (
    FAMILIES,
    ROOM,
    SETS,
    Book,
    book_catalog,
    book_families,
    family_row,
    make_catalog_book,
    read_book,
    set_row,
    state_of,
    state_of_book,
    without_collecting,
    writing,
)

__all__ = [
    "CHANGED",
    "FAMILIES",
    "GONE",
    "NEW",
    "ROOM",
    "SAME",
    "SETS",
    "Book",
    "Difference",
    "Key",
    "PartlyRead",
    "book_catalog",
    "book_families",
    "compare_families",
    "compare_sets",
    "differences_of",
    "family_row",
    "make_catalog_book",
    "partly_read",
    "read_book",
    "set_row",
    "state_of",
    "state_of_book",
    "without_collecting",
    "writing",
]
