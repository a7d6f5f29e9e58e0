"""`cogtally catalog find`, run as a person runs it."""

import json

import pytest

from catalog.many import varied_families
from cogtally.catalog.book import make_catalog_book
from cogtally.catalog.search import beside
from cogtally.catalog.search.beside import side_path


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
def test_find(cogtally, snapshot, name, words, columns):
    """What is found stands with what it was found by."""
    ran = cogtally("catalog", "find", *words, "--demo", columns=columns)
    assert (ran.code, ran.err) == (0, "")
    assert max(map(len, ran.out.splitlines())) <= columns
    snapshot(f"catalog-find/{name}-{columns}", ran.out)


def test_piped(cogtally_process, snapshot):
    """Piped, nothing steers a terminal."""
    ran = cogtally_process("catalog", "find", "saloom", "--demo")
    assert ran.code == 0
    snapshot("catalog-find/piped", ran.out)


def test_json(cogtally):
    """The JSON has all that was found, the likeliest first."""
    found = json.loads(cogtally("catalog", "find", "wide", "--demo", "--json").out)["found"]
    assert found[0]["set"] == "wide"
    assert found[0]["likeness"] == 1
    assert all(0 < one["likeness"] <= 1 for one in found)


def test_nothing(cogtally):
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
def test_wrong(cogtally, words, said):
    """What cannot be looked for is said in one line."""
    ran = cogtally("catalog", "find", *words, "--demo")
    assert (ran.code, ran.out) == (2, "")
    assert said in ran.err
    assert len(ran.err.splitlines()) == 1


def test_book(cogtally, tmp_path, monkeypatch):
    """In a book the screen and the JSON are the same with the file beside it and without."""
    book = tmp_path / "own.db"
    make_catalog_book(book, varied_families(20, 30, 3))
    asked = ("catalog", "find", "ratoi", "--catalog", str(book))
    monkeypatch.setattr(beside, "FEWEST_SETS", 10**6)
    slow = [cogtally(*asked), cogtally(*asked, "--json")]
    assert not side_path(book).exists()
    monkeypatch.setattr(beside, "FEWEST_SETS", 1)
    assert [cogtally(*asked), cogtally(*asked, "--json")] == slow
    assert side_path(book).exists()
    assert "… and " in slow[0].out


def test_empty_book(cogtally, tmp_path):
    """An empty book is said to be empty."""
    make_catalog_book(tmp_path / "own.db")
    ran = cogtally("catalog", "find", "x", "--catalog", str(tmp_path / "own.db"))
    assert (ran.code, ran.out) == (2, "")
    assert "the catalog is empty" in ran.err
