import tracemalloc
from dataclasses import replace
from fractions import Fraction
from math import exp, fsum, log
from typing import Any

import pytest
from hypothesis import given, settings, strategies as st

from cogtally.gears.errors import UserError
from cogtally.gears.printed import READINGS
from cogtally.gears.recover.cells import Steps
from cogtally.gears.recover.problem import Problem, Span, pose
from cogtally.gears.recover.solutions import (
    counts_by_spread,
    ratios,
    search,
    search_by_spread,
)

from .recover_boxes import cut_ratio, print_ratio
from .recover_brute import fillings, in_order

ALL = 10**9
DRIVERS, DRIVEN = Span(11, 16), Span(16, 21)

Case = tuple[dict[str, str], dict[str, Any]]


def numbers(span: Span) -> range:
    return range(span.low, span.high + 1)


@st.composite
def cases(draw: st.DrawFn, gears: int = 3) -> Case:
    """Draw ratios of a small box that does exist, and how they are to be taken."""
    layout = draw(st.sampled_from(["layshaft", "layshaft", "two-shaft"]))
    pair = st.tuples(
        st.integers(DRIVERS.low, DRIVERS.high), st.integers(DRIVEN.low, DRIVEN.high)
    ).map(lambda p: Fraction(p[1], p[0]))
    shared = draw(pair) if layout == "layshaft" else Fraction(1)
    printer = draw(st.sampled_from([print_ratio, cut_ratio]))
    names = [str(i + 1) for i in range(draw(st.integers(2, gears)))]
    names = draw(st.permutations(names)) + (["R"] if draw(st.booleans()) else [])
    # A reverse with few teeth, so that its wheels can clear each other.
    small = st.builds(Fraction, st.integers(16, 18), st.integers(11, 12))
    texts = {
        n: printer(shared * draw(small if n == "R" else pair), draw(st.integers(1, 3)))
        for n in names
    }
    return texts, {
        "layout": layout,
        "reading": draw(st.sampled_from(READINGS)),
        "spread": draw(st.integers(0, 2)),
        "free_input": layout == "layshaft" and draw(st.booleans()),
    }


def posed(case: Case) -> Problem:
    return pose(case[0], drivers=DRIVERS, driven=DRIVEN, **case[1])


def tried_out(case: Case) -> dict[tuple[tuple[int, int], ...], float]:
    return fillings(case[0], numbers(DRIVERS), numbers(DRIVEN), **case[1])


@settings(max_examples=20)
@given(cases())
def test_a_sleeve_box_is_a_layshaft_box_the_other_way_round(case):
    """Fillings and weights are those of a layshaft, for its input pair stands the output pair."""
    gears, options = case
    if options["layout"] != "layshaft":
        return
    found = search(posed(case), listed=ALL)
    sleeve = posed((gears, {**options, "layout": "sleeve"}))
    assert search(sleeve, listed=ALL) == found
    assert sleeve.pairs == ("output", *posed(case).pairs[1:])


@settings(max_examples=20)
@given(cases())
def test_one_search_has_every_spread(case):
    """What one search finds at each spread is what a search at that spread alone finds."""
    problem = posed(case)
    for spread, found in enumerate(search_by_spread(problem, listed=ALL)):
        listed = ALL if spread == problem.spread else 1
        assert found == search(replace(problem, spread=spread), listed)


def test_the_work_of_a_search_is_counted_with_its_reverse():
    """A reverse that is sought in a wide range counts as work, so that the search has an end."""
    wide = {"drivers": Span(11, 80), "driven": Span(15, 80)}
    plain, reverse = Steps(), Steps()
    counts_by_spread(pose({"1": "3.6", "2": "2.2"}, **wide), plain)
    counts_by_spread(pose({"1": "3.6", "2": "2.2", "R": "3.8"}, **wide), reverse)
    assert reverse.done > 2 * plain.done


@settings(max_examples=15)
@given(cases())
def test_the_search_finds_what_trying_out_finds(case):
    """Every filling, its weight, their order, number and total are those of trying all wheels."""
    found = search(posed(case), listed=ALL)
    judge = tried_out(case)
    assert found.count == len(judge)
    assert [f.teeth for f in found.best] == [teeth for teeth, _ in in_order(judge)]
    assert [f.weight for f in found.best] == pytest.approx(
        [weight for _, weight in in_order(judge)], abs=1e-8
    )
    if judge:
        assert found.log_total == pytest.approx(log(fsum(map(exp, judge.values()))), abs=1e-9)


@given(cases(), st.integers(0, 30))
def test_a_short_list_is_the_beginning_of_the_long_one(case, listed):
    """However few are listed, they are the best of all, and the count does not change."""
    long, short = search(posed(case), listed=ALL), search(posed(case), listed=listed)
    assert short.best == long.best[:listed]
    assert (short.count, short.log_total) == (long.count, long.log_total)
    assert short.whole == (long.count <= listed)


@given(cases())
def test_counts_at_all_spreads_are_those_of_each(case):
    """Counting at all spreads at once gives what each spread by itself gives, and never falls."""
    problem = replace(posed(case), spread=2)
    together = counts_by_spread(problem)
    assert together == tuple(counts_by_spread(replace(problem, spread=k))[-1] for k in (0, 1, 2))
    assert together == tuple(sorted(together))


@given(cases())
def test_every_filling_prints_as_the_ratios(case):
    """The exact ratios of a listed filling all lie in the intervals of the printed ones."""
    problem = posed(case)
    for filling in search(problem).best:
        exact = ratios(problem, filling.teeth)
        assert all(r in t.within for r, t in zip(exact, problem.targets, strict=True))


@given(cases(), st.data())
def test_a_counted_wheel_leaves_what_agrees_with_it(case, data):
    """Counting a wheel keeps just the fillings with those teeth; over all counts none is lost."""
    problem = posed(case)
    wheel = data.draw(st.sampled_from(problem.wheels))
    place = problem.wheels.index(wheel)
    before = search(problem, listed=ALL)
    teeth_of_wheel = numbers(problem.spans[wheel])
    after = [search(problem.with_counted(wheel, t), listed=ALL) for t in teeth_of_wheel]
    assert sum(found.count for found in after) == before.count
    for teeth, found in zip(teeth_of_wheel, after, strict=True):
        kept = [f for f in before.best if f.teeth[place // 2][place % 2] == teeth]
        assert list(found.best) == kept


@given(cases())
def test_the_order_of_the_gears_does_not_matter(case):
    """Gears written in another order have as many fillings with the same total weight."""
    gears, options = case
    turned = dict(sorted(gears.items(), reverse=True))
    one, other = search(posed(case)), search(posed((turned, options)))
    assert one.count == other.count
    assert one.log_total == pytest.approx(other.log_total)


@given(cases())
def test_a_wider_reading_loses_nothing(case):
    """Rounded or cut is within either, and rounded within misprint."""
    found = {
        reading: {
            f.teeth for f in search(posed((case[0], {**case[1], "reading": reading})), ALL).best
        }
        for reading in READINGS
    }
    assert found["rounded"] | found["cut"] <= found["either"]
    assert found["rounded"] <= found["misprint"]


def test_an_input_pair_with_another_module_is_found_free_only():
    """Input 20/31 beside gears that sum to 45 fits no spread, and is found with a free input."""
    shared = Fraction(31, 20)
    pairs = {"1": (14, 31), "2": (19, 26), "3": (24, 21)}
    gears = {g: print_ratio(shared * Fraction(b, a), 3) for g, (a, b) in pairs.items()}
    true = ((20, 31), *pairs.values())
    for spread in (0, 1, 2):
        assert true not in [f.teeth for f in search(pose(gears, spread=spread), ALL).best]
        free = search(pose(gears, spread=spread, free_input=True), ALL)
        assert true in [f.teeth for f in free.best]


@pytest.mark.parametrize(("total", "number"), [(45, 1), (44, 0)])
def test_a_known_tooth_sum_narrows_the_answer(total, number):
    """With the sum given, only input pairs of that sum are left."""
    gears = {"1": "3.65", "2": "2.25", "3": "1.44"}
    problem = pose(gears, spread=0, sums=Span(total, total))
    assert counts_by_spread(problem) == (number,)


def test_reverse_wheels_clear_each_other():
    """Reverse wheels that would touch fill nothing: driver + driven + 4 is at most the sum."""
    pairs = {"1": (14, 31), "2": (19, 26)}
    shared = Fraction(28, 17)
    gears = {g: print_ratio(shared * Fraction(b, a), 3) for g, (a, b) in pairs.items()}
    for back, fits in (((13, 28), True), ((13, 29), False)):
        asked = pose({**gears, "R": print_ratio(shared * Fraction(back[1], back[0]), 3)}, spread=0)
        teeth = ((17, 28), *pairs.values(), back)
        assert (teeth in [f.teeth for f in search(asked, ALL).best]) is fits


def test_one_gear_is_listed_in_order_of_teeth_without_weight():
    """A single ratio ties too little: every filling has weight 0 and fewer teeth come first."""
    found = search(pose({"1": "3.65"}), listed=ALL)
    assert found.count == len(found.best) > 20
    assert [f.teeth for f in found.best] == sorted(f.teeth for f in found.best)
    assert {f.weight for f in found.best} == {0.0}


@pytest.mark.parametrize(
    ("text", "reading", "low", "above", "held", "not_held"),
    [
        # The interval from its low end up to, not with, `above`; 48/(48 + 12) is 0.8 itself.
        ("0.778", "rounded", "0.7775", "0.77850001", (24, 84), (12, 48)),
        ("0.7", "cut", "0.7", "0.8", (24, 84), (12, 48)),
        ("0.8", "cut", "0.8", "0.9", (12, 48), (24, 84)),
    ],
)
def test_an_overdrive_is_one_that_can_be_assembled(text, reading, low, above, held, not_held):
    """Overdrives are those of trying out all: ratio A/(A + S), planets whole, three even."""
    found = search(pose({"od": text}, layout="overdrive", reading=reading), listed=ALL)
    judge = [
        ((s, a),)
        for s in range(11, 41)
        for a in range(max(20, s + 1), 91)
        if (a - s) % 2 == 0
        and (a + s) % 3 == 0
        and Fraction(low) <= Fraction(a, a + s) < Fraction(above)
    ]
    assert (held,) in judge
    assert (not_held,) not in judge
    assert [f.teeth for f in found.best] == judge


def test_ten_million_fillings_are_counted_without_a_list():
    """Eleven million fillings are counted, the best twenty listed, in well under 100 MB."""
    gears = {"1": "3.6", "2": "2.2", "3": "1.4", "4": "1.2", "5": "0.8"}
    problem = pose(gears, reading="misprint")
    tracemalloc.start()
    found = search(problem)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert found.count > 10_000_000
    assert len(found.best) == 20
    assert not found.whole
    assert peak < 100e6


def test_a_search_past_its_bound_says_so():
    """Work past the bound ends in one line and no list, never in a part of it."""
    problem = pose({"1": "3.6", "2": "2.2"})
    with pytest.raises(UserError, match="given up, with no answer; narrow the ranges"):
        counts_by_spread(problem, Steps(1000))
    assert counts_by_spread(problem, Steps(100_000))[-1] > 0
