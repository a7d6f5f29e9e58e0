"""Whether two wheels can run together at a centre distance: shifts, backlash, contact, clearance.

What standards the wheels have is left to `callipers`.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import acos, cos, degrees, isfinite, pi, radians, sin, sqrt, tan

from cogtally.gears.callipers.fit import Fit
from cogtally.gears.callipers.involute import (
    base_diameter,
    base_helix,
    base_pitch,
    centre_distance,
    involute,
    reference_diameter,
    root_diameter,
    sum_of_shifts,
    tip_diameter,
    transverse_angle,
)
from cogtally.gears.callipers.standards import Standard
from cogtally.gears.errors import UserError

#: Normal base pitches this near, as a part of themselves, work as one.
SAME_BASE_PITCH = 0.002
#: Helix angles at the base circle this near, in degrees, work as one.
SAME_HELIX_DEG = 0.5
#: Least contact ratio across the axis, for straight teeth (common practice, no source).
LEAST_CONTACT = 1.1
#: Backlash along the flanks that counts as none, mm.
NO_BACKLASH_MM = 0.005
LEFT, RIGHT = "left", "right"


@dataclass(frozen=True, slots=True)
class Gear:
    """One wheel that is to run: helix in degrees, shift and thinning as `callipers` finds them.

    `thinning` is how much shorter its spans are than standard, mm; `outside` its true outside
    diameter, where it is not that of its standard; `hand` left, right or None (not known).
    """

    standard: Standard
    teeth: int
    helix: float = 0.0
    shift: float = 0.0
    thinning: float = 0.0
    outside: float | None = None
    hand: str | None = None

    @property
    def tip(self) -> float:
        """Outside diameter, mm."""
        if self.outside is not None:
            return self.outside
        standard = self.standard
        return tip_diameter(
            self.teeth,
            standard.module_mm,
            radians(self.helix),
            self.shift,
            float(standard.addendum),
        )

    @property
    def root(self) -> float:
        """Root diameter of the standard, mm."""
        standard = self.standard
        return root_diameter(
            self.teeth,
            standard.module_mm,
            radians(self.helix),
            self.shift,
            float(standard.dedendum),
        )

    @property
    def base(self) -> float:
        """Base diameter, mm."""
        standard = self.standard
        return base_diameter(self.teeth, standard.module_mm, standard.angle, radians(self.helix))


@dataclass(frozen=True, slots=True)
class Mesh:
    """Two wheels at a centre distance. Lengths in mm, angles in degrees.

    `shifts` is x1 + x2 as the wheels have it; `shifts_needed` what would leave no backlash
    (None also for two standards that only share a base pitch).
    `backlash` is normal to the flanks, negative where the wheels would bind; None, with all that
    follows from the centre distance, where the wheels share no base pitch or helix or stand too
    close to mesh at all. `reasons` says why they cannot run, `warnings` what is doubtful.
    """

    runs: bool
    reasons: tuple[str, ...]
    warnings: tuple[str, ...]
    shifts: float
    shifts_needed: float | None = None
    backlash: float | None = None
    working_angle: float | None = None
    contact_ratio: float | None = None
    clearances: tuple[float, float] | None = None

    @property
    def backlash_sign(self) -> int | None:
        """1 with backlash, −1 where the wheels bind, 0 where there is none, None if not known."""
        if self.backlash is None:
            return None
        if abs(self.backlash) <= NO_BACKLASH_MM:
            return 0
        return 1 if self.backlash > 0 else -1


def gear_of(fit: Fit, hand: str | None = None) -> Gear:
    """Return the wheel that an explanation of measurements describes."""
    return Gear(fit.standard, fit.teeth, fit.helix, fit.shift, fit.thinning, fit.outside, hand)


def run_together(first: Gear, second: Gear, centres: float) -> Mesh:
    """Tell whether two external wheels on parallel shafts can run at a centre distance in mm.

    They can where normal base pitches and base helices agree, hands oppose, the centres leave
    backlash, tips clear roots, and a pair of teeth meets before the last one leaves.
    Raises UserError for a centre distance that is none or a hand that is none.
    """
    if not isfinite(centres) or centres <= 0:
        raise UserError("a centre distance is a length above 0", f"{centres:g}", "as 67.2")
    for gear in (first, second):
        if gear.hand not in (None, LEFT, RIGHT):
            raise UserError("a hand is left or right", str(gear.hand), "write left or right")
    shifts = first.shift + second.shift
    reasons = _strangers(first, second)
    if reasons:
        return Mesh(False, tuple(reasons), (), shifts)
    module, angle = first.standard.module_mm, first.standard.angle
    helix = radians((first.helix + second.helix) / 2)
    total = first.teeth + second.teeth
    nearest = (first.base + second.base) / 2
    if centres <= nearest:
        return Mesh(
            False,
            (f"the base circles meet at {nearest:.2f} mm: the shafts are closer",),
            (),
            shifts,
        )
    alike = second.standard.module_mm == module and second.standard.angle == angle
    needed = sum_of_shifts(total, module, angle, helix, centres) if alike else None
    backlash = _backlash(first, second, centres)
    contact = contact_ratio(first, second, centres)
    clearances = (
        centres - (first.tip + second.root) / 2,
        centres - (second.tip + first.root) / 2,
    )
    reasons, warnings = [], []
    if not alike:
        warnings.append("two standards that share one base pitch, so their shifts do not add up")
    if backlash < -NO_BACKLASH_MM:
        reasons.append(f"they would bind: the flanks overlap by {-backlash:.3f} mm")
    elif backlash <= NO_BACKLASH_MM:
        warnings.append("no backlash at all")
    if min(clearances) <= 0:
        reasons.append("a tip would strike the other wheel's root")
    if (first.tip + second.tip) / 2 <= centres:
        reasons.append("the tips do not reach each other")
    elif contact < 1 and not first.helix:
        reasons.append(f"contact ratio {contact:.2f}: a tooth leaves before the next one meets")
    elif contact < LEAST_CONTACT and not first.helix:
        warnings.append(f"contact ratio only {contact:.2f}")
    if _beyond(first, second, centres):
        warnings.append("a tip reaches past the other wheel's base tangent: it may strike the root")
    if first.helix and (first.hand is None or second.hand is None):
        warnings.append("look at the hands: one must be left, the other right")
    return Mesh(
        not reasons,
        tuple(reasons),
        tuple(warnings),
        shifts,
        needed,
        backlash,
        degrees(acos(nearest / centres)),
        contact,
        clearances,
    )


def contact_ratio(first: Gear, second: Gear, centres: float) -> float:
    """Return the transverse contact ratio ε_α: the path of contact over the base pitch across.

    g = √(r_a1² − r_b1²) + √(r_a2² − r_b2²) − a sin α_wt; negative where the tips do not meet.
    """
    working = acos((first.base + second.base) / 2 / centres)
    path = _reach(first) + _reach(second) - centres * sin(working)
    return path / _pitch_across(first)


def paired_tips(
    standard: Standard, teeth: tuple[int, int], shifts: tuple[float, float], helix_deg: float = 0.0
) -> tuple[float, float]:
    """Return both outside diameters, tips shortened so that the standard clearance is kept.

    d_a1 = d_1 + 2 m (h + y − x_2), y the centre distance beyond reference in modules, the wheels
    running without backlash; ISO 21771, tip shortening.
    """
    module, angle, helix = standard.module_mm, standard.angle, radians(helix_deg)
    total = sum(teeth)
    centres = centre_distance(total, module, angle, helix, sum(shifts))
    beyond = centres / module - total / (2 * cos(helix))
    first, second = (
        reference_diameter(z, module, helix)
        + 2 * module * (float(standard.addendum) + beyond - other)
        for z, other in zip(teeth, reversed(shifts), strict=True)
    )
    return first, second


def _strangers(first: Gear, second: Gear) -> list[str]:
    """Return why two wheels share no mesh at any centre distance."""
    found = []
    one = base_pitch(first.standard.module_mm, first.standard.angle)
    two = base_pitch(second.standard.module_mm, second.standard.angle)
    if abs(one - two) > SAME_BASE_PITCH * one:
        found.append(
            f"their teeth are not of one pitch: {one:.3f} and {two:.3f} mm from flank to flank"
        )
    helices = [degrees(_base_helix(gear)) for gear in (first, second)]
    if abs(helices[0] - helices[1]) > SAME_HELIX_DEG:
        found.append(f"their helices differ: {first.helix:.1f} and {second.helix:.1f} degrees")
    if first.helix and first.hand is not None and first.hand == second.hand:
        found.append(f"both are {first.hand}-handed: on parallel shafts hands must oppose")
    return found


def _backlash(first: Gear, second: Gear, centres: float) -> float:
    """Return the backlash normal to the flanks, mm, from the teeth's thickness at the base.

    Across the axis: j_b = p_b − Σ d_b (ψ_b − inv α_w), with ψ_b the angle of a tooth at its base
    circle; along the flank's normal cos β_b times that. Both wheels by their own standard.
    """
    slope = cos(_base_helix(first))
    working = acos((first.base + second.base) / 2 / centres)
    free = (_pitch_across(first) + _pitch_across(second)) / 2
    for gear in (first, second):
        angle, helix = gear.standard.angle, radians(gear.helix)
        tooth = (pi / 2 + 2 * gear.shift * tan(angle)) / gear.teeth
        at_base = tooth + involute(transverse_angle(angle, helix))
        free -= gear.base * (at_base - involute(working))
    return free * slope + first.thinning + second.thinning


def _pitch_across(gear: Gear) -> float:
    return pi * gear.base / gear.teeth


def _base_helix(gear: Gear) -> float:
    return base_helix(gear.standard.angle, radians(gear.helix))


def _reach(gear: Gear) -> float:
    return sqrt(max(0.0, gear.tip**2 - gear.base**2)) / 2


def _beyond(first: Gear, second: Gear, centres: float) -> bool:
    """Tell whether a tip circle passes the mate's base tangent point (interference)."""
    straight = sqrt(centres**2 - ((first.base + second.base) / 2) ** 2)
    return max(_reach(first), _reach(second)) > straight
