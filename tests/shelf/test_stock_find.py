"""Items found by what somebody remembers of them."""

import pytest

from cogtally.gears.errors import UserError
from cogtally.shelf.stock.find import find_items, parse_wanted
from cogtally.shelf.stock.items import Details, Item, Named, new_thing
from shelf.stocked import LAYGEAR

EARLY_NAME = "Birch four-speed laygear 31-27-21-15-14, Early"


def item(number: int, kind: str, words: list[str], name: str = "", **details: str) -> Item:
    """An item that is called something."""
    named = Named(name, "type", 0.9)
    marks = ["LG 3102"] if number == 1 else []
    thing = new_thing(kind, words, marks=marks)
    return Item(number, thing, Details(**details), named, named, "", "")


ITEMS = (
    item(1, "piece", list(LAYGEAR), EARLY_NAME, place="shelf 3", note="from the blue van"),
    item(2, "box", ["input=20/31", "3=27/24", "R=14/18/32"], "box of Birch", place="floor"),
    item(3, "pair", ["3=24/27"], "a pair", place="Shelf 31"),
)


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ("blue van", [1]),
        ("blu vna", [1]),
        ("lg3102", [1]),
        ("LG 31?2", [1]),
        ("floor", [2]),
        ("birch", [1, 2]),
        ("27 21", [1]),
        ("21 27", [1]),
        ("31 _ 21", [1]),
        ("31 21", []),
        ("31", [1, 2]),
        ("27/24", [2]),
        ("24/27", [3]),
        ("3=27/_", [2]),
        ("3=_/27", [3]),
        ("R=27/_", []),
        ("14/32", [2]),
        ("3.driven=27", [3]),
        ("27/_", [1, 2]),
        ("14/18/32", [2]),
        ("27 birch", [1, 2]),
        ("nothing-like-it", []),
        ("???", []),
    ],
)
def test_found(words, found):
    """Words are found misspelt, counts along the axis from either end, pairs as written."""
    hits = find_items(ITEMS, parse_wanted(words.split()))
    assert sorted(hit.item.number for hit in hits) == found


def test_best_first():
    """The item that is most like what was asked for comes first, and says by what."""
    hits = find_items(ITEMS, parse_wanted(["shelf", "3"][:1]))
    assert {hit.item.number for hit in hits} == {1, 3}
    (hit,) = find_items(ITEMS, parse_wanted(["blue"]))
    assert hit.because == ("note: from the blue van",)


@pytest.mark.parametrize("words", ["3=_/_", "300/4", "3=2/24"])
def test_teeth_that_cannot_be_read(words):
    """Teeth that are none are refused."""
    with pytest.raises(UserError):
        parse_wanted([words])
