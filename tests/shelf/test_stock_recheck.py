"""Items named again after the catalog changed."""

from dataclasses import replace
from pathlib import Path

import pytest

from cogtally.catalog.book import writing
from cogtally.catalog.model import RatioSet
from cogtally.shelf.stock.book import read_items
from cogtally.shelf.stock.naming import Recheck, keep_recheck, naming_of, recheck
from cogtally.store import entries
from shelf.stocked import put, stocked_book
from small_catalog import BIRCH, pairs

#: A set with a laygear that the catalog did not have.
TOUR = RatioSet(
    "tour", "Tour", pairs(input="18/33", g1="13/38", g2="20/31", g3="28/23", R="13/18/33")
)


@pytest.fixture
def book(tmp_path) -> Path:
    """A book with items, the last of them a laygear that no listed set has."""
    path = stocked_book(tmp_path)
    put(path, "piece", ["33", "28", "20", "13", "13"])
    return path


def rechecked(book: Path) -> Recheck:
    """What a recheck of all items of a book comes to."""
    return recheck(book, read_items(book), naming_of(book))


def test_nothing_changed(book):
    """As long as the catalog is the same every item is called as before, and nothing is written."""
    done = rechecked(book)
    assert (done.renamed, done.moved) == ((), ())
    before = entries(book)
    keep_recheck(book, done, "stock recheck")
    assert entries(book) == before


def test_a_nearer_set(book):
    """A new set that has the counts names the item, and is told as the reason."""
    with writing(book, "add") as change:
        change.put_set("birch-4", TOUR)
    done = rechecked(book)
    (one,) = done.renamed
    assert one.item.number == 4
    assert (one.before.verdict, one.after.verdict) == ("undecided", "type")
    assert one.after.sets == ("tour",)
    assert [(d.subject, d.status) for d in one.because] == [("birch-4/tour", "new")]
    assert one.before.away > 0 == one.after.away
    keep_recheck(book, done, "stock recheck")
    kept = read_items(book)[3]
    assert (kept.now, kept.then.verdict) == (one.after, "undecided")
    assert rechecked(book).renamed == ()


def test_a_set_that_was_changed(book):
    """What was changed in the set that an item is called after is told key by key."""
    sport = BIRCH.sets[1]
    with writing(book, "edit") as change:
        change.put_set(
            "birch-4", replace(sport, pairs={**sport.pairs, "3": (27, 24)}, commonness=90)
        )
    with writing(book, "edit again") as change:
        change.put_set("birch-4", replace(sport, name="Sporting"))
    changed = rechecked(book)
    assert changed.renamed == ()
    with writing(book, "rename") as change:
        change.put_set("birch-4", replace(BIRCH.sets[0], name="First"))
    piece = rechecked(book).renamed[0]
    (difference,) = piece.because
    assert [(k.key, k.before, k.after) for k in difference.keys] == [("name", "Early", "First")]
    assert piece.after.name.endswith("First")


def test_an_edit_meanwhile_stays(book):
    """An item whose counts were changed after the recheck began keeps the name of its new ones."""
    from cogtally.shelf.stock.book import stock_writing
    from cogtally.shelf.stock.items import new_thing

    with writing(book, "add") as change:
        change.put_set("birch-4", TOUR)
    done = rechecked(book)
    with stock_writing(book, "edit") as stock:
        item = stock.item(4)
        stock.put(replace(item, thing=new_thing("piece", ["20"])))
    keep_recheck(book, done, "stock recheck")
    assert read_items(book)[3].now == item.now


def test_a_family_that_went(book):
    """Without any family left every item is not in the catalog."""
    with writing(book, "remove") as change:
        for family in ("birch-4", "sorrel-axle", "twin-2"):
            change.remove_family(family)
    done = rechecked(book)
    assert {one.after.verdict for one in done.all} == {"uncatalogued"}
    assert {one.after.probability for one in done.all} == {1.0}
