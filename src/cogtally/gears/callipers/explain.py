"""What one explanation of a wheel's measurements says: what it expects, how it holds, what to note.

Which explanations there are, and how they rank, is left to `callipers`.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import radians

from cogtally.gears.callipers.fit import (
    DEPTH_TOLERANCE,
    LEAST_SHIFT,
    MOST_SHIFT,
    Fit,
    widest_needed,
)
from cogtally.gears.callipers.involute import form_diameter, least_shift, span_contact
from cogtally.gears.callipers.measured import Measured
from cogtally.gears.callipers.standards import Standard

#: An explanation whose every residual is within this many tolerances fits.
FITS = 1.0
#: Teeth cut thinner for backlash by so many modules along the span are usual and sound (from
#: memory: half of a backlash of 0.04 modules round the circle).
USUAL_THINNING = 0.02
#: A helix known no better than this, two standard deviations in degrees, is not settled.
UNSETTLED_HELIX_DEG = 5.0

SOUND, LOWERED, THIN, BOTH, BEYOND = "sound", "lowered tip", "thin teeth", "both", "beyond"


@dataclass(frozen=True, slots=True)
class Prediction:
    """One thing measured, beside what an explanation would have measured, in mm or degrees.

    `what` is `outside`, `span 4`, `helix` or `depth`; `off` is measured less expected.
    """

    what: str
    measured: float
    expected: float
    tolerance: float

    @property
    def off(self) -> float:
        """Measured less expected."""
        return self.measured - self.expected


@dataclass(frozen=True, slots=True)
class Explanation:
    """One standard with its helix and shift, what it would have measured, and its weight.

    `state`: `sound`; `lowered tip`, `thin teeth` or `both` where it holds only so; `beyond`
    where a residual is outside its tolerance. `share` is its part of all weight, not a
    probability of the real world. `notes` are sentences.
    """

    fit: Fit
    state: str
    share: float
    predictions: tuple[Prediction, ...]
    notes: tuple[str, ...]

    @property
    def standard(self) -> Standard:
        """The standard of this explanation."""
        return self.fit.standard

    @property
    def fits(self) -> bool:
        """Whether every measurement is within its tolerance, wear and lowered tips allowed."""
        return self.fit.worst <= FITS


def predictions(fit: Fit, seen: Measured) -> tuple[Prediction, ...]:
    """Return what an explanation would have measured, for each thing that was measured."""
    within = seen.tolerance
    found = []
    if seen.outside is not None:
        found.append(Prediction("outside", seen.outside, fit.reading(seen.jaws), within))
    found += [
        Prediction(f"span {s.across}", s.length, fit.span(s.across), within) for s in seen.spans
    ]
    if seen.helix is not None:
        helix = fit.helix_at(seen.helix_at)
        found.append(Prediction("helix", seen.helix, helix, seen.helix_tolerance))
    if seen.depth is not None:
        room = DEPTH_TOLERANCE * fit.standard.module_mm
        found.append(Prediction("depth", seen.depth, fit.depth, room))
    return tuple(found)


def state(fit: Fit, seen: Measured) -> str:
    """Return how an explanation holds: sound, by a lowered tip, by thin teeth, or not quite."""
    if fit.worst > FITS:
        return BEYOND
    lowered = fit.cut > seen.tolerance
    thin = fit.thinning > seen.tolerance + USUAL_THINNING * fit.standard.module_mm
    if lowered and thin:
        return BOTH
    return LOWERED if lowered else THIN if thin else SOUND


def notes(fit: Fit, seen: Measured) -> tuple[str, ...]:
    """Return what must be said beside an explanation, in sentences; lengths in mm."""
    module, angle = fit.standard.module_mm, fit.standard.angle
    helix = radians(fit.helix)
    found = []
    if fit.cut > seen.tolerance:
        found.append(
            f"tips {fit.cut:.2f} mm lower on the diameter than standard: turned down, worn, or "
            "shortened for the mate"
        )
    if fit.thinning > seen.tolerance:
        found.append(
            f"teeth {fit.thinning:.2f} mm thinner along the span than standard: cut so for "
            "backlash, or worn"
        )
    if fit.land > seen.tolerance:
        found.append(f"tips are no edges: callipers reach {fit.land:.2f} mm further across them")
    if fit.helix and fit.helix_error > UNSETTLED_HELIX_DEG:
        found.append("these measurements do not settle the helix: measure its angle")
    if seen.centres is not None and seen.mate is not None:
        shift = fit.mate_shift(seen.mate, seen.centres)
        found.append(f"the mate of {seen.mate} teeth would have shift {shift:+.2f}")
        if not LEAST_SHIFT <= shift <= MOST_SHIFT:
            found.append("that is a shift that hardly any wheel has: check the centre distance")
    if seen.spans and fit.helix and seen.width is None:
        found.append(f"its spans need a wheel wider than {widest_needed(fit, seen):.1f} mm")
    begins = form_diameter(fit.teeth, module, angle, helix, fit.shift, float(fit.standard.addendum))
    for taken in seen.spans:
        touch = span_contact(fit.teeth, module, angle, helix, taken.length)
        if touch < begins - seen.tolerance:
            found.append(f"across {taken.across} teeth the jaws would touch below the flank")
        elif touch > fit.outside + seen.tolerance:
            found.append(f"across {taken.across} teeth the jaws would touch above the tip")
    if fit.shift < least_shift(fit.teeth, angle, helix, float(fit.standard.addendum)):
        found.append("its teeth would be undercut at the root")
    return tuple(found)
