"""How many bits a turn test is expected to bring, from the joint of the answer with a ratio.

The joint comes from `joints`. Loads numpy, so it is loaded only when turn tests compete.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

import numpy as np

from cogtally.evidence.likelihood import READING_SD, READING_SLIP, READING_SPAN
from cogtally.evidence.worth import LEAST_WORTH
from cogtally.gears.notation import LEAST_TURN_RATIO, MOST_TURN_RATIO

Array = np.ndarray[Any, np.dtype[Any]]

#: "gear g, 1 to 10 whole turns in, the reading on a grid of 1/960 turn over the allowed range"
MOST_TURNS = 10
STEPS_A_TURN = 960
#: A normal this many standard deviations off is less than 1e-18 of its peak.
_REACH = 9
_SAME = 1e-12
#: Answers and ratios below this share of the whole are too rare to matter to 1e-3 bit.
TOO_RARE = 1e-7


def best_turns(answers: Sequence[Mapping[Any, float]]) -> tuple[float, int]:
    """Return the most bits, and the number of whole turns in that brings them (fewest on a tie).

    `answers` hold for each answer the weight of each ratio: a Fraction, an interval with `low` and
    `high` (the mean reading is uniform between its ends), or None where there is no ratio.
    """
    answers = _common(answers)
    best, turns = 0.0, 1
    for number in range(1, MOST_TURNS + 1):
        bits = expected_fall(answers, number)
        if bits > best + _SAME:
            best, turns = bits, number
    return (best, turns) if best >= LEAST_WORTH else (0.0, 1)


def _common(answers: Sequence[Mapping[Any, float]]) -> list[Mapping[Any, float]]:
    """Take rare answers together and leave rare ratios out: far below 1e-3 bit of difference."""
    total = sum(sum(answer.values()) for answer in answers)
    least = TOO_RARE * total
    common: list[Mapping[Any, float]] = []
    rare: dict[Any, float] = {}
    for answer in answers:
        kept = {ratio: weight for ratio, weight in answer.items() if weight > least}
        if sum(answer.values()) > least:
            common.append(kept)
        else:
            for ratio, weight in answer.items():
                rare[ratio] = rare.get(ratio, 0.0) + weight
    return [*common, rare] if rare else common


def expected_fall(answers: Sequence[Mapping[Any, float]], turns: int) -> float:
    """Return the expected fall of the entropy of the answer, in bits, from `turns` turns in.

    By the trapezium rule over the grid, divided by the total predictive mass. Away from every
    mean all answers have the same shape, so only points near one are gone through.
    """
    low, high = float(turns / MOST_TURN_RATIO), float(turns / LEAST_TURN_RATIO)
    grid = np.arange(np.ceil(low * STEPS_A_TURN), np.floor(high * STEPS_A_TURN) + 1) / STEPS_A_TURN
    steps = np.full(grid.size, 1 / STEPS_A_TURN)
    steps[[0, -1]] /= 2
    flat = 1 / (grid * READING_SPAN)
    near = np.zeros(grid.size, dtype=bool)
    for ratio in {ratio for answer in answers for ratio in answer if ratio is not None}:
        near[_reach(grid, _ends(ratio, turns))] = True
    points, far_mass = grid[near], float(np.sum((steps * flat)[~near]))
    away = np.array([_away(answer) for answer in answers])
    weights = np.array([sum(answer.values()) for answer in answers])
    now = _entropy(weights[:, None])[0]
    densities = np.array([_density(answer, turns, points) for answer in answers])
    chance = steps[near] * densities.sum(axis=0)
    fall = float(np.sum(chance * (now - _entropy(densities)))) if points.size else 0.0
    fall += far_mass * float(away.sum()) * float(now - _entropy(away[:, None])[0])
    return fall / (float(chance.sum()) + far_mass * float(away.sum()))


def _away(answer: Mapping[Any, float]) -> float:
    """The weight of an answer's reading that follows no ratio: slips, or where there is none."""
    slips = sum(weight for ratio, weight in answer.items() if ratio is not None)
    return READING_SLIP * slips + answer.get(None, 0.0)


def _ends(ratio: Any, turns: int) -> tuple[float, float]:
    """The least and the greatest mean reading of a ratio, or of an interval of them."""
    if isinstance(ratio, Fraction):
        return (float(turns / ratio),) * 2
    return float(turns / ratio.high), float(turns / ratio.low)


def _reach(grid: Array, ends: tuple[float, float]) -> slice:
    return slice(
        int(np.searchsorted(grid, ends[0] - _REACH * READING_SD)),
        int(np.searchsorted(grid, ends[1] + _REACH * READING_SD)),
    )


def _density(answer: Mapping[Any, float], turns: int, points: Array) -> Array:
    """The joint density of an answer and a reading, at each of some points of the grid."""
    found: Array = _away(answer) / (points * READING_SPAN)
    for ratio, weight in answer.items():
        if ratio is None or weight == 0.0:
            continue
        ends = _ends(ratio, turns)
        within = _reach(points, ends)
        near = points[within]
        if ends[1] - ends[0] < _SAME:
            off = (near - ends[0]) / READING_SD
            shape = np.exp(-off * off / 2) / (READING_SD * np.sqrt(2 * np.pi))
        else:
            shape = _between((near - ends[1]) / READING_SD, (near - ends[0]) / READING_SD)
            shape = shape / (ends[1] - ends[0])
        found[within] += weight * (1 - READING_SLIP) * shape
    return found


def _between(low: Array, high: Array) -> Array:
    from math import erfc, sqrt

    cumulative = np.vectorize(lambda x: erfc(-x / sqrt(2)) / 2, otypes=[float])
    found: Array = cumulative(high) - cumulative(low)
    return found


def _entropy(weights: Array) -> Array:
    """The entropy in bits of each column; a weight of 0 adds nothing."""
    total = weights.sum(axis=0)
    shares = weights / total
    found: Array = -np.sum(shares * np.log2(np.where(shares > 0, shares, 1.0)), axis=0)
    return found
