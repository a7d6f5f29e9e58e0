"""Road speed at engine speed in each gear and back: bands, drops at each change, the gear to use.

How far a tyre rolls is left to `tyres`, the ratios of the gears to `trains`.

Ratios are exact, turns in for one turn out; speeds are floats in a unit that is named.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from math import isfinite

from cogtally.gears.errors import UserError
from cogtally.gears.road.tyres import KM_MM, MILE_MM, Tyre
from cogtally.gears.trains import REVERSE

KMH, MPH = "km/h", "mph"
#: Millimetres to the distance in each unit of speed.
DISTANCE_MM = {KMH: KM_MM, MPH: MILE_MM}
MINUTES = 60
FASTEST_RPM = 20_000.0
FASTEST_SPEED = 700.0
#: A ratio beyond these is written the wrong way round or in the wrong place.
LEAST_RATIO, MOST_RATIO = Fraction(1, 5), Fraction(30)


@dataclass(frozen=True, slots=True)
class Drive:
    """Gears by name with the box's ratio of each, the axle's ratio, and the driven wheel.

    Built by `drive`: forward gears lowest first, then reverse. Overdriven gears stand among the
    others under a name of their own.
    """

    gears: tuple[tuple[str, Fraction], ...]
    final: Fraction
    tyre: Tyre

    def overall(self, gear: str) -> Fraction:
        """Return engine turns for one turn of the driven wheel in a gear; KeyError if none."""
        return dict(self.gears)[gear] * self.final

    @property
    def forward(self) -> tuple[tuple[str, Fraction], ...]:
        """Forward gears with their overall ratios, lowest gear first."""
        return tuple((g, r * self.final) for g, r in self.gears if not is_reverse(g))


@dataclass(frozen=True, slots=True)
class GearRow:
    """One gear on the road: `per_1000` the speed at 1000 engine turns a minute."""

    gear: str
    ratio: Fraction
    overall: Fraction
    per_1000: float


@dataclass(frozen=True, slots=True)
class Change:
    """A change up from one gear to the next at `rpm`: engine speed after it, and the drop.

    `keeps` is after/before, exact; `drop` is in turns a minute.
    """

    lower: str
    upper: str
    rpm: float
    after: float
    keeps: Fraction

    @property
    def drop(self) -> float:
        """Engine turns a minute lost at the change."""
        return self.rpm - self.after


@dataclass(frozen=True, slots=True)
class Band:
    """The road speeds of one gear between two engine speeds.

    `overlap` is how far this band reaches above the lowest speed of the next gear's; negative: a
    gap, in which neither gear is inside the band; None for the highest gear.
    """

    gear: str
    slowest: float
    fastest: float
    overlap: float | None


@dataclass(frozen=True, slots=True)
class Holding:
    """Which gear holds an engine band at a road speed: `gear`, None where none does.

    `rpm` gives every forward gear's engine speed there, lowest gear first.
    """

    gear: str | None
    speed: float
    rpm: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Tooth:
    """One tooth of the saw: a gear from the change into it to the change out of it.

    Road speeds in one unit, engine speeds in turns a minute. The lowest gear begins at rest.
    """

    gear: str
    from_speed: float
    from_rpm: float
    to_speed: float
    to_rpm: float


def is_reverse(gear: str) -> bool:
    """Tell whether a gear, by its name, runs backwards."""
    return gear.startswith(REVERSE)


def drive(gears: Iterable[tuple[str, Fraction]], final: Fraction, tyre: Tyre) -> Drive:
    """Check ratios and return the drive, forward gears lowest first; raise UserError."""
    found = dict(gears)
    if not found:
        raise UserError("no gear was given", "", "give at least one gear's ratio")
    for name, ratio in (*found.items(), ("final", final)):
        if ratio <= 0:
            raise UserError(f"a ratio of {float(ratio):g} was read", name, "ratios are above 0")
        if not LEAST_RATIO <= ratio <= MOST_RATIO:
            raise UserError(
                f"a ratio of {float(ratio):.3g} is outside {float(LEAST_RATIO):g} to "
                f"{float(MOST_RATIO):g}",
                name,
                f"the other way round it is {float(1 / ratio):.3g}",
            )
    ordered = sorted(found.items(), key=lambda item: (is_reverse(item[0]), -item[1]))
    return Drive(tuple((name, Fraction(ratio)) for name, ratio in ordered), Fraction(final), tyre)


def with_overdrive(car: Drive, ratio: Fraction, on: Iterable[str], suffix: str = "+od") -> Drive:
    """Return a drive with an overdrive of a ratio (in/out) on some gears, as gears of their own.

    Raises UserError for a gear that is not there.
    """
    known = dict(car.gears)
    added = []
    for gear in on:
        if gear not in known:
            raise UserError(f"there is no gear {gear}", "overdrive", f"gears: {', '.join(known)}")
        added.append((gear + suffix, known[gear] * ratio))
    return drive((*car.gears, *added), car.final, car.tyre)


def road_speed(rpm: float, overall: Fraction, tyre: Tyre, unit: str = KMH) -> float:
    """Return road speed at engine turns a minute through an overall ratio; UserError."""
    _check_rpm(rpm)
    return rpm * MINUTES / float(overall) * tyre.rolled_mm / _distance(unit)


def engine_speed(speed: float, overall: Fraction, tyre: Tyre, unit: str = KMH) -> float:
    """Return engine turns a minute at a road speed through an overall ratio; UserError."""
    _check_speed(speed, unit)
    return speed * _distance(unit) / tyre.rolled_mm * float(overall) / MINUTES


def rows(car: Drive, unit: str = KMH) -> tuple[GearRow, ...]:
    """Return every gear, reverse too, with its speed at 1000 engine turns a minute."""
    return tuple(
        GearRow(gear, ratio, ratio * car.final, road_speed(1000, ratio * car.final, car.tyre, unit))
        for gear, ratio in car.gears
    )


def speeds(car: Drive, rpm: float, unit: str = KMH) -> tuple[tuple[str, float], ...]:
    """Return the road speed of every gear at one engine speed."""
    return tuple(
        (gear, road_speed(rpm, ratio * car.final, car.tyre, unit)) for gear, ratio in car.gears
    )


def engine_speeds(car: Drive, speed: float, unit: str = KMH) -> tuple[tuple[str, float], ...]:
    """Return engine turns a minute of every forward gear at a road speed, lowest gear first."""
    return tuple((gear, engine_speed(speed, ratio, car.tyre, unit)) for gear, ratio in car.forward)


def changes(car: Drive, rpm: float) -> tuple[Change, ...]:
    """Return every change up through the forward gears at an engine speed, road speed kept."""
    _check_rpm(rpm)
    found = []
    for (lower, low), (upper, high) in itertools.pairwise(car.forward):
        keeps = high / low
        found.append(Change(lower, upper, rpm, rpm * float(keeps), keeps))
    return tuple(found)


def bands(car: Drive, low: float, high: float, unit: str = KMH) -> tuple[Band, ...]:
    """Return the road speeds of each forward gear between two engine speeds; UserError."""
    _check_band(low, high)
    ends = [
        (gear, road_speed(low, ratio, car.tyre, unit), road_speed(high, ratio, car.tyre, unit))
        for gear, ratio in car.forward
    ]
    starts: list[float | None] = [slowest for _, slowest, _ in ends[1:]]
    return tuple(
        Band(gear, slowest, fastest, None if start is None else fastest - start)
        for (gear, slowest, fastest), start in zip(ends, [*starts, None], strict=True)
    )


def highest_gear(car: Drive, speed: float, low: float, high: float, unit: str = KMH) -> Holding:
    """Return the highest forward gear that holds the engine between two speeds, both ends in.

    Raises UserError for a speed or band that is none.
    """
    _check_band(low, high)
    turning = engine_speeds(car, speed, unit)
    holding = [gear for gear, rpm in turning if low <= rpm <= high]
    return Holding(holding[-1] if holding else None, speed, turning)


def saw_tooth(car: Drive, high: float, unit: str = KMH) -> tuple[Tooth, ...]:
    """Return how engine speed follows road speed where every change up is made at `high` turns."""
    _check_rpm(high)
    found: list[Tooth] = []
    for gear, ratio in car.forward:
        start = found[-1].to_speed if found else 0.0
        turning = engine_speed(start, ratio, car.tyre, unit) if found else 0.0
        end = road_speed(high, ratio, car.tyre, unit)
        found.append(Tooth(gear, start, turning, end, high))
    return tuple(found)


def convert(speed: float, unit: str, to: str) -> float:
    """Return a speed in another unit."""
    return speed * _distance(unit) / _distance(to)


def _distance(unit: str) -> float:
    if unit not in DISTANCE_MM:
        raise UserError(f"a unit of speed is km/h or mph, not {unit!r}", "unit", "write km/h")
    return DISTANCE_MM[unit]


def _check_rpm(rpm: float) -> None:
    if not isfinite(rpm) or rpm <= 0:
        raise UserError("engine speed is turns a minute, above 0", f"{rpm:g}", "as 3000")
    if rpm > FASTEST_RPM:
        raise UserError(f"no engine turns {rpm:g} times a minute", f"{rpm:g}", "as 3000")


def _check_speed(speed: float, unit: str) -> None:
    if not isfinite(speed) or speed <= 0:
        raise UserError("a road speed is above 0", f"{speed:g}", f"as 50 {unit}")
    if speed > FASTEST_SPEED:
        raise UserError(f"{speed:g} {unit} is no road speed", f"{speed:g}", f"as 50 {unit}")


def _check_band(low: float, high: float) -> None:
    _check_rpm(low)
    _check_rpm(high)
    if low >= high:
        raise UserError(
            "the band's lower end is not below its upper end",
            f"{low:g}-{high:g}",
            f"did you mean {high:g}-{low:g}?" if low > high else "give two engine speeds",
        )
