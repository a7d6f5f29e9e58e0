"""From a standard to the diameters and spans to expect of it, in a table over teeth.

The way back, from measurements to a standard, is left to `callipers`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import degrees, isfinite, radians

from cogtally.gears.callipers.fit import LEAST_SHIFT, MOST_SHIFT
from cogtally.gears.callipers.involute import (
    base_diameter,
    base_helix,
    form_diameter,
    helix_at,
    least_shift,
    reference_diameter,
    root_diameter,
    span,
    span_contact,
    span_width,
    teeth_to_span,
    tip_diameter,
    tooth_thickness,
)
from cogtally.gears.callipers.measured import (
    FEWEST_TEETH,
    FLAT,
    LARGEST_HELIX_DEG,
    MOST_TEETH,
    POINTS,
    across_odd,
)
from cogtally.gears.callipers.standards import Standard
from cogtally.gears.errors import UserError

#: A wheel whose tip land is thinner than this many modules counts as pointed
#: (common practice, no source).
THIN_TIP = 0.2


@dataclass(frozen=True, slots=True)
class SpanExpected:
    """One span to expect: across so many teeth, its length and the width that it needs, mm.

    `touches_flank` is false where the jaws would meet above the tip or below the involute.
    """

    across: int
    length: float
    width_needed: float
    touches_flank: bool


@dataclass(frozen=True, slots=True)
class Wheel:
    """What one wheel of a standard measures: lengths in mm, angles in degrees.

    `points` and `flat` are what callipers read across the tips with either kind of jaws, tips
    taken as edges: the same as `outside` where the teeth are even in number. `spans` are those
    over k and k + 1 teeth, k the best to take. No tooth is thinned for backlash here.
    """

    standard: Standard
    teeth: int
    helix: float
    shift: float
    reference: float
    outside: float
    root: float
    base: float
    points: float
    flat: float
    tip_helix: float
    tip_land: float
    spans: tuple[SpanExpected, ...]
    warnings: tuple[str, ...]


def wheel(standard: Standard, teeth: int, helix_deg: float = 0.0, shift: float = 0.0) -> Wheel:
    """Return what one wheel of a standard measures; UserError for values that no wheel has."""
    _check(teeth, helix_deg, shift)
    helix, module, angle = radians(helix_deg), standard.module_mm, standard.angle
    high = float(standard.addendum)
    reference = reference_diameter(teeth, module, helix)
    outside = tip_diameter(teeth, module, helix, shift, high)
    base = base_diameter(teeth, module, angle, helix)
    if outside <= base:
        raise UserError(
            "the teeth would end inside the base circle", f"{teeth} teeth", "give more shift"
        )
    land = tooth_thickness(teeth, module, angle, helix, shift, outside)
    best = teeth_to_span(teeth, module, angle, helix, shift)
    warnings = []
    if shift < least_shift(teeth, angle, helix, high):
        warnings.append("undercut at the root")
    if land < 0:
        warnings.append("pointed below its full height")
    elif land < THIN_TIP * module:
        warnings.append("tips nearly pointed")
    return Wheel(
        standard,
        teeth,
        helix_deg,
        shift,
        reference,
        outside,
        root_diameter(teeth, module, helix, shift, float(standard.dedendum)),
        base,
        outside * across_odd(teeth, POINTS),
        outside * across_odd(teeth, FLAT),
        degrees(helix_at(outside, reference, helix)),
        land,
        tuple(
            expected_span(standard, teeth, helix_deg, shift, across) for across in (best, best + 1)
        ),
        tuple(warnings),
    )


def expected_span(
    standard: Standard, teeth: int, helix_deg: float, shift: float, across: int
) -> SpanExpected:
    """Return the span to expect across so many teeth of a wheel."""
    helix, module, angle = radians(helix_deg), standard.module_mm, standard.angle
    length = span(teeth, module, angle, helix, shift, across)
    high = float(standard.addendum)
    touch = span_contact(teeth, module, angle, helix, length)
    begins = form_diameter(teeth, module, angle, helix, shift, high)
    ends = tip_diameter(teeth, module, helix, shift, high)
    return SpanExpected(
        across, length, span_width(angle, helix, length), length > 0 and begins <= touch <= ends
    )


def table(
    standard: Standard, teeth: Iterable[int], helix_deg: float = 0.0, shift: float = 0.0
) -> tuple[Wheel, ...]:
    """Return a row for each number of teeth; UserError for values that no wheel has."""
    return tuple(wheel(standard, z, helix_deg, shift) for z in teeth)


def require_width(
    standard: Standard, teeth: int, helix_deg: float, shift: float, across: int, width: float
) -> SpanExpected:
    """Return a span that a wheel of `width` mm can give; UserError where width ≤ W sin β_b.

    The error says how many teeth to span instead.
    """
    wanted = expected_span(standard, teeth, helix_deg, shift, across)
    if wanted.width_needed < width:
        return wanted
    fewer = [
        k
        for k in range(across - 1, 0, -1)
        if (less := expected_span(standard, teeth, helix_deg, shift, k)).touches_flank
        and less.width_needed < width
    ]
    raise UserError(
        f"the span across {across} teeth needs a wheel wider than {wanted.width_needed:.1f} mm, "
        f"and it is {width:g}",
        "width",
        f"span {fewer[0]} teeth" if fewer else "no span can be taken on a wheel so narrow",
    )


def base_helix_deg(standard: Standard, helix_deg: float) -> float:
    """Return the helix angle at the base circle, degrees."""
    return degrees(base_helix(standard.angle, radians(helix_deg)))


def _check(teeth: int, helix_deg: float, shift: float) -> None:
    if not isinstance(teeth, int) or not FEWEST_TEETH <= teeth <= MOST_TEETH:
        raise UserError(
            f"teeth are {FEWEST_TEETH} to {MOST_TEETH}", str(teeth), "as 24, or a range 20-30"
        )
    if not isfinite(helix_deg) or not 0 <= helix_deg <= LARGEST_HELIX_DEG:
        raise UserError(
            f"a helix is 0 to {LARGEST_HELIX_DEG:g} degrees", f"{helix_deg:g}", "without its hand"
        )
    if not isfinite(shift) or not LEAST_SHIFT <= shift <= MOST_SHIFT:
        raise UserError(
            f"a shift is {LEAST_SHIFT:g} to {MOST_SHIFT:g} modules",
            f"{shift:g}",
            "shift is written in modules, not in mm",
        )
