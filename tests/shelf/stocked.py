"""A book of the small catalog with a few items in its stock, for tests.

What is done with it is left to the tests.
"""

from collections.abc import Sequence
from pathlib import Path

from cogtally.catalog.book import make_catalog_book
from cogtally.shelf.stock.book import stock_writing
from cogtally.shelf.stock.items import Details, Item, Money, new_thing
from cogtally.shelf.stock.naming import naming_of
from small_catalog import EARLY, SMALL

LAYGEAR = ("31", "27", "21", "15", "14")
#: Kind, words, details of each item.
ITEMS = (
    ("piece", LAYGEAR, Details("light wear", "shelf 3", Money("45", "GBP"), note="blue van")),
    ("box", EARLY, Details(place="floor", price=Money("320.50", "GBP"))),
    ("pair", ("3=27/24",), Details(place="Shelf 31")),
)


def stocked_book(folder: Path) -> Path:
    """Make a book of the small catalog with a piece, a box and a pair in its stock."""
    path = folder / "own.db"
    make_catalog_book(path, SMALL.families)
    for kind, words, details in ITEMS:
        put(path, kind, words, details)
    return path


def put(path: Path, kind: str, words: Sequence[str], details: Details | None = None) -> Item:
    """Put one item into the stock of a book."""
    thing = new_thing(kind, words)
    named = naming_of(path).name(thing)
    with stock_writing(path, f"stock add {' '.join(words)}") as stock:
        return stock.add(thing, details or Details(), named)
