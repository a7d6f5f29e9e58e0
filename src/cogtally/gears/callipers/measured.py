"""What was measured on one wheel: checked at the door, in millimetres, with the likely slip named.

What explains the measurements is left to `callipers`.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, radians

from cogtally.gears.callipers.standards import INCH_MM
from cogtally.gears.errors import UserError

MILLIMETRES, INCHES = "mm", "in"
#: Millimetres in one of each unit.
UNITS = {MILLIMETRES: 1.0, INCHES: float(INCH_MM)}

#: How an outside diameter was taken, where the teeth are odd in number: see `across_odd`.
POINTS, FLAT, TRUE = "points", "flat", "true"
JAWS = (POINTS, FLAT, TRUE)
AT_REFERENCE, AT_TIP = "reference", "tip"
LEFT, RIGHT = "left", "right"

#: A reading of hand callipers is taken to lie this near the true length, mm and degrees.
TOLERANCE_MM = 0.03
HELIX_TOLERANCE_DEG = 1.0

FEWEST_TEETH, MOST_TEETH = 5, 200
LARGEST_HELIX_DEG = 60.0
#: Modules that a gearbox wheel may have; beyond them a slip is likelier than a wheel, mm.
FINEST_MODULE, COARSEST_MODULE = 0.6, 30.0
#: A span over k of z teeth is about m·(2.95 (k − ½) + 0.014 z): formula of `involute.span` at 20°.
_SPAN_PITCH, _SPAN_TOOTH = 2.95, 0.014
#: Whole height of full teeth, in modules; roots vary with the cutter.
_DEPTH = 2.25


@dataclass(frozen=True, slots=True)
class Span:
    """One span: `length` in mm across so many teeth, as read."""

    across: int
    length: float


@dataclass(frozen=True, slots=True)
class Measured:
    """All measurements of one wheel, lengths in mm, angles in degrees; None: not measured.

    `outside` is the reading across the tips, taken with `jaws`; `helix` was read at the
    `helix_at` circle; `centres` is the distance to a mate of `mate` teeth; `width` that of the
    toothed face; `depth` the whole height of a tooth, tip to root. `unit` is the one it was
    written in; `spans` stand by how many teeth they are across. Looked at by `checked`.
    """

    teeth: int | None
    outside: float | None = None
    jaws: str | None = None
    spans: tuple[Span, ...] = ()
    helix: float | None = None
    helix_at: str = AT_REFERENCE
    centres: float | None = None
    mate: int | None = None
    width: float | None = None
    depth: float | None = None
    tolerance: float = TOLERANCE_MM
    helix_tolerance: float = HELIX_TOLERANCE_DEG
    unit: str = MILLIMETRES


def across_odd(teeth: int, jaws: str | None) -> float:
    """Return what callipers read over the true outside diameter, tips taken as edges.

    An even number of teeth reads true. Across an odd one no tip stands opposite a tip: narrow
    jaws (`points`) reach from a tip to one of the two opposite, cos(π/2z); a wide jaw (`flat`)
    lies on two tips at once, (1 + cos(π/z))/2. Elementary geometry of a regular polygon.
    """
    if teeth % 2 == 0 or jaws in (None, TRUE):
        return 1.0
    return cos(pi / (2 * teeth)) if jaws == POINTS else (1 + cos(pi / teeth)) / 2


def jaws_question(teeth: int | None, outside: float | None, jaws: str | None) -> str | None:
    """Return what must be asked about an outside diameter before it can be used, or None."""
    if outside is None or jaws is not None or (teeth is not None and teeth % 2 == 0):
        return None
    count = "the teeth may be" if teeth is None else f"{teeth} teeth are"
    return (
        f"{count} odd in number, so callipers read low across the tips: how was the diameter taken?"
    )


def checked(seen: Measured) -> Measured:
    """Return what was measured on one wheel, if one can have it; raise UserError.

    Refused, with the likely slip named: a size that only another unit or decimal point explains;
    spans that do not grow; an odd number of teeth whose diameter does not say how it was taken; a
    centre distance without the mate's teeth.
    """
    for name, teeth in (("teeth", seen.teeth), ("mate's teeth", seen.mate)):
        if teeth is not None and not FEWEST_TEETH <= teeth <= MOST_TEETH:
            sentence = f"{teeth} is outside {FEWEST_TEETH} to {MOST_TEETH} teeth"
            raise UserError(sentence, name, "count them again")
    for span in seen.spans:
        if seen.teeth is not None and span.across > seen.teeth // 2:
            sentence = (
                f"a span across {span.across} of {seen.teeth} teeth is more than half of the wheel"
            )
            mend = "count the teeth between the jaws again"
            raise UserError(sentence, f"span {span.across}", mend)
    if seen.helix is not None and seen.helix > LARGEST_HELIX_DEG:
        mend = "write degrees from the axis"
        if seen.helix < 90:
            mend = f"measured from the axis? against the face it would be {90 - seen.helix:g}"
        sentence = f"a helix of {seen.helix:g} degrees is steeper than any here"
        raise UserError(sentence, "helix", mend)
    if not 0 < seen.helix_tolerance <= 10:
        raise UserError("a helix tolerance is up to 10 degrees", "helix tolerance", "1 is usual")
    _check_sizes(seen)
    _check_together(seen)
    return seen


def _check_sizes(seen: Measured) -> None:
    """Refuse a length whose module no gearbox has, naming the unit or decimal point meant."""
    if seen.teeth is not None:
        steepest = 1.0 if seen.helix is None else cos(radians(seen.helix))
        if seen.outside is not None:
            _check_module("outside", seen.outside, seen.outside / (seen.teeth + 2), seen, steepest)
        for span in seen.spans:
            rough = _SPAN_PITCH * (span.across - 0.5) + _SPAN_TOOTH * seen.teeth
            _check_module(f"span {span.across}", span.length, span.length / rough, seen, 1.0)
        if seen.centres is not None and seen.mate is not None:
            rough = 2 * seen.centres / (seen.teeth + seen.mate)
            _check_module("centres", seen.centres, rough, seen, steepest)
    if seen.depth is not None:
        _check_module("depth", seen.depth, seen.depth / _DEPTH, seen, 1.0)
    if seen.teeth is None:
        for span in seen.spans:
            rough = span.length / (_SPAN_PITCH * span.across)
            _check_module(f"span {span.across}", span.length, rough, seen, 1.0)


def _check_module(place: str, length: float, size: float, seen: Measured, steepest: float) -> None:
    if size * steepest >= FINEST_MODULE and size <= COARSEST_MODULE:
        return
    written = length / UNITS[seen.unit]
    other = INCHES if seen.unit == MILLIMETRES else MILLIMETRES
    swapped = size * UNITS[other] / UNITS[seen.unit]
    if FINEST_MODULE <= swapped <= COARSEST_MODULE:
        mend = f"did you mean {written:g} {other}?"
    else:
        slips = [by for by in (10.0, 0.1, 100.0, 0.01) if 1 <= size * by <= 10]
        mend = "measure it again"
        if slips:
            mend = f"did you mean {written * slips[0]:g} {seen.unit}?"
    rough = f"{size:.2g}" if size < 100 else f"{size:.0f}"
    raise UserError(f"{written:g} {seen.unit} would make this a module of {rough} mm", place, mend)


def _check_together(seen: Measured) -> None:
    """Refuse measurements that cannot belong to one wheel, and those that say nothing."""
    question = jaws_question(seen.teeth, seen.outside, seen.jaws)
    if question is not None:
        raise UserError(
            question,
            "outside",
            "say points (narrow jaws, tip to tip), flat (a wide jaw on two tips) or true "
            "(measured so that it needs no correction)",
        )
    for first, second in zip(seen.spans, seen.spans[1:], strict=False):
        if first.across < second.across and first.length >= second.length - seen.tolerance:
            one, more = first.across, second.across
            sentence = f"the span across {more} teeth is not longer than that across {one}"
            mend = "one tooth more adds about three modules: measure both again"
            raise UserError(sentence, f"span {more}", mend)
    if seen.outside is not None:
        for span in seen.spans:
            if span.length >= seen.outside:
                sentence = "a span cannot be as long as the outside diameter"
                raise UserError(sentence, f"span {span.across}", "are the two exchanged?")
    if seen.centres is not None and seen.mate is None:
        sentence = "a centre distance says nothing without the other wheel's teeth"
        raise UserError(sentence, "centres", "count the teeth of the mate too")
    lengths = len({span.across for span in seen.spans})
    if seen.teeth is None and (lengths < 2 or seen.outside is None):
        sentence = "without a count of teeth, the outside diameter and two spans are needed"
        raise UserError(sentence, "teeth", "count the teeth")
    if seen.outside is None and not seen.spans and seen.centres is None:
        raise UserError("nothing was measured", "", "give an outside diameter or a span")
