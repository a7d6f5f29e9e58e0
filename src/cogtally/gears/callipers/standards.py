"""The pitches, racks and tooth heights that gears are cut to: ISO 54, ISO 53, diametral pitch.

What a wheel of such a standard measures is left to `involute` and `callipers`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache, cached_property
from math import acos, asin, atan, cos, hypot, pi, radians, sin, sqrt, tan

from cogtally.gears.errors import UserError


def involute(angle: float) -> float:
    """Return inv α = tan α − α, for |α| below a right angle."""
    return tan(angle) - angle


def transverse_angle(angle: float, helix: float) -> float:
    """Return α_t of the section across the axis: tan α_t = tan α_n / cos β."""
    return atan(tan(angle) / cos(helix))


def base_pitch(module: float, angle: float) -> float:
    """Return p_bn = π · m_n · cos α_n, the normal base pitch: a span grows by it a tooth."""
    return pi * module * cos(angle)


@dataclass(frozen=True)
class Shape:
    """One external wheel, or the teeth of two together, as a rack cuts it.

    `teeth` z; `module` the normal module m_n; `angle` the normal pressure angle α_n; `helix` the
    helix angle β at the reference circle; `shift` the profile shift coefficient x in modules;
    `addendum` the height h_a of the rack's tooth in modules.
    """

    teeth: float
    module: float
    angle: float
    helix: float = 0.0
    shift: float = 0.0
    addendum: float = 1.0

    @cached_property
    def transverse(self) -> float:
        """The angle α_t of the section across the axis."""
        return transverse_angle(self.angle, self.helix)

    @cached_property
    def base_helix(self) -> float:
        """The helix angle β_b at the base circle: sin β_b = sin β · cos α_n."""
        return asin(sin(self.helix) * cos(self.angle))

    @cached_property
    def reference(self) -> float:
        """The reference diameter d = z · m_n / cos β."""
        return self.teeth * self.module / cos(self.helix)

    @cached_property
    def base(self) -> float:
        """The base diameter d_b = d · cos α_t."""
        return self.reference * cos(self.transverse)

    @property
    def tip(self) -> float:
        """The tip diameter d_a = d + 2 m_n (h_a + x), no tip shortened."""
        return self.reference + 2 * self.module * (self.addendum + self.shift)

    def root(self, dedendum: float) -> float:
        """Return d_f = d − 2 m_n (h_f − x)."""
        return self.reference - 2 * self.module * (dedendum - self.shift)

    def helix_at(self, diameter: float) -> float:
        """Return the helix angle at `diameter`, of one lead: tan β_y / diameter = tan β / d."""
        return atan(tan(self.helix) * diameter / self.reference)

    def span(self, across: float) -> float:
        """Return W_k, the span across `across` teeth, normal to the flanks.

        W_k = m_n cos α_n [(k − ½) π + z inv α_t] + 2 x m_n sin α_n, without thinning for backlash.
        """
        turned = involute(self.transverse)
        return self.module * cos(self.angle) * ((across - 0.5) * pi + self.teeth * turned) + (
            2 * self.shift * self.module * sin(self.angle)
        )

    def contact(self, spanned: float) -> float:
        """Return the diameter at which the jaws of a span touch: √(d_b² + (W cos β_b)²)."""
        return hypot(self.base, spanned * cos(self.base_helix))

    def width(self, spanned: float) -> float:
        """Return W · sin β_b: a wheel must be wider than this for both jaws to touch."""
        return spanned * sin(self.base_helix)

    @property
    def best_span(self) -> int:
        """The k at which the jaws touch nearest to half height, at d + 2 x m_n; at least 1."""
        reach = (self.reference + 2 * self.shift * self.module) ** 2 - self.base**2
        spanned = sqrt(reach) / cos(self.base_helix) if reach > 0 else 0.0
        flank = spanned - 2 * self.shift * self.module * sin(self.angle)
        turned = self.teeth * involute(self.transverse)
        return max(1, round((flank / (self.module * cos(self.angle)) - turned) / pi + 0.5))

    @property
    def form(self) -> float:
        """The diameter d_Ff where the involute of a hobbed wheel begins above the root.

        The rack's straight flank reaches as far below its datum line as its tooth above. Where the
        rack undercuts the tooth, the base diameter stands for it.
        """
        rise = (self.addendum - self.shift) * self.module / sin(self.transverse)
        along = self.reference / 2 * sin(self.transverse) - rise
        return hypot(self.base, 2 * along) if along > 0 else self.base

    @property
    def least_shift(self) -> float:
        """The shift below which the rack undercuts: h − z sin² α_t / (2 cos β)."""
        return self.addendum - self.teeth * sin(self.transverse) ** 2 / (2 * cos(self.helix))

    def thickness(self, diameter: float) -> float:
        """Return the transverse arc thickness of a tooth at `diameter`, negative beyond its point.

        s_y = d_y (s_t / d + inv α_t − inv α_y); ValueError inside the base circle.
        """
        if diameter < self.base:
            raise ValueError("there is no involute inside the base circle")
        half_turn = (pi / 2 + 2 * self.shift * tan(self.angle)) / self.teeth
        turned = involute(self.transverse) - involute(acos(self.base / diameter))
        return diameter * (half_turn + turned)

    def sum_of_shifts(self, centres: float) -> float:
        """Return the x1 + x2 that leaves two wheels of these teeth together no backlash.

        At a centre distance: cos α_wt = (d_b1 + d_b2) / 2a. ValueError where the centres stand
        closer than the two base circles.
        """
        nearest = self.base / 2
        if not centres >= nearest:
            raise ValueError("the base circles would overlap")
        turned = involute(acos(nearest / centres)) - involute(self.transverse)
        return turned * self.teeth / (2 * tan(self.angle))


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

FULL, STUB = "full", "stub"
#: Addendum and dedendum in modules: full teeth by ISO 53, profile A, plain stub ones from memory.
HEIGHTS = {FULL: (Fraction(1), Fraction(5, 4)), STUB: (Fraction(4, 5), Fraction(1))}

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
        angle = f"{float(self.angle_deg):g}°"
        if "/" in self.tooth:
            return f"{self.tooth} DP, {angle}, stub teeth"
        return f"{self.pitch.name}, {angle}, {self.tooth} teeth"

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
        return self.tooth != FULL


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


def stub_of_two(wide: int, high: int, angle_deg: Fraction = ANGLES[0]) -> Standard:
    """Return stub teeth `wide`/`high`: circular size of the first pitch, height of the second.

    Addendum 1/b inch, dedendum 1.25/b inch; the second pitch is the finer.
    """
    height, pitch = Fraction(wide, high), diametral(str(wide), 1 if str(wide) in PITCHES_I else 2)
    return Standard(pitch, angle_deg, f"{wide}/{high}", height, height * Fraction(5, 4))


def heights(pitch: Pitch, angle_deg: Fraction) -> tuple[Standard, ...]:
    """Return the tooth heights in which a pitch is looked for: full, stub, and its a/b if any.

    Where a/b is as high as the plain stub tooth (4/5, 8/10) it stands for it.
    """
    pairs = [s for s in STUBS if pitch.system == DIAMETRAL and pitch.module == INCH_MM / s[0]]
    named = tuple(stub_of_two(wide, high, angle_deg) for wide, high in pairs)
    plain = [Standard(pitch, angle_deg, tooth, *HEIGHTS[tooth]) for tooth in HEIGHTS]
    return (*(p for p in plain if all(s.addendum != p.addendum for s in named)), *named)


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
    if tooth not in HEIGHTS:
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
    new = (diametral if in_inches else module)(f"{float(value):g}", 3)
    known = {(p.system, p.module): p for p in pitches()}
    found = known.get((new.system, size), replace(new, module=size))
    return Standard(found, angle_deg, tooth, *HEIGHTS[tooth])


def _number(text: str, what: str, mend: str) -> Fraction:
    body, _, decimals = text.strip().replace(",", ".").partition(".")
    digits = body + decimals
    if not digits or not digits.isascii() or not digits.isdigit() or len(digits) > 9:
        raise UserError(f"{what} was expected", text, mend)
    return Fraction(int(digits), 10 ** len(decimals))
