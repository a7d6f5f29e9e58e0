"""The judge judged: sets known by printed ratios only, against loops a person can follow."""

import math
from fractions import Fraction
from itertools import product

import numpy as np
import pytest

from reference.enumeration import identify
from reference.examples import by_name, family
from reference.layout import ends_of
from reference.plain import SPAN, count_law, rho
from reference.tied import LongGear, ShortGear, tied_sum


def normal(x: float, mean: float) -> float:
    return 48 / math.sqrt(2 * math.pi) * math.exp(-((48 * (x - mean)) ** 2) / 2)


def test_printed_ratio_against_plain_loops():
    """One printed ratio: the tied pair's teeth are weighed over every pair that can give it."""
    doc = family({"layout": "two-shaft"}, {"id": "s", "ratios": {"1": "2.50"}})
    names = by_name(identify([doc], ["1=20/50"]))
    ways = [
        (a, b)
        for a in SPAN
        for b in SPAN
        if Fraction(2495, 1000) <= Fraction(b, a) <= Fraction(2505, 1000)
    ]
    inside = outside = 0.0
    for hand, q in ((0.8, 0.01), (0.2, 0.06)):
        fits = math.fsum(count_law(20, a, q) * count_law(50, b, q) for a, b in ways)
        inside += hand * 0.9 * fits / len(ways)
        one = [math.fsum(count_law(c, t, q) for t in SPAN) / 95 for c in (20, 50)]
        outside += hand * 0.1 * one[0] * one[1]
    assert names["s"] == pytest.approx(inside / (inside + outside), rel=1e-11)


def test_two_printed_ratios_against_plain_loops():
    """Two printed ratios in a two-shaft box: the second pair's sum is held against the first's."""
    doc = family({"layout": "two-shaft"}, {"id": "s", "ratios": {"1": "3.417", "2": "1.905"}})
    got = identify([doc], ["1.driver=12", "2=21/40", "R.idler=20"])
    span = SPAN
    ways = {
        gear: [(a, b) for a in span for b in span if low <= Fraction(b, a) <= high]
        for gear, (low, high) in (("1", ends_of("3.417")), ("2", ends_of("1.905")))
    }
    whole = 0.0
    inside = outside = 0.0
    steady, hasty = (0.8, 0.01), (0.2, 0.06)
    rows = []
    for (a, b), (c, d) in product(ways["1"], ways["2"]):
        off = {0: 1.0, 1: 0.3, 2: 0.03}.get(abs(a + b - c - d), 0.001)
        whole += off
        rows.append((a, c, d, off))
    for hand, q in (steady, hasty):
        flat = {c: math.fsum(count_law(c, t, q) for t in span) / 95 for c in (12, 20, 21, 40)}
        fits = math.fsum(
            off * count_law(12, a, q) * count_law(21, c, q) * count_law(40, d, q)
            for a, c, d, off in rows
        )
        inside += hand * 0.9 * fits / whole * flat[20]
        outside += hand * 0.1 * flat[12] * flat[21] * flat[40] * flat[20]
    assert got["answers"][0]["probability"] == pytest.approx(inside / (inside + outside), rel=1e-11)
    assert got["so_far"][0]["probability"] == got["answers"][0]["probability"]


def test_printed_turn_by_hand():
    """A printed ratio's mean reading lies evenly between the readings of its two ends."""
    doc = family({"layout": "two-shaft"}, {"id": "s", "ratios": {"1": "2.5"}})
    names = by_name(identify([doc], ["1@10:4.00"]))
    low, high = 10 / 2.55, 10 / 2.45
    steps = 20_000
    mean = (
        math.fsum(normal(4, low + (high - low) * (i + 0.5) / steps) for i in range(steps)) / steps
    )
    slip = 1 / (4 * math.log(100))
    fits = 0.9 * (0.995 * mean + 0.005 * slip)
    assert names["s"] == pytest.approx(fits / (fits + 0.1 * slip), rel=1e-7)


def test_short_and_long_paths_agree():
    """Listing every assignment and merging products give the same sums, ends of intervals too."""
    ends = [("a", "b"), ("c", "d")]
    low, high = Fraction(3, 2), Fraction(63, 40)
    dice = np.random.default_rng(1)
    vectors = {wheel: dice.random(95) for wheel in "abcd"}
    short = ShortGear(ends, low, high)
    for shared in (["a"], ["b", "c"]):
        long = LongGear(ends, low, high, shared)
        assert long.table(vectors, shared) == pytest.approx(short.table(vectors, shared), rel=1e-11)


def test_short_path_lists_every_assignment():
    """Of every two wheels exactly those pairs are kept whose ratio is in the interval."""
    low, high = ends_of("1.33")
    short = ShortGear([("a", "b")], low, high)
    kept = sorted(zip(short.teeth["a"].tolist(), short.teeth["b"].tolist(), strict=True))
    span = SPAN
    assert kept == [(a, b) for a in span for b in span if low <= Fraction(b, a) <= high]


def test_a_wheel_in_two_printed_ratios_is_one_wheel():
    """First and reverse printed, driven by one wheel: agrees with plain loops, input known."""
    wheels = {"1": ("d", "v"), "R": ("d", "w")}
    ends = {"1": ends_of("3.6"), "R": ends_of("4.1")}
    made = []
    for gear, two in wheels.items():
        made.append(ShortGear([("i", "j"), two], *ends[gear]))
    dice = np.random.default_rng(3)
    vectors = {wheel: dice.random(95) for wheel in "dvw"}
    for wheel, teeth in (("i", 17), ("j", 28)):
        vectors[wheel] = np.zeros(95)
        vectors[wheel][teeth - 5] = 1.0
    plain = 0.0
    for d in SPAN:
        fits = {
            gear: math.fsum(
                vectors[driven][t - 5]
                for t in SPAN
                if ends[gear][0] <= Fraction(28 * t, 17 * d) <= ends[gear][1]
            )
            for gear, (_, driven) in wheels.items()
        }
        plain += vectors["d"][d - 5] * fits["1"] * fits["R"]
    assert tied_sum(made, vectors) == pytest.approx(plain, rel=1e-11)


def test_an_untied_wheel_is_half_listed_half_rho():
    """The idler of a box known by a brochure: listed 3:1 as 18 and 20, or by ρ."""
    sets = [
        {"id": "a", "pairs": {"1": "15/45", "R": "12/18/30"}, "commonness": 3},
        {"id": "b", "pairs": {"1": "15/45", "R": "12/20/30"}},
        {"id": "s", "ratios": {"1": "3.00"}, "commonness": 2},
    ]
    answer = identify([family({"layout": "two-shaft"}, *sets)], ["R.idler=20"])
    spread = rho({18: 3.0, 20: 1.0})
    sheet = math.fsum(
        hand
        * (
            (0.75 * count_law(20, 18, q) + 0.25 * count_law(20, 20, q)) / 2
            + math.fsum(x * count_law(20, t, q) for t, x in spread.items()) / 2
        )
        for hand, q in ((0.8, 0.01), (0.2, 0.06))
    )
    stranger = math.fsum(
        hand * math.fsum(x * count_law(20, t, q) for t, x in spread.items())
        for hand, q in ((0.8, 0.01), (0.2, 0.06))
    )
    named = by_name(answer)
    odds = 0.9 * 2 / 6 * sheet / (0.1 * stranger)
    assert named["s"] / named["uncatalogued"] == pytest.approx(odds, rel=1e-11)


def test_a_printed_set_stays_matched_at_a_thousandth():
    """What is lacking costs a brochure's set .001 a pair and a test, and leaves it matched."""
    doc = family({"layout": "two-shaft"}, {"id": "s", "ratios": {"1": "2.50"}})
    # ρ is uniform, and the test is a slip, for either: both cancel.
    for words, cost in (
        (["5=20/30"], 1e-3),
        (["5=20/30", "6.driver=21", "7@4:1.1"], 1e-9),
        (["R=12/20/30"], 1.0),
        (["R@4:1.1"], 1.0),
    ):
        named = by_name(identify([doc], words))
        assert named["s"] / named["uncatalogued"] == pytest.approx(9 * cost), words
