"""Finding families and sets by words, teeth and ratios, misspelt or in part.

Leaves how they are told to `show.catalog`.
"""

from cogtally.catalog.search.beside import Found, find_in, find_in_book
from cogtally.catalog.search.plain import (
    ANY,
    Hit,
    Likeness,
    Query,
    likeliest,
    parse_query,
)

__all__ = [
    "ANY",
    "Found",
    "Hit",
    "Likeness",
    "Query",
    "find_in",
    "find_in_book",
    "likeliest",
    "parse_query",
]
