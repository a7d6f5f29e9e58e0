"""`cogtally recover` as a person runs it: screens, JSON, notes and refusals."""

import json
import re

import pytest

from cogtally.gears.recover import rank as recover_chance
from cogtally.gears.recover.problem import pose
from cogtally.gears.recover.rank import recover
from cogtally.show.recover import shared

THREE = ("3.65", "2.25", "1.44")

SCREENS = {
    "two-decimals": (*THREE, "1.00", "--direct", "4"),
    "three-decimals": ("3.647", "2.254", "1.441", "R=3.843"),
    "equal-sums": (*THREE, "--spread", "0"),
    "free-input": (*THREE, "--free-input", "--spread", "1"),
    "counted": (*THREE, "R=3.84", "input.driver=17", "1=_/31", "--sum", "44-46"),
    "all-counted": (*THREE, "input=17/28", "1=14/31", "2=19/26", "3=24/21"),
    "misprint": (*THREE, "--reading", "misprint", "--drivers", "13-30"),
    "two-shaft": ("3.42", "1.94", "1.30", "0.96", "R=3.00", "--layout", "two-shaft"),
    "sleeve": ("3.08", "1.96", "1.40", "1.00", "--direct", "4", "--layout", "sleeve"),
    "one-decimal": ("3.6", "2.2", "1.4"),
    "under-determined": ("3.65",),
    "none": ("3.65", "2.25", "1.44", "9.912"),
    "axle": ("4.56", "--layout", "axle"),
    "overdrive": ("0.78", "--layout", "overdrive"),
    "many-gears": ("5.09", "3.65", "2.71", "2.06", "1.44", "0.82", "R=3.84"),
}


@pytest.mark.parametrize("name", list(SCREENS))
def test_nothing_is_called_a_probability(name, cogtally):
    """A screen has its chance level; a weight is no probability, and likeliest from 0.8 on."""
    words = SCREENS[name]
    out = " ".join(cogtally("recover", *words, columns=100).out.split())
    assert re.search(r"(\d+ solutions?|No solution)\. Made-up ratios near these have ", out)
    assert "probabl" not in out
    assert out.count("probability") == out.count("no probability")
    found = json.loads(cogtally("recover", *words, "--json").out)
    first = found["solutions"][0]["share"] if found["solutions"] else None
    if found["likeliest"] is not None:
        assert first is not None
        assert first >= 0.8
    assert ("is the likeliest" in out) == (found["likeliest"] is not None and found["count"] > 1)


def test_the_list_is_what_the_core_found(cogtally):
    """Teeth, weights and places on the screen are the solutions', twins beside each other."""
    found = recover(pose({"1": "3.65", "2": "2.25", "3": "1.44"}, free_input=True, spread=1))
    out = cogtally("recover", *SCREENS["free-input"], columns=100).out
    rows = [line.split() for line in out.splitlines() if re.match(r" *\d+  \d+/\d+", line)]
    assert [int(row[0]) for row in rows] == [p for twins in found.twins for p in twins.places]
    for row in rows:
        solution = found.solutions[int(row[0]) - 1]
        teeth = list(solution.teeth.values())
        assert row[1:5] == [f"{teeth[i]}/{teeth[i + 1]}" for i in range(0, 8, 2)]
        assert row[6] == shared(solution.share)


def test_json_has_the_promised_keys(cogtally):
    """Format 1: all that the screen has and more, exact ratios as text beside their decimals."""
    ran = cogtally("recover", *THREE, "R=3.84", "1.driver=14", "--json")
    document = json.loads(ran.out)
    assert (ran.code, ran.err) == (0, "")
    assert list(document) == [
        *("format", "layout", "reading", "spread", "free_input", "planets", "printed", "sought"),
        *("counted", "sums", "count", "by_chance", "tries", "under_determined", "whole"),
        *("likeliest", "solutions", "twins", "spreads", "beside", "next", "check"),
    ]
    assert document["format"] == 1
    assert document["printed"] == {"1": "3.65", "2": "2.25", "3": "1.44", "R": "3.84"}
    assert document["counted"] == {"1.driver": 14}
    assert document["sought"]["1.driver"] == [14, 14]
    assert document["sought"]["2.driver"] == [11, 40]
    assert document["count"] == len(document["solutions"])
    first = document["solutions"][0]
    assert first["place"] == 1
    assert first["teeth"]["input.driven"] == 28
    assert first["ratios"][0] == {"gear": "1", "ratio": "62/17", "decimal": 62 / 17}
    assert first["sums"] == {"input": 45, "1": 45, "2": 45, "3": 45}
    assert sum(s["share"] for s in document["solutions"]) == pytest.approx(1)
    assert [row["spread"] for row in document["spreads"]] == [0, 1, 2]
    assert document["beside"]["free_input"] is True
    assert document["next"][0]["bits"] >= document["next"][1]["bits"]
    assert set(document["check"]) == {"wheel", "bits", "noticed"}


def test_a_counted_wheel_narrows_the_answer(cogtally):
    """The first advice followed, only solutions with those teeth are left."""
    before = json.loads(cogtally("recover", *THREE, "--json").out)
    wheel = before["next"][0]["wheel"]
    left = [s for s in before["solutions"] if s["teeth"][wheel] == 31]
    after = json.loads(cogtally("recover", *THREE, f"{wheel}=31", "--json").out)
    assert [s["teeth"] for s in after["solutions"]] == [s["teeth"] for s in left]
    assert 0 < after["count"] < before["count"]


NOTES = [
    ((*THREE, "1.00"), "4 is 1.00 and was taken to have a pair; --direct 4"),
    ((*THREE, "1.driver=14u"), "the unsure count of 1.driver was taken as sure"),
]
REFUSED = [
    ((), "cogtally recover: no ratio was written"),
    (("1=14/31",), "no ratio was read"),
    (("hello",), "hello: this is not a number"),
    (("0.00",), "0.00: a ratio cannot be zero"),
    (("-3.65",), "-3.65"),
    (("365",), "365: a ratio is at most 50; is the decimal point missing?"),
    (("1=3.65", "1=2.25"), "gear 1 has two ratios"),
    ((*THREE, "2@4:1.1"), "a turn test is no printed ratio"),
    ((*THREE, "5.driver=14"), "5.driver: no such wheel is sought here"),
    ((*THREE, "1.driver=14", "1=15/_"), "1.driver was counted 14 and 15"),
    ((*THREE, "--layout", "round"), "no layout is called 'round'"),
    ((*THREE, "--direct", "3"), "3: a direct gear prints 1.00, not 1.44"),
    ((*THREE, "--spread", "3"), "a spread of 3 was read"),
    ((*THREE, "--spread", "wide"), "--spread wide: this is no whole number"),
    ((*THREE, "--reading", "odd"), "no way of printing is called 'odd'"),
    ((*THREE, "--drivers", "40-11"), "drivers 40 to 11 is no range"),
    ((*THREE, "--driven", "x"), "--driven x: this is no range"),
    ((*THREE, "--sum", ""), "--sum : this is no range"),
    (
        (*THREE, "--layout", "two-shaft", "--free-input"),
        "--free-input: no pair of layout two-shaft",
    ),
    (("4.56", "3.9", "--layout", "axle"), "an axle has one ratio"),
    (("1.2", "--layout", "overdrive"), "an overdrive turns faster out than in"),
    (("0.78", "--layout", "overdrive", "--planets", "0"), "0 planets were read"),
    (("input=3.65",), "'input' is no gear"),
    (tuple(["1.5"] * 11), "11 gears were read"),
    ((*THREE, "--pik", "1"), "--pik"),
    ((*THREE, "--pick", "1"), "--keep-as FAMILY/SET is missing"),
    ((*THREE, "--keep-as", "alder-4/found"), "--pick N is missing"),
    ((*THREE, "--catalog", "x.db"), "--catalog names the book to keep in"),
    ((*THREE, "--pick", "one", "--keep-as", "alder-4/found"), "--pick one: this is no whole"),
    ((*THREE, "--pick", "1", "--keep-as", "a/b", "--catalog", "no.db"), "no.db"),
]


def test_few_tries_are_said_and_prove_little(cogtally, monkeypatch):
    """Where not all copies could be tried, the number is said, and little is read out of them."""
    words = ("3.647", "2.254", "1.441", "R=3.843")
    for steps, said in [
        (50_000, "have none in 4 tries, for more would take too long: too few tries to say"),
        (1_000, "take it as proving nothing"),
    ]:
        monkeypatch.setattr(recover_chance, "BESIDE_STEPS", steps)
        out = " ".join(cogtally("recover", *words).out.split())
        assert said in out
        assert "speaks strongly" not in out


@pytest.mark.parametrize(
    ("share", "shown"),
    [(None, "-"), (0.004, "<0.01"), (0.006, "0.01"), (0.71, "0.71"), (0.997, ">0.99"), (1, "1.00")],
)
def test_a_share_is_never_a_false_nought_or_one(share, shown):
    """Two decimals, but what is not quite nothing or everything is shown as less or more."""
    assert shared(share) == shown
