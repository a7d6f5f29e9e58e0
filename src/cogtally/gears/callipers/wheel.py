"""Which standard, helix and profile shift explain the measurements of one wheel, ranked.

And the way ahead: from a standard to its measures, and what to measure next. How well one
standard can explain them is left to `fit`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations
from math import degrees, exp

from cogtally.gears.callipers import fit as model, measured
from cogtally.gears.callipers.measured import Measured, across_odd
from cogtally.gears.callipers.search import EDGES, LANDS, LOWERED_TIPS, Fitter
from cogtally.gears.callipers.standards import DIAMETRAL, Standard, base_pitch, standards
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
    explanations: tuple[model.Explanation, ...]
    named: Standard | None
    slips: tuple[str, ...] = ()

    @property
    def fitting(self) -> tuple[model.Explanation, ...]:
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
            doubt = "others come too near" if how == model.SOUND else f"and only so ({how})"
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
        return Gauging(seen, (), None, model.slips(seen, _fits))
    least = found[0][0]
    weights = [exp(least - cost) for cost, _ in found]
    total = sum(weights)
    explanations = tuple(
        model.Explanation(
            fit,
            model.state(fit, seen),
            weight / total,
            model.predictions(fit, seen),
            model.notes(fit, seen),
        )
        for weight, (_, fit) in zip(weights, found, strict=True)
    )
    answer = Gauging(seen, explanations, None)
    if not answer.fitting:
        _refuse_narrow(seen)
    sound = {e.standard for e in explanations if e.state == model.SOUND}
    if not sound:
        return replace(answer, slips=model.slips(seen, _fits))
    leader, share = answer.standards[0]
    return replace(answer, named=leader) if share >= NAMED_SHARE and sound == {leader} else answer


def _weighed(seen: Measured) -> list[tuple[float, model.Fit]]:
    """Return (cost, fit) of every explanation, cheapest first."""
    found = []
    for standard in standards():
        if not _pitch_may_fit(standard, seen):
            continue
        for teeth in _teeth_to_try(standard, seen):
            if not _size_may_fit(standard, teeth, seen):
                continue
            odd = across_odd(teeth, seen.jaws) < 1
            ways = (EDGES, LOWERED_TIPS, LANDS) if odd else (EDGES, LOWERED_TIPS)
            for tips in ways if seen.outside is not None else (EDGES,):
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
    most = measured.MOST_TEETH
    if seen.outside is not None:
        lowest = float(standard.addendum) + model.LEAST_SHIFT
        most = min(most, int(1.1 * seen.outside / standard.module_mm - 2 * lowest) + 1)
    least = max((2 * s.across for s in seen.spans), default=measured.FEWEST_TEETH)
    return range(max(measured.FEWEST_TEETH, least), most + 1)


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
    large = standard.shape(teeth, model.STEEPEST_DEG if seen.helix != 0 else 0.0, model.MOST_SHIFT)
    small = standard.shape(teeth, 0, model.LEAST_SHIFT)
    if seen.outside is not None:
        outside = seen.outside / across_odd(teeth, seen.jaws)
        if not small.tip - 3 <= outside <= large.tip * 1.02 + 1:
            return False
    return all(
        small.span(s.across) - model.THINNING_MOST - 1 <= s.length <= large.span(s.across) + 1
        for s in seen.spans
    )


def _refuse_narrow(seen: Measured) -> None:
    """Raise UserError where only the wheel's width forbids every explanation."""
    if seen.width is None or not seen.spans:
        return
    fit = next((f for f in _fits(replace(seen, width=None)) if model.too_narrow(f, seen)), None)
    if fit is None:
        return
    longest = max(seen.spans, key=lambda s: s.length)
    across = spannable(fit, seen.width)
    by = measured.UNITS[seen.unit]
    raise UserError(
        f"a span of {longest.length / by:g} across {longest.across} teeth needs a wheel wider than "
        f"{model.widest_needed(fit, seen) / by:.3g} {seen.unit}, and it is {seen.width / by:g}",
        "width",
        f"span {across} teeth"
        if across
        else "no span can be taken on a wheel so narrow: leave the spans out",
    )


def spannable(fit: model.Fit, width: float) -> int | None:
    """Return how many teeth to span on a wheel of a width in mm, or None where none will do.

    The k nearest to half tooth height, or the most below it that the width allows while the jaws
    still touch the flank.
    """
    spans = range(fit.shape.best_span, 0, -1)
    return next((across for across in spans if _can_span(fit, across, width)), None)


def _fits(seen: Measured) -> list[model.Fit]:
    return [fit for _, fit in _weighed(seen)]


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
    shape = standard.shape(teeth, helix_deg, shift)
    outside = shape.tip
    if outside <= shape.base:
        mend = "give more shift"
        raise UserError("the teeth would end inside the base circle", f"{teeth} teeth", mend)
    land = shape.thickness(outside)
    best = shape.best_span
    warnings = []
    if shift < shape.least_shift:
        warnings.append("undercut at the root")
    if land < 0:
        warnings.append("pointed below its full height")
    elif land < THIN_TIP * shape.module:
        warnings.append("tips nearly pointed")
    return Wheel(
        standard,
        teeth,
        helix_deg,
        shift,
        shape.reference,
        outside,
        shape.root(float(standard.dedendum)),
        shape.base,
        outside * across_odd(teeth, measured.POINTS),
        outside * across_odd(teeth, measured.FLAT),
        degrees(shape.helix_at(outside)),
        land,
        tuple(expected_span(standard, teeth, helix_deg, shift, k) for k in (best, best + 1)),
        tuple(warnings),
    )


def expected_span(
    standard: Standard, teeth: int, helix_deg: float, shift: float, across: int
) -> SpanExpected:
    """Return the span to expect across so many teeth of a wheel."""
    shape = standard.shape(teeth, helix_deg, shift)
    length = shape.span(across)
    touches = length > 0 and shape.form <= shape.contact(length) <= shape.tip
    return SpanExpected(across, length, shape.width(length), touches)


def _check(teeth: int, helix_deg: float, shift: float) -> None:
    if not measured.FEWEST_TEETH <= teeth <= measured.MOST_TEETH:
        mend = "as 24, or a range 20-30"
        raise UserError(
            f"teeth are {measured.FEWEST_TEETH} to {measured.MOST_TEETH}", str(teeth), mend
        )
    if not 0 <= helix_deg <= measured.LARGEST_HELIX_DEG:
        mend = "without its hand"
        raise UserError(
            f"a helix is 0 to {measured.LARGEST_HELIX_DEG:g} degrees", f"{helix_deg:g}", mend
        )
    if not model.LEAST_SHIFT <= shift <= model.MOST_SHIFT:
        mend = "shift is written in modules, not in mm"
        raise UserError(
            f"a shift is {model.LEAST_SHIFT:g} to {model.MOST_SHIFT:g} modules", f"{shift:g}", mend
        )


#: Explanations compared: the heaviest, and none lighter than this share.
MOST_COMPARED, LEAST_SHARE = 12, 0.005
#: What a micrometer and a careful protractor settle, mm and degrees (common practice, no source).
FINE_MM, FINE_DEG = 0.01, 0.25
#: Two explanations are parted where they expect values further apart than so many tolerances.
PARTED = 2.0
#: A measurement is not worth proposing where it parts less than this of what is open.
LEAST_WORTH = 0.01
#: A repeat with a finer tool must part so much more than a measurement not taken yet.
REPEAT_FACTOR = 0.8


@dataclass(frozen=True, slots=True)
class Parting:
    """One measurement worth taking: what, how finely, and what each explanation expects of it.

    `what` is `outside`, `span 4`, `helix` or `depth`; `fine`: with a micrometer or protractor.
    `parts` is the part of the doubt that it would settle, 0 to 1: the weight of the pairs of
    explanations that it parts over that of all pairs. `expected` goes with the explanations
    compared, heaviest first, lengths in mm, the helix in degrees at the tips.
    """

    what: str
    fine: bool
    tolerance: float
    parts: float
    expected: tuple[tuple[model.Explanation, float], ...]


def partings(answer: Gauging) -> tuple[Parting, ...]:
    """Return every measurement worth taking, that which parts most first."""
    compared = _compared(answer)
    if len(compared) < 2:
        return ()
    pairs = list(combinations(range(len(compared)), 2))
    weights = [compared[i].share * compared[j].share for i, j in pairs]
    found = []
    for order, (what, fine, tolerance) in enumerate(_proposals(answer.seen, compared[0].fit)):
        values = [_expected(e.fit, what, answer.seen) for e in compared]
        rooms = [_room(e, what, tolerance) for e in compared]
        settled = sum(
            weight
            for (i, j), weight in zip(pairs, weights, strict=True)
            if abs(values[i] - values[j]) > PARTED * max(rooms[i], rooms[j])
        )
        worth = settled / sum(weights)
        if worth >= LEAST_WORTH:
            expected = tuple(zip(compared, values, strict=True))
            rank = worth * (REPEAT_FACTOR if fine else 1.0)
            found.append((-rank, order, Parting(what, fine, tolerance, worth, expected)))
    return tuple(parting for *_, parting in sorted(found, key=lambda item: item[:2]))


def _compared(answer: Gauging) -> list[model.Explanation]:
    """Return the explanations worth parting, of those that are nearly the same the heaviest."""
    kept: list[model.Explanation] = []
    for explanation in answer.explanations:
        if len(kept) == MOST_COMPARED or (kept and explanation.share < LEAST_SHARE):
            break
        if not any(map(explanation.is_like, kept)):
            kept.append(explanation)
    return kept


def _proposals(seen: Measured, leader: model.Fit) -> list[tuple[str, bool, float]]:
    """Return (what, fine, tolerance) of all that could be measured, the easiest first."""
    found: list[tuple[str, bool, float]] = []
    if seen.outside is None:
        found.append(("outside", False, seen.tolerance))
    if seen.depth is None:
        found.append(("depth", False, seen.tolerance))
    taken = {s.across for s in seen.spans}
    possible = [k for k in range(1, leader.teeth // 2 + 1) if _can_span(leader, k, seen.width)]
    found += [(f"span {k}", False, seen.tolerance) for k in possible if k not in taken]
    if seen.helix is None:
        found.append(("helix", False, measured.HELIX_TOLERANCE_DEG))
    if seen.tolerance > FINE_MM:
        found += [(f"span {k}", True, FINE_MM) for k in possible]
        if leader.teeth % 2 == 0 or seen.jaws == measured.TRUE:
            found.append(("outside", True, FINE_MM))
    if seen.helix is None or (seen.helix > 0 and seen.helix_tolerance > FINE_DEG):
        found.append(("helix", True, FINE_DEG))
    return found


def _can_span(fit: model.Fit, across: int, width: float | None) -> bool:
    """Tell whether jaws across so many teeth touch the flank, on a wheel of a width in mm."""
    shape, length = fit.shape, fit.span(across)
    if length <= 0 or not shape.form <= shape.contact(length) <= fit.outside:
        return False
    return width is None or fit.helix == 0 or shape.width(length) + SPAN_MARGIN_MM <= width


def _expected(fit: model.Fit, what: str, seen: Measured) -> float:
    kind, _, across = what.partition(" ")
    if kind == "outside":
        return fit.reading(seen.jaws)
    if kind == "span":
        return fit.span(int(across))
    return fit.helix_at(measured.AT_TIP) if kind == "helix" else fit.depth


def _room(explanation: model.Explanation, what: str, tolerance: float) -> float:
    """Return how far a measurement may lie from what an explanation expects of it."""
    if what == "depth":
        return max(tolerance, model.DEPTH_TOLERANCE * explanation.standard.module_mm)
    if what == "helix":
        return tolerance + explanation.fit.helix_error / PARTED
    return tolerance
