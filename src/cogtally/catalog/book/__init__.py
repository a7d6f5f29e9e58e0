"""The catalog in the book: read whole or in part, changed a family or a set at a time, compared.

The rules that a catalog must meet are left to `check`, transactions and the log to the store.
"""

from __future__ import annotations

from cogtally.catalog.book.partly import partly_read as partly_read
from cogtally.catalog.book.reading import (
    CHANGED as CHANGED,
    FAMILIES as FAMILIES,
    GONE as GONE,
    NEW as NEW,
    SAME as SAME,
    SETS as SETS,
    Book as Book,
    Difference as Difference,
    Key as Key,
    book_catalog as book_catalog,
    book_families as book_families,
    compare_families as compare_families,
    compare_sets as compare_sets,
    differences_of as differences_of,
    family_row as family_row,
    make_catalog_book as make_catalog_book,
    read_book as read_book,
    set_row as set_row,
    state_of as state_of,
    state_of_book as state_of_book,
    without_collecting as without_collecting,
    writing as writing,
)
