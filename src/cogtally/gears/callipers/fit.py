"""How well one standard explains the measurements of one wheel: the best helix and shift for it.

Which standards are tried and how they are ranked against each other is left to `callipers`.

A cost is −ln of a weight and costs add up. The model: a reading is normal about what the wheel
gives, with half the tolerance as standard deviation; the shift is normal about 0; a tooth may be
thinner than standard (cut so for backlash, or worn) and a tip may be lower (shortened for the
mate, or turned down), each the rarer the more of it. Every figure is a named constant here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from math import degrees

from cogtally.gears.callipers import measured
from cogtally.gears.callipers.standards import ANGLES, Shape, Standard

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
    The errors are two standard deviations, 0 where nothing was measured. `misfit` is the cost of
    the residuals alone, `cost` all but what the standard itself costs, `worst` the largest residual
    in tolerances. `hand` is left, right or None (not known).
    """

    standard: Standard
    teeth: int
    helix: float = 0.0
    shift: float = 0.0
    thinning: float = 0.0
    cut: float = 0.0
    land: float = 0.0
    helix_error: float = 0.0
    shift_error: float = 0.0
    misfit: float = 0.0
    cost: float = 0.0
    worst: float = 0.0
    hand: str | None = None

    @property
    def outside(self) -> float:
        """True outside diameter as this explanation has it, tips lowered."""
        return self.shape.tip - self.cut

    @property
    def shape(self) -> Shape:
        """The wheel as its standard cuts it, no tip lowered and no tooth thinned."""
        return self.standard.shape(self.teeth, self.helix, self.shift)

    def reading(self, jaws: str | None) -> float:
        """Return what callipers would read across the tips."""
        return self.outside * measured.across_odd(self.teeth, jaws) + self.land

    def span(self, across: int) -> float:
        """Return what a span over so many teeth would measure, thinning taken off."""
        return self.shape.span(across) - self.thinning

    @property
    def depth(self) -> float:
        """Whole height of a tooth as this explanation has it, tips lowered, mm."""
        return whole_depth(self.standard) * self.standard.module_mm - self.cut / 2

    def mate_shift(self, mate: int, centres: float) -> float:
        """Return the shift that the mate needs at a centre distance; ValueError if impossible."""
        together = self.standard.shape(self.teeth + mate, self.helix)
        return together.sum_of_shifts(centres) - self.shift

    def helix_at(self, circle: str) -> float:
        """Return the helix angle at the `reference` or the `tip` circle."""
        return (
            self.helix if circle != measured.AT_TIP else degrees(self.shape.helix_at(self.outside))
        )


def whole_depth(standard: Standard) -> float:
    """Return the whole height of a tooth, tip to root, in modules."""
    return float(standard.addendum + standard.dedendum)


def too_narrow(fit: Fit, seen: measured.Measured) -> bool:
    """Tell whether the wheel is too narrow for a span that was measured: width ≤ W sin β_b.

    The width was measured too: a wheel within its tolerance of wide enough is not too narrow.
    """
    if seen.width is None or fit.helix == 0:
        return False
    shape = fit.shape
    return any(shape.width(s.length) >= seen.width + seen.tolerance for s in seen.spans)


def widest_needed(fit: Fit, seen: measured.Measured) -> float:
    """Return the width that the longest measured span needs, mm; 0 without spans."""
    return fit.shape.width(max((s.length for s in seen.spans), default=0.0))


#: An explanation whose every residual is within this many tolerances fits.
FITS = 1.0
#: Teeth cut thinner for backlash by so many modules along the span are usual and sound (from
#: memory: half of a backlash of 0.04 modules round the circle).
USUAL_THINNING = 0.02
#: A helix known no better than this, two standard deviations in degrees, is not settled.
UNSETTLED_HELIX_DEG = 5.0

SOUND, LOWERED, THIN, BOTH, BEYOND = "sound", "lowered tip", "thin teeth", "both", "beyond"
#: Explanations of one standard are one, if helix and shift are this near: degrees, modules.
_SAME_HELIX, _SAME_SHIFT = 1.0, 0.05


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

    def is_like(self, other: Explanation) -> bool:
        """Tell whether two say nearly the same: one standard and count, helix and shift near."""
        one, two = self.fit, other.fit
        near = abs(one.helix - two.helix) < _SAME_HELIX and abs(one.shift - two.shift) < _SAME_SHIFT
        return near and (one.standard, one.teeth) == (two.standard, two.teeth)


def predictions(fit: Fit, seen: measured.Measured) -> tuple[Prediction, ...]:
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


def residuals(fit: Fit, seen: measured.Measured) -> list[float]:
    """Return measured less explained, in tolerances, of each thing measured but straight teeth."""
    found = [one for one in predictions(fit, seen) if one.what != "helix" or one.measured > 0]
    return [one.off / one.tolerance for one in found]


def state(fit: Fit, seen: measured.Measured) -> str:
    """Return how an explanation holds: sound, by a lowered tip, by thin teeth, or not quite."""
    if fit.worst > FITS:
        return BEYOND
    lowered = fit.cut > seen.tolerance
    thin = fit.thinning > seen.tolerance + USUAL_THINNING * fit.standard.module_mm
    if lowered and thin:
        return BOTH
    return LOWERED if lowered else THIN if thin else SOUND


def notes(fit: Fit, seen: measured.Measured) -> tuple[str, ...]:
    """Return what must be said beside an explanation, in sentences; lengths in mm."""
    shape = fit.shape
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
    for taken in seen.spans:
        touch = shape.contact(taken.length)
        if touch < shape.form - seen.tolerance:
            found.append(f"across {taken.across} teeth the jaws would touch below the flank")
        elif touch > fit.outside + seen.tolerance:
            found.append(f"across {taken.across} teeth the jaws would touch above the tip")
    if fit.shift < shape.least_shift:
        found.append("its teeth would be undercut at the root")
    return tuple(found)


#: Slips named at most.
MOST_SLIPS = 3


def slips(
    seen: measured.Measured, search: Callable[[measured.Measured], list[Fit]]
) -> tuple[str, ...]:
    """Return a sentence for each single slip after which a plain standard fits.

    `search` returns the fits of measurements, cheapest first. Plain: 20° or 14.5°, of a preferred
    row or the second, and sound.
    """
    found: list[tuple[float, str]] = []
    for sentence, other in _single_slips(seen):
        for fit in search(other):
            plain = fit.standard.pitch.row <= 2 and fit.standard.angle_deg in ANGLES[:2]
            if plain and state(fit, other) == SOUND:
                found.append((fit.cost, f"{sentence} {fit.standard.name} would fit"))
                break
    return tuple(sentence for _, sentence in sorted(found)[:MOST_SLIPS])


def _single_slips(seen: measured.Measured) -> Iterator[tuple[str, measured.Measured]]:
    """Yield (beginning of a sentence, measurements) for each slip that is easily made."""
    if seen.teeth is not None:
        for teeth in (seen.teeth - 1, seen.teeth + 1):
            if teeth >= measured.FEWEST_TEETH:
                yield f"with {teeth} teeth", replace(seen, teeth=teeth)
    if seen.spans:
        for by in (-1, 1):
            moved = tuple(measured.Span(s.across + by, s.length) for s in seen.spans)
            if moved[0].across >= 1:
                counts = " and ".join(str(s.across) for s in moved)
                yield f"with spans across {counts} teeth", replace(seen, spans=moved)
    for i, one in enumerate(seen.spans):
        rest = seen.spans[:i] + seen.spans[i + 1 :]
        if rest or seen.outside is not None:
            yield f"without the span across {one.across} teeth", replace(seen, spans=rest)
    if seen.outside is not None:
        if seen.teeth is not None and seen.teeth % 2:
            for jaws in measured.JAWS:
                if jaws != seen.jaws:
                    yield f"with the diameter taken as {jaws!r}", replace(seen, jaws=jaws)
        other = measured.INCHES if seen.unit == measured.MILLIMETRES else measured.MILLIMETRES
        length = seen.outside / measured.UNITS[seen.unit] * measured.UNITS[other]
        yield f"with the outside diameter in {other}", replace(seen, outside=length)
        if seen.spans:
            yield "without the outside diameter", replace(seen, outside=None, jaws=None)
