"""`cogtally ratios` as a person runs it: screens, JSON, notes and refusals."""

import json
import math
from fractions import Fraction

import pytest

from cogtally.show.ratios import decimal

BOX = ("input=17/28", "1=14/31", "2=19/26", "3=24/21", "R=12/20/28")
BEHIND = ("--direct", "4", "--axle", "9/41", "--overdrive", "24/84")

SCREENS = {
    "four-speed": (*BOX, "--direct", "4"),
    "behind-the-box": (*BOX, *BEHIND),
    "missing-and-doubtful": (
        *("input=_/28", "1=14/31", "2=19/_", "3=24/21", "3.driver=22", "3.driver=24x2"),
        *("R=12u/_/28", "final=9/_"),
    ),
    "compound-reverse": (
        *("input=17/28", "1=14/31", "2=19/26", "R1=15/30", "R2=20/24"),
        *("--path", "R=input,R1,R2"),
    ),
    "two-shaft": ("1=12/41", "2=18/35", "3=23/30", "4=27/26", "R=12/20/36", "final=17/71"),
    "sleeve": ("1=16/29", "2=20/25", "3=23/22", "output=19/26", "--direct", "4"),
    "axle": ("final=9/41",),
    "long-names": (
        *("crawler-of-the-lorry=12/43", "1=14/31", "first-crawler-pair=13/29"),
        *("second-crawler-pair=17/37", "third-crawler-pair=19/41", "R=_/_/_", "--axle", "7/43"),
        *("--overdrive", "29/91", "--path"),
        "lowest-crawler=1,first-crawler-pair,second-crawler-pair,third-crawler-pair",
    ),
}


def test_repeated_counts_are_settled_by_the_law_of_the_evidence(cogtally):
    """A sure count beats an unsure one, two beat one, and beyond 80 teeth it is no different."""
    sure = cogtally("ratios", "1=14u/31", "1.driver=15", "1.driven=32x2", "--json")
    assert json.loads(sure.out)["pairs"][0]["teeth"] == [15, 32]
    crown = cogtally("ratios", "final=9/107", "final.driven=110", "final.driven=107", "--json")
    assert json.loads(crown.out)["pairs"][0]["teeth"] == [9, 107]


def test_json_has_the_promised_keys(cogtally):
    """Format 1: exact fractions as text, decimals in full precision, sums and hunting by pair."""
    ran = cogtally("ratios", *BOX, *BEHIND, "--json")
    document = json.loads(ran.out)
    assert (ran.code, ran.err) == (0, "")
    assert (document["format"], document["layout"], document["direct"]) == (1, "layshaft", "4")
    assert document["axle"] == {"pair": "final", "ratio": "41/9", "decimal": 41 / 9}
    overdrive = {"sun": 24, "annulus": 84, "ratio": "7/9", "decimal": 7 / 9}
    assert document["overdrive"] == overdrive
    second = next(gear for gear in document["gears"] if gear["gear"] == "2")
    ratio, step = Fraction(28 * 26, 17 * 19), Fraction(31 * 19, 14 * 26)
    assert second == {
        "gear": "2",
        "path": ["input", "2"],
        "ratio": str(ratio),
        "decimal": float(ratio),
        "step_from": "1",
        "step": str(step),
        "step_decimal": float(step),
        "missing": [],
        "overall": str(ratio * Fraction(41, 9)),
        "overall_decimal": float(ratio * Fraction(41, 9)),
        "overdrive": str(ratio * Fraction(7, 9)),
        "overdrive_decimal": float(ratio * Fraction(7, 9)),
        "overdrive_overall": str(ratio * Fraction(7 * 41, 81)),
        "overdrive_overall_decimal": float(ratio * Fraction(7 * 41, 81)),
    }
    assert document["pairs"][4] == {
        "pair": "R",
        "teeth": [12, 20, 28],
        "sums": [32, 48],
        "hunting": False,
        "common_factors": [4, 4],
        "disputed": [],
    }


def test_json_says_nothing_of_what_is_not_there(cogtally):
    """Without axle and overdrive their keys are absent; what was not counted is null."""
    document = json.loads(cogtally("ratios", "1=14/_", "--json").out)
    assert set(document) == {"format", "layout", "direct", "gears", "pairs"}
    (gear,), (pair,) = document["gears"], document["pairs"]
    assert {gear.pop("gear"), *gear.pop("path")} == {"1"}
    assert gear.pop("missing") == ["1.driven"]
    assert set(gear.values()) == {document["direct"]} == {None}
    assert (pair["teeth"], pair["sums"], pair["common_factors"]) == ([14, None], [None], [None])
    assert pair["hunting"] is None


NOTES = [
    ((*BOX, "1@4:1.1"), "does not use a turn test: 1@4:1.1"),
    ((*BOX, "1@4:1.1", "R@4:1"), "does not use turn tests: 1@4:1.1 and R@4:1"),
    ((*BOX, "output=20/25"), "no gear runs through output in a box of layout layshaft"),
    (("input=17/28",), "no gear is written"),
    (("1=14/31", "2=26/19", "3=24/21"), "3 is no higher a gear than 2"),
    (("1=14/31", "--axle", "41/9"), "the axle 41/9 gears up; did you mean 9/41?"),
    (("1=14/31", "2=19/22"), "these not: 1 45 and 2 41"),
]
REFUSED = [
    ((), "cogtally ratios: nothing counted was written"),
    (("1@4:1.1",), "no teeth were counted"),
    (("-3.65",), "-3.65"),
    (("1=14/31", "--axle", "9"), "--axle 9: at character 2"),
    (("1=14/31", "--axle", "9/_"), "--axle 9/_: two counted wheels"),
    (("1=14/31", "--overdrive", "84/24"), "--overdrive 84/24: the annulus must have more"),
    (("1=14/31", "--overdrive", "x"), "--overdrive x: at character 1"),
    (("1=14/31", "--direct", "4"), "--direct 4: no gear of the layout two-shaft"),
    (("1=14/31", "--direct", ""), "--direct : at character 1"),
    (("OD=24/84", "--layout", "overdrive"), "one behind a box: --overdrive 24/84"),
    (("1=14/31", "--layout", "lay"), "--layout lay: there is no such layout"),
    (("1=14/31", "--path", "R"), "--path R: at character 2"),
    (("1=14/31", "--path", "R=2"), "--path R=2: the pair 2 is not written"),
    (("1=14/31", "--axel", "9/41"), "--axle"),
]


@pytest.mark.parametrize(
    ("value", "places", "text"),
    [
        (Fraction(62, 17), 4, "3.6471"),
        (Fraction(1), 3, "1.000"),
        (Fraction(1, 3), 2, "0.33"),
        (Fraction(2, 3), 2, "0.67"),
        (Fraction(1, 8), 2, "0.13"),
        (Fraction(99999, 100000), 3, "1.000"),
        (Fraction(200**4, 4**4), 1, "6250000.0"),
    ],
)
def test_decimal_is_rounded_exactly(value, places, text):
    """A decimal is the nearest one to the fraction itself, a half rounded up."""
    assert decimal(value, places) == text
    assert math.isclose(float(text), value, abs_tol=0.5 * 10**-places * (1 + 1e-9))
