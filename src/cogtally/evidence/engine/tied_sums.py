"""Sums over teeth tied by printed ratios that share wheels: an input pair, a wheel of two pairs.

The sets themselves are known to `ratio_only`.

Everything is summed for every pair of teeth of the reference pair (5…99 by 5…99) at once. A
ratio of up to six wheels of 5…99 teeth differs from any printed end by more than 1e-12 of itself
or not at all, so ends widened by 1e-14 keep "both ends in" exact in floating point.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import Any, NamedTuple

import numpy as np

from cogtally.evidence.laws import LEAST_TEETH, SUM_FAR, SUM_OFF
from cogtally.evidence.rho import SIZE

Array = np.ndarray[Any, np.dtype[Any]]

_WIDER = 1e-14
_TEETH = np.arange(LEAST_TEETH, LEAST_TEETH + SIZE)
_OFF = np.array([*SUM_OFF, SUM_FAR])
#: The grid of the reference pair: every (driver, driven), flat.
_GRID_DRIVER = np.repeat(_TEETH, SIZE)
_GRID_DRIVEN = np.tile(_TEETH, SIZE)
_BY_RATIO = np.argsort(_GRID_DRIVEN / _GRID_DRIVER, kind="stable")
_DRIVER, _DRIVEN = _GRID_DRIVER[_BY_RATIO], _GRID_DRIVEN[_BY_RATIO]
_RATIO = _DRIVEN / _DRIVER
_SUM = _DRIVER + _DRIVEN
#: The factor of two tooth sums of 0…198.
_OFF_SUMS = _OFF[
    np.minimum(np.abs(np.subtract.outer(*2 * [np.arange(_SUM.max() + 1)])), len(_OFF) - 1)
]
_MOST_AT_ONCE = 4_000_000


class Interval(NamedTuple):
    """The ratios that print as one text, both ends in."""

    low: Fraction
    high: Fraction


def interval_of(text: str) -> Interval:
    """Return the interval of a printed ratio: r ± ½·10^-d, d the decimals as written."""
    ratio = Fraction(text)
    decimals = len(text.partition(".")[2])
    half = Fraction(1, 2 * 10**decimals)
    return Interval(ratio - half, ratio + half)


class TiedGear(NamedTuple):
    """One printed gear: its interval, and (driver, driven) of each pair on its path.

    `summed`: its own pair, where that pair's tooth sum stands against the reference pair's.
    """

    gear: str
    interval: Interval
    path: tuple[tuple[str, str], ...]
    summed: tuple[str, str] | None


def tied_spread(
    gears: Sequence[TiedGear],
    reference: tuple[str, str] | None,
    weights: Mapping[str, Array],
    wheel: str | None = None,
) -> Array:
    """Return the weight of every assignment whose ratios all fall in their intervals, summed.

    By the teeth, 5…99, of one tied wheel, which is any where none is named. `weights` holds a
    vector over 5…99 for each tied wheel. The reference pair's wheels, or else the first pair's, are
    gone through as a grid; a further wheel that two gears share is gone through tooth by tooth.
    """
    driver, driven = reference or gears[0].path[0]
    grid = _Grid(weights, None if reference is None else _GRID_DRIVER + _GRID_DRIVEN)
    around = (
        weights[driver][_GRID_DRIVER - LEAST_TEETH] * weights[driven][_GRID_DRIVEN - LEAST_TEETH]
    )
    fixed = {driver: _GRID_DRIVER, driven: _GRID_DRIVEN}
    return grid.spread(list(gears), fixed, wheel or driver, around)


#: Wheels of which the teeth are known at every point of the grid.
Fixed = Mapping[str, Array]


class _Grid(NamedTuple):
    """What is summed at every point of the grid: `against`, the reference pair's tooth sum."""

    weights: Mapping[str, Array]
    against: Array | None

    def spread(self, gears: list[TiedGear], fixed: Fixed, wheel: str, around: Array) -> Array:
        """Return the sum over all that is free, times `around`, by the teeth of one wheel."""
        if wheel in fixed:
            whole = around * self.through(gears, fixed)
            return np.bincount(fixed[wheel] - LEAST_TEETH, weights=whole, minlength=SIZE)
        shared = _shared_wheel(gears, fixed)
        if shared is None:
            (own,), others = _parted(gears, wheel)
            return self._own_spread(own, fixed, wheel, around * self.through(others, fixed))
        tied, alone = _parted(gears, shared)
        if any(_has(gear, wheel) for gear in alone):
            return self.spread(alone, fixed, wheel, around * self.through(tied, fixed))
        rest = around * self.through(alone, fixed)
        found = np.zeros(SIZE)
        for weight, with_it in self._each(shared, fixed):
            found = found + self.spread(tied, with_it, wheel, weight * rest)
        return found

    def through(self, gears: list[TiedGear], fixed: Fixed) -> Array:
        """Return the sum over all wheels not fixed, for each point of the grid."""
        shared = _shared_wheel(gears, fixed)
        if shared is None:
            value = np.ones(_GRID_DRIVER.size)
            for gear in gears:
                value = value * self._gear_sum(gear, fixed)
            return value
        tied, alone = _parted(gears, shared)
        value = np.zeros(_GRID_DRIVER.size)
        for weight, with_it in self._each(shared, fixed):
            value = value + weight * self.through(tied, with_it)
        return value * self.through(alone, fixed)

    def _each(self, wheel: str, fixed: Fixed) -> Iterator[tuple[float, Fixed]]:
        """Give the weight of every number of teeth of a wheel, and what is fixed with it."""
        for teeth, weight in zip(_TEETH, self.weights[wheel], strict=True):
            if weight:
                yield weight, {**fixed, wheel: np.full(_GRID_DRIVER.size, teeth)}

    def _own_spread(self, gear: TiedGear, fixed: Fixed, wheel: str, rest: Array) -> Array:
        """The sum over one gear's free wheels by the teeth of one, times what is around it."""
        if _is_separate(gear, fixed):
            some, each = _within(gear, self.weights)
            if gear.summed and self.against is not None:
                by_sum = _OFF_SUMS @ np.bincount(self.against, rest, len(_OFF_SUMS))
                each = each * by_sum[_SUM[some]]
            else:
                each = each * rest.sum()
            teeth = _DRIVER if wheel == gear.path[0][0] else _DRIVEN
            return np.bincount(teeth[some] - LEAST_TEETH, each, SIZE)
        view = _View(gear, fixed, self.against)
        found = np.zeros(SIZE)
        if view.has_many:
            for number, weight in enumerate(self.weights[wheel]):
                alone = np.zeros(SIZE)
                alone[number] = weight
                found[number] = np.sum(rest * _many_wheels(view, {**self.weights, wheel: alone}))
            return found
        for points, free, each in _reached(view, fixed, self.weights):
            found += np.bincount(free[wheel] - LEAST_TEETH, each * rest[points], SIZE)
        return found

    def _gear_sum(self, gear: TiedGear, fixed: Fixed) -> Array:
        """The sum over one gear's own free wheels, at each point; one for all alike."""
        if _is_separate(gear, fixed):
            some, each = _within(gear, self.weights)
            if not gear.summed or self.against is None:
                whole: Array = each.sum(keepdims=True)
                return whole
            by_sum: Array = _OFF_SUMS @ np.bincount(_SUM[some], each, len(_OFF_SUMS))
            return by_sum[self.against]
        view = _View(gear, fixed, self.against)
        if view.has_many:
            return _many_wheels(view, self.weights)
        if view.drivers or view.drivens:
            value = np.zeros(view.ratio.size)
            for points, _, each in _reached(view, fixed, self.weights):
                value += np.bincount(points, weights=each, minlength=view.ratio.size)
            return value
        inside = ((view.ends[0] <= view.ratio) & (view.ratio <= view.ends[1])).astype(float)
        if view.against is None:
            return inside
        return inside * _off_factor(fixed[view.own[0]] + fixed[view.own[1]], view.against)


def _has(gear: TiedGear, wheel: str) -> bool:
    return any(wheel in pair for pair in gear.path)


def _parted(gears: Sequence[TiedGear], wheel: str) -> tuple[list[TiedGear], list[TiedGear]]:
    """The gears with a wheel on their paths, and the others."""
    others = [gear for gear in gears if not _has(gear, wheel)]
    return [gear for gear in gears if _has(gear, wheel)], others


def _shared_wheel(gears: Sequence[TiedGear], fixed: Fixed) -> str | None:
    """A free wheel that stands more than once on the gears' paths, if any."""
    found: set[str] = set()
    for gear in gears:
        for pair in gear.path:
            for wheel in pair:
                if wheel not in fixed:
                    if wheel in found:
                        return wheel
                    found.add(wheel)
    return None


class _View:
    """One gear as the fixed wheels leave it: its free wheels, and the ratio of the fixed ones."""

    def __init__(self, gear: TiedGear, fixed: Fixed, against: Array | None) -> None:
        above, below = np.ones(_GRID_DRIVER.size, int), np.ones(_GRID_DRIVER.size, int)
        self.drivers: list[str] = []
        self.drivens: list[str] = []
        for driver, driven in gear.path:
            if driver in fixed:
                below = below * fixed[driver]
            else:
                self.drivers.append(driver)
            if driven in fixed:
                above = above * fixed[driven]
            else:
                self.drivens.append(driven)
        self.ratio: Array = above / below
        low, high = gear.interval.low, gear.interval.high
        self.ends = (float(low) * (1 - _WIDER), float(high) * (1 + _WIDER))
        self.against = against if gear.summed else None
        self.own = gear.summed or gear.path[-1]

    @property
    def has_many(self) -> bool:
        """Whether more is free than one driver and one driven wheel."""
        return len(self.drivers) > 1 or len(self.drivens) > 1


def _is_separate(gear: TiedGear, fixed: Fixed) -> bool:
    """Whether a gear has one pair, both free: its tooth sum alone ties it to the grid."""
    return len(gear.path) == 1 and not any(wheel in fixed for wheel in gear.path[0])


def _within(gear: TiedGear, weights: Mapping[str, Array]) -> tuple[slice, Array]:
    """Where the pairs by ratio that print as a gear's ratio stand, and what each weighs."""
    low, high = gear.interval.low, gear.interval.high
    some = slice(
        int(np.searchsorted(_RATIO, float(low) * (1 - _WIDER), side="left")),
        int(np.searchsorted(_RATIO, float(high) * (1 + _WIDER), side="right")),
    )
    driver, driven = gear.path[0]
    each: Array = (
        weights[driver][_DRIVER[some] - LEAST_TEETH] * weights[driven][_DRIVEN[some] - LEAST_TEETH]
    )
    return some, each


def _off_factor(sums: Array, against: Array) -> Array:
    found: Array = _OFF[np.minimum(np.abs(sums - against), len(_OFF) - 1)]
    return found


def _reached(
    view: _View, fixed: Fixed, weights: Mapping[str, Array]
) -> Iterator[tuple[Array, dict[str, Array], Array]]:
    """Every choice of the free wheels in reach of each point: the points, teeth, and weights."""
    low: Array = view.ends[0] / view.ratio
    high: Array = view.ends[1] / view.ratio
    free: dict[str, Array]
    values: Array = _TEETH
    if view.drivers and view.drivens:
        free = {view.drivers[0]: _DRIVER, view.drivens[0]: _DRIVEN}
        values = _RATIO
    elif view.drivers:
        free = {view.drivers[0]: _TEETH}
        low, high = view.ratio / view.ends[1], view.ratio / view.ends[0]
    else:
        free = {view.drivens[0]: _TEETH}
    products = np.prod([weights[wheel][teeth - LEAST_TEETH] for wheel, teeth in free.items()], 0)
    begin = np.searchsorted(values, low, side="left")
    reach = np.maximum(np.searchsorted(values, high, side="right") - begin, 0)
    for points in _portions(reach):
        count = reach[points]
        point = np.repeat(points, count)
        behind = np.cumsum(count) - count
        index = np.arange(point.size) + np.repeat(begin[points] - behind, count)
        here = {wheel: teeth[index] for wheel, teeth in free.items()}
        each = products[index]
        if view.against is not None:
            driver, driven = (here[w] if w in here else fixed[w][point] for w in view.own)
            each = each * _off_factor(driver + driven, view.against[point])
        yield point, here, each


def _portions(reach: Array) -> list[Array]:
    """The grid in parts whose reach stays within what is held at once."""
    part = np.cumsum(reach) // _MOST_AT_ONCE
    return [np.flatnonzero(part == number) for number in np.unique(part)]


def _many_wheels(view: _View, weights: Mapping[str, Array]) -> Array:
    """Three or more free wheels (a compound path): two spreads of ratios against each other."""
    wheels = [(w, -1) for w in view.drivers] + [(w, 1) for w in view.drivens]
    half = len(wheels) // 2
    first, first_weight = _spread(wheels[:half], weights)
    second, second_weight = _spread(wheels[half:], weights)
    below = np.concatenate([[0.0], np.cumsum(second_weight)])
    ratios, back = np.unique(view.ratio, return_inverse=True)
    value = np.zeros(ratios.size)
    for part, weight in zip(first, first_weight, strict=True):
        if weight:
            top = np.searchsorted(second, view.ends[1] / (ratios * part), side="right")
            bottom = np.searchsorted(second, view.ends[0] / (ratios * part), side="left")
            value += weight * (below[top] - below[bottom])
    found: Array = value[back]
    return found


def _spread(wheels: Sequence[tuple[str, int]], weights: Mapping[str, Array]) -> tuple[Array, Array]:
    """Every product of wheels, to the power −1 for drivers, sorted and merged, with its weight."""
    values, weight = np.ones(1), np.ones(1)
    for wheel, power in wheels:
        parts = _TEETH.astype(float) ** power
        values = np.outer(values, parts).ravel()
        weight = np.outer(weight, weights[wheel]).ravel()
        order = np.argsort(values, kind="stable")
        values, weight = values[order], weight[order]
        fresh = np.concatenate([[True], np.diff(values) > values[1:] * _WIDER])
        starts = np.flatnonzero(fresh)
        values, weight = values[starts], np.add.reduceat(weight, starts)
    return values, weight
