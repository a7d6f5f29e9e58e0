"""What a tyre's size, circumference or turns per mile or kilometre say of how far it rolls.

Engine and road speeds are left to `road`.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from math import pi

from cogtally.gears.errors import UserError

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
    def radius_m(self) -> float:
        """Rolling (dynamic) radius in metres: what is rolled in a turn over 2π."""
        return self.rolled_mm / (2 * pi) / 1000

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


def of_diameter(rolling_mm: float, text: str = "") -> Tyre:
    """Return a wheel that rolls π times a diameter in mm; UserError for an unlikely one."""
    return of_circumference(pi * rolling_mm, text)


def of_circumference(rolled_mm: float, text: str = "") -> Tyre:
    """Return a wheel that rolls so many mm in a turn; UserError for an unlikely one."""
    shown = text or f"{rolled_mm:g}mm"
    if not LEAST_ROLLED_MM <= rolled_mm <= MOST_ROLLED_MM:
        raise UserError(
            f"a wheel rolls {LEAST_ROLLED_MM:g} to {MOST_ROLLED_MM:g} mm in a turn, not "
            f"{rolled_mm:.4g}",
            shown,
            _slip_of_length(rolled_mm),
        )
    return Tyre(shown, rolled_mm)


def parse_tyre(text: str) -> Tyre:
    """Read a tyre's size, a circumference or turns; raise UserError with what would be right.

    `165/80R15` and `165R15` (radial), `5.60-15` (cross-ply, inches), `6.00R16`, `1935mm` (rolled
    in one turn), `830/mile`, `516/km`. Letters of speed and load are passed over.
    """
    word = "".join(text.split()).upper()
    readers: tuple[tuple[re.Pattern[str], Callable[[str, re.Match[str]], Tyre]], ...] = (
        (_METRIC, _metric),
        (_METRIC_BARE, _metric_bare),
        (_INCHES, _inches),
        (_TURNS, _turns),
        (_ROLLED, _rolled),
    )
    for pattern, read in readers:
        found = pattern.match(word)
        if found is None:
            continue
        rest = word[found.end() :]
        sized = pattern in (_METRIC, _METRIC_BARE, _INCHES)
        if not rest or (sized and _LOAD.fullmatch(rest)):
            return read(text.strip(), found)
    raise UserError("no size of a tyre was read", _shown(text), _mend(word))


def _metric(text: str, found: re.Match[str]) -> Tyre:
    width, height, build, rim = int(found[1]), int(found[2]), found[3], int(found[4])
    if height > 100 and width <= 100:
        raise UserError(
            "the width stands before the height", text, f"did you mean {height}/{width}R{rim}?"
        )
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
    return of_circumference(float(found[1].replace(",", ".")), text)


def _turns(text: str, found: re.Match[str]) -> Tyre:
    turns = float(found[1].replace(",", "."))
    per, other, name = (KM_MM, MILE_MM, "mile") if found[2] == "KM" else (MILE_MM, KM_MM, "km")
    if turns <= 0:
        raise UserError("turns are more than 0", text, _FORMS)
    if LEAST_ROLLED_MM <= per / turns <= MOST_ROLLED_MM:
        return Tyre(text, per / turns)
    fits = LEAST_ROLLED_MM <= other / turns <= MOST_ROLLED_MM
    raise UserError(
        f"a wheel would roll {per / turns:.0f} mm in a turn",
        text,
        f"did you mean {turns:g}/{name}?" if fits else "count the turns again",
    )


def _check_rim(rim: int, text: str) -> None:
    if LEAST_RIM <= rim <= MOST_RIM:
        return
    inches = round(rim / 2.54)
    raise UserError(
        f"a rim is {LEAST_RIM} to {MOST_RIM} inches, not {rim}",
        text,
        f"in centimetres? then {inches} inches" if LEAST_RIM <= inches <= MOST_RIM else _FORMS,
    )


def _slip_of_length(rolled: float) -> str:
    """Return what was likely meant by a circumference that no wheel has."""
    if LEAST_ROLLED_MM <= rolled * INCH_MM <= MOST_ROLLED_MM:
        return f"in inches? then {rolled * INCH_MM:.0f}mm"
    if LEAST_ROLLED_MM <= rolled * pi <= MOST_ROLLED_MM:
        return f"a diameter? then {rolled * pi:.0f}mm"
    if LEAST_ROLLED_MM <= rolled * pi * INCH_MM <= MOST_ROLLED_MM:
        return f"a diameter in inches? then {rolled * pi * INCH_MM:.0f}mm"
    if LEAST_ROLLED_MM <= rolled * 1000 <= MOST_ROLLED_MM:
        return f"in metres? then {rolled * 1000:.0f}mm"
    return _FORMS


def _mend(word: str) -> str:
    found = re.fullmatch(r"([0-9])([0-9]{2})-([0-9]{2})", word)
    if found is not None:
        if int(found[1] + found[2]) < _LEAST_BARE_INCHES:
            return f"did you mean {found[1]}{found[2]}R{found[3]}?"
        return f"did you mean {found[1]}.{found[2]}-{found[3]}?"
    return _FORMS


def _shown(text: str) -> str:
    clean = "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text)
    return clean if len(clean) <= 40 else clean[:37] + "…"
