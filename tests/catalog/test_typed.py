"""A pair stays in the book as somebody typed it, beside the teeth that it means."""

import json
import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from cogtally.catalog.book import read_book
from cogtally.catalog.changes.imports import import_into
from cogtally.catalog.changes.keep import from_edited, keep_family, to_edit
from cogtally.catalog.files.reading import read_catalog, read_catalogs
from cogtally.catalog.files.writers import toml_of

TEXT = """\
[family]
id = "ash-2"
layout = "two-shaft"

[[set]]
id = "wide"
source = "one box"
pairs = { 1 = "014 / 31", 2 = "19/26", R = "12/ _\\t/28" }
"""


@pytest.fixture
def book(tmp_path) -> Path:
    """A book into which the text was imported."""
    (tmp_path / "a.toml").write_text(TEXT, encoding="utf-8")
    read, problems = read_catalogs([tmp_path / "a.toml"])
    assert not [problem for problem in problems if problem.is_error]
    import_into(tmp_path / "own.db", read, "test")
    return tmp_path / "own.db"


def pairs_in(book: Path) -> dict[str, str]:
    """The pairs of the one set of a book, as its table has them."""
    with closing(sqlite3.connect(book)) as connection:
        (text,) = connection.execute("SELECT pairs FROM sets").fetchone()
    found: dict[str, str] = json.loads(text)
    return found


def test_imported(book):
    """What stands in a file is kept to the letter, and means the teeth."""
    assert pairs_in(book) == {"1": "014 / 31", "2": "19/26", "R": "12/ _\t/28"}
    pairs = read_book(book).families[0].sets[0].pairs
    assert pairs == {"1": (14, 31), "2": (19, 26), "R": (12, None, 28)}


def test_exported(book, tmp_path):
    """What is exported is written the usual way, and so comes back to the byte."""
    text = toml_of(read_book(book).families)
    assert 'pairs = { 1 = "14/31", 2 = "19/26", R = "12/_/28" }' in text
    (tmp_path / "b.toml").write_text(text, encoding="utf-8")
    assert toml_of(read_catalog(tmp_path / "b.toml")[0].families) == text


def test_edited(book):
    """Where one pair of a set is changed, the others stay as they were typed."""
    family = read_book(book).families[0]
    editing = to_edit(family)
    after = from_edited(editing, editing.text.replace("19/26", "19 /27"), "x")
    keep_family(book, family, after, "test")
    assert pairs_in(book) == {"1": "014 / 31", "2": "19 /27", "R": "12/ _\t/28"}


def test_new_id(book):
    """A family with another id has its pairs as they were typed still."""
    family = read_book(book).families[0]
    keep_family(book, family, replace(family, id="elm-2"), "test")
    assert pairs_in(book)["1"] == "014 / 31"


@pytest.mark.parametrize("pair", ["1 4/31", "14/31" + " " * 40, "14\\n/31", "/31", " / "])
def test_no_pair(tmp_path, pair):
    """Blanks stand round a count, not in it, and are no count themselves."""
    (tmp_path / "a.toml").write_text(TEXT.replace("014 / 31", pair), encoding="utf-8")
    codes = {problem.code for problem in read_catalog(tmp_path / "a.toml")[1] if problem.is_error}
    assert codes <= {"teeth", "chain"}
    assert codes
