"""The speeds that an answer gives to a gear, each with its weight.

What a turn test says of them is left to `turn_worth`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np

from cogtally.gears.notation import LEAST_TURN_RATIO, MOST_TURN_RATIO

Array = np.ndarray[Any, np.dtype[Any]]


@dataclass(frozen=True, slots=True)
class Spread:
    """One answer: the weight of each `speed`, the turns out for one turn in.

    `between`: speeds that are uniform between two ends, with their weight; `none`: the weight where
    there is no ratio.
    """

    speeds: Array
    weights: Array
    between: tuple[tuple[float, float, float], ...] = ()
    none: float = 0.0

    @property
    def whole(self) -> float:
        """The weight of the answer."""
        return float(self.weights.sum()) + sum(w for _, _, w in self.between) + self.none


def spread_of(answer: Mapping[Any, float]) -> Spread:
    """Return an answer by ratio, turns in for one turn out, as it is weighed here.

    A ratio is a Fraction, an interval with `low` and `high` (the mean reading is uniform between
    its ends), or None where there is none.
    """
    exact = {r: w for r, w in answer.items() if isinstance(r, Fraction)}
    return Spread(
        np.array([r.denominator / r.numerator for r in exact], dtype=float),
        np.array([*exact.values()], dtype=float),
        tuple(
            (float(1 / r.high), float(1 / r.low), w)
            for r, w in answer.items()
            if r is not None and r not in exact
        ),
        answer.get(None, 0.0),
    )


def together(spreads: Iterable[Spread]) -> Spread:
    """Return several answers as one."""
    every = list(spreads)
    return Spread(
        np.concatenate([np.zeros(0), *(s.speeds for s in every)]),
        np.concatenate([np.zeros(0), *(s.weights for s in every)]),
        tuple(one for s in every for one in s.between),
        sum(s.none for s in every),
    )


def compact(spread: Spread, steps: int) -> Spread:
    """Return an answer of many speeds as one of fewer, on a lattice of so many steps a turn."""
    step = 1 / steps
    first = round(float(1 / MOST_TURN_RATIO) / step)
    size = round(float(1 / LEAST_TURN_RATIO) / step) + 1 - first
    if spread.speeds.size <= size:
        return spread
    place = spread.speeds / step - first
    inside = (place >= 1) & (place < size - 2)
    lattice = shared_out(place[inside], spread.weights[inside], size)
    return Spread(
        np.concatenate([(np.arange(size) + first) * step, spread.speeds[~inside]]),
        np.concatenate([lattice, spread.weights[~inside]]),
        spread.between,
        spread.none,
    )


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
