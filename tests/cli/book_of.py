"""A book of one's own for tests of the command line.

What is done with it is left to the tests.
"""

from __future__ import annotations

from pathlib import Path

from cogtally.catalog.book import make_catalog_book, read_book
from cogtally.catalog.model import Catalog
from small_catalog import SMALL


def small_book(folder: Path) -> Path:
    """Make a book of the small catalog."""
    path = folder / "own.db"
    make_catalog_book(path, SMALL.families)
    return path


def families_of(path: Path) -> Catalog:
    """Return what a book holds."""
    return read_book(path)
