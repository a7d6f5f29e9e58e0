"""How many bits a turn test is expected to bring, from the joint of the answer with a ratio.

The joint comes from `joints`. Loads numpy.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from functools import cache
from math import erfc, log2, sqrt
from typing import NamedTuple

import numpy as np

from cogtally.evidence.advice.bits import LEAST_WORTH, entropy, x_log_x
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
_SURE = 1 - READING_SLIP
#: An answer of more speeds is summed on a lattice.
FEW_SPEEDS = 40


class Spread(NamedTuple):
    """One answer: the weight of each `speed`, the turns out for one turn in.

    `between`: speeds that are uniform between two ends, with their weight; `none`: the weight where
    there is no ratio.
    """

    speeds: Array
    weights: Array
    between: tuple[tuple[float, float, float], ...] = ()
    none: float = 0.0

    def without(self, least: float) -> Spread:
        """Return the same with equal speeds as one, those rarer than `least` as without a ratio."""
        speeds, _, place = distinct(self.speeds)
        weights = np.bincount(place, self.weights, speeds.size)
        common = weights > least
        none = self.none + float(weights[~common].sum())
        return Spread(speeds[common], weights[common], self.between, none)

    @property
    def whole(self) -> float:
        """The weight of the answer."""
        return float(self.weights.sum()) + sum(w for _, _, w in self.between) + self.none


def together(spreads: Iterable[Spread]) -> Spread:
    """Return several answers as one."""
    every = list(spreads)
    return Spread(
        np.concatenate([np.zeros(0), *(s.speeds for s in every)]),
        np.concatenate([np.zeros(0), *(s.weights for s in every)]),
        tuple(one for s in every for one in s.between),
        sum(s.none for s in every),
    )


def at_ratio(ratio: Fraction | float | None, weight: float) -> Spread:
    """Return an answer of one ratio, turns in for one turn out; None: there is none."""
    if ratio is None:
        return Spread(np.zeros(0), np.zeros(0), none=weight)
    return Spread(np.array([1 / float(ratio)]), np.array([weight]))


def at_ratios(ratios: Array, weights: Array) -> Spread:
    """Return an answer of several ratios, NaN where there is none, with their weights."""
    ratios, weights = ratios.ravel(), weights.ravel()
    known = ~np.isnan(ratios)
    return Spread(1 / ratios[known], weights[known], none=float(weights[~known].sum()))


def between(ends: tuple[Fraction, Fraction] | None, weight: float) -> Spread:
    """Return an answer whose mean reading is uniform between the ends of a ratio; None: none."""
    if ends is None or ends[0] == ends[1]:
        return at_ratio(None if ends is None else ends[0], weight)
    low, high = ends
    return Spread(np.zeros(0), np.zeros(0), ((float(1 / high), float(1 / low), weight),))


def each_at(ratio: float | None, weights: Array) -> Spread:
    """Return answers of one ratio, each by itself: NaN stands where there is none."""
    return Spread(np.full(weights.shape, np.nan if ratio is None else 1 / ratio), weights)


def best_turns(answers: Sequence[Spread], alone: Spread | None = None) -> tuple[float, int]:
    """Return the most bits, and the number of whole turns in that brings them (fewest on a tie).

    Every speed of `alone` is an answer of its own, NaN where there is no ratio.
    """
    joint = _Joint(answers, alone)
    best, turns = 0.0, 1
    for number in range(1, MOST_TURNS + 1):
        bits = joint.expected_fall(number)
        if bits > best + _SAME:
            best, turns = bits, number
    return (best, turns) if best >= LEAST_WORTH else (0.0, 1)


def expected_fall(answers: Sequence[Spread], turns: int) -> float:
    """Return the expected fall of the entropy of the answer, in bits, from so many turns in."""
    return _Joint(answers, None).expected_fall(turns)


class _Grid(NamedTuple):
    """Readings over the allowed range, with their steps of the trapezium rule.

    `flat`: the density of a reading that follows no ratio; `slips`, `slip_logs`: the sums up to
    each point of that of a slip, and of it times its logarithm.
    """

    first: int
    steps: Array
    flat: Array
    slips: Array
    slip_logs: Array


@cache
def _grid(turns: int) -> _Grid:
    first, last = (
        round(turns * STEPS_A_TURN / ratio) for ratio in (MOST_TURN_RATIO, LEAST_TURN_RATIO)
    )
    steps = np.full(last - first + 1, 1 / STEPS_A_TURN)
    steps[[0, -1]] /= 2
    flat = STEPS_A_TURN / (np.arange(first, last + 1) * READING_SPAN)
    slips = READING_SLIP * flat
    return _Grid(first, steps, flat, _sums(steps * slips), _sums(steps * x_log_x(slips)))


def _sums(values: Array) -> Array:
    return np.concatenate([[0.0], np.cumsum(values)])


class _Joint:
    """The answers and what they say of the speed, sorted by how they are summed.

    Of all answers at one and the same speed only the sums of their weights, and of those times
    their logarithms, are needed: a reading tells nothing between them.
    """

    def __init__(self, answers: Sequence[Spread], alone: Spread | None) -> None:
        wholes = [answer.whole for answer in answers]
        ones = np.zeros(0) if alone is None else alone.weights
        least = TOO_RARE * (sum(wholes) + float(ones.sum()))
        rare = [a for a, whole in zip(answers, wholes, strict=True) if whole <= least]
        self._spreads: list[Spread] = []
        single: list[Spread] = []
        nothing: list[float] = []
        for answer, whole in zip(answers, wholes, strict=True):
            if whole > least:
                if whole == answer.none:
                    nothing.append(whole)
                elif answer.weights.size == 1 and not answer.between and not answer.none:
                    single.append(answer)
                else:
                    self._spreads.append(answer.without(least * RARER))
        if alone is not None:
            still = np.isnan(alone.speeds)
            nothing += ones[still & (ones > least)].tolist()
            common = (ones > least) & ~still
            single.append(Spread(alone.speeds[common], ones[common]))
            few = (ones <= least) & ~still
            none = float(ones[still & (ones <= least)].sum())
            rare.append(Spread(alone.speeds[few], ones[few], none=none))
        lone = together(single)
        self._spreads += [each for each in [together(rare)] if each.whole > 0]
        self._speeds, _, place = distinct(lone.speeds)
        count = self._speeds.size
        self._weights = np.bincount(place, lone.weights, count)
        self._logs = np.bincount(place, x_log_x(lone.weights), count)
        self._nothing = (sum(nothing), sum(w * log2(w) for w in nothing))
        self._now = entropy([*lone.weights.tolist(), *nothing, *(s.whole for s in self._spreads)])

    def expected_fall(self, turns: int) -> float:
        """Return the expected fall of the entropy of the answer, in bits, from `turns` turns in.

        By the trapezium rule over the grid, divided by the total predictive mass.
        """
        grid = _grid(turns)
        chance, known = self._alone(grid, turns)
        weight, logs = self._nothing
        chance += weight * grid.flat
        known += float((grid.steps * (logs * grid.flat + weight * x_log_x(grid.flat))).sum())
        for spread in self._spreads:
            density = _density(spread, grid, turns)
            chance += density
            known += float((grid.steps * x_log_x(density)).sum())
        mass = float((grid.steps * chance).sum())
        return self._now + (known - float((grid.steps * x_log_x(chance)).sum())) / mass

    def _alone(self, grid: _Grid, turns: int) -> tuple[Array, float]:
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
            each + sums[-1] - (sums[high] - sums[low])
            for each, sums in zip(near, (grid.slips, grid.slip_logs), strict=True)
        )
        return chance, float((self._logs * mass + self._weights * logs).sum())


def _near(grid: _Grid, means: Array) -> tuple[Array, Array]:
    """The points of the grid about each mean, and the density of a reading there but for slips."""
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


def _density(spread: Spread, grid: _Grid, turns: int) -> Array:
    """The joint density of an answer and a reading, at each point of the grid."""
    size = grid.steps.size
    slips = READING_SLIP * (spread.whole - spread.none) + spread.none
    found: Array = slips * grid.flat
    if spread.speeds.size <= FEW_SPEEDS:
        at, sure = _near(grid, turns * spread.speeds)
        found += _added(at, spread.weights[:, None] * sure, size)
    else:
        margin = _TAIL + 2
        place = turns * STEPS_A_TURN * spread.speeds - grid.first
        within = (place >= 1 - margin) & (place < size + margin - 3)
        place = place[within]
        if place.size:
            # Nothing falls further than a tail beyond the least and the greatest.
            begin = int(place.min() // 1) - margin
            room = int(place.max() // 1) + margin + 1 - begin
            lattice = shared_out(place - begin, _SURE * spread.weights[within], room)
            smooth = np.convolve(lattice, _KERNEL, "same")
            start, end = max(begin, 0), max(min(begin + room, size), 0)
            found[start:end] += np.maximum(smooth[start - begin : end - begin], 0.0)
    for low, high, weight in spread.between:
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
