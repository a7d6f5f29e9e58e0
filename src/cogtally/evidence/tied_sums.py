"""Sums over teeth tied by printed ratios that share wheels: an input pair, a wheel of two pairs.

The sets themselves are known to `ratio_only`. Loads numpy, so it is loaded only when needed.

Everything is summed for every pair of teeth of the reference pair (8…80 by 8…80) at once. A
ratio of up to six wheels of 8…80 teeth differs from any printed end by more than 1e-12 of itself
or not at all, so ends widened by 1e-14 keep "both ends in" exact in floating point.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
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
    arrays = {wheel: np.asarray(vector, dtype=float) for wheel, vector in weights.items()}
    first = reference or gears[0].path[0]
    fixed: dict[str, Array] = {first[0]: _GRID_DRIVER}
    total = arrays[first[0]][_GRID_DRIVER - LEAST_TEETH]
    if first[1] != first[0]:
        fixed[first[1]] = _GRID_DRIVEN
        total = total * arrays[first[1]][_GRID_DRIVEN - LEAST_TEETH]
    against = None if reference is None else _GRID_DRIVER + _GRID_DRIVEN
    return float(np.sum(total * _through(list(gears), fixed, against, arrays)))


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


def _gear_sum(
    gear: TiedGear, fixed: Mapping[str, Array], against: Array | None, weights: Mapping[str, Array]
) -> Array:
    """The sum over one gear's own free wheels, for each point of the grid."""
    above, below = np.ones(_GRID_DRIVER.size, int), np.ones(_GRID_DRIVER.size, int)
    drivers, drivens = [], []
    for driver, driven in gear.path:
        if driver in fixed:
            below = below * fixed[driver]
        else:
            drivers.append(driver)
        if driven in fixed:
            above = above * fixed[driven]
        else:
            drivens.append(driven)
    ratio = above / below
    ends = (float(gear.interval.low) * (1 - _WIDER), float(gear.interval.high) * (1 + _WIDER))
    summed = against if gear.summed else None
    own = gear.summed or gear.path[-1]
    if not drivers and not drivens:
        inside = ((ends[0] <= ratio) & (ratio <= ends[1])).astype(float)
        return inside * (
            1.0 if summed is None else _off_factor(fixed[own[0]] + fixed[own[1]], summed)
        )
    if len(drivers) + len(drivens) == 1:
        if drivers:
            return _one_wheel(drivers[0], -1, fixed.get(own[1]), ends, ratio, summed, weights)
        return _one_wheel(drivens[0], 1, fixed.get(own[0]), ends, ratio, summed, weights)
    if len(drivers) == len(drivens) == 1:
        return _one_pair(drivers[0], drivens[0], ends, ratio, summed, weights)
    return _many_wheels(drivers, drivens, ends, ratio, weights)


def _off_factor(sums: Array, against: Array) -> Array:
    found: Array = _OFF[np.minimum(np.abs(sums - against), len(_OFF) - 1)]
    return found


def _one_wheel(
    wheel: str,
    power: int,
    mate: Array | None,
    ends: tuple[float, float],
    ratio: Array,
    against: Array | None,
    weights: Mapping[str, Array],
) -> Array:
    """One free wheel (`power` −1 for a driver), tooth by tooth; its mate is fixed."""
    value = np.zeros(ratio.size)
    for teeth, weight in zip(_TEETH, weights[wheel], strict=True):
        whole = ratio / teeth if power < 0 else ratio * teeth
        inside = (ends[0] <= whole) & (whole <= ends[1])
        if against is None or mate is None:
            value += weight * inside
        else:
            value += weight * inside * _off_factor(mate + teeth, against)
    return value


def _one_pair(
    driver: str,
    driven: str,
    ends: tuple[float, float],
    ratio: Array,
    against: Array | None,
    weights: Mapping[str, Array],
) -> Array:
    """One free pair: every pair of teeth in reach of each point of the grid."""
    products = weights[driver][_DRIVER - LEAST_TEETH] * weights[driven][_DRIVEN - LEAST_TEETH]
    begin = np.searchsorted(_RATIO, ends[0] / ratio, side="left")
    reach = np.maximum(np.searchsorted(_RATIO, ends[1] / ratio, side="right") - begin, 0)
    value = np.zeros(ratio.size)
    for points in _portions(reach):
        count = reach[points]
        point = np.repeat(points, count)
        behind = np.cumsum(count) - count
        index = np.arange(point.size) - np.repeat(behind, count) + np.repeat(begin[points], count)
        each = products[index]
        if against is not None:
            each = each * _off_factor(_DRIVER[index] + _DRIVEN[index], against[point])
        value += np.bincount(point, weights=each, minlength=ratio.size)
    return value


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
