"""The catalog in the book: read whole or in part, changed a family or a set at a time, compared.

The rules that a catalog must meet are left to `check`, transactions and the log to the store.
"""

from __future__ import annotations

from cogtally.catalog.book.partly import partly_read
from cogtally.catalog.book.reading import (
    CHANGED,
    FAMILIES,
    GONE,
    NEW,
    SAME,
    SETS,
    Book,
    Difference,
    Key,
    book_catalog,
    book_families,
    compare_families,
    compare_sets,
    differences_of,
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
    "SAME",
    "SETS",
    "Book",
    "Difference",
    "Key",
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
