"""A book of one's own for tests of the command line.

What is done with it is left to the tests.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from pathlib import Path

from cogtally.catalog.book import make_catalog_book, read_book
from cogtally.catalog.files.writers import toml_of
from cogtally.catalog.model import Catalog, RatioSet
from conftest import Ran
from small_catalog import BIRCH, SMALL

#: The moment at which everything in a kept screen happens.
NOW = "2026-03-04T05:06:07Z"


def small_book(folder: Path) -> Path:
    """Make a book of the small catalog."""
    path = folder / "own.db"
    make_catalog_book(path, SMALL.families)
    return path


def birch_file(folder: Path, more: RatioSet) -> Path:
    """Write birch-4 with two sets and one more, one of strange name, as TOML; return the file."""
    early, sport = (replace(known, source="counted on the bench") for known in BIRCH.sets[:2])
    sets = (early, replace(sport, name="[/5th]", commonness=1.0), more)
    file = folder / "birch.toml"
    file.write_text(toml_of([replace(BIRCH, sets=sets)]), encoding="utf-8")
    return file


def families_of(path: Path) -> Catalog:
    """Return what a book holds."""
    return read_book(path)


def fill_stock(cogtally: Callable[..., Ran], items: Iterable[Sequence[str]]) -> None:
    """Put items into the stock of the book that the program asks, each by the words for it."""
    for words in items:
        ran = cogtally("stock", "add", *words)
        assert (ran.code, ran.err) == (0, "")
