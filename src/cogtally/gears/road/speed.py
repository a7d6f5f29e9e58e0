"""Road speed at engine speed in each gear and back: bands, drops at each change, the gear to use.

And how far a tyre rolls by its size. The ratios of the gears are left to `trains`.

Ratios are exact, turns in for one turn out; speeds are floats in a unit that is named.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from math import pi

from cogtally.gears.errors import UserError, shown
from cogtally.gears.trains import REVERSE

INCH_MM = 25.4
MILE_MM, KM_MM = 1_609_344.0, 1_000_000.0
#: Rolling radius = factor / (2 · 3.14) × outside diameter: 3.05 for radial tyres, as in the Joint
#: Research Centre's open vehicle model; 3.0 for cross-ply ones (common practice, no source).
RADIAL_FACTOR, CROSS_PLY_FACTOR = 3.05, 3.0
_RULE_PI = 3.14
#: How far a tyre rolls differs by about so much with make, load, pressure and wear (common
#: practice, no source).
ROLLING_TOLERANCE = 0.03
#: Height of a section over its width where the size does not give it: cross-ply sizes in inches,
#: and radial sizes of old in millimetres (common practice, no source).
CROSS_PLY_HEIGHT, RADIAL_HEIGHT = 0.96, 0.82
#: Sizes that a road vehicle's tyre may have: rim in inches, circumference in mm.
LEAST_RIM, MOST_RIM = 8, 26
LEAST_ROLLED_MM, MOST_ROLLED_MM = 1250.0, 3600.0

#: 560-15 lacks the point of 5.60-15; below this, three digits are a width in mm.
_LEAST_BARE_INCHES = 300

_FORMS = "write 165/80R15, 5.60-15, a circumference as 1935mm, or turns as 830/mile or 516/km"
_RIM = r"[1-9][0-9]|[89]"
_NUMBER = r"[0-9]{1,5}(?:[.,][0-9]{1,3})?"
_METRIC = re.compile(rf"P?([0-9]{{2,3}})/([0-9]{{2,3}})[A-Z]{{0,2}}?([RBD-])({_RIM})")
_METRIC_BARE = re.compile(rf"([0-9]{{3}})(?:[A-Z]?R)({_RIM})")
_INCHES = re.compile(rf"([0-9]{{1,2}}[.,][0-9]{{1,2}})(-|X|/|[A-Z]?R)({_RIM})")
_ROLLED = re.compile(rf"({_NUMBER})(?:MM)?")
_TURNS = re.compile(rf"({_NUMBER})/(MILE|MI|KM)")
_LOAD = re.compile(r"(?:[0-9]{2,3}(?:/[0-9]{2,3})?[A-Z])?")


@dataclass(frozen=True, slots=True)
class Tyre:
    """How far a driven wheel rolls: `rolled_mm` of road for one turn.

    `outside_mm` is the unloaded outside diameter, where a size gave it; `radial` None where it
    was rolled, not read. `estimated`: the size does not give the height, a usual one was taken.
    """

    text: str
    rolled_mm: float
    outside_mm: float | None = None
    radial: bool | None = None
    estimated: bool = False

    @property
    def turns_per_mile(self) -> float:
        """Turns in a mile."""
        return MILE_MM / self.rolled_mm

    @property
    def turns_per_km(self) -> float:
        """Turns in a kilometre."""
        return KM_MM / self.rolled_mm

    @property
    def rule(self) -> str | None:
        """The rule by which a size gave `rolled_mm`, with its source; None for what was rolled."""
        if self.radial is None:
            return None
        factor, source = (
            (RADIAL_FACTOR, "the rule of the Joint Research Centre's open vehicle model for radial")
            if self.radial
            else (CROSS_PLY_FACTOR, "common practice without a source for cross-ply")
        )
        share = f"{factor:.2f}/{2 * _RULE_PI:.2f}"
        return f"rolling radius {share} of the outside diameter, {source} tyres"

    @property
    def note(self) -> str | None:
        """What must be said beside a size, or None."""
        if not self.estimated:
            return None
        return (
            "this size does not give the tyre's height: a usual one was taken; roll the wheel one "
            "turn and measure, for a true figure"
        )


def of_size(text: str, outside_mm: float, radial: bool, estimated: bool = False) -> Tyre:
    """Return the tyre of an outside diameter in mm, by the rolling radius rule of its build."""
    factor = RADIAL_FACTOR if radial else CROSS_PLY_FACTOR
    radius = factor / (2 * _RULE_PI) * outside_mm
    return Tyre(text, 2 * pi * radius, outside_mm, radial, estimated)


def parse_tyre(text: str) -> Tyre:
    """Read a tyre's size, a circumference or turns; raise UserError with what would be right.

    `165/80R15` and `165R15` (radial), `5.60-15` (cross-ply, inches), `6.00R16`, `1935mm` (rolled
    in one turn), `830/mile`, `516/km`. Letters of speed and load are passed over.
    """
    word = "".join(text.split()).upper()
    for pattern, read, sized in (
        (_METRIC, _metric, True),
        (_METRIC_BARE, _metric_bare, True),
        (_INCHES, _inches, True),
        (_TURNS, _turns, False),
        (_ROLLED, _rolled, False),
    ):
        found = pattern.match(word)
        if found and (found.end() == len(word) or (sized and _LOAD.fullmatch(word, found.end()))):
            return read(text.strip(), found)
    raise UserError("no size of a tyre was read", shown(text), _mend(word))


def _metric(text: str, found: re.Match[str]) -> Tyre:
    width, height, build, rim = int(found[1]), int(found[2]), found[3], int(found[4])
    if height > 100 and width <= 100:
        mend = f"did you mean {height}/{width}R{rim}?"
        raise UserError("the width stands before the height", text, mend)
    if not 25 <= height <= 100 or not 95 <= width <= 355:
        raise UserError(f"no tyre is {width} mm wide and {height} % high", text, _FORMS)
    _check_rim(rim, text)
    outside = rim * INCH_MM + 2 * width * height / 100
    return of_size(text, outside, radial=build == "R")


def _metric_bare(text: str, found: re.Match[str]) -> Tyre:
    width, rim = int(found[1]), int(found[2])
    if not 95 <= width <= 355:
        raise UserError(f"no tyre is {width} mm wide", text, _FORMS)
    _check_rim(rim, text)
    outside = rim * INCH_MM + 2 * width * RADIAL_HEIGHT
    return of_size(text, outside, radial=True, estimated=True)


def _inches(text: str, found: re.Match[str]) -> Tyre:
    width, rim = float(found[1].replace(",", ".")), int(found[3])
    if not 2 <= width <= 14:
        raise UserError(f"no tyre is {width:g} inches wide", text, _FORMS)
    _check_rim(rim, text)
    outside = (rim + 2 * width * CROSS_PLY_HEIGHT) * INCH_MM
    return of_size(text, outside, radial=found[2].endswith("R"), estimated=True)


def _rolled(text: str, found: re.Match[str]) -> Tyre:
    rolled = float(found[1].replace(",", "."))
    if LEAST_ROLLED_MM <= rolled <= MOST_ROLLED_MM:
        return Tyre(text, rolled)
    between = f"{LEAST_ROLLED_MM:g} to {MOST_ROLLED_MM:g} mm in a turn"
    sentence = f"a wheel rolls {between}, not {rolled:.4g}"
    raise UserError(sentence, text, _slip_of_length(rolled))


def _turns(text: str, found: re.Match[str]) -> Tyre:
    turns = float(found[1].replace(",", "."))
    per, other, name = (KM_MM, MILE_MM, "mile") if found[2] == "KM" else (MILE_MM, KM_MM, "km")
    if turns <= 0:
        raise UserError("turns are more than 0", text, _FORMS)
    if LEAST_ROLLED_MM <= per / turns <= MOST_ROLLED_MM:
        return Tyre(text, per / turns)
    fits = LEAST_ROLLED_MM <= other / turns <= MOST_ROLLED_MM
    mend = f"did you mean {turns:g}/{name}?" if fits else "count the turns again"
    raise UserError(f"a wheel would roll {per / turns:.0f} mm in a turn", text, mend)


def _check_rim(rim: int, text: str) -> None:
    if LEAST_RIM <= rim <= MOST_RIM:
        return
    inches = round(rim / 2.54)
    mend = f"in centimetres? then {inches} inches" if LEAST_RIM <= inches <= MOST_RIM else _FORMS
    raise UserError(f"a rim is {LEAST_RIM} to {MOST_RIM} inches, not {rim}", text, mend)


def _slip_of_length(rolled: float) -> str:
    """Return what was likely meant by a circumference that no wheel has."""
    for meant, by in (
        ("in inches", INCH_MM),
        ("a diameter", pi),
        ("a diameter in inches", pi * INCH_MM),
        ("in metres", 1000),
    ):
        if LEAST_ROLLED_MM <= rolled * by <= MOST_ROLLED_MM:
            return f"{meant}? then {rolled * by:.0f}mm"
    return _FORMS


def _mend(word: str) -> str:
    found = re.fullmatch(r"([0-9])([0-9]{2})-([0-9]{2})", word)
    if found is not None:
        if int(found[1] + found[2]) < _LEAST_BARE_INCHES:
            return f"did you mean {found[1]}{found[2]}R{found[3]}?"
        return f"did you mean {found[1]}.{found[2]}-{found[3]}?"
    return _FORMS


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

    @property
    def forward(self) -> tuple[tuple[str, Fraction], ...]:
        """Forward gears with their overall ratios, lowest gear first."""
        return tuple((g, r * self.final) for g, r in self.gears if not is_reverse(g))


@dataclass(frozen=True, slots=True)
class GearRow:
    """One gear on the road: `per_1000` the speed at 1000 engine turns a minute.

    `step`: from the forward gear below, `step_from`; None where there is none.
    """

    gear: str
    ratio: Fraction
    overall: Fraction
    per_1000: float
    step_from: str | None = None
    step: Fraction | None = None


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
    for name, ratio in (*found.items(), ("final", final)):
        if not LEAST_RATIO <= ratio <= MOST_RATIO:
            usual = f"{float(LEAST_RATIO):g} to {float(MOST_RATIO):g}"
            mend = f"the other way round it is {float(1 / ratio):.3g}"
            raise UserError(f"a ratio of {float(ratio):.3g} is outside {usual}", name, mend)
    ordered = sorted(found.items(), key=lambda item: (is_reverse(item[0]), -item[1]))
    return Drive(tuple((name, Fraction(ratio)) for name, ratio in ordered), Fraction(final), tyre)


def with_overdrive(car: Drive, ratio: Fraction, on: Iterable[str]) -> Drive:
    """Return a drive with an overdrive of a ratio (in/out) on some gears, as gears of their own."""
    known = dict(car.gears)
    added = [(f"{gear}+od", known[gear] * ratio) for gear in on]
    return drive((*car.gears, *added), car.final, car.tyre)


def road_speed(rpm: float, overall: Fraction, tyre: Tyre, unit: str = KMH) -> float:
    """Return road speed at engine turns a minute through an overall ratio; UserError."""
    _check_rpm(rpm)
    return rpm * MINUTES / float(overall) * tyre.rolled_mm / DISTANCE_MM[unit]


def engine_speed(speed: float, overall: Fraction, tyre: Tyre, unit: str = KMH) -> float:
    """Return engine turns a minute at a road speed through an overall ratio; UserError."""
    if not speed > 0:
        raise UserError("a road speed is above 0", f"{speed:g}", f"as 50 {unit}")
    if speed > FASTEST_SPEED:
        raise UserError(f"{speed:g} {unit} is no road speed", f"{speed:g}", f"as 50 {unit}")
    return speed * DISTANCE_MM[unit] / tyre.rolled_mm * float(overall) / MINUTES


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
    return tuple(
        Change(lower, upper, rpm, rpm * float(high / low), high / low)
        for (lower, low), (upper, high) in itertools.pairwise(car.forward)
    )


def bands(car: Drive, low: float, high: float, unit: str = KMH) -> tuple[Band, ...]:
    """Return the road speeds of each forward gear between two engine speeds; UserError."""
    _check_band(low, high)
    found: list[Band] = []
    for gear, ratio in reversed(car.forward):
        slowest, fastest = (road_speed(rpm, ratio, car.tyre, unit) for rpm in (low, high))
        overlap = fastest - found[-1].slowest if found else None
        found.append(Band(gear, slowest, fastest, overlap))
    return tuple(reversed(found))


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


def _check_rpm(rpm: float) -> None:
    if not rpm > 0:
        raise UserError("engine speed is turns a minute, above 0", f"{rpm:g}", "as 3000")
    if rpm > FASTEST_RPM:
        raise UserError(f"no engine turns {rpm:g} times a minute", f"{rpm:g}", "as 3000")


def _check_band(low: float, high: float) -> None:
    _check_rpm(low)
    _check_rpm(high)
    if low >= high:
        sentence = "the band's lower end is not below its upper end"
        mend = f"did you mean {high:g}-{low:g}?" if low > high else "give two engine speeds"
        raise UserError(sentence, f"{low:g}-{high:g}", mend)
