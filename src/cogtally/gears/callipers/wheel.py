"""Which standard, helix and profile shift explain the measurements of one wheel, ranked.

How well one standard can explain them is left to `fit`, what to measure next and the way from a
standard to its measures to `ahead`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import exp, radians

from cogtally.gears.callipers.fit import (
    LEAST_SHIFT,
    MOST_SHIFT,
    SOUND,
    STEEPEST_DEG,
    THINNING_MOST,
    Explanation,
    Fit,
    notes,
    predictions,
    state,
    too_narrow,
    widest_needed,
)
from cogtally.gears.callipers.involute import (
    base_pitch,
    form_diameter,
    span,
    span_contact,
    span_width,
    teeth_to_span,
    tip_diameter,
)
from cogtally.gears.callipers.measured import (
    FEWEST_TEETH,
    MOST_TEETH,
    UNITS,
    Measured,
    across_odd,
    true_outside,
)
from cogtally.gears.callipers.search import EDGES, LANDS, LOWERED_TIPS, Fitter
from cogtally.gears.callipers.standards import DIAMETRAL, Standard, standards
from cogtally.gears.errors import UserError

#: Costs (−ln) of a standard, additive: its row, its pressure angle, stub teeth.
ROW_COST = {1: 0.0, 2: 0.7, 3: 1.5}
ANGLE_COST, OLD_INCH_ANGLE_COST = 1.5, 0.5
USUAL_ANGLE, OLD_INCH_ANGLE = 20, 14.5
STUB_COST, STUB_OF_TWO_COST = 1.2, 0.7
#: One whose worst residual is beyond this many tolerances is no explanation.
LISTED = 3.0
#: A standard is named where it alone fits with sound teeth, and all others together have less than
#: one twentieth of the weight.
NAMED_SHARE = 0.95
#: A wheel should be this much wider than W sin β_b, mm (common practice, no source).
SPAN_MARGIN_MM = 1.0


@dataclass(frozen=True, slots=True)
class Gauging:
    """The explanations of one wheel's measurements, heaviest first.

    `named` is the standard, where one alone can be named; `slips` are sentences on what a slip of
    counting or writing would explain, only where nothing explains the measurements without wear.
    """

    seen: Measured
    explanations: tuple[Explanation, ...]
    named: Standard | None
    slips: tuple[str, ...] = ()

    @property
    def fitting(self) -> tuple[Explanation, ...]:
        """The explanations that hold every measurement within its tolerance."""
        return tuple(e for e in self.explanations if e.fits)

    @property
    def standards(self) -> tuple[tuple[Standard, float], ...]:
        """Every standard among the explanations with its share, heaviest first."""
        shares: dict[Standard, float] = {}
        for explanation in self.explanations:
            standard = explanation.standard
            shares[standard] = shares.get(standard, 0.0) + explanation.share
        return tuple(sorted(shares.items(), key=lambda item: -item[1]))

    @property
    def sentence(self) -> str:
        """The headline: which standard, or that several fit, or that none does."""
        if not self.explanations:
            return "No standard here explains these measurements."
        if self.named is not None:
            return f"This is {self.named.name}."
        found = list(dict.fromkeys(e.standard.name for e in self.fitting))
        if not found:
            near = self.explanations[0].standard.name
            return f"No standard fits; {near} comes nearest, with measurements off their tolerance."
        if len(found) == 1:
            how = self.fitting[0].state
            doubt = "others come too near" if how == SOUND else f"and only so ({how})"
            return f"Only {found[0]} fits, {doubt}: not settled."
        return f"{len(found)} standards fit these measurements: not settled."


def rarity(standard: Standard) -> float:
    """Return the cost of a standard for being rarer than the usual, in −ln of weight."""
    cost = ROW_COST[standard.pitch.row]
    if standard.angle_deg != USUAL_ANGLE:
        inch = standard.pitch.system == DIAMETRAL and standard.angle_deg == OLD_INCH_ANGLE
        cost += OLD_INCH_ANGLE_COST if inch else ANGLE_COST
    if standard.is_stub:
        cost += STUB_OF_TWO_COST if "/" in standard.tooth else STUB_COST
    return cost


def gauge(seen: Measured) -> Gauging:
    """Return every standard, helix and shift that explains the measurements, heaviest first.

    Raises UserError where the wheel is too narrow for a span that was measured.
    """
    found = _weighed(seen)
    if not found:
        _refuse_narrow(seen)
        return Gauging(seen, (), None, _slips(seen))
    least = found[0][0]
    weights = [exp(least - cost) for cost, _ in found]
    total = sum(weights)
    explanations = tuple(
        Explanation(fit, state(fit, seen), weight / total, predictions(fit, seen), notes(fit, seen))
        for weight, (_, fit) in zip(weights, found, strict=True)
    )
    answer = Gauging(seen, explanations, None)
    if not answer.fitting:
        _refuse_narrow(seen)
    sound = {e.standard for e in explanations if e.state == SOUND}
    if not sound:
        return replace(answer, slips=_slips(seen))
    leader, share = answer.standards[0]
    return replace(answer, named=leader) if share >= NAMED_SHARE and sound == {leader} else answer


def _weighed(seen: Measured) -> list[tuple[float, Fit]]:
    """Return (cost, fit) of every explanation, cheapest first."""
    found = []
    for standard in standards():
        if not _pitch_may_fit(standard, seen):
            continue
        for teeth in _teeth_to_try(standard, seen):
            if not _size_may_fit(standard, teeth, seen):
                continue
            for tips in _tips(teeth, seen):
                found += [
                    (fit.cost + rarity(standard), fit)
                    for fit in Fitter(standard, teeth, seen, tips).fits()
                    if fit.worst <= LISTED
                    and (tips == EDGES or max(fit.cut, fit.land) > seen.tolerance)
                ]
    return sorted(found, key=lambda item: item[0])


def _teeth_to_try(standard: Standard, seen: Measured) -> range:
    if seen.teeth is not None:
        return range(seen.teeth, seen.teeth + 1)
    most = MOST_TEETH
    if seen.outside is not None:
        lowest = float(standard.addendum) + LEAST_SHIFT
        most = min(most, int(1.1 * seen.outside / standard.module_mm - 2 * lowest) + 1)
    least = max((2 * s.across for s in seen.spans), default=FEWEST_TEETH)
    return range(max(FEWEST_TEETH, least), most + 1)


def _tips(teeth: int, seen: Measured) -> tuple[str, ...]:
    """Return the ways in which the tips may have been met."""
    if seen.outside is None:
        return (EDGES,)
    odd = across_odd(teeth, seen.jaws) < 1
    return (EDGES, LOWERED_TIPS, LANDS) if odd else (EDGES, LOWERED_TIPS)


def _pitch_may_fit(standard: Standard, seen: Measured) -> bool:
    """Tell whether two spans leave the base pitch possible: what one tooth more adds."""
    if len(seen.spans) < 2 or seen.spans[0].across == seen.spans[-1].across:
        return True
    first, last = seen.spans[0], seen.spans[-1]
    more = last.across - first.across
    pitch = (last.length - first.length) / more
    room = 2 * LISTED * seen.tolerance / more
    return abs(pitch - base_pitch(standard.module_mm, standard.angle)) <= room


def _size_may_fit(standard: Standard, teeth: int, seen: Measured) -> bool:
    """Tell whether sizes are within the widest limits of helix, shift and wear."""
    module, angle = standard.module_mm, standard.angle
    high = float(standard.addendum)
    gentle, steep = (0.0, radians(STEEPEST_DEG)) if seen.helix != 0 else (0.0, 0.0)
    if seen.outside is not None:
        outside = true_outside(seen.outside, teeth, seen.jaws)
        if outside > tip_diameter(teeth, module, steep, MOST_SHIFT, high) * 1.02 + 1:
            return False
        if outside < tip_diameter(teeth, module, gentle, LEAST_SHIFT, high) - 3:
            return False
    for taken in seen.spans:
        if taken.length > span(teeth, module, angle, steep, MOST_SHIFT, taken.across) + 1:
            return False
        least = span(teeth, module, angle, gentle, LEAST_SHIFT, taken.across) - THINNING_MOST
        if taken.length < least - 1:
            return False
    return True


def _refuse_narrow(seen: Measured) -> None:
    """Raise UserError where only the wheel's width forbids every explanation."""
    if seen.width is None or not seen.spans:
        return
    fits = [fit for _, fit in _weighed(replace(seen, width=None)) if too_narrow(fit, seen)]
    if not fits:
        return
    fit = fits[0]
    longest = max(seen.spans, key=lambda s: s.length)
    across = spannable(fit, seen.width)
    by = UNITS[seen.unit]
    raise UserError(
        f"a span of {longest.length / by:g} across {longest.across} teeth needs a wheel wider than "
        f"{widest_needed(fit, seen) / by:.3g} {seen.unit}, and it is {seen.width / by:g}",
        "width",
        f"span {across} teeth"
        if across
        else "no span can be taken on a wheel so narrow: leave the spans out",
    )


def spannable(fit: Fit, width: float) -> int | None:
    """Return how many teeth to span on a wheel of a width in mm, or None where none will do.

    The k nearest to half tooth height, or the most below it that the width allows while the jaws
    still touch the flank.
    """
    module, angle, helix = fit.standard.module_mm, fit.standard.angle, radians(fit.helix)
    begins = form_diameter(fit.teeth, module, angle, helix, fit.shift, float(fit.standard.addendum))
    across = teeth_to_span(fit.teeth, module, angle, helix, fit.shift)
    while across >= 1:
        length = fit.span(across)
        if span_contact(fit.teeth, module, angle, helix, length) < begins:
            return None
        if fit.helix == 0 or span_width(angle, helix, length) + SPAN_MARGIN_MM <= width:
            return across
        across -= 1
    return None


def _slips(seen: Measured) -> tuple[str, ...]:
    from cogtally.gears.callipers.fit import slips

    return slips(seen, lambda other: [fit for _, fit in _weighed(other)])
