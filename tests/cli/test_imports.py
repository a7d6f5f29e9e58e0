"""What the commands that have to start fast load, and above all what they do not."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from cogtally.catalog.book.reading import make_catalog_book
from evidence.kept_books import book_catalog

#: Libraries that cost more to load than these commands take.
HEAVY = (
    "csv",
    "fpdf",
    "numpy",
    "pydantic",
    "pypdfium2",
    "rapidfuzz",
    "rich.table",
    "sqlite_utils",
    "uharfbuzz",
)
COUNTS = ("input=17/28", "1=14/31", "2=19/26", "3=24/21", "R=12/_/28")


def _loaded(*words: str) -> list[str]:
    """The heavy libraries that a command loads, in a program of its own."""
    code = (
        f"import sys; from cogtally.cli.main import run; run({list(words)!r}); "
        f"print(*(m for m in {HEAVY!r} if m in sys.modules), file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "NO_COLOR": "1"},
    )
    assert done.stdout
    return done.stderr.split()


@pytest.mark.parametrize(
    "words",
    [
        ("--help",),
        ("--version",),
        ("identify", "--help"),
        ("ratios", *COUNTS),
        ("identify", "--demo", *COUNTS),
        ("piece", "--demo", "20", "17"),
    ],
    ids=" ".join,
)
def test_nothing_heavy_is_loaded(words: tuple[str, ...]) -> None:
    """Help, ratios and a question to the demo load none of the heavy libraries."""
    assert _loaded(*words) == []


def test_nothing_heavy_is_loaded_for_a_large_book(tmp_path: Path) -> None:
    """A question to a book of hundreds of sets loads none of them once its tables stand."""
    book = tmp_path / "book.db"
    families = [f for f in book_catalog(1).families if not f.ratio_only_sets]
    make_catalog_book(book, families)
    pairs = families[7].counted_sets[0].pairs.items()
    counts = [f"{pair}={'/'.join(map(str, teeth))}" for pair, teeth in pairs]
    words = ("identify", "--catalog", str(book), *counts)
    _loaded(*words)
    assert (tmp_path / "book.db.tables").exists()
    assert _loaded(*words) == []
