"""Knows every way in which teeth of 5…99 can give the printed ratios of one set, exactly.

Leaves which wheels are tied, and what weighs on their teeth, to `printed`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

import numpy as np

from .laws import HIGH, LOW

SIZE = HIGH - LOW + 1
#: A pair on a path: the one names of its driver and its driven wheel.
Ends = tuple[str, str]


def exponents(ends: Sequence[Ends]) -> dict[str, int]:
    """Return the power with which each wheel's teeth enter the ratio of a path."""
    powers: dict[str, int] = {}
    for driver, driven in ends:
        powers[driver] = powers.get(driver, 0) - 1
        powers[driven] = powers.get(driven, 0) + 1
    return powers


class Gear:
    """A factor of the tie: one printed ratio, and what is held against its wheels."""

    wheels: list[str]

    def table(self, vectors: Mapping[str, np.ndarray], axes: Sequence[str]) -> np.ndarray:
        """Return the sum over the wheels that are not in `axes`, an axis for each that is."""
        raise NotImplementedError


class ShortGear(Gear):
    """A printed ratio over at most four wheels: every assignment that gives it is kept."""

    def __init__(self, ends: Sequence[Ends], low: Fraction, high: Fraction) -> None:
        powers = exponents(ends)
        last = next(wheel for wheel in reversed(powers) if abs(powers[wheel]) == 1)
        others = [wheel for wheel in powers if wheel != last]
        grids = np.meshgrid(*[np.arange(LOW, HIGH + 1)] * len(others), indexing="ij")
        columns = [grid.ravel().astype(np.int64) for grid in grids]
        top = bottom = np.ones(SIZE ** len(others), dtype=np.int64)
        for wheel, column in zip(others, columns, strict=True):
            if powers[wheel] > 0:
                top = top * column ** powers[wheel]
            else:
                bottom = bottom * column ** -powers[wheel]
        # low <= top·x / bottom <= high, or the same with x below: whole numbers all through.
        if powers[last] > 0:
            least = -(-low.numerator * bottom // (low.denominator * top))
            most = high.numerator * bottom // (high.denominator * top)
        else:
            least = -(-top * high.denominator // (high.numerator * bottom))
            most = top * low.denominator // (low.numerator * bottom)
        least, most = np.maximum(least, LOW), np.minimum(most, HIGH)
        runs = np.maximum(most - least + 1, 0)
        row = np.repeat(np.arange(len(runs)), runs)
        step = np.arange(len(row)) - np.repeat(np.cumsum(runs) - runs, runs)
        self.teeth = {w: c[row] for w, c in zip(others, columns, strict=True)}
        self.teeth[last] = least[row] + step
        self.wheels = list(self.teeth)
        self.factor = np.ones(len(row))

    def cross(self, other: Gear, wheels: Sequence[str]) -> None:
        """Set every assignment beside every possible one of two wheels of another gear."""
        assert isinstance(other, ShortGear)
        beside = np.unique(np.stack([other.teeth[wheel] for wheel in wheels]), axis=1)
        count, extra = len(self.factor), beside.shape[1]
        fresh = [i for i, wheel in enumerate(wheels) if wheel not in self.teeth]
        own = {wheel: np.repeat(column, extra) for wheel, column in self.teeth.items()}
        new = {wheels[i]: np.tile(beside[i], count) for i in fresh}
        keep = np.ones(count * extra, dtype=bool)
        for i, wheel in enumerate(wheels):
            if i not in fresh:
                keep &= own[wheel] == np.tile(beside[i], count)
        self.teeth = {wheel: column[keep] for wheel, column in {**own, **new}.items()}
        self.wheels = list(self.teeth)
        self.factor = np.ones(int(keep.sum()))

    def weigh(self, factors: Sequence[np.ndarray]) -> None:
        """Multiply every assignment's weight."""
        for factor in factors:
            self.factor = self.factor * factor

    def table(self, vectors: Mapping[str, np.ndarray], axes: Sequence[str]) -> np.ndarray:
        """Return the sum over the wheels that are not in `axes`, an axis for each that is."""
        weights = self.factor
        place = np.zeros(len(weights), dtype=np.int64)
        for wheel in self.wheels:
            if wheel not in axes:
                weights = weights * vectors[wheel][self.teeth[wheel] - LOW]
        own = [wheel for wheel in axes if wheel in self.wheels]
        for wheel in own:
            place = place * SIZE + self.teeth[wheel] - LOW
        table = np.bincount(place, weights=weights, minlength=SIZE ** len(own))
        return table.reshape([SIZE if wheel in own else 1 for wheel in axes])


class LongGear(Gear):
    """A printed ratio over more wheels: those of no other gear enter by their product alone."""

    def __init__(
        self, ends: Sequence[Ends], low: Fraction, high: Fraction, shared: Sequence[str]
    ) -> None:
        self.powers = exponents(ends)
        self.wheels = list(self.powers)
        self.low, self.high = low, high
        self.free = [wheel for wheel in self.wheels if wheel not in shared]
        self._order: tuple[list[np.ndarray], np.ndarray, np.ndarray] | None = None

    def _products(self) -> tuple[list[np.ndarray], np.ndarray, np.ndarray]:
        """Return how the free wheels' teeth merge into distinct products, and these, rising."""
        merges = []
        top = bottom = np.ones(1, dtype=np.int64)
        for wheel in self.free:
            teeth = np.arange(LOW, HIGH + 1) ** abs(self.powers[wheel])
            up, down = (teeth, 1) if self.powers[wheel] > 0 else (1, teeth)
            top = (top[:, None] * np.broadcast_to(up, SIZE)[None, :]).ravel()
            bottom = (bottom[:, None] * np.broadcast_to(down, SIZE)[None, :]).ravel()
            common = np.gcd(top, bottom)
            top, bottom = top // common, bottom // common
            key, inverse = np.unique(top * 10**9 + bottom, return_inverse=True)
            top, bottom = key // 10**9, key % 10**9
            merges.append(inverse.ravel())
        rising = np.argsort(top / bottom, kind="stable")
        places = np.empty(len(rising), dtype=np.int64)
        places[rising] = np.arange(len(rising))
        merges[-1] = places[merges[-1]]
        return merges, top[rising], bottom[rising]

    def table(self, vectors: Mapping[str, np.ndarray], axes: Sequence[str]) -> np.ndarray:
        """Return the sum over the wheels that are not in `axes`, an axis for each that is."""
        if self._order is None:
            self._order = self._products()
        merges, top, bottom = self._order
        weights = np.ones(1)
        for wheel, merge in zip(self.free, merges, strict=True):
            weights = np.bincount(merge, weights=(weights[:, None] * vectors[wheel]).ravel())
        value = top / bottom
        own = [wheel for wheel in axes if wheel in self.wheels]
        assert set(own) | set(self.free) == set(self.wheels)
        table = np.zeros([SIZE] * len(own))
        for places in np.ndindex(table.shape):
            known = Fraction(1)
            for wheel, place in zip(own, places, strict=True):
                known *= Fraction(LOW + place) ** self.powers[wheel]
            low, high = self.low / known, self.high / known
            # Two different fractions here differ by far more than a double's last digits; those
            # that look equal are equal, and both ends are in.
            first = np.searchsorted(value, float(low) * (1 - 1e-13), side="left")
            after = np.searchsorted(value, float(high) * (1 + 1e-13), side="right")
            table[places] = weights[first:after].sum()
        return table.reshape([SIZE if wheel in own else 1 for wheel in axes])


def tied_sum(gears: Sequence[Gear], vectors: Mapping[str, np.ndarray]) -> float:
    """Return the sum over all teeth of all gears' wheels, each weighed by its vector once."""
    uses = [wheel for gear in gears for wheel in gear.wheels]
    axes = [wheel for wheel in dict.fromkeys(uses) if uses.count(wheel) > 1]
    for gear in gears:
        if isinstance(gear, LongGear):
            axes += [w for w in gear.wheels if w not in gear.free and w not in axes]
    total = np.ones([SIZE] * len(axes))
    for axis, wheel in enumerate(axes):
        total = total * vectors[wheel].reshape([-1 if i == axis else 1 for i in range(len(axes))])
    for gear in gears:
        total = total * gear.table(vectors, axes)
    return float(total.sum())
