"""Knows the numbers and the laws by which counts, turn tests and unknown teeth are weighed.

Leaves what a family is to `layout`, and every sum over what may be true to the enumerating modules.

Teeth are kept in vectors of 197 places, place i for 4 + i teeth.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from functools import cache
from typing import Any

import numpy as np

FIRST, LAST = 4, 200
LOW, HIGH = 5, 99
PLACES = LAST - FIRST + 1
TEETH = np.arange(FIRST, LAST + 1)
UNKNOWN = slice(LOW - FIRST, HIGH - FIRST + 1)

UNCATALOGUED = 0.10
UNLISTED = 0.006
NEW_SET = 0.04
NEW_LISTED = 0.25
LOOSE_UNLISTED = 0.04
UNTIED_LISTED = 0.5
FOREIGN = 0.024
ONE_CHANGED = 0.5
RHO_FLAT = 0.2
RHO_FALL = 0.7
MESH_OFF = (1.0, 0.3, 0.03)
NEW_MESH_OFF = (1.0, 0.03, 0.003)
MESH_FAR = 0.001
HANDS = {"steady": (0.8, 0.01), "hasty": (0.2, 0.06)}
UNSURE_Q = 0.20
SLIP = 0.005
STRANGE = 0.001
TURN_SD = 1 / 48
TURN_SLIP = 0.005
TURN_SPAN = math.log(100)

#: A count as it was written: the number, and whether it was marked unsure.
Count = tuple[int, bool]
#: One catalog family as tomllib reads it.
Doc = Mapping[str, Any]


def mesh_factor(off: int, near: Sequence[float] = MESH_OFF) -> float:
    """Return the weight of a tooth sum that is `off` teeth from the nearest one given."""
    return near[off] if off < len(near) else MESH_FAR


def mesh_table(sums: Iterable[int], near: Sequence[float] = MESH_OFF) -> np.ndarray:
    """Return the weight of every tooth sum, from 0 on, beside those that a family's sets give."""
    off = np.min([np.abs(np.arange(2 * LAST + 1) - given) for given in sums], axis=0)
    return np.array([mesh_factor(int(by), near) for by in off])


@cache
def _log_count(count: int, q: float) -> np.ndarray:
    peak = (1 - SLIP) * (1 - q) / (1 + q)
    return np.log(peak * q ** np.abs(count - TEETH).astype(float) + SLIP / PLACES)


def log_counts(counts: Iterable[Count], hand: str) -> np.ndarray:
    """Return log p(counts | t) for every t of 4…200, all of one wheel, from one hand."""
    total = np.zeros(PLACES)
    for number, unsure in counts:
        total = total + _log_count(number, UNSURE_Q if unsure else HANDS[hand][1])
    return total


@cache
def _exact_count(count: int, q: Fraction, teeth: int) -> Fraction:
    slip = Fraction(1, 200)
    return (1 - slip) * (1 - q) / (1 + q) * q ** abs(count - teeth) + slip / PLACES


@cache
def _likeliest(counts: tuple[Count, ...]) -> int:
    # reading: "the teeth that its counts make likeliest" is sought among 5…99, as unknown teeth
    # are nothing else, and nothing excluded is left out: the counts alone decide.
    rough = log_counts(counts, "steady")[UNKNOWN]
    near = [LOW + int(i) for i in np.flatnonzero(rough >= rough.max() - 1e-7)]
    if len(near) == 1:
        return near[0]
    powers = {one: counts.count(one) for one in counts}

    def weight(teeth: int) -> Fraction:
        product = Fraction(1)
        for (number, unsure), power in powers.items():
            q = Fraction(1, 5) if unsure else Fraction(1, 100)
            product *= _exact_count(number, q, teeth) ** power
        return product

    return max(near, key=lambda teeth: (weight(teeth), -teeth))


def likeliest(counts: Sequence[Count]) -> int:
    """Return the teeth that these counts make likeliest from a steady hand, ties exactly judged."""
    return _likeliest(tuple(sorted(counts)))


class Rho:
    """What teeth an unknown wheel may have, by its name, from the whole catalog.

    `catalogued` holds (name, teeth, commonness) for every counted wheel of every set, under each
    of its names; `alone` the same with every wheel once, for the wheels of the catalog together.
    """

    def __init__(
        self,
        catalogued: Iterable[tuple[str, int, float]],
        alone: Iterable[tuple[str, int, float]] = (),
    ) -> None:
        self._weights: dict[str, dict[int, float]] = {}
        for name, teeth, commonness in catalogued:
            weights = self._weights.setdefault(name, {})
            weights[teeth] = weights.get(teeth, 0.0) + commonness
        self._all: dict[int, float] = {}
        for _, teeth, commonness in alone:
            self._all[teeth] = self._all.get(teeth, 0.0) + commonness
        self._kept: dict[str, np.ndarray] = {}

    @staticmethod
    def _spread(weights: Mapping[int, float]) -> np.ndarray:
        flat = np.zeros(PLACES)
        flat[UNKNOWN] = 1 / (HIGH - LOW + 1)
        if not weights:
            return flat
        near = np.zeros(PLACES)
        for teeth, weight in weights.items():
            # reading: each count's spread is by itself a distribution over 5…99, so that a
            # count near an end keeps its weight.
            one = RHO_FALL ** np.abs(TEETH[UNKNOWN] - teeth).astype(float)
            near[UNKNOWN] += weight * one / one.sum()
        return RHO_FLAT * flat + (1 - RHO_FLAT) * near / sum(weights.values())

    def of(self, name: str, excluded: Iterable[int] = ()) -> np.ndarray:
        """Return the distribution for a wheel of that name, `excluded` teeth left out."""
        if name not in self._kept:
            self._kept[name] = self._spread(self._weights.get(name, {}))
        chosen = self._kept[name]
        without = [t for t in excluded if LOW <= t <= HIGH]
        if without:
            chosen = chosen.copy()
            for teeth in without:
                chosen[teeth - FIRST] = 0.0
            chosen = chosen / chosen.sum()
        return chosen

    def of_all(self) -> np.ndarray:
        """Return the distribution over all wheels of the catalog together."""
        return self._spread(self._all)


def normal_density(x: float, mean: float) -> float:
    """Return the density of a reading of x turns about its mean."""
    z = (x - mean) / TURN_SD
    return math.exp(-z * z / 2) / (TURN_SD * math.sqrt(2 * math.pi))


def between_density(x: float, low: float, high: float) -> float:
    """Return the density of a reading whose mean is uniform between two turns."""
    if low == high:
        return normal_density(x, low)
    a, b = (x - high) / TURN_SD, (x - low) / TURN_SD
    if a > 0:  # the same area seen from the other side, where no digits are lost
        a, b = -b, -a
    root = math.sqrt(2)
    if b < 0:
        area = (math.erfc(-b / root) - math.erfc(-a / root)) / 2
    else:
        area = (math.erf(b / root) - math.erf(a / root)) / 2
    return area / (high - low)


def log_sum(numbers: Sequence[float]) -> float:
    """Return the logarithm of a sum of exponentials, -inf for nothing."""
    top = max(numbers, default=-math.inf)
    if top == -math.inf:
        return top
    return top + math.log(math.fsum(math.exp(number - top) for number in numbers))
