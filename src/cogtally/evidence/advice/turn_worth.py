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
TURNS: Array = np.arange(1, MOST_TURNS + 1)
#: "the reading on a grid of 1/960 turn": a standard deviation is 5 steps of this coarser one, so
#: that it gives the same sum to far below 1e-3 bit.
STEPS_A_TURN = 240
#: A normal this many standard deviations off is less than 1e-17 of its peak.
_REACH = 9
#: Steps from a mean to where its normal ends.
_TAIL = int(_REACH * READING_SD * STEPS_A_TURN) + 1
#: Points of no weight on both sides of the readings of a number of turns: more than a normal
#: reaches from the first of them, so that none about a mean beyond the range falls into it.
_MARGIN = _TAIL + 4
#: Fewer bits apart is a tie.
_SAME = 1e-10
#: Answers and ratios below this share of the whole are too rare to matter to 1e-3 bit.
TOO_RARE = 1e-7
#: Of an answer that is not too rare, speeds rarer by this than such an answer are.
RARER = 1e-3
#: Of all that can be true, speeds rarer still are that even all together.
NEXT_TO_NOTHING = TOO_RARE * RARER * 1e-6
_SURE = 1 - READING_SLIP
#: The number of an answer that is no other's.
OWN = -1
#: An answer of more speeds is summed on a lattice.
FEW_SPEEDS = 40
#: So many speeds are worked on at once.
AT_ONCE = 500


class Spread(NamedTuple):
    """One answer of several speeds: of each the ends that it is between, and its weight.

    `flat`: how much of it follows no ratio.
    """

    low: Array
    high: Array
    weights: Array
    flat: float


class _Readings:
    """Readings that normals reach, for every number of turns in one after the other.

    `starts` and `ends` [number of turns]: the points of each, its margins included; `first`: the
    step of the grid at the start. Of every point `steps`, its width by the trapezium rule (0 in a
    margin), and `flat`, the density of a reading that follows no ratio. `beyond` [number of turns]:
    the sum of that over all allowed readings that are not here.
    """

    def __init__(self, low: float, high: float) -> None:
        """For means from `low` to `high` times the turns in."""
        least, most, whole = _allowed()
        begin, end = (np.floor(TURNS * mean * STEPS_A_TURN).astype(np.intp) for mean in (low, high))
        begin = np.clip(begin - _TAIL - 2, least, most)
        end = np.clip(end + _TAIL + 2, begin, most)
        size = end - begin + 1 + 2 * _MARGIN
        self.first: Array = begin - _MARGIN
        self.ends: Array = np.cumsum(size)
        self.starts: Array = self.ends - size
        number = np.arange(self.ends[-1]) - np.repeat(self.starts - self.first, size)
        inside = (number >= np.repeat(begin, size)) & (number <= np.repeat(end, size))
        is_end = (number == np.repeat(least, size)) | (number == np.repeat(most, size))
        self.steps = np.where(inside, np.where(is_end, 0.5, 1.0) / STEPS_A_TURN, 0.0)
        self.flat = np.where(inside, STEPS_A_TURN / (np.maximum(number, 1) * READING_SPAN), 0.0)
        self.beyond = whole - self.sums(self.flat)

    def sums(self, values: Array) -> Array:
        """Return the sum of a density over the readings of each number of turns."""
        return np.asarray(np.add.reduceat(self.steps * values, self.starts))

    def about(self, speeds: Array) -> tuple[Array, Array]:
        """Return the points about the mean of each speed, and the density there of what is no slip.

        [number of turns, speed, point]. Points beyond the range are of no weight.
        """
        means = self._means(speeds)[..., None]
        at = np.floor(means).astype(np.intp) + np.arange(-_TAIL, _TAIL + 2)
        starts, ends = self.starts[:, None, None], self.ends[:, None, None]
        return np.clip(at, starts, ends - 1), _SURE * _normal((at - means) / STEPS_A_TURN)

    def places(self, speeds: Array) -> Array:
        """Return where the means of speeds are among the points: [number of turns, speed].

        Far beyond the range, where they reach none of it.
        """
        starts, ends = self.starts[:, None], self.ends[:, None]
        return np.asarray(np.clip(self._means(speeds), starts + 1.0, ends - 3.0))

    def _means(self, speeds: Array) -> Array:
        """Where means would be, were there points all the way: [number of turns, speed]."""
        steps = STEPS_A_TURN * TURNS[:, None] * speeds
        return np.asarray(steps + (self.starts - self.first)[:, None])


@cache
def _allowed() -> tuple[Array, Array, Array]:
    """The first and the last step of each number of turns, and the sum of `flat` between them."""
    steps = (TURNS * STEPS_A_TURN).tolist()
    least, most = (
        [round(step / ratio) for step in steps] for ratio in (MOST_TURN_RATIO, LEAST_TURN_RATIO)
    )
    each = [1 / np.arange(a, b + 1) for a, b in zip(least, most, strict=True)]
    whole = [flat.sum() - (flat[0] + flat[-1]) / 2 for flat in each]
    return np.array(least), np.array(most), np.array(whole) / READING_SPAN


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
        falls = self.expected_falls()
        best = float(falls.max())
        turns = int(np.argmax(falls >= best - _SAME)) + 1
        return (best, turns) if best >= LEAST_WORTH else (0.0, 1)

    def expected_falls(self) -> Array:
        """Return the expected fall of the entropy of the answer, in bits: [whole turns in - 1].

        By the trapezium rule over the grid, divided by the total predictive mass. Where no normal
        reaches, all answers are as flat: there the sum over the grid is one term.
        """
        grid = _Readings(*self._ends)
        chance, known = self._alone(grid)
        weight, logs = self._nothing
        chance += weight * grid.flat
        known += grid.sums(logs * grid.flat + weight * x_log_x(grid.flat))
        for spread in self._spreads:
            density = _density(spread, grid)
            chance += density
            known += grid.sums(x_log_x(density))
        mass = grid.sums(chance) + grid.beyond * self._flat
        known -= grid.sums(x_log_x(chance))
        falls: Array = self._now + (known + grid.beyond * self._beyond) / mass
        return falls

    def _alone(self, grid: _Readings) -> tuple[Array, Array]:
        """The summed density of the answers of one speed each, and Σ p log₂ p of them all."""
        flat = READING_SLIP * grid.flat
        slips = x_log_x(flat)
        chance: Array = float(self._weights.sum()) * flat
        # What each would be if no normal were about its mean.
        mass, logs = grid.sums(flat), grid.sums(slips)
        known = float(self._logs.sum()) * mass + float(self._weights.sum()) * logs
        for start in range(0, self._speeds.size, AT_ONCE):
            some = slice(start, start + AT_ONCE)
            weights = self._weights[some]
            at, sure = grid.about(self._speeds[some])
            chance += np.bincount(at.ravel(), (weights[:, None] * sure).ravel(), chance.size)
            density, steps = sure + flat[at], grid.steps[at]
            more = (steps * sure).sum(axis=2)
            more_logs = (steps * (x_log_x(density) - slips[at])).sum(axis=2)
            known += more @ self._logs[some] + more_logs @ weights
        return chance, known


def _normal(off: Array) -> Array:
    """The density of a reading so many turns off its mean."""
    found: Array = np.exp((off / READING_SD) ** 2 / -2) / (READING_SD * sqrt(2 * np.pi))
    return found


_KERNEL = _normal(np.arange(-_TAIL, _TAIL + 1) / STEPS_A_TURN)


def _density(spread: Spread, grid: _Readings) -> Array:
    """The joint density of an answer and a reading, at each point of the grid."""
    size = grid.steps.size
    weights, none, known = spread.weights, spread.high == 0, spread.low == spread.high
    found: Array = spread.flat * grid.flat
    speeds, of = spread.low[known & ~none], weights[known & ~none]
    if speeds.size <= FEW_SPEEDS:
        at, sure = grid.about(speeds)
        found += np.bincount(at.ravel(), (of[:, None] * sure).ravel(), size)
    else:
        places = grid.places(speeds)
        lattice = shared_out(places.ravel(), np.tile(_SURE * of, len(places)), size)
        found += np.maximum(np.convolve(lattice, _KERNEL, "same"), 0.0)
    ranges = (each[~known] for each in (spread.low, spread.high, weights))
    for low, high, weight in zip(*ranges, strict=True):
        ends = zip(grid.places(np.array([low, high])), grid.starts, grid.first, strict=True)
        for turns, ((begin, end), start, first) in enumerate(ends, 1):
            at = np.arange(max(int(begin) - _TAIL, start), min(int(end) + _TAIL + 2, size))
            found[at] += _SURE * weight * _between(at - start + first, turns * low, turns * high)
    return found


def _between(places: Array, low: float, high: float) -> Array:
    """The density, at places of the grid, of a reading of which the mean is between two ends."""
    if high - low < READING_SD / 100:
        return _normal(places / STEPS_A_TURN - (low + high) / 2)
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
