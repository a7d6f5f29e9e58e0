"""The pitches, racks and tooth heights that gears are cut to: ISO 54, ISO 53, diametral pitch.

What a wheel of such a standard measures is left to `involute` and `callipers`.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from math import radians

from cogtally.gears.callipers.involute import Shape
from cogtally.gears.errors import UserError

INCH_MM = Fraction(127, 5)

#: ISO 54, series I, in millimetres.
MODULES_I = ("1", "1.25", "1.5", "2", "2.5", "3", "4", "5", "6", "8", "10", "12", "16", "20")
#: ISO 54, series II. 6.5 stands there in brackets; see MODULES_OLD.
MODULES_II = (
    *("1.125", "1.375", "1.75", "2.25", "2.75", "3.5", "4.5", "5.5", "7", "9", "11", "14", "18"),
)
#: To be avoided: 6.5 (ISO 54, in brackets), 3.25 and 3.75 (older national lists).
MODULES_OLD = ("3.25", "3.75", "6.5")
#: Diametral pitches of the first row, teeth to an inch of reference diameter (from memory).
PITCHES_I = ("20", "16", "12", "10", "8", "6", "5", "4", "3", "2.5", "2")
#: Diametral pitches of the second row (from memory).
PITCHES_II = ("24", "22", "18", "14", "11", "9", "7", "5.5", "4.5", "3.5")
#: Normal pressure angles in degrees, the usual one first.
ANGLES = (Fraction(20), Fraction(29, 2), Fraction(35, 2), Fraction(45, 2), Fraction(25))
#: Stub teeth of two pitches, a/b: as wide as a teeth to the inch, as high as b (from memory).
STUBS = ((4, 5), (5, 7), (6, 8), (7, 9), (8, 10), (9, 11), (10, 12), (12, 14))

FULL_ADDENDUM = Fraction(1)
#: Addendum of a plain stub tooth, in modules: 0.8 (from memory).
STUB_ADDENDUM = Fraction(4, 5)
#: Dedendum less addendum, in modules: 0.25 in ISO 53, profile A; 0.2 in stub teeth (from memory).
FULL_CLEARANCE, STUB_CLEARANCE = Fraction(1, 4), Fraction(1, 5)

MODULE, DIAMETRAL = "module", "diametral pitch"


@dataclass(frozen=True, slots=True)
class Pitch:
    """One pitch: `name` (`module 2.5`, `10 DP`), its normal module in mm, exact, and its row.

    `row` is 1 for preferred, 2 for second choice, 3 for one to be avoided.
    """

    name: str
    system: str
    module: Fraction
    row: int


@dataclass(frozen=True, slots=True)
class Standard:
    """A way to cut teeth: pitch, normal pressure angle in degrees, heights in modules.

    `tooth` is `full`, `stub`, or a stub of two pitches by its name, `6/8`.
    """

    pitch: Pitch
    angle_deg: Fraction
    tooth: str
    addendum: Fraction
    dedendum: Fraction

    @property
    def name(self) -> str:
        """The standard in words: `module 2.5, 20°, full teeth`; `6/8 DP, 20°, stub teeth`."""
        if "/" in self.tooth:
            return f"{self.tooth} DP, {degrees_text(self.angle_deg)}, stub teeth"
        return f"{self.pitch.name}, {degrees_text(self.angle_deg)}, {self.tooth} teeth"

    @property
    def module_mm(self) -> float:
        """Normal module in millimetres."""
        return float(self.pitch.module)

    @property
    def angle(self) -> float:
        """Normal pressure angle in radians."""
        return radians(self.angle_deg)

    def shape(self, teeth: int, helix_deg: float = 0.0, shift: float = 0.0) -> Shape:
        """Return the shape of a wheel of this standard, the shift in modules."""
        high = float(self.addendum)
        return Shape(teeth, self.module_mm, self.angle, radians(helix_deg), shift, high)

    @property
    def is_stub(self) -> bool:
        """Whether the teeth are lower than full."""
        return self.addendum < FULL_ADDENDUM


def degrees_text(angle: Fraction) -> str:
    """Return an angle as people write it: `20°`, `14.5°`."""
    return f"{float(angle):g}°"


def module(text: str, row: int = 1) -> Pitch:
    """Return the pitch of a module written in millimetres."""
    return Pitch(f"module {text}", MODULE, Fraction(text), row)


def diametral(text: str, row: int = 1) -> Pitch:
    """Return the pitch of so many teeth to an inch of reference diameter: m = 25.4 / DP."""
    return Pitch(f"{text} DP", DIAMETRAL, INCH_MM / Fraction(text), row)


@cache
def pitches() -> tuple[Pitch, ...]:
    """Return every pitch that is looked for, finest first."""
    rows = (
        *(module(text, 1) for text in MODULES_I),
        *(module(text, 2) for text in MODULES_II),
        *(module(text, 3) for text in MODULES_OLD),
        *(diametral(text, 1) for text in PITCHES_I),
        *(diametral(text, 2) for text in PITCHES_II),
    )
    return tuple(sorted(rows, key=lambda pitch: pitch.module))


def full(pitch: Pitch, angle_deg: Fraction = ANGLES[0]) -> Standard:
    """Return full-depth teeth of a pitch, rack profile A of ISO 53 where the angle is 20°."""
    return Standard(pitch, angle_deg, "full", FULL_ADDENDUM, FULL_ADDENDUM + FULL_CLEARANCE)


def stub(pitch: Pitch, angle_deg: Fraction = ANGLES[0]) -> Standard:
    """Return plain stub teeth of a pitch."""
    return Standard(pitch, angle_deg, "stub", STUB_ADDENDUM, STUB_ADDENDUM + STUB_CLEARANCE)


def stub_of_two(wide: int, high: int, angle_deg: Fraction = ANGLES[0]) -> Standard:
    """Return stub teeth `wide`/`high`: circular size of the first pitch, height of the second.

    Addendum 1/b inch, dedendum 1.25/b inch; ValueError unless the second pitch is the finer.
    """
    if not 0 < wide < high:
        raise ValueError("the second pitch of stub teeth is the finer one")
    height = Fraction(wide, high)
    row = 1 if str(wide) in PITCHES_I else 2
    return Standard(
        diametral(str(wide), row), angle_deg, f"{wide}/{high}", height, height * Fraction(5, 4)
    )


def heights(pitch: Pitch, angle_deg: Fraction) -> tuple[Standard, ...]:
    """Return the tooth heights in which a pitch is looked for: full, stub, and its a/b if any.

    Where a/b is as high as the plain stub tooth (4/5, 8/10) it stands for it.
    """
    pairs = [s for s in STUBS if pitch.system == DIAMETRAL and pitch.module == INCH_MM / s[0]]
    named = tuple(stub_of_two(wide, high, angle_deg) for wide, high in pairs)
    plain = () if any(s.addendum == STUB_ADDENDUM for s in named) else (stub(pitch, angle_deg),)
    return (full(pitch, angle_deg), *plain, *named)


@cache
def standards() -> tuple[Standard, ...]:
    """Return every standard that is looked for, in a fixed order."""
    return tuple(s for pitch in pitches() for angle in ANGLES for s in heights(pitch, angle))


def find_standard(pitch: str, angle: str = "20", tooth: str = "full") -> Standard:
    """Return the standard of what a person wrote: `2.5` or `10dp` or `6/8dp`; raise UserError.

    `pitch` is a module in mm, or ends in `dp`; it need not be in any series. `tooth` is `full` or
    `stub`.
    """
    angle_deg = _number(angle.removesuffix("°"), "a pressure angle", "write degrees, as 20 or 14.5")
    if not 10 <= angle_deg <= 35:
        raise UserError("a pressure angle is 10 to 35 degrees", angle, "20 is usual, 14.5 older")
    if tooth not in ("full", "stub"):
        raise UserError("teeth are full or stub", tooth, "write full or stub")
    text = pitch.strip().lower().replace(" ", "")
    if "/" in text:
        first, _, second = text.removesuffix("dp").partition("/")
        if not (first.isascii() and first.isdigit() and second.isascii() and second.isdigit()):
            raise UserError("stub teeth of two pitches are written a/b", pitch, "for example 6/8dp")
        if not 0 < int(first) < int(second) <= 100:
            raise UserError("the second pitch of stub teeth is the finer", pitch, "as in 6/8dp")
        return stub_of_two(int(first), int(second), angle_deg)
    in_inches = text.endswith("dp")
    text = text.removesuffix("dp") if in_inches else text.removeprefix("module").removeprefix("m")
    value = _number(text, "a pitch", "write a module in mm, as 2.5, or a pitch, as 10dp")
    if not Fraction(1, 10) <= value <= 200:
        raise UserError("a pitch is 0.1 to 200", pitch, "a module in mm as 2.5, or 10dp")
    size = value if not in_inches else INCH_MM / value
    known = {(p.system, p.module): p for p in pitches()}
    system = DIAMETRAL if in_inches else MODULE
    new = diametral(f"{float(value):g}", 3) if in_inches else module(f"{float(value):g}", 3)
    found = known.get((system, size), Pitch(new.name, system, size, 3))
    return full(found, angle_deg) if tooth == "full" else stub(found, angle_deg)


def _number(text: str, what: str, mend: str) -> Fraction:
    body, _, decimals = text.strip().replace(",", ".").partition(".")
    digits = body + decimals
    if not digits or not digits.isascii() or not digits.isdigit() or len(digits) > 9:
        raise UserError(f"{what} was expected", text, mend)
    return Fraction(int(digits), 10 ** len(decimals))
