"""Sums over teeth tied by printed ratios that share wheels: an input pair, a wheel of two pairs.

The sets themselves are known to `ratio_only`. Loads numpy, so it is loaded only when needed.

Everything is summed for every pair of teeth of the reference pair (8…80 by 8…80) at once. A
ratio of up to six wheels of 8…80 teeth differs from any printed end by more than 1e-12 of itself
or not at all, so ends widened by 1e-14 keep "both ends in" exact in floating point.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from cogtally.evidence.likelihood import LEAST_TEETH, SUM_FAR, SUM_OFF
from cogtally.evidence.rho import SIZE

if TYPE_CHECKING:
    from cogtally.evidence.ratio_only import TiedGear

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
_MOST_AT_ONCE = 4_000_000


def tied_sum(
    gears: Sequence[TiedGear],
    reference: tuple[str, str] | None,
    weights: Mapping[str, Sequence[float]],
) -> float:
    """Return the summed weight of every assignment whose ratios all fall in their intervals.

    `weights` holds a vector over 8…80 for each tied wheel. The reference pair's wheels, or else
    the first pair's, are gone through as a grid; a further wheel that two gears share is gone
    through tooth by tooth.
    """
    grid = _Grid(gears, reference, weights)
    return float(np.sum(grid.weight * _through(list(gears), grid.fixed, grid.against, grid.arrays)))


def tied_spread(
    gears: Sequence[TiedGear],
    reference: tuple[str, str] | None,
    weights: Mapping[str, Sequence[float]],
    wheel: str,
) -> dict[int, float]:
    """Return the same sum by the teeth of one tied wheel."""
    grid = _Grid(gears, reference, weights)
    if _shared_wheel(gears, grid.fixed) is not None:
        return _spread_by_masking(gears, reference, weights, wheel)
    sums = [_gear_sum(gear, grid.fixed, grid.against, grid.arrays) for gear in gears]
    if wheel in grid.fixed:
        whole = grid.weight * np.prod(sums, axis=0)
        return _by_teeth(grid.fixed[wheel], whole)
    own = next(i for i, gear in enumerate(gears) if any(wheel in pair for pair in gear.path))
    view = _View(gears[own], grid.fixed, grid.against)
    if not view.is_one_pair:
        return _spread_by_masking(gears, reference, weights, wheel)
    rest = grid.weight * np.prod([*sums[:own], np.ones(grid.weight.size), *sums[own + 1 :]], axis=0)
    found = np.zeros(SIZE)
    teeth = _DRIVER if wheel == view.drivers[0] else _DRIVEN
    for points, index, each in _reached(view, grid.arrays):
        found += np.bincount(
            teeth[index] - LEAST_TEETH, weights=each * rest[points], minlength=SIZE
        )
    return {int(t): float(v) for t, v in zip(_TEETH, found, strict=True)}


def _spread_by_masking(
    gears: Sequence[TiedGear],
    reference: tuple[str, str] | None,
    weights: Mapping[str, Sequence[float]],
    wheel: str,
) -> dict[int, float]:
    """Sum anew for each number of teeth: slow, for paths that share wheels."""
    found = {}
    for place, weight in enumerate(weights[wheel]):
        alone = [0.0] * SIZE
        alone[place] = weight
        found[LEAST_TEETH + place] = tied_sum(gears, reference, {**weights, wheel: alone})
    return found


def _by_teeth(teeth: Array, weight: Array) -> dict[int, float]:
    sums = np.bincount(teeth - LEAST_TEETH, weights=weight, minlength=SIZE)
    return {int(t): float(v) for t, v in zip(_TEETH, sums, strict=True)}


class _Grid:
    """The pair that is gone through as a grid: its wheels' teeth, weights and tooth sums."""

    def __init__(
        self,
        gears: Sequence[TiedGear],
        reference: tuple[str, str] | None,
        weights: Mapping[str, Sequence[float]],
    ) -> None:
        self.arrays = {wheel: np.asarray(vector, dtype=float) for wheel, vector in weights.items()}
        driver, driven = reference or gears[0].path[0]
        self.fixed: dict[str, Array] = {driver: _GRID_DRIVER, driven: _GRID_DRIVEN}
        self.weight: Array = (
            self.arrays[driver][_GRID_DRIVER - LEAST_TEETH]
            * self.arrays[driven][_GRID_DRIVEN - LEAST_TEETH]
        )
        self.against = None if reference is None else _GRID_DRIVER + _GRID_DRIVEN


def _through(
    gears: list[TiedGear],
    fixed: Mapping[str, Array],
    against: Array | None,
    weights: Mapping[str, Array],
) -> Array:
    """The sum over all wheels not fixed, for each point of the grid."""
    shared = _shared_wheel(gears, fixed)
    if shared is None:
        value = np.ones(_GRID_DRIVER.size)
        for gear in gears:
            value = value * _gear_sum(gear, fixed, against, weights)
        return value
    value = np.zeros(_GRID_DRIVER.size)
    for teeth, weight in zip(_TEETH, weights[shared], strict=True):
        if weight:
            with_it = {**fixed, shared: np.full(_GRID_DRIVER.size, teeth)}
            value = value + weight * _through(gears, with_it, against, weights)
    return value


def _shared_wheel(gears: Sequence[TiedGear], fixed: Mapping[str, Array]) -> str | None:
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

    def __init__(self, gear: TiedGear, fixed: Mapping[str, Array], against: Array | None) -> None:
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
    def is_one_pair(self) -> bool:
        """Whether one driver and one driven wheel are free."""
        return len(self.drivers) == len(self.drivens) == 1


def _gear_sum(
    gear: TiedGear,
    fixed: Mapping[str, Array],
    against: Array | None,
    weights: Mapping[str, Array],
) -> Array:
    """The sum over one gear's own free wheels, for each point of the grid."""
    view = _View(gear, fixed, against)
    if view.is_one_pair:
        value = np.zeros(view.ratio.size)
        for points, _, each in _reached(view, weights):
            value += np.bincount(points, weights=each, minlength=view.ratio.size)
        return value
    free = len(view.drivers) + len(view.drivens)
    if free > 1:
        return _many_wheels(view.drivers, view.drivens, view.ends, view.ratio, weights)
    if free == 1:
        wheel, power = (view.drivers[0], -1) if view.drivers else (view.drivens[0], 1)
        mate = fixed.get(view.own[1] if view.drivers else view.own[0])
        return _one_wheel(wheel, power, mate, view, weights)
    inside = ((view.ends[0] <= view.ratio) & (view.ratio <= view.ends[1])).astype(float)
    if view.against is None:
        return inside
    return inside * _off_factor(fixed[view.own[0]] + fixed[view.own[1]], view.against)


def _off_factor(sums: Array, against: Array) -> Array:
    found: Array = _OFF[np.minimum(np.abs(sums - against), len(_OFF) - 1)]
    return found


def _one_wheel(
    wheel: str, power: int, mate: Array | None, view: _View, weights: Mapping[str, Array]
) -> Array:
    """One free wheel (`power` −1 for a driver), tooth by tooth; its mate is fixed."""
    value = np.zeros(view.ratio.size)
    for teeth, weight in zip(_TEETH, weights[wheel], strict=True):
        whole = view.ratio / teeth if power < 0 else view.ratio * teeth
        inside = (view.ends[0] <= whole) & (whole <= view.ends[1])
        if view.against is None or mate is None:
            value += weight * inside
        else:
            value += weight * inside * _off_factor(mate + teeth, view.against)
    return value


def _reached(view: _View, weights: Mapping[str, Array]) -> Iterator[tuple[Array, Array, Array]]:
    """Every pair of teeth in reach of each point of the grid: point, pair, weight."""
    products = (
        weights[view.drivers[0]][_DRIVER - LEAST_TEETH]
        * weights[view.drivens[0]][_DRIVEN - LEAST_TEETH]
    )
    begin = np.searchsorted(_RATIO, view.ends[0] / view.ratio, side="left")
    end = np.searchsorted(_RATIO, view.ends[1] / view.ratio, side="right")
    reach = np.maximum(end - begin, 0)
    for points in _portions(reach):
        count = reach[points]
        point = np.repeat(points, count)
        behind = np.cumsum(count) - count
        index = np.arange(point.size) + np.repeat(begin[points] - behind, count)
        each = products[index]
        if view.against is not None:
            each = each * _off_factor(_SUM[index], view.against[point])
        yield point, index, each


def _portions(reach: Array) -> list[Array]:
    """The grid in parts whose reach stays within what is held at once."""
    part = np.cumsum(reach) // _MOST_AT_ONCE
    return [np.flatnonzero(part == number) for number in np.unique(part)]


def _many_wheels(
    drivers: Sequence[str],
    drivens: Sequence[str],
    ends: tuple[float, float],
    ratio: Array,
    weights: Mapping[str, Array],
) -> Array:
    """Three or more free wheels (a compound path): two spreads of ratios against each other."""
    wheels = [(w, -1) for w in drivers] + [(w, 1) for w in drivens]
    half = len(wheels) // 2
    first, first_weight = _spread(wheels[:half], weights)
    second, second_weight = _spread(wheels[half:], weights)
    below = np.concatenate([[0.0], np.cumsum(second_weight)])
    ratios, back = np.unique(ratio, return_inverse=True)
    value = np.zeros(ratios.size)
    for part, weight in zip(first, first_weight, strict=True):
        if weight:
            top = np.searchsorted(second, ends[1] / (ratios * part), side="right")
            bottom = np.searchsorted(second, ends[0] / (ratios * part), side="left")
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
