"""`cogtally recover --pick N --keep-as FAMILY/SET`: a solution becomes a set of the user's book."""

import json
from pathlib import Path

import pytest

from cogtally.catalog.book import make_catalog_book, read_book
from cogtally.catalog.model import Family, RatioSet
from cogtally.gears.trains import train_ratio
from conftest import refused

THREE = ("3.65", "2.25", "1.44", "R=3.84")
PAIRS = {"input": (18, 27), "1": (14, 31), "2": (19, 26), "3": (23, 22), "R": (12, 20, 28)}


@pytest.fixture
def book(tmp_path) -> Path:
    """A book with one family of one set."""
    path = tmp_path / "own.db"
    known = RatioSet("late", pairs=PAIRS)
    make_catalog_book(path, [Family("alder-4", "layshaft", sets=(known,), direct="4")])
    return path


def kept(book: Path, set_id: str) -> RatioSet:
    (family,) = read_book(book).families
    return next(known for known in family.sets if known.id == set_id)


def test_a_solution_is_kept_with_its_source(book, cogtally, snapshot):
    """The set has the teeth of the place that was picked, a gap for the idler, and its source."""
    words = (*THREE, "1.driver=14", "--pick", "1", "--keep-as", "alder-4/found")
    ran = cogtally("recover", *words, "--catalog", str(book))
    assert (ran.code, ran.err) == (0, "")
    known = kept(book, "found")
    assert known.pairs == PAIRS | {"input": (17, 28), "3": (24, 21), "R": (12, None, 28)}
    assert known.ratios == {"1": "3.65", "2": "2.25", "3": "1.44", "R": "3.84"}
    assert known.source == (
        "recovered from printed ratios 1=3.65 2=2.25 3=1.44 R=3.84 (rounded); "
        "counted 1.driver=14; no. 1 of 1"
    )
    snapshot("recover/kept", ran.out.replace(str(book), "BOOK"))


def test_a_sleeve_box_is_kept_in_a_family_of_its_layout(tmp_path, cogtally):
    """What is kept has the pairs of a sleeve box, and its gears print as the ratios written."""
    path = tmp_path / "own.db"
    teeth = {"1": (16, 28), "2": (20, 24), "output": (18, 26)}
    family = Family(
        "osier-3",
        "sleeve",
        sets=(RatioSet("road", pairs=teeth),),
        direct="3",
        given_pieces={f"{pair}-pair": (f"{pair}.driver", f"{pair}.driven") for pair in teeth},
    )
    make_catalog_book(path, [family])
    words = ("2.53", "1.73", "1.00", "--direct", "3", "--layout", "sleeve", "--spread", "0")
    keep = ("--pick", "1", "--keep-as", "osier-3/found", "--catalog", str(path))
    assert cogtally("recover", *words, *keep).code == 0
    found = kept(path, "found")
    assert set(found.pairs) == set(teeth)
    for gear, printed in (("1", "2.53"), ("2", "1.73")):
        ratio = train_ratio([found.pairs[pair] for pair in family.train.path(gear) or ()])
        assert f"{float(ratio or 0):.2f}" == printed


def test_the_place_is_that_of_the_list(book, cogtally):
    """What is picked is what the list without keeping shows at that place."""
    listed = json.loads(cogtally("recover", *THREE, "--json").out)["solutions"]
    words = ("--pick", "3", "--keep-as", "alder-4/third", "--catalog", str(book), "--json")
    document = json.loads(cogtally("recover", *THREE, *words).out)
    assert document["written"] is True
    pairs = kept(book, "third").pairs
    teeth = {
        f"{p}.{r}": t for p, ts in pairs.items() for r, t in (("driver", ts[0]), ("driven", ts[-1]))
    }
    assert teeth == listed[2]["teeth"]
    assert "no wheel counted; no. 3 of 6; weight 0.09" in kept(book, "third").source


def test_pairs_without_a_ratio_are_gaps(book, cogtally):
    """A pair of the family that no ratio was given for is kept as not counted."""
    words = ("--pick", "2", "--keep-as", "alder-4/no-reverse", "--catalog", str(book))
    assert cogtally("recover", *THREE[:3], *words).code == 0
    assert kept(book, "no-reverse").pairs["R"] == (None, None, None)


def test_a_misprinted_ratio_is_not_kept_against_the_teeth(book, cogtally):
    """A ratio that the teeth give by a misprint alone is left out of the set."""
    ratios = ("3.66", "2.25", "1.44", "--reading", "misprint", "1=14/31", "input=17/28", "3=24/21")
    words = ("--pick", "1", "--keep-as", "alder-4/odd", "--catalog", str(book))
    assert cogtally("recover", *ratios, *words).code == 0
    assert kept(book, "odd").ratios == {"2": "2.25", "3": "1.44"}


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--pick", "7", "--keep-as", "alder-4/found"), "--pick 7: the list has no such solution"),
        (("--pick", "0", "--keep-as", "alder-4/found"), "--pick 0: the list has no such solution"),
        (("--pick", "1", "--keep-as", "alder-4"), "alder-4: a set is named with its family"),
        (("--pick", "1", "--keep-as", "aldr-4/found"), "did you mean alder-4?"),
        (("--pick", "1", "--keep-as", "alder-4/late"), "has a set called that already"),
        (("--pick", "1", "--keep-as", "alder-4/x y"), "the id 'x y' was read"),
        (
            ("--pick", "1", "--keep-as", "alder-4/found", "--layout", "two-shaft"),
            "alder-4 is a box of layout layshaft",
        ),
        (("5=4.45", "--pick", "1", "--keep-as", "alder-4/found"), "alder-4/found"),
    ],
)
def test_refusal(words, says, book, cogtally):
    """What cannot be kept is one line, exit code 2, and the book is as it was."""
    before = read_book(book)
    refused(cogtally("recover", *THREE, *words, "--catalog", str(book)), says)
    assert read_book(book) == before
