"""Printed ratios that teeth can give: the search against every assignment, one after another."""

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given, settings, strategies as st

from cogtally.catalog.check import ratios as possible
from cogtally.catalog.check.ratios import Printed, are_possible, printed_gear

#: So few teeth, and so few wheels, that every assignment can be tried.
FEWEST, MOST = 3, 7
WHEELS = ("a", "b", "c", "d", "e")


@pytest.fixture
def few_teeth(monkeypatch) -> Iterator[None]:
    """Let every wheel have 3 to 7 teeth."""
    possible._values.cache_clear()
    possible._near_first.cache_clear()
    monkeypatch.setattr(possible, "FEWEST", FEWEST)
    monkeypatch.setattr(possible, "MOST", MOST)
    yield
    possible._values.cache_clear()
    possible._near_first.cache_clear()


def by_trial(gears: Sequence[Printed], teeth: Mapping[str, int]) -> bool:
    """Whether any assignment gives all ratios, found by trying each."""
    wheels = sorted({w for g in gears for w in (*g.drivers, *g.drivens)} - set(teeth))
    for counts in product(range(FEWEST, MOST + 1), repeat=len(wheels)):
        known = {**teeth, **dict(zip(wheels, counts, strict=True))}
        if all(fits(gear, known) for gear in gears):
            return True
    return False


def fits(gear: Printed, teeth: Mapping[str, int]) -> bool:
    ratio = Fraction(1)
    for driver, driven in zip(gear.drivers, gear.drivens, strict=True):
        ratio *= Fraction(teeth[driven], teeth[driver])
    return Fraction(gear.low, gear.den) <= ratio <= Fraction(gear.high, gear.den)


ratios = st.builds(
    lambda teeth, decimals: f"{teeth[0] * teeth[1] / (teeth[2] * teeth[3]):.{decimals}f}",
    st.tuples(*[st.integers(FEWEST, MOST)] * 4),
    st.integers(0, 4),
).filter(lambda text: text.strip("0.") != "")
pairs = st.tuples(st.sampled_from(WHEELS), st.sampled_from(WHEELS))
gears = st.builds(printed_gear, ratios, st.lists(pairs, max_size=3))
known = st.dictionaries(st.sampled_from(WHEELS), st.integers(2, 9), max_size=2)


@pytest.mark.usefixtures("few_teeth")
def test_against_every_assignment():
    """The search says what trying every assignment says, whatever wheels the gears share."""

    @settings(max_examples=100)
    @given(st.lists(gears, min_size=1, max_size=3), known)
    def law(printed: list[Printed], teeth: dict[str, int]) -> None:
        assert are_possible(printed, teeth) == by_trial(printed, teeth)

    law()


teeth_of_wheels = st.lists(st.integers(8, 80), min_size=8, max_size=8)


@given(teeth_of_wheels, st.integers(1, 6))
def test_own_ratios(teeth, decimals):
    """Whatever teeth print is possible, to any number of decimals."""
    a, b, *rest = teeth
    printed = []
    for number in range(3):
        c, d = rest[2 * number : 2 * number + 2]
        units = round(Fraction(b * d, a * c) * 10**decimals)
        text = f"{units // 10**decimals}.{units % 10**decimals:0{decimals}d}"
        own = (f"{number}.driver", f"{number}.driven")
        printed.append(printed_gear(text, [("input.driver", "input.driven"), own]))
    assert are_possible(printed)


@pytest.mark.parametrize(
    ("text", "answer"),
    [
        ("20", True),
        ("19.8", True),
        ("19.9", False),
        ("0.05", True),
        ("0.04", False),
        ("1.00000", True),
    ],
)
def test_ends_of_one_pair(text, answer):
    """One pair of 5 to 99 teeth gives ratios from 5/99 to 19.8, and its rounding is taken in."""
    assert are_possible([printed_gear(text, [("1.driver", "1.driven")])]) is answer


@pytest.mark.parametrize(("text", "answer"), [("0.125", True), ("0.12", True), ("0.126", False)])
def test_both_ends_of_the_interval(text, answer):
    """An interval has both its ends: 10/80 is 0.125, which prints as 0.12 or as 0.13."""
    printed = printed_gear(text, [("1.driver", "1.driven")])
    assert are_possible([printed], {"1.driver": 80, "1.driven": 10}) is answer


def test_input_is_shared():
    """Two gears that teeth can give one by one may share an input pair that gives not both."""
    path = {g: [("input.driver", "input.driven"), (f"{g}.driver", f"{g}.driven")] for g in "12"}
    both = [printed_gear("100", path["1"]), printed_gear("0.02", path["2"])]
    assert [are_possible([gear]) for gear in both] == [True, True]
    assert not are_possible(both)


def test_wheel_is_shared():
    """A wheel of two names has one number of teeth on both paths."""
    first, reverse = [("1.driver", "slider")], [("R.driver", "slider")]
    apart = [printed_gear("10", first), printed_gear("0.2", [("R.driver", "R.driven")])]
    shared = [printed_gear("10.0", first), printed_gear("0.2", reverse)]
    assert are_possible(apart)
    assert not are_possible(shared)


def test_cancelled_wheel():
    """A wheel that drives and is driven on one path changes nothing."""
    path = [("a", "idler"), ("idler", "b")]
    assert are_possible([printed_gear("19.8", path)])
    assert not are_possible([printed_gear("19.9", path)])


def test_direct():
    """A path of no pair has the ratio 1."""
    assert are_possible([printed_gear("1.00", [])])
    assert not are_possible([printed_gear("1.01", [])])


def test_gives_up_in_favour(monkeypatch):
    """A search that would take too long accuses nobody."""
    gears = [
        printed_gear(text, [("input.driver", "input.driven"), (f"{n}.driver", f"{n}.driven")])
        for n, text in enumerate(("3.65141", "2.25312", "1.44123"))
    ]
    assert not are_possible(gears)
    monkeypatch.setattr(possible, "MOST_STEPS", 100)
    assert are_possible(gears)
