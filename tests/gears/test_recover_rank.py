from collections import Counter, defaultdict
from dataclasses import replace
from fractions import Fraction
from math import exp, fsum, log2

import pytest
from hypothesis import given, settings

from cogtally.gears.recover import (
    cells as recover_cells,
    rank as recover_advice,
    rank as recover_chance,
)
from cogtally.gears.recover.problem import Problem, Span, pose
from cogtally.gears.recover.rank import (
    COPIES,
    LIKELIEST,
    advise,
    chance,
    entropy,
    marginals,
    recover,
    shifted_copies,
)
from cogtally.gears.recover.solutions import counts_by_spread, ratios, search

from .test_recover import ALL, cases, posed

FOUR = {"1": "3.65", "2": "2.25", "3": "1.44"}


def shares_of(problem: Problem) -> dict[tuple[tuple[int, int], ...], float]:
    """Return each filling's share of the weight, from the whole list."""
    listed = search(problem, listed=ALL).best
    total = fsum(exp(f.weight) for f in listed)
    return {f.teeth: exp(f.weight) / total for f in listed}


def test_nothing_below_four_fifths_of_the_weight_is_called_likeliest():
    """The first solution is called likeliest at a share of 0.8 and not below it."""
    seen = set()
    for spread in (0, 2):
        for texts in (FOUR, {**FOUR, "5": "0.82"}):
            found = recover(pose(texts, spread=spread))
            sure = (found.solutions[0].share or 0) >= LIKELIEST
            assert (found.likeliest == found.solutions[0]) is sure
            assert sure or found.likeliest is None
            seen.add(sure)
    assert LIKELIEST == 0.8
    assert seen == {True, False}


def test_the_threshold_itself_is_enough(monkeypatch):
    """A share of just the threshold counts as likeliest, one a hair less does not."""
    problem = pose(FOUR)
    share = recover(problem).solutions[0].share
    monkeypatch.setattr("cogtally.gears.recover.rank.LIKELIEST", share)
    assert recover(problem).likeliest is not None
    monkeypatch.setattr("cogtally.gears.recover.rank.LIKELIEST", share * (1 + 1e-12))
    assert recover(problem).likeliest is None


def test_an_axle_is_listed_and_called_under_determined():
    """One ratio alone is listed in order of teeth, with no share, no spreads and no likeliest."""
    found = recover(pose({"axle": "4.11"}, layout="axle"))
    assert [s.teeth["final.driver"] for s in found.solutions] == [9, 18, 19]
    assert found.under_determined
    assert found.likeliest is None
    assert found.spreads == ()
    assert {s.share for s in found.solutions} == {s.weight for s in found.solutions} == {None}
    assert [(t.in_all, t.places) for t in found.twins] == [(2, (1, 2)), (1, (3,))]


def test_no_filling_is_an_answer_too():
    """Ratios that no teeth give have no solution, no twins and nothing to count."""
    found = recover(pose(FOUR, layout="two-shaft"))
    assert (found.count, found.solutions, found.twins, found.advice) == (0, (), (), None)
    assert [row.count for row in found.spreads] == [0, 0, 0]
    assert found.likeliest is None


@settings(max_examples=25)
@given(cases(gears=2))
def test_twins_are_all_that_have_exactly_the_same_ratios(case):
    """A group counts all solutions with its ratios, the unlisted too, and their share."""
    problem = posed(case)
    shares = shares_of(problem)
    number: Counter[tuple[Fraction, ...]] = Counter()
    weight: defaultdict[tuple[Fraction, ...], float] = defaultdict(float)
    for teeth, share in shares.items():
        number[ratios(problem, teeth)] += 1
        weight[ratios(problem, teeth)] += share
    found = recover(problem)
    assert sorted(p for t in found.twins for p in t.places) == [s.place for s in found.solutions]
    for group in found.twins:
        key = tuple(group.ratios.values())
        assert group.in_all == number[key]
        assert group.share == pytest.approx(weight[key])
        assert all(found.solutions[p - 1].ratios == group.ratios for p in group.places)


def test_all_spreads_stand_side_by_side():
    """Whatever spread was asked, the rows 0, 1 and 2 say what each spread by itself says."""
    for asked in (0, 1, 2):
        problem = pose(FOUR, spread=asked)
        found = recover(problem)
        assert [row.spread for row in found.spreads] == [0, 1, 2]
        for row in found.spreads:
            alone = recover(replace(problem, spread=row.spread))
            assert row.count == alone.count
            assert row.first == alone.solutions[0]
            assert row.by_chance == alone.by_chance


@settings(max_examples=25)
@given(cases())
def test_marginals_are_sums_over_all_fillings(case):
    """The share of a wheel's teeth is the share of all fillings with these teeth, listed or not."""
    problem = posed(case)
    shares = shares_of(problem)
    found = marginals(problem, search(problem).log_total)
    for place, wheel in enumerate(problem.wheels):
        judge: defaultdict[int, float] = defaultdict(float)
        for teeth, share in shares.items():
            judge[teeth[place // 2][place % 2]] += share
        assert dict(found[wheel]) == pytest.approx(dict(judge), abs=1e-9)


@settings(max_examples=25)
@given(cases(gears=2))
def test_the_next_count_is_the_one_with_most_entropy(case):
    """The first wheel has most entropy; the second tells most once the first is known."""
    problem = posed(case)
    shares = shares_of(problem)
    advice = advise(problem)
    if advice is None:
        assert not shares
        return

    def bits(*wheels: str) -> float:
        places = [problem.wheels.index(w) for w in wheels]
        joint: defaultdict[tuple[int, ...], float] = defaultdict(float)
        for teeth, share in shares.items():
            joint[tuple(teeth[p // 2][p % 2] for p in places)] += share
        return -sum(p * log2(p) for p in joint.values() if p)

    first = advice.first
    assert sorted(w.wheel for w in advice.worths) == sorted(problem.wheels)
    for worth in advice.worths:
        assert worth.bits == pytest.approx(bits(worth.wheel), abs=1e-9)
    assert first.bits >= max(w.bits for w in advice.worths) - 1e-9
    assert advice.check.wheel != first.wheel
    assert first.bits + advice.check.bits == pytest.approx(
        max(bits(first.wheel, w) for w in problem.wheels if w != first.wheel), abs=1e-8
    )


def test_a_check_shows_a_slip_of_one():
    """How often a second count shows a first one wrong by one is that of trying all slips."""
    problem = pose(FOUR)
    shares = shares_of(problem)
    advice = advise(problem)
    one, other = (problem.wheels.index(w) for w in (advice.first.wheel, advice.check.wheel))
    seen = {(t[one // 2][one % 2], t[other // 2][other % 2]) for t in shares}
    noticed = 0.0
    for teeth, share in shares.items():
        right, second = teeth[one // 2][one % 2], teeth[other // 2][other % 2]
        noticed += share / 2 * sum((right + slip, second) not in seen for slip in (-1, 1))
    assert advice.check.noticed == pytest.approx(noticed)
    assert 0 < noticed < 1


def test_counted_wheels_are_not_asked_for_again():
    """Only wheels without a count compete; with all counted there is nothing to advise."""
    problem = pose(FOUR, counted={"1.driver": 14, "1.driven": 31})
    advice = advise(problem)
    assert {w.wheel for w in advice.worths} == set(problem.wheels) - {"1.driver", "1.driven"}
    for wheel, teeth in recover(problem).solutions[0].teeth.items():
        problem = problem.with_counted(wheel, teeth)
    assert counts_by_spread(problem)[-1] == 1
    assert advise(problem) is None


def test_entropy_is_in_bits_and_needs_no_total():
    """Four alike have two bits, whatever they add up to; one alone has none."""
    assert entropy(dict.fromkeys(range(4), 0.1)) == pytest.approx(2)
    assert entropy({17: 0.3}) == 0


def test_shifted_copies_are_near_but_clear_of_the_ratios():
    """A copy keeps decimals and reading, and none of its intervals meets the one it came from."""
    for reading in ("rounded", "misprint"):
        problem = pose({**FOUR, "R": "3.90"}, reading=reading)
        for copy in shifted_copies(problem, COPIES):
            for old, new in zip(problem.targets, copy.targets, strict=True):
                assert new.printed.decimals == old.printed.decimals
                assert abs(new.printed.value / old.printed.value - 1) < Fraction(1, 25)
                assert new.within.high < old.within.low or old.within.high < new.within.low


def test_the_chance_level_is_the_average_over_the_copies():
    """The chance level is the mean count of the copies at each spread, the same every time."""
    problem = pose(FOUR, spread=1)
    level = chance(problem)
    assert level == chance(replace(problem, spread=0))
    assert level.copies == COPIES
    for spread in (0, 1, 2):
        copies = list(shifted_copies(replace(problem, spread=spread), COPIES))
        assert (
            level.by_spread[spread] == sum(counts_by_spread(copy)[-1] for copy in copies) / COPIES
        )


def test_a_counted_wheel_lowers_the_chance_level():
    """Counts hold for made-up digits too, so that fewer of these fit by chance."""
    free, tied = chance(pose(FOUR)), chance(pose(FOUR, counted={"1.driver": 14}))
    assert tied.by_spread[2] < free.by_spread[2]


def test_a_chance_level_that_would_take_too_long_is_none(monkeypatch):
    """With no copy done inside the bound there is no chance level; the answer stands."""
    monkeypatch.setattr(recover_chance, "BESIDE_STEPS", 1000)
    monkeypatch.setattr(recover_advice, "BESIDE_STEPS", 1000)
    found = recover(pose(FOUR))
    assert found.count == 10
    assert found.chance is None
    assert found.by_chance is None
    assert {row.by_chance for row in found.spreads} == {None}
    assert found.advice.check is None
    assert recover_cells.BESIDE_STEPS > 1000


def test_sums_of_far_off_weights_do_not_vanish():
    """Where every filling is very unlikely, shares still add up to one."""
    teeth = Span(150, 200)
    shared = Fraction(198, 191)
    problem = pose(
        {"1": f"{float(shared * Fraction(199, 190)):.5f}", "2": f"{float(shared):.5f}"},
        drivers=teeth,
        driven=teeth,
        counted={"1.driver": 190, "1.driven": 199},
    )
    found = recover(problem)
    assert found.count > 0
    assert found.solutions[0].weight < -600
    assert sum(s.share or 0 for s in found.solutions) == pytest.approx(1)
    assert found.advice is not None
