"""`cogtally catalog find`, run as a person runs it."""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from catalog.many import varied_families
from cogtally.catalog.book import make_catalog_book
from cogtally.catalog.search.index_file import index_path

#: Seconds of the processor that a search of 100,000 sets may take, the program's start included.
MOST_SECONDS = 0.3


@pytest.mark.parametrize("columns", [60, 100])
@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("misspelt", ["tourng", "thrid"]),
        ("half-legible", ["LG", "31?7"]),
        ("teeth", ["28/_"]),
        ("ratio", ["--ratio", "1=3.65"]),
        ("source", ["--source", "loose set"]),
    ],
)
def test_find(
    cogtally: Callable, snapshot: Callable, name: str, words: list[str], columns: int
) -> None:
    """What is found stands with what it was found by."""
    ran = cogtally("catalog", "find", *words, "--demo", columns=columns)
    assert (ran.code, ran.err) == (0, "")
    assert max(map(len, ran.out.splitlines())) <= columns
    snapshot(f"catalog-find/{name}-{columns}", ran.out)


def test_piped(cogtally_process: Callable, snapshot: Callable) -> None:
    """Piped, nothing steers a terminal."""
    ran = cogtally_process("catalog", "find", "saloom", "--demo")
    assert ran.code == 0
    snapshot("catalog-find/piped", ran.out)


def test_json(cogtally: Callable) -> None:
    """The JSON has all that was found, the likeliest first."""
    found = json.loads(cogtally("catalog", "find", "wide", "--demo", "--json").out)["found"]
    assert found[0]["set"] == "wide"
    assert found[0]["likeness"] == 1
    assert all(0 < one["likeness"] <= 1 for one in found)


def test_nothing(cogtally: Callable) -> None:
    """That nothing is found is an answer, and it is no."""
    ran = cogtally("catalog", "find", "qqqqqq", "--demo")
    assert ran.code == 1
    assert ran.out.startswith("Nothing in the catalog is like that.\n")
    ran = cogtally("catalog", "find", "qqqqqq", "--demo", "--json")
    assert (ran.code, json.loads(ran.out)["found"]) == (1, [])


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "nothing to look for"),
        (["28/300"], "a count is 4 to 200 teeth"),
        (["--ratio", "1=x"], "this is not a number"),
        (["--ratio", "=3"], "a name has letters"),
        (["1=_/_"], "no tooth count"),
    ],
)
def test_wrong(cogtally: Callable, words: list[str], said: str) -> None:
    """What cannot be looked for is said in one line."""
    ran = cogtally("catalog", "find", *words, "--demo")
    assert (ran.code, ran.out) == (2, "")
    assert said in ran.err
    assert len(ran.err.splitlines()) == 1


def test_book(cogtally: Callable, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """In a book the screen and the JSON are the same with its search index and without."""
    from cogtally.catalog.search import found

    book = tmp_path / "own.db"
    make_catalog_book(book, varied_families(20, 30, 3))
    asked = ("catalog", "find", "ratoi", "--catalog", str(book))
    monkeypatch.setattr(found, "FEWEST_SETS", 10**6)
    slow = [cogtally(*asked), cogtally(*asked, "--json")]
    assert not index_path(book).exists()
    monkeypatch.setattr(found, "FEWEST_SETS", 1)
    assert [cogtally(*asked), cogtally(*asked, "--json")] == slow
    assert index_path(book).exists()
    assert "… and " in slow[0].out


def test_empty_book(cogtally: Callable, tmp_path: Path) -> None:
    """An empty book is said to be empty."""
    make_catalog_book(tmp_path / "own.db")
    ran = cogtally("catalog", "find", "x", "--catalog", str(tmp_path / "own.db"))
    assert (ran.code, ran.out) == (2, "")
    assert "the catalog is empty" in ran.err


@pytest.fixture(scope="module")
def large_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book of 100,000 sets, looked through once."""
    book = tmp_path_factory.mktemp("large") / "own.db"
    make_catalog_book(book, varied_families(2_000, 50, 1))
    _seconds("alder", book=book)
    return book


@pytest.mark.long
@pytest.mark.parametrize(
    "words",
    [
        ["aldr", "tourng"],
        ["LG 31?7"],
        ["late touring ratio new LG 1234"],
        ["ratio"],
        ["zzz"],
        ["28/_"],
        ["1.driver=14", "sorrel"],
        ["--ratio", "1=3.65"],
        ["--ratio", "2.2"],
        ["--source", "bnch cuonted"],
    ],
)
def test_fast(large_book: Path, words: list[str]) -> None:
    """In a book of 100,000 sets a question takes less than 0.3 s, however it is asked."""
    assert min(_seconds(*words, book=large_book) for _ in range(5)) < MOST_SECONDS


def _seconds(*words: str, book: Path) -> float:
    """Seconds of the processor that a search takes as a process of its own."""
    asked = [sys.executable, "-m", "cogtally", "catalog", "find", *words, "--catalog", str(book)]
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run(asked, capture_output=True, env=os.environ, check=False)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    assert done.returncode in (0, 1), done.stderr
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
