"""How often a recovery is right: seeded boxes whose teeth are known.

The bounds are those that a recovery promises; 300 boxes of each kind in the long run.
"""

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import pytest

from cogtally.gears.recover.problem import Problem, pose
from cogtally.gears.recover.rank import chance
from cogtally.gears.recover.solutions import counts_by_spread, search

from .recover_boxes import Box, boxes, cut_ratio

SHORT, LONG = 40, 300
#: A four-speed box with a direct top gear has three gears with a pair.
FOUR_SPEED = 3

runs = pytest.mark.parametrize("number", [SHORT, pytest.param(LONG, marks=pytest.mark.long)])


@dataclass(frozen=True, slots=True)
class Rates:
    """Shares of boxes: the only solution, first in the list; and solutions on average."""

    unique: float
    first: float
    mean: float


def rates(number: int, spread: int, **kind: Any) -> Rates:
    unique = first = total = 0
    for box in boxes(number, pairs=FOUR_SPEED, **kind):
        found = search(pose({**box.printed, "4": "1.00"}, direct="4", spread=spread))
        unique += found.count == 1
        first += found.best[0].teeth == box.teeth
        total += found.count
    return Rates(unique / number, first / number, total / number)


def holds(problem: Problem, box: Box) -> bool:
    """Tell whether the true teeth are among the solutions: with all counted, one is left."""
    for wheel, teeth in zip(problem.wheels, (t for p in box.teeth for t in p), strict=True):
        problem = problem.with_counted(wheel, teeth)
    return counts_by_spread(problem)[-1] == 1


@runs
@pytest.mark.parametrize(
    ("kind", "options"),
    [
        ({"decimals": 2}, {"spread": 0}),
        ({"decimals": 2}, {"spread": 2}),
        ({"decimals": 2, "off": 1}, {"spread": 2}),
        ({"decimals": 3, "off": 1}, {"spread": 2}),
        ({"decimals": 2, "foreign_input": True}, {"spread": 0, "free_input": True}),
        ({"decimals": 3, "off": 1, "foreign_input": True}, {"spread": 2, "free_input": True}),
    ],
)
def test_the_truth_is_in_every_list_of_the_right_mode(number, kind, options):
    """With mode and spread right, the true teeth are a solution of every box."""
    for pairs in (FOUR_SPEED, FOUR_SPEED + 1):
        for box in boxes(number // 2, pairs=pairs, **kind):
            assert holds(pose(box.printed, **options), box)


@runs
def test_the_truth_is_in_every_list_of_cut_digits(number):
    """Digits cut off hold the truth when read as cut or either, and not always when rounded."""
    rounded = 0
    for box in boxes(number, pairs=FOUR_SPEED, decimals=2):
        shared = Fraction(box.input_pair[1], box.input_pair[0])
        texts = {g: cut_ratio(shared * Fraction(b, a), 2) for g, (a, b) in box.gears.items()}
        assert holds(pose(texts, spread=0, reading="cut"), box)
        assert holds(pose(texts, spread=0, reading="either"), box)
        rounded += holds(pose(texts, spread=0), box)
    assert rounded < number / 2


@runs
def test_two_decimals_and_equal_sums_are_mostly_unique(number):
    """Four gears, two decimals, equal sums: one solution in at least 85 % of boxes."""
    assert rates(number, 0, decimals=2).unique >= 0.85


@runs
def test_three_decimals_and_shifted_sums_are_mostly_unique(number):
    """Three decimals, sums off by one, spread 2: unique in 80 %, the truth first in 88 %."""
    found = rates(number, 2, decimals=3, off=1)
    assert found.unique >= 0.80
    assert found.first >= 0.88


@runs
def test_the_weight_finds_shifted_pairs_far_above_guessing(number):
    """Two decimals, sums off by one, spread 2: first three times as often as by lot."""
    found = rates(number, 2, decimals=2, off=1)
    assert found.mean > 6
    assert found.first >= 3 / found.mean


def test_finding_some_proves_nothing_at_two_decimals_and_much_at_three():
    """Made-up digits have about as many solutions as true ones at spread 2, or nearly none."""
    level = {}
    for decimals in (2, 3):
        found = [
            chance(pose(box.printed)) for box in boxes(10, pairs=FOUR_SPEED, decimals=decimals)
        ]
        level[decimals] = sum(c.by_spread[2] for c in found if c) / len(found)
    assert 6 < level[2] < 12
    assert level[3] < 0.05
