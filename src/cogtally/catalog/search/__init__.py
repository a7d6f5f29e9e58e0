"""Finding families and sets by words, teeth and ratios, misspelt or in part.

Leaves how they are told to `show.catalog`.
"""

from cogtally.catalog.search.beside import (
    Found as Found,
    find_in as find_in,
    find_in_book as find_in_book,
)
from cogtally.catalog.search.plain import (
    ANY as ANY,
    Hit as Hit,
    Likeness as Likeness,
    Query as Query,
    likeliest as likeliest,
    parse_query as parse_query,
)
