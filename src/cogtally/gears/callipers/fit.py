"""How well one standard explains the measurements of one wheel: the best helix and shift for it.

Which standards are tried and how they are ranked against each other is left to `callipers`.

A cost is −ln of a weight and costs add up. The model: a reading is normal about what the wheel
gives, with half the tolerance as standard deviation; the shift is normal about 0; a tooth may be
thinner than standard (cut so for backlash, or worn) and a tip may be lower (shortened for the
mate, or turned down), each the rarer the more of it. Every figure is a named constant here.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import atan, degrees, radians, sin, tan

from cogtally.gears.callipers.involute import (
    base_helix,
    reference_diameter,
    span,
    span_width,
    sum_of_shifts,
    tip_diameter,
)
from cogtally.gears.callipers.measured import AT_TIP, Measured, across_odd
from cogtally.gears.callipers.standards import Standard

#: Standard deviation of a reading, in tolerances.
SIGMA = 0.5
#: Standard deviation of a profile shift, in modules, and the limits of any.
SHIFT_SPREAD = 0.3
LEAST_SHIFT, MOST_SHIFT = -0.8, 1.2
#: Teeth thinner along the span than standard, mm: the mean of it, and the most.
THINNING_MEAN, THINNING_MOST = 0.05, 0.6
#: One tip in twelve is lower than standard; then by so much of diameter on average, mm; the most.
CUT_CHANCE, CUT_MEAN, CUT_MOST = 1 / 12, 0.3, 1.2
#: A whole depth may be this far from the standard one, in modules: roots vary with the cutter
#: (common practice, no source).
DEPTH_TOLERANCE = 0.15
#: Helices, where none was measured: as likely as straight teeth, anywhere up to this, degrees.
STEEPEST_DEG = 45.0
GENTLEST_DEG = 3.0


@dataclass(frozen=True, slots=True)
class Fit:
    """The best that one standard can do near one helix. Lengths in mm, angles in degrees.

    `thinning`: how much shorter every span is than standard; `cut`: how much lower the outside
    diameter. `land`: how much more callipers reach across odd teeth because tips are no edges.
    The errors are two standard deviations. `misfit` is the cost of the residuals alone, `cost`
    all but what the standard itself costs, `worst` the largest residual in tolerances.
    """

    teeth: int
    standard: Standard
    helix: float
    shift: float
    thinning: float = 0.0
    cut: float = 0.0
    land: float = 0.0
    helix_error: float = 0.0
    shift_error: float = 0.0
    misfit: float = 0.0
    cost: float = 0.0
    worst: float = 0.0

    @property
    def outside(self) -> float:
        """True outside diameter as this explanation has it, tips lowered."""
        return self.uncut_outside - self.cut

    @property
    def uncut_outside(self) -> float:
        """Outside diameter of the standard with this shift."""
        standard = self.standard
        return tip_diameter(
            self.teeth,
            standard.module_mm,
            radians(self.helix),
            self.shift,
            float(standard.addendum),
        )

    def reading(self, jaws: str | None) -> float:
        """Return what callipers would read across the tips."""
        return self.outside * across_odd(self.teeth, jaws) + self.land

    def span(self, across: int) -> float:
        """Return what a span over so many teeth would measure, thinning taken off."""
        standard = self.standard
        return (
            span(
                self.teeth,
                standard.module_mm,
                standard.angle,
                radians(self.helix),
                self.shift,
                across,
            )
            - self.thinning
        )

    @property
    def depth(self) -> float:
        """Whole height of a tooth as this explanation has it, tips lowered, mm."""
        return whole_depth(self.standard) * self.standard.module_mm - self.cut / 2

    def mate_shift(self, mate: int, centres: float) -> float:
        """Return the shift that the mate needs at a centre distance; ValueError if impossible."""
        standard = self.standard
        return (
            sum_of_shifts(
                self.teeth + mate,
                standard.module_mm,
                standard.angle,
                radians(self.helix),
                centres,
            )
            - self.shift
        )

    def helix_at(self, circle: str) -> float:
        """Return the helix angle at the `reference` or the `tip` circle."""
        if circle != AT_TIP:
            return self.helix
        helix = radians(self.helix)
        reference = reference_diameter(self.teeth, self.standard.module_mm, helix)
        return degrees(atan(tan(helix) * self.outside / reference))


def residuals(fit: Fit, seen: Measured) -> list[tuple[str, float]]:
    """Return (what, measured less explained, in tolerances) of each thing measured."""
    found = []
    if seen.outside is not None:
        found.append(("outside", (seen.outside - fit.reading(seen.jaws)) / seen.tolerance))
    found += [
        (f"span {s.across}", (s.length - fit.span(s.across)) / seen.tolerance) for s in seen.spans
    ]
    if seen.helix is not None and seen.helix > 0:
        off = seen.helix - fit.helix_at(seen.helix_at)
        found.append(("helix", off / seen.helix_tolerance))
    if seen.depth is not None:
        off = seen.depth - fit.depth
        found.append(("depth", off / (DEPTH_TOLERANCE * fit.standard.module_mm)))
    return found


def whole_depth(standard: Standard) -> float:
    """Return the whole height of a tooth, tip to root, in modules."""
    return float(standard.addendum + standard.dedendum)


def too_narrow(fit: Fit, seen: Measured) -> bool:
    """Tell whether the wheel is too narrow for a span that was measured: width ≤ W sin β_b.

    The width was measured too: a wheel within its tolerance of wide enough is not too narrow.
    """
    if seen.width is None or fit.helix == 0:
        return False
    helix = base_helix(fit.standard.angle, radians(fit.helix))
    return any(s.length * sin(helix) >= seen.width + seen.tolerance for s in seen.spans)


def widest_needed(fit: Fit, seen: Measured) -> float:
    """Return the width that the longest measured span needs, mm; 0 without spans."""
    lengths = [s.length for s in seen.spans]
    return span_width(fit.standard.angle, radians(fit.helix), max(lengths)) if lengths else 0.0
