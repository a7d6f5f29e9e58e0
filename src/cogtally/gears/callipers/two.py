"""Whether two gauged wheels, or a gauged and a known one, can run together.

Whether two wheels of known standards can is left to `pair`, what explains one wheel's
measurements to `wheel`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from math import exp, hypot, radians, sin, sqrt

from cogtally.gears.callipers.ahead import LEAST_SHARE, MOST_COMPARED, Wheel, table
from cogtally.gears.callipers.fit import Explanation
from cogtally.gears.callipers.lengths import (
    parse_angle,
    parse_length,
    parse_signed,
    parse_teeth_range,
    unit_of,
)
from cogtally.gears.callipers.measured import INCHES, MILLIMETRES, UNITS
from cogtally.gears.callipers.pair import (
    NO_BACKLASH_MM,
    SAME_HELIX_DEG,
    Gear,
    Mesh,
    gear_of,
    run_together,
)
from cogtally.gears.callipers.standards import DIAMETRAL, Standard, find_standard, standards
from cogtally.gears.callipers.wheel import Gauging, gauge, rarity
from cogtally.gears.callipers.words import (
    Taken,
    as_measured,
    as_option,
    check_unit,
    jaws_asked,
    jaws_missing,
    parse_wheel,
    placed,
    teeth_of,
)
from cogtally.gears.errors import UserError


def expected_of(
    taken: Taken, unit: str | None = None, option: Callable[[str], str] = as_option
) -> tuple[tuple[Wheel, ...], str, float | None]:
    """Return what wheels of a known standard measure, a row for each count of teeth.

    With them the unit to show lengths in, and the width of the face in mm, if it was written.
    Raise UserError.
    """
    check_unit(unit, option)
    standard = standard_of(taken, option)
    if taken.teeth is None:
        raise UserError("its teeth are missing", option("standard"), "add --teeth 24 or 18-24")
    teeth = parse_teeth_range(taken.teeth, option("teeth"))
    helix, shift = _cut(standard, teeth, taken, option)
    width = None if taken.width is None else parse_length(taken.width, option("width"))
    within = unit or (INCHES if standard.pitch.system == DIAMETRAL else MILLIMETRES)
    rows = table(standard, teeth, helix, shift)
    return rows, within, None if width is None else width.within(within) * UNITS[within]


def standard_of(taken: Taken, option: Callable[[str], str] = as_option) -> Standard:
    """Return the standard that was written; raise UserError."""
    pitch, angle = taken.standard or "", taken.angle or "20"
    with _behind(option("standard")):
        find_standard(pitch)
    with _behind(option("angle")):
        find_standard(pitch, angle)
    with _behind(option("tooth")):
        return find_standard(pitch, angle, taken.tooth or "full")


def known_wheel(taken: Taken, option: Callable[[str], str] = as_option) -> Gear:
    """Return a wheel of a known standard that is to run with another; raise UserError."""
    standard, teeth = standard_of(taken, option), teeth_of(taken, option) or 0
    helix, shift = _cut(standard, (teeth,), taken, option)
    return Gear(standard, teeth, helix, shift, hand=taken.hand)


def _cut(
    standard: Standard, teeth: tuple[int, ...], taken: Taken, option: Callable[[str], str]
) -> tuple[float, float]:
    """Return the helix in degrees and the shift in modules; refuse what no wheel has."""
    with _behind(option("teeth")):
        table(standard, teeth)
    helix = 0.0 if taken.helix is None else parse_angle(taken.helix, option("helix"))
    with _behind(option("helix")):
        table(standard, teeth, helix)
    shift = 0.0 if taken.shift is None else parse_signed(taken.shift, option("shift"))
    with _behind(option("shift")):
        table(standard, teeth, helix, shift)
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

    `spread` is how far its teeth may be off along the span, in mm, `helix_error` how far its helix
    in degrees, both two standard deviations and 0 for a wheel that was not measured; then
    `explanation` is None.
    """

    gear: Gear
    share: float
    spread: float = 0.0
    helix_error: float = 0.0
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
        known = hypot(one.helix_error, two.helix_error) + SAME_HELIX_DEG
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
        raise UserError(
            f"two wheels run together, and {len(texts)} {'is' if len(texts) == 1 else 'are'} here",
            "--pair",
            "give --pair twice",
        )
    first, second = (
        replace(
            parse_wheel(text, f"--pair {number}"),
            tolerance=shared.tolerance,
            helix_tolerance=shared.helix_tolerance,
        )
        for number, text in enumerate(texts, 1)
    )
    return first, second


def together(
    wheels: tuple[Taken, Taken],
    centres: str | None,
    unit: str | None = None,
    option: str = "--centres",
) -> Together:
    """Return whether two wheels, as they were written down, can run at a centre distance.

    Each wheel is measured, or of a known standard; `unit` is the one asked for. Raises
    UserError as the checks at the door do, and where nothing explains a measured wheel.
    """
    if centres is None:
        raise UserError("the centre distance is missing", option, f"add {option} 67.2")
    length = parse_length(centres, option)
    within = unit_of(unit, (length,))
    apart = length.within(within) * UNITS[within]
    first, second = (
        _candidates(taken, unit, f"--pair {number}") for number, taken in enumerate(wheels, 1)
    )
    found = []
    with placed(lambda name: f"--{name}"):
        for one in first:
            for two in second:
                mesh = run_together(one.gear, two.gear, apart)
                error = hypot(one.spread, two.spread)
                found.append(Meeting(one, two, _weight(one, two), mesh, error))
    total = sum(meeting.share for meeting in found)
    ranked = sorted(found, key=lambda m: -m.share)
    shared = tuple(
        Meeting(m.first, m.second, m.share / total, m.mesh, m.backlash_error) for m in ranked
    )
    return Together(apart, within, shared)


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
    def option(name: str) -> str:
        return f"{place} {name}"

    if taken.standard is not None:
        return (Candidate(known_wheel(taken, option), 1.0),)
    if taken.helix is None:
        mend = "add helix=0 for straight teeth, or its angle"
        raise UserError("its helix is missing", place, mend)
    question = jaws_asked(taken, option)
    if question is not None:
        raise jaws_missing(question, place, "jaws=")
    seen = as_measured(taken, unit, option)
    with placed(option):
        answer = gauge(seen)
    if not answer.explanations:
        slip = f"{answer.slips[0]}" if answer.slips else "gauge it alone"
        raise UserError("no standard here explains these measurements", place, slip)
    return tuple(
        Candidate(gear_of(e.fit, taken.hand), e.share, _spread(e, answer), e.fit.helix_error, e)
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
