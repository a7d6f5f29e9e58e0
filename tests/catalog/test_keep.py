"""Sets and families written into the book: by the rules, or not at all."""

from dataclasses import replace
from pathlib import Path

import pytest

from cogtally.catalog.book import make_catalog_book, read_book, writing
from cogtally.catalog.changes.keep import keep_family, keep_set, new_set_name
from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.catalog.problem import CatalogError
from cogtally.catalog.words import read_words, words_of, write_words
from cogtally.gears.errors import UserError
from small_catalog import BIRCH, SMALL, SORREL, pairs

NEW = RatioSet(
    "tour",
    "Tour",
    pairs=pairs(input="21/30", g1="16/35", g2="22/29", g3="28/23", R="14/18/32"),
    source="one box",
)


@pytest.fixture
def book(tmp_path) -> Path:
    """A book of the small catalog."""
    make_catalog_book(tmp_path / "a.db", SMALL.families)
    return tmp_path / "a.db"


def test_new_book(tmp_path):
    """Where there is no book it is made with the set in it, and what was typed is kept."""
    import sqlite3

    book = tmp_path / "there" / "new.db"
    new = replace(NEW, typed={"1": "16x2/35"})
    kept = keep_set(book, Family("ash-4", "layshaft", direct="4"), new, "test")
    assert kept.made
    assert read_book(book).families == (Family("ash-4", "layshaft", direct="4", sets=(NEW,)),)
    row = sqlite3.connect(book).execute("SELECT pairs FROM sets").fetchone()[0]
    assert '"1":"16x2/35"' in row


@pytest.mark.parametrize(
    ("known", "code"),
    [
        (replace(NEW, id="early"), "id-twice"),
        (replace(NEW, id="Bad id"), "bad-id"),
        (replace(NEW, pairs=pairs(g1="16/35")), "pairs-differ"),
        (replace(NEW, ratios={"1": "9.99"}), "ratio-contradicts"),
        (replace(NEW, ratios={"1": "x"}), "ratio"),
        (replace(NEW, source="x" * 10_001), "text-too-long"),
        (RatioSet("none"), "empty-set"),
    ],
)
def test_broken_rule(book, known, code):
    """A set that breaks a rule is refused with its code, and nothing is written."""
    with pytest.raises(CatalogError) as caught:
        keep_set(book, "birch-4", known, "test")
    assert code in {problem.code for problem in caught.value.problems}
    assert read_book(book).families == SMALL.families


def test_mark_of_another_family(book):
    """A mark that a piece of another family has too is a warning."""
    marked = replace(NEW, marks={"laygear": ("M 7",)})
    keep_set(book, "birch-4", marked, "test")
    other = RatioSet("mid", pairs=pairs(final="9/38"), marks={"final-pinion": ("M 7",)}, source="x")
    assert [w.code for w in keep_set(book, "sorrel-axle", other, "test").warnings] == ["mark-twice"]


def test_old_warnings(book):
    """What was odd about the family before is not said again."""
    kept = keep_set(book, "birch-4", replace(NEW, source=""), "test")
    assert [(w.code, w.set) for w in kept.warnings] == [("no-source", "tour")]


@pytest.mark.parametrize(
    ("text", "family", "of", "set_id"),
    [
        ("birch-4/new", "birch-4", "birch-4", "new"),
        ("Birch four-speed/new", "birch-4", "Birch four-speed", "new"),
        ("oak-4/new", None, "oak-4", "new"),
        ("Box 5/4/new", "box", "Box 5/4", "new"),
    ],
)
def test_new_set_name(text, family, of, set_id):
    """The name of a new set is parted behind its family, strokes in that name and all."""
    catalog = Catalog((*SMALL.families, Family("box", "axle", name="Box 5/4")))
    found, head, tail = new_set_name(catalog, text)
    assert (found.id if found else None, head, tail) == (family, of, set_id)


@pytest.mark.parametrize("text", ["birch-4", "birch-4/", "/new", "birch-4/Early", ""])
def test_no_new_set_name(text):
    """A family alone, and a set that is there already, are no names of a new set."""
    with pytest.raises(UserError):
        new_set_name(SMALL, text)


def changed(**given: object) -> Family:
    """The first family with something else in it."""
    return replace(BIRCH, **given)


EARLY, SPORT, HAUL = BIRCH.sets


@pytest.mark.parametrize(
    "after",
    [
        changed(name="Other"),
        changed(sets=(SPORT, HAUL)),
        changed(sets=(HAUL, EARLY, SPORT)),
        changed(sets=(EARLY, NEW, SPORT, HAUL)),
        changed(sets=(EARLY, replace(SPORT, id="sports"), HAUL)),
        changed(sets=(replace(EARLY, commonness=7.5), SPORT, HAUL)),
        changed(id="birch-5"),
        changed(id="aaa", name="", sets=(HAUL, replace(EARLY, id="first"))),
    ],
)
def test_family(book, after):
    """A changed family is in the book as it is: its sets in their order, at its own place."""
    kept = keep_family(book, BIRCH, after, "test")
    assert read_book(book).families == (after, *SMALL.families[1:])
    assert kept.differences or after.sets == (HAUL, EARLY, SPORT)


@pytest.mark.parametrize("fresh", [True, False])
def test_words_after_a_change(book, fresh):
    """After each change the words are those of the whole book, whether or not there were any."""
    if fresh:
        assert write_words(book)
    keep_set(book, "birch-4", NEW, "test")
    assert read_words(book) == words_of(read_book(book))
    with_new = replace(BIRCH, sets=(*BIRCH.sets, NEW))
    keep_family(book, with_new, changed(id="aaa", sets=(HAUL, EARLY)), "test")
    assert read_words(book) == words_of(read_book(book))


def test_words_of_another_state_are_made_anew(book):
    """Words that did not know of a change before this one know of both after it."""
    assert write_words(book)
    with writing(book, "test") as change:
        change.remove_family(SORREL.id)
    keep_set(book, "birch-4", NEW, "test")
    assert read_words(book) == words_of(read_book(book))


def test_a_change_reads_no_other_family(book, monkeypatch):
    """A set without marks, and its words, are written without the whole book being read."""
    assert write_words(book)

    def refused(*_: object) -> Catalog:
        raise AssertionError("the whole book was read")

    monkeypatch.setattr("cogtally.catalog.book.book_catalog", refused)
    keep_set(book, "birch-4", NEW, "test")
    assert "tour" in read_words(book).sets["birch-4"]


def test_id_of_another(book):
    """A family cannot take the id of another."""
    with pytest.raises(UserError, match="another family of that id"):
        keep_family(book, BIRCH, changed(id=SORREL.id), "test")
    assert read_book(book).families == SMALL.families
