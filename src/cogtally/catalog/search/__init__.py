"""Finding families and sets by words, teeth and ratios, misspelt or in part.

Leaves how they are told to `show.catalog`.
"""

from cogtally.catalog.search.found import Found, find_in, find_in_book
from cogtally.catalog.search.likeness import LEAST_LIKENESS, Likeness, compact, tokens_of
from cogtally.catalog.search.query import ANY, Query, parse_query
from cogtally.catalog.search.small import Hit

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
