"""Whether two gauged wheels, or a gauged and a known one, can run together.

Shifts, backlash, contact and clearance of two wheels at a centre distance; what explains the
measurements of one is left to `wheel`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from math import acos, cos, degrees, exp, hypot, pi, radians, sin, sqrt, tan

from cogtally.gears.callipers import words
from cogtally.gears.callipers.fit import Explanation, Fit
from cogtally.gears.callipers.measured import INCHES, MILLIMETRES, UNITS
from cogtally.gears.callipers.standards import (
    DIAMETRAL,
    Standard,
    base_pitch,
    find_standard,
    involute,
    standards,
)
from cogtally.gears.callipers.wheel import (
    LEAST_SHARE,
    MOST_COMPARED,
    Gauging,
    Wheel,
    gauge,
    rarity,
    wheel,
)
from cogtally.gears.callipers.words import OPTION, Taken
from cogtally.gears.errors import UserError

#: Normal base pitches this near, as a part of themselves, work as one.
SAME_BASE_PITCH = 0.002
#: Helix angles at the base circle this near, in degrees, work as one.
SAME_HELIX_DEG = 0.5
#: Least contact ratio across the axis, for straight teeth (common practice, no source).
LEAST_CONTACT = 1.1
#: Backlash along the flanks that counts as none, mm.
NO_BACKLASH_MM = 0.005


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


def run_together(first: Fit, second: Fit, centres: float) -> Mesh:
    """Tell whether two external wheels on parallel shafts can run at a centre distance in mm.

    They can where normal base pitches and base helices agree, hands oppose, the centres leave
    backlash, tips clear roots, and a pair of teeth meets before the last one leaves.
    """
    shifts = first.shift + second.shift
    reasons = _strangers(first, second)
    if reasons:
        return Mesh(False, tuple(reasons), (), shifts)
    module, angle = first.standard.module_mm, first.standard.angle
    nearest = (first.shape.base + second.shape.base) / 2
    if centres <= nearest:
        reason = f"the base circles meet at {nearest:.2f} mm: the shafts are closer"
        return Mesh(False, (reason,), (), shifts)
    alike = second.standard.module_mm == module and second.standard.angle == angle
    both = first.standard.shape(first.teeth + second.teeth, (first.helix + second.helix) / 2)
    needed = both.sum_of_shifts(centres) if alike else None
    backlash = _backlash(first, second, centres)
    contact = contact_ratio(first, second, centres)
    roots = [gear.shape.root(float(gear.standard.dedendum)) for gear in (first, second)]
    tips = (first.outside, second.outside)
    clearances = (centres - (tips[0] + roots[1]) / 2, centres - (tips[1] + roots[0]) / 2)
    reasons, warnings = [], []
    if not alike:
        warnings.append("two standards that share one base pitch, so their shifts do not add up")
    if backlash < -NO_BACKLASH_MM:
        reasons.append(f"they would bind: the flanks overlap by {-backlash:.3f} mm")
    elif backlash <= NO_BACKLASH_MM:
        warnings.append("no backlash at all")
    if min(clearances) <= 0:
        reasons.append("a tip would strike the other wheel's root")
    if sum(tips) / 2 <= centres:
        reasons.append("the tips do not reach each other")
    elif contact < 1 and not first.helix:
        reasons.append(f"contact ratio {contact:.2f}: a tooth leaves before the next one meets")
    elif contact < LEAST_CONTACT and not first.helix:
        warnings.append(f"contact ratio only {contact:.2f}")
    # Interference: a tip circle passes the mate's base tangent point.
    if max(_reach(first), _reach(second)) > sqrt(centres**2 - nearest**2):
        warnings.append("a tip reaches past the other wheel's base tangent: it may strike the root")
    if first.helix and (first.hand is None or second.hand is None):
        warnings.append("look at the hands: one must be left, the other right")
    said = (tuple(reasons), tuple(warnings))
    working = degrees(acos(nearest / centres))
    return Mesh(not reasons, *said, shifts, needed, backlash, working, contact, clearances)


def contact_ratio(first: Fit, second: Fit, centres: float) -> float:
    """Return the transverse contact ratio ε_α: the path of contact over the base pitch across.

    g = √(r_a1² − r_b1²) + √(r_a2² − r_b2²) − a sin α_wt; negative where the tips do not meet.
    """
    working = acos((first.shape.base + second.shape.base) / 2 / centres)
    path = _reach(first) + _reach(second) - centres * sin(working)
    return path / _pitch_across(first)


def _strangers(first: Fit, second: Fit) -> list[str]:
    """Return why two wheels share no mesh at any centre distance."""
    found = []
    one = base_pitch(first.standard.module_mm, first.standard.angle)
    two = base_pitch(second.standard.module_mm, second.standard.angle)
    if abs(one - two) > SAME_BASE_PITCH * one:
        found.append(
            f"their teeth are not of one pitch: {one:.3f} and {two:.3f} mm from flank to flank"
        )
    helices = [degrees(gear.shape.base_helix) for gear in (first, second)]
    if abs(helices[0] - helices[1]) > SAME_HELIX_DEG:
        found.append(f"their helices differ: {first.helix:.1f} and {second.helix:.1f} degrees")
    if first.helix and first.hand is not None and first.hand == second.hand:
        found.append(f"both are {first.hand}-handed: on parallel shafts hands must oppose")
    return found


def _backlash(first: Fit, second: Fit, centres: float) -> float:
    """Return the backlash normal to the flanks, mm, from the teeth's thickness at the base.

    Across the axis: j_b = p_b − Σ d_b (ψ_b − inv α_w), with ψ_b the angle of a tooth at its base
    circle; along the flank's normal cos β_b times that. Both wheels by their own standard.
    """
    slope = cos(first.shape.base_helix)
    working = acos((first.shape.base + second.shape.base) / 2 / centres)
    free = (_pitch_across(first) + _pitch_across(second)) / 2
    for gear in (first, second):
        tooth = (pi / 2 + 2 * gear.shift * tan(gear.standard.angle)) / gear.teeth
        at_base = tooth + involute(gear.shape.transverse)
        free -= gear.shape.base * (at_base - involute(working))
    return free * slope + first.thinning + second.thinning


def _pitch_across(gear: Fit) -> float:
    return pi * gear.shape.base / gear.teeth


def _reach(gear: Fit) -> float:
    return sqrt(max(0.0, gear.outside**2 - gear.shape.base**2)) / 2


def expected_of(
    taken: Taken, unit: str | None = None
) -> tuple[tuple[Wheel, ...], str, float | None]:
    """Return what wheels of a known standard measure, a row for each count of teeth.

    With them the unit to show lengths in, and the width of the face in mm, if it was written.
    Raise UserError.
    """
    words.check_unit(unit)
    standard = standard_of(taken, OPTION)
    if taken.teeth is None:
        raise UserError("its teeth are missing", "--standard", "add --teeth 24 or 18-24")
    teeth = words.parse_teeth_range(taken.teeth, "--teeth")
    helix, shift = _cut(standard, teeth, taken, OPTION)
    width = None if taken.width is None else words.parse_length(taken.width, "--width")
    within = unit or (INCHES if standard.pitch.system == DIAMETRAL else MILLIMETRES)
    rows = tuple(wheel(standard, z, helix, shift) for z in teeth)
    return rows, within, None if width is None else width.within(within) * UNITS[within]


def standard_of(taken: Taken, before: str) -> Standard:
    """Return the standard that was written; raise UserError."""
    pitch, angle = taken.standard or "", taken.angle or "20"
    with _behind(f"{before}standard"):
        find_standard(pitch)
    with _behind(f"{before}angle"):
        find_standard(pitch, angle)
    with _behind(f"{before}tooth"):
        return find_standard(pitch, angle, taken.tooth or "full")


def _cut(
    standard: Standard, teeth: tuple[int, ...], taken: Taken, before: str
) -> tuple[float, float]:
    """Return the helix in degrees and the shift in modules; refuse what no wheel has."""
    helix = shift = 0.0
    for name in ("teeth", "helix", "shift"):
        if name == "helix" and taken.helix is not None:
            helix = words.parse_angle(taken.helix, f"{before}{name}")
        elif name == "shift" and taken.shift is not None:
            shift = words.parse_signed(taken.shift, f"{before}{name}")
        with _behind(f"{before}{name}"):
            for z in teeth:
                wheel(standard, z, helix, shift)
    return helix, shift


@contextmanager
def _behind(place: str) -> Iterator[None]:
    """Let what is refused stand behind the name of its option."""
    try:
        yield
    except UserError as error:
        raise UserError(error.sentence, f"{place} {error.place}", error.mend) from error


#: Two wheels tried together are as likely as not cut to one standard (no source).
ONE_STANDARD = 0.5
#: From this weight on an answer is settled.
SETTLED = 0.95

#: Backlash beyond so many modules is more than worn boxes have (common practice, no source).
MUCH_BACKLASH = 0.15


@dataclass(frozen=True, slots=True)
class Candidate:
    """One thing that a wheel may be, and its share; `gear` is what is to run.

    `spread` is how far its teeth may be off along the span, in mm, two standard deviations and 0
    for a wheel that was not measured; then `explanation` is None.
    """

    gear: Fit
    share: float
    spread: float = 0.0
    explanation: Explanation | None = None


@dataclass(frozen=True, slots=True)
class Meeting:
    """Two candidates at the centre distance: their share, how they mesh, and what it may be off.

    `backlash_error` is two standard deviations in mm, from the measured teeth alone.
    """

    first: Candidate
    second: Candidate
    share: float
    mesh: Mesh
    backlash_error: float

    @property
    def runs(self) -> bool | None:
        """Whether they can run; None where what decides it is finer than what was measured."""
        if not self.mesh.runs and len(self.mesh.reasons) > 1:
            return False
        backlash = self.mesh.backlash
        if backlash is None:
            return None if self._helices_may_agree else False
        if self.mesh.runs or backlash < -NO_BACKLASH_MM:
            return None if abs(backlash) < self.backlash_error else self.mesh.runs
        return False

    @property
    def is_slack(self) -> bool:
        """Whether there is so much backlash that the two hardly belong at this distance."""
        module = self.first.gear.standard.module_mm
        return self.mesh.backlash is not None and self.mesh.backlash > MUCH_BACKLASH * module

    @property
    def _helices_may_agree(self) -> bool:
        """Whether nothing parts the two but helices that differ by less than they are known."""
        one, two = self.first, self.second
        apart = abs(one.gear.helix - two.gear.helix)
        straight = 0 in (one.gear.helix, two.gear.helix)
        alike = one.gear.standard == two.gear.standard
        known = hypot(one.gear.helix_error, two.gear.helix_error) + SAME_HELIX_DEG
        return alike and not straight and SAME_HELIX_DEG < apart <= known


@dataclass(frozen=True, slots=True)
class Together:
    """Two wheels at a centre distance in mm: every meeting of their candidates, heaviest first."""

    centres: float
    unit: str
    meetings: tuple[Meeting, ...]

    def share(self, runs: bool | None) -> float:
        """Return the share of all meetings that can run, cannot (False) or are open (None)."""
        return sum(m.share for m in self.meetings if m.runs is runs)

    @property
    def verdict(self) -> str:
        """`yes`, `no`, `open` (too fine for what was measured) or `not settled`."""
        yes, open_ = self.share(True), self.share(None)
        if yes >= SETTLED:
            return "yes"
        if self.share(False) >= SETTLED:
            return "no"
        return "open" if yes + open_ >= SETTLED else "not settled"


def parse_pair(texts: Sequence[str], shared: Taken) -> tuple[Taken, Taken]:
    """Return two wheels as they were written, each with the tolerances of both; raise UserError."""
    if len(texts) != 2:
        there = f"{len(texts)} {'is' if len(texts) == 1 else 'are'}"
        sentence = f"two wheels run together, and {there} here"
        raise UserError(sentence, "--pair", "give --pair twice")
    first, second = (
        replace(
            words.parse_wheel(text, f"--pair {number}"),
            tolerance=shared.tolerance,
            helix_tolerance=shared.helix_tolerance,
        )
        for number, text in enumerate(texts, 1)
    )
    return first, second


def together(wheels: tuple[Taken, Taken], centres: str | None, unit: str | None = None) -> Together:
    """Return whether two wheels, as they were written down, can run at a centre distance.

    Each wheel is measured, or of a known standard; `unit` is the one asked for. Raises
    UserError as the checks at the door do, and where nothing explains a measured wheel.
    """
    if centres is None:
        raise UserError("the centre distance is missing", "--centres", "add --centres 67.2")
    length = words.parse_length(centres, "--centres")
    within = words.unit_of(unit, (length,))
    apart = length.within(within) * UNITS[within]
    first, second = (
        _candidates(taken, unit, f"--pair {number}") for number, taken in enumerate(wheels, 1)
    )
    found = []
    for one in first:
        for two in second:
            mesh = run_together(one.gear, two.gear, apart)
            error = hypot(one.spread, two.spread)
            found.append(Meeting(one, two, _weight(one, two), mesh, error))
    total = sum(meeting.share for meeting in found)
    ranked = sorted(found, key=lambda m: -m.share)
    return Together(apart, within, tuple(replace(m, share=m.share / total) for m in ranked))


def _weight(one: Candidate, two: Candidate) -> float:
    """Return π [same] s₁ s₂ / p + (1 − π) s₁ s₂, p the weight of their standard before measuring.

    Each share s is prior times likelihood; with probability π one standard was drawn for both, and
    its prior must not be counted twice.
    """
    both = one.share * two.share
    standard = one.gear.standard
    if standard != two.gear.standard:
        return (1 - ONE_STANDARD) * both
    before = exp(-rarity(standard)) / sum(exp(-rarity(s)) for s in standards())
    return ONE_STANDARD * both / before + (1 - ONE_STANDARD) * both


def _candidates(taken: Taken, unit: str | None, place: str) -> tuple[Candidate, ...]:
    before = f"{place} "
    if taken.standard is not None:
        standard, teeth = standard_of(taken, before), words.teeth_of(taken, before) or 0
        helix, shift = _cut(standard, (teeth,), taken, before)
        return (Candidate(Fit(standard, teeth, helix, shift, hand=taken.hand), 1.0),)
    if taken.helix is None:
        mend = "add helix=0 for straight teeth, or its angle"
        raise UserError("its helix is missing", place, mend)
    question = words.jaws_asked(taken, before)
    if question is not None:
        raise words.jaws_missing(question, place, "jaws=")
    seen = words.as_measured(taken, unit, before)
    with words.placed(before):
        answer = gauge(seen)
    if not answer.explanations:
        slip = answer.slips[0] if answer.slips else "gauge it alone"
        raise UserError("no standard here explains these measurements", place, slip)
    return tuple(
        Candidate(replace(e.fit, hand=taken.hand), e.share, _spread(e, answer), e)
        for e in answer.explanations[:MOST_COMPARED]
        if e.share >= LEAST_SHARE or e is answer.explanations[0]
    )


def _spread(explanation: Explanation, answer: Gauging) -> float:
    """Return how far the thickness of a tooth along the span may be off, mm.

    The spans give it, each to the tolerance; without them it follows from the shift.
    """
    seen, fit = answer.seen, explanation.fit
    if seen.spans:
        return seen.tolerance / sqrt(len(seen.spans))
    standard = fit.standard
    return 2 * standard.module_mm * sin(radians(standard.angle_deg)) * fit.shift_error
