"""A book of one's own for tests of the command line.

What is done with it is left to the tests.
"""

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

from cogtally.catalog.book import make_catalog_book, read_book
from cogtally.catalog.model import Catalog
from conftest import Ran
from small_catalog import SMALL

#: The moment at which everything in a kept screen happens.
NOW = "2026-03-04T05:06:07Z"


def small_book(folder: Path) -> Path:
    """Make a book of the small catalog."""
    path = folder / "own.db"
    make_catalog_book(path, SMALL.families)
    return path


def families_of(path: Path) -> Catalog:
    """Return what a book holds."""
    return read_book(path)


def fill_stock(cogtally: Callable[..., Ran], items: Iterable[Sequence[str]]) -> None:
    """Put items into the stock of the book that the program asks, each by the words for it."""
    for words in items:
        ran = cogtally("stock", "add", *words)
        assert (ran.code, ran.err) == (0, "")
