"""Finding families and sets by words, teeth and ratios, misspelt or in part.

Leaves how they are told to `show.catalog`.
"""

from cogtally.catalog.search.found import Found, find_in, find_in_book
from cogtally.catalog.search.small import (
    ANY,
    LEAST_LIKENESS,
    Hit,
    Likeness,
    Query,
    compact,
    parse_query,
    tokens_of,
)

__all__ = [
    "ANY",
    "LEAST_LIKENESS",
    "Found",
    "Hit",
    "Likeness",
    "Query",
    "compact",
    "find_in",
    "find_in_book",
    "parse_query",
    "tokens_of",
]
