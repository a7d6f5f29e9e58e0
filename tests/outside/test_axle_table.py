"""Rear axle ratios of a published table, to the pinions and crown wheels that can give them.

Source: the column `drat` (rear axle ratio, two decimals) of the table mtcars, Motor Trend 1974, in
R's datasets (GPL). The real pairs are not published there: this checks the enumeration alone.
"""

import pytest

from cogtally.gears.recover.problem import Problem, Span, pose
from cogtally.gears.recover.solutions import search

# Pinion 7 to 17, crown wheel at most 60; found by trying out all pairs.
PAIRS = {
    "2.76": "47/17",
    "2.93": "41/14 44/15",
    "3.00": "21/7 24/8 27/9 30/10 33/11 36/12 39/13 42/14 45/15 48/16 51/17",
    "3.07": "43/14 46/15",
    "3.08": "37/12 40/13",
    "3.15": "41/13",
    "3.21": "45/14",
    "3.23": "42/13",
    "3.54": "46/13",
    "3.62": "29/8 47/13 58/16",
    "3.69": "48/13 59/16",
    "3.70": "37/10",
    "3.73": "41/11 56/15",
    "3.77": "49/13",
    "3.85": "50/13",
    "3.90": "39/10",
    "3.92": "47/12 51/13",
    "4.08": "49/12 53/13",
    "4.11": "37/9",
    "4.22": "38/9",
    "4.43": "31/7",
    "4.93": "",
}


def axles(problem: Problem) -> list[str]:
    """List the axles of a problem as crown wheel/pinion."""
    return [f"{crown}/{pinion}" for ((pinion, crown),) in (f.teeth for f in search(problem).best)]


@pytest.mark.parametrize("text", PAIRS)
def test_axle_ratios_give_exactly_these_pairs(text):
    """Each printed axle ratio has exactly the listed pairs, in order of the pinion."""
    asked = pose({"final": text}, layout="axle", drivers=Span(7, 17), driven=Span(15, 60))
    assert axles(asked) == PAIRS[text].split()


def test_a_ratio_without_a_pair_has_two_in_the_usual_range():
    """4.93 needs a crown wheel above 60: 69/14 and 74/15 with pinions 5 to 20, crowns 20 to 90."""
    assert axles(pose({"final": "4.93"}, layout="axle")) == ["69/14", "74/15"]
