"""`cogtally stock kits`, run as a person runs it."""

import json

import pytest

from cogtally.show.screen import CAUTION
from conftest import refused
from shelf.stocked import LAYGEAR
from small_catalog import EARLY

GBP = ("--currency", "GBP")
#: An early box in pieces, every count twice; a laygear more; a box of the same.
FILL = (
    ("20x2", "--role", "input-shaft", "--price", "20", *GBP),
    (*LAYGEAR, "--price", "45", *GBP),
    ("36x2", "--role", "1-gear", "--price", "12.50", *GBP),
    ("30x2", "--role", "2-gear", "--price", "9", *GBP),
    ("24x2", "--role", "3-gear"),
    ("18x2", "--role", "R-idler", "--price", "4", *GBP),
    ("32x2", "--role", "R-gear", "--price", "7", *GBP),
    (*LAYGEAR, "--price", "60", *GBP),
    ("32x2", "--role", "R-gear", "--price", "5", *GBP),
    ("18x2", "--role", "R-idler", "--price", "5", *GBP),
    ("20x2", "--role", "input-shaft", "--price", "20", *GBP),
    ("36x2", "--role", "1-gear", "--price", "12.50", *GBP),
    ("30x2", "--role", "2-gear", "--price", "9", *GBP),
    ("44", "20u", "_"),
    (*EARLY, "--price", "320", *GBP),
)
SCREENS: dict[str, tuple[str, ...]] = {
    "mixed": ("--with-mixed",),
    "sure": ("birch-4", "--sure", "0.95"),
    "broken-up": ("--break-up", "--with-mixed", "--by", "count"),
}


@pytest.mark.usefixtures("filled")
@pytest.mark.parametrize("columns", [60, 100])
@pytest.mark.parametrize("name", list(SCREENS))
def test_screen(name, columns, cogtally, snapshot):
    """Each screen is what its kept file shows; no line is wider than the screen."""
    ran = cogtally("stock", "kits", *SCREENS[name], columns=columns)
    assert (ran.code, ran.err) == (0, "")
    assert max(map(len, ran.out.splitlines())) <= columns
    assert " ".join(ran.out.split()).endswith(CAUTION)
    snapshot(f"stock-kits/{name}-{columns}", ran.out)


@pytest.mark.usefixtures("filled")
def test_json(cogtally_process):
    """As JSON, from a process of its own, nothing but JSON is printed, sums exact."""
    ran = cogtally_process("stock", "kits", "--with-mixed", "--json")
    assert (ran.code, ran.err) == (0, "")
    found = json.loads(ran.out)
    assert found["format"] == 1
    (kit,) = found["kits"]
    assert (kit["set"], found["value"], found["unpriced"]) == ("early", "113.50", 1)
    assert {p["item"] for p in kit["parts"] if p["piece"] == "laygear"} == {8}
    assert found["nearly"][0]["missing"] == [{"piece": "3-gear", "teeth": [24]}]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--demo",), "--demo"),
        (("--sure", "0.5"), "over 0.5"),
        (("--sure", "nan"), "over 0.5"),
        (("--by", "weight"), "by value or by count"),
        (("oak-9",), "no family"),
    ],
)
@pytest.mark.usefixtures("book")
def test_wrong(words, said, cogtally):
    """What cannot be asked is refused in one line."""
    refused(cogtally("stock", "kits", *words), said)


@pytest.mark.usefixtures("filled")
def test_two_currencies(cogtally):
    """Prices that do not add up are refused by value, and left out by count."""
    cogtally("stock", "add", *LAYGEAR, "--price", "9", "--currency", "EUR")
    refused(cogtally("stock", "kits"), "EUR and GBP")
    found = json.loads(cogtally("stock", "kits", "--by", "count", "--with-mixed", "--json").out)
    assert (len(found["kits"]), found["value"], found["currency"]) == (1, None, None)


@pytest.mark.usefixtures("book")
def test_empty(cogtally):
    """An empty shelf makes no set."""
    assert cogtally("stock", "kits").out.startswith("No complete set stands on the shelf.")
