"""How many bits a turn test is expected to bring, from the joint of the answer with a ratio.

What goes into the joint is left to `joints`.
"""

from __future__ import annotations

from functools import cache
from math import erfc, sqrt
from typing import NamedTuple

import numpy as np

from cogtally.evidence.advice.count_worth import LEAST_WORTH, entropy, x_log_x
from cogtally.evidence.engine import Array, distinct
from cogtally.evidence.laws import READING_SD, READING_SLIP, READING_SPAN
from cogtally.gears.notation import LEAST_TURN_RATIO, MOST_TURN_RATIO

#: "gear g, 1 to 10 whole turns in"
MOST_TURNS = 10
#: "the reading on a grid of 1/960 turn": a standard deviation is 5 steps of this coarser one, so
#: that it gives the same sum to far below 1e-3 bit.
STEPS_A_TURN = 240
#: A normal this many standard deviations off is less than 1e-17 of its peak.
_REACH = 9
#: Steps from a mean to where its normal ends.
_TAIL = int(_REACH * READING_SD * STEPS_A_TURN) + 1
#: Fewer bits apart is a tie.
_SAME = 1e-10
#: Answers and ratios below this share of the whole are too rare to matter to 1e-3 bit.
TOO_RARE = 1e-7
#: Of an answer that is not too rare, speeds rarer by this than such an answer are.
RARER = 1e-3
#: So much rarer still are those of which even all together are.
NEXT_TO_NOTHING = 1e-6
_SURE = 1 - READING_SLIP
#: The number of an answer that is no other's.
OWN = -1
#: An answer of more speeds is summed on a lattice.
FEW_SPEEDS = 40


class Spread(NamedTuple):
    """One answer of several speeds: of each the ends that it is between, and its weight.

    `flat`: how much of it follows no ratio.
    """

    low: Array
    high: Array
    weights: Array
    flat: float


class _Readings(NamedTuple):
    """Readings over some of the allowed range, with their steps of the trapezium rule.

    `flat`: the density of a reading that follows no ratio; `flats`, `slips`, `slip_logs`: the sums
    up to each point of that, of that of a slip, and of a slip's times its logarithm.
    """

    first: int
    steps: Array
    flat: Array
    flats: Array
    slips: Array
    slip_logs: Array

    def between(self, low: float, high: float) -> tuple[_Readings, float]:
        """Return the part that a normal about means from `low` to `high` reaches.

        And the sum of `flat` over all that is beyond.
        """
        size = self.steps.size
        start = min(max(int(low * STEPS_A_TURN) - _TAIL - 2 - self.first, 0), size)
        end = min(max(int(high * STEPS_A_TURN) + _TAIL + 3 - self.first, start), size)
        to_points = (each[start:end] for each in (self.steps, self.flat))
        sums = [each[start : end + 1] for each in (self.flats, self.slips, self.slip_logs)]
        beyond = self.flats[-1] - (sums[0][-1] - sums[0][0])
        return _Readings(self.first + start, *to_points, *sums), float(beyond)


@cache
def _grid(turns: int) -> _Readings:
    first, last = (
        round(turns * STEPS_A_TURN / ratio) for ratio in (MOST_TURN_RATIO, LEAST_TURN_RATIO)
    )
    steps = np.full(last - first + 1, 1 / STEPS_A_TURN)
    steps[[0, -1]] /= 2
    flat = STEPS_A_TURN / (np.arange(first, last + 1) * READING_SPAN)
    slips = READING_SLIP * flat
    sums = (_sums(steps * each) for each in (flat, slips, x_log_x(slips)))
    return _Readings(first, steps, flat, *sums)


def _sums(values: Array) -> Array:
    return np.concatenate([[0.0], np.cumsum(values)])


class SpeedJoint:
    """The joint of the answer with the ratio of a gear, sorted by how it is summed.

    Each weight is of an answer, by number or one of its OWN, with a ratio between two ends, turns
    in for one turn out, NaN for none. A speed is the turns out for one turn in, 0 where there is no
    ratio. Rare answers are as one. Of all answers at one and the same speed only the sums of their
    weights, and of those times their logarithms, are needed: a reading tells nothing between them.
    """

    def __init__(self, answers: Array, least: Array, most: Array, weights: Array) -> None:
        own = answers == OWN
        answers = np.where(own, answers.max() + np.cumsum(own), answers)
        low, high = (np.where(np.isnan(ratio), 0.0, 1 / ratio) for ratio in (most, least))
        whole = np.bincount(answers, weights)
        rare = TOO_RARE * float(whole.sum())
        answers = np.where(whole[answers] > rare, answers, whole.size)
        whole = np.bincount(answers, weights)
        self._now = entropy(whole)
        # Most speeds of an answer of many are next to nothing, and all of them take long to sort.
        known = own | (weights > rare * RARER * NEXT_TO_NOTHING)
        rest = np.bincount(answers[~known], weights[~known])
        (of,) = np.nonzero(rest)
        answers, weights = np.append(answers[known], of), np.append(weights[known], rest[of])
        low, high = (np.append(end[known], 0.0 * of) for end in (low, high))
        # Equal speeds of one answer as one, those too rare as without a ratio.
        order = np.lexsort((high, low, answers))
        keys = np.array([answers, low, high])[:, order]
        starts = np.flatnonzero(np.any(np.diff(keys, prepend=-1.0) != 0, axis=0))
        answers, low, high = answers[order][starts], *keys[1:, starts]
        weights = np.add.reduceat(weights[order], starts)
        low, high = (np.where(weights > rare * RARER, end, 0.0) for end in (low, high))
        alone = (np.bincount(answers)[answers] == 1) & (low == high)
        nothing, single = weights[alone & (low == 0)], alone & (low > 0)
        self._nothing = float(nothing.sum()), float(x_log_x(nothing).sum())
        self._speeds, _, place = distinct(low[single])
        self._weights = np.bincount(place, weights[single], self._speeds.size)
        self._logs = np.bincount(place, x_log_x(weights[single]), self._speeds.size)
        ends = np.flatnonzero(np.diff(answers[~alone])) + 1
        # What has no ratio follows none, and slips.
        flat = np.where(high == 0, weights, READING_SLIP * weights)
        parts = (np.split(each[~alone], ends) for each in (low, high, weights, flat))
        self._spreads = [
            Spread(first, last, weight, float(of_flat.sum()))
            for first, last, weight, of_flat in zip(*parts, strict=True)
            if weight.size
        ]
        every = np.concatenate([low[low > 0], high[low > 0]])
        self._ends = (float(every.min()), float(every.max())) if every.size else (0.0, 0.0)
        # Of all that follows no ratio, the sum, and the sum of its parts times their logarithms.
        known, logs = self._weights.sum(), self._logs.sum()
        flats = np.array([spread.flat for spread in self._spreads])
        self._flat = float(READING_SLIP * known + self._nothing[0] + flats.sum())
        flat_logs = READING_SLIP * logs + x_log_x(np.array(READING_SLIP)) * known
        flat_logs += self._nothing[1] + x_log_x(flats).sum()
        #: Where no normal reaches, what is known there less what all of it is, for 1 of `flat`.
        self._beyond = float(flat_logs - x_log_x(np.array(self._flat)))

    def best_turns(self) -> tuple[float, int]:
        """Return the most bits, and the fewest whole turns in that bring them."""
        best, turns = 0.0, 1
        for number in range(1, MOST_TURNS + 1):
            bits = self.expected_fall(number)
            if bits > best + _SAME:
                best, turns = bits, number
        return (best, turns) if best >= LEAST_WORTH else (0.0, 1)

    def expected_fall(self, turns: int) -> float:
        """Return the expected fall of the entropy of the answer, in bits, from `turns` turns in.

        By the trapezium rule over the grid, divided by the total predictive mass. Where no normal
        reaches, all answers are as flat: there the sum over the grid is one term.
        """
        grid, beyond = _grid(turns).between(*(turns * end for end in self._ends))
        chance, known = self._alone(grid, turns)
        weight, logs = self._nothing
        chance += weight * grid.flat
        known += float((grid.steps * (logs * grid.flat + weight * x_log_x(grid.flat))).sum())
        for spread in self._spreads:
            density = _density(spread, grid, turns)
            chance += density
            known += float((grid.steps * x_log_x(density)).sum())
        mass = float((grid.steps * chance).sum()) + beyond * self._flat
        known -= float((grid.steps * x_log_x(chance)).sum())
        return self._now + (known + beyond * self._beyond) / mass

    def _alone(self, grid: _Readings, turns: int) -> tuple[Array, float]:
        """The summed density of the answers of one speed each, and Σ p log₂ p of them all."""
        size = grid.steps.size
        chance: Array = (READING_SLIP * float(self._weights.sum())) * grid.flat
        if not self._speeds.size:
            return chance, 0.0
        at, sure = _near(grid, turns * self._speeds)
        chance += _added(at, self._weights[:, None] * sure, size)
        inside = np.clip(at, 0, size - 1)
        steps = np.where(at == inside, grid.steps[inside], 0.0)
        density = sure + READING_SLIP * grid.flat[inside]
        near = (steps * density).sum(axis=1), (steps * x_log_x(density)).sum(axis=1)
        low, high = (np.clip(end, 0, size) for end in (at[:, 0], at[:, -1] + 1))
        mass, logs = (
            each + sums[-1] - sums[0] - (sums[high] - sums[low])
            for each, sums in zip(near, (grid.slips, grid.slip_logs), strict=True)
        )
        return chance, float((self._logs * mass + self._weights * logs).sum())


def _near(grid: _Readings, means: Array) -> tuple[Array, Array]:
    """The points of the grid about each mean, and the density there of what is no slip."""
    begin = np.floor(means * STEPS_A_TURN).astype(np.intp) - grid.first - _TAIL
    at = begin[:, None] + np.arange(2 * _TAIL + 2)
    return at, _SURE * _normal(at + grid.first, means[:, None])


def _added(at: Array, values: Array, size: int) -> Array:
    """The sum of all values at each point, those beyond the grid left out."""
    inside = (at >= 0) & (at < size)
    return np.bincount(at[inside], values[inside], size)


def _normal(places: Array, means: Array) -> Array:
    off = (places / STEPS_A_TURN - means) / READING_SD
    found: Array = np.exp(off * off / -2) / (READING_SD * sqrt(2 * np.pi))
    return found


_KERNEL = _normal(np.arange(-_TAIL, _TAIL + 1), np.zeros(1))


def _density(spread: Spread, grid: _Readings, turns: int) -> Array:
    """The joint density of an answer and a reading, at each point of the grid."""
    size = grid.steps.size
    weights, none, known = spread.weights, spread.high == 0, spread.low == spread.high
    found: Array = spread.flat * grid.flat
    speeds, of = spread.low[known & ~none], weights[known & ~none]
    if speeds.size <= FEW_SPEEDS:
        at, sure = _near(grid, turns * speeds)
        found += _added(at, of[:, None] * sure, size)
    else:
        margin = _TAIL + 2
        place = turns * STEPS_A_TURN * speeds - grid.first
        within = (place >= 1 - margin) & (place < size + margin - 3)
        place = place[within]
        if place.size:
            # Nothing falls further than a tail beyond the least and the greatest.
            begin = int(place.min() // 1) - margin
            room = int(place.max() // 1) + margin + 1 - begin
            lattice = shared_out(place - begin, _SURE * of[within], room)
            smooth = np.convolve(lattice, _KERNEL, "same")
            start, end = max(begin, 0), max(min(begin + room, size), 0)
            found[start:end] += np.maximum(smooth[start - begin : end - begin], 0.0)
    ranges = (each[~known] for each in (spread.low, spread.high, weights))
    for low, high, weight in zip(*ranges, strict=True):
        ends = turns * STEPS_A_TURN * np.array([low, high]) + [-_TAIL, _TAIL + 1]
        start, end = np.clip(ends - grid.first, 0, size).astype(np.intp)
        places = grid.first + np.arange(start, end)
        found[start:end] += _SURE * weight * _between(places, turns * low, turns * high)
    return found


def _between(places: Array, low: float, high: float) -> Array:
    """The density, at places of the grid, of a reading of which the mean is between two ends."""
    if high - low < READING_SD / 100:
        return _normal(places, np.array((low + high) / 2))
    wide = READING_SD * sqrt(2)
    below = [
        erfc((low - x) / wide) - erfc((high - x) / wide) for x in (places / STEPS_A_TURN).tolist()
    ]
    return np.array(below) / (2 * (high - low))


def shared_out(places: Array, weights: Array, size: int) -> Array:
    """Share weights at broken places out among the four points about each.

    Sums, and moments up to the third, are kept, so that a smooth curve over them is too.
    """
    before = np.floor(places).astype(np.intp)
    t = places - before
    shares = (
        -t * (t - 1) * (t - 2) / 6,
        (t + 1) * (t - 1) * (t - 2) / 2,
        -(t + 1) * t * (t - 2) / 2,
        (t + 1) * t * (t - 1) / 6,
    )
    found = np.zeros(size)
    for step, share in enumerate(shares, -1):
        found += np.bincount(before + step, weights * share, size)
    return found
