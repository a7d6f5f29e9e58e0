"""Which measurement would part the explanations that are left, and what each of them expects.

How explanations are found and ranked is left to `callipers`.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from math import radians

from cogtally.gears.callipers.explain import Explanation
from cogtally.gears.callipers.fit import DEPTH_TOLERANCE, Fit
from cogtally.gears.callipers.involute import form_diameter, span_contact, span_width
from cogtally.gears.callipers.measured import AT_TIP, HELIX_TOLERANCE_DEG, TRUE, Measured
from cogtally.gears.callipers.wheel import SPAN_MARGIN_MM, Gauging

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
#: Explanations of one standard are one, if helix and shift are this near: degrees, modules.
_SAME_HELIX, _SAME_SHIFT = 1.0, 0.05


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
    expected: tuple[tuple[Explanation, float], ...]

    @property
    def sentence(self) -> str:
        """The advice in words."""
        kind, _, across = self.what.partition(" ")
        words = {
            "outside": "the outside diameter",
            "span": f"the span across {across} teeth",
            "helix": "the helix angle at the tips",
            "depth": "the whole depth of a tooth",
        }[kind]
        tool = "with a protractor, " if kind == "helix" else "with a micrometer, "
        how = f"{tool}to {self.tolerance:g} {'degrees' if kind == 'helix' else 'mm'}"
        return f"measure {words}" + (f" {how}" if self.fine else "")


def best_parting(answer: Gauging) -> Parting | None:
    """Return the measurement that parts most of what is left, or None where none would."""
    found = partings(answer)
    return found[0] if found else None


def partings(answer: Gauging) -> tuple[Parting, ...]:
    """Return every measurement worth taking, that which parts most first."""
    compared = _compared(answer)
    if len(compared) < 2:
        return ()
    pairs = [
        (i, j, compared[i].share * compared[j].share)
        for i, j in combinations(range(len(compared)), 2)
    ]
    total = sum(weight for *_, weight in pairs)
    found = []
    for order, (what, fine, tolerance) in enumerate(_proposals(answer.seen, compared[0].fit)):
        values = [_expected(e.fit, what, answer.seen) for e in compared]
        settled = sum(
            weight
            for i, j, weight in pairs
            if abs(values[i] - values[j])
            > PARTED * max(_room(compared[i], what, tolerance), _room(compared[j], what, tolerance))
        )
        worth = settled / total
        if worth >= LEAST_WORTH:
            expected = tuple(zip(compared, values, strict=True))
            rank = worth * (REPEAT_FACTOR if fine else 1.0)
            found.append((-rank, order, Parting(what, fine, tolerance, worth, expected)))
    return tuple(parting for *_, parting in sorted(found, key=lambda item: item[:2]))


def _compared(answer: Gauging) -> list[Explanation]:
    """Return the explanations worth parting, of those that are nearly the same the heaviest."""
    kept: list[Explanation] = []
    for explanation in answer.explanations:
        if len(kept) == MOST_COMPARED or (kept and explanation.share < LEAST_SHARE):
            break
        fit = explanation.fit
        twin = any(
            other.standard == explanation.standard
            and other.fit.teeth == fit.teeth
            and abs(other.fit.helix - fit.helix) < _SAME_HELIX
            and abs(other.fit.shift - fit.shift) < _SAME_SHIFT
            for other in kept
        )
        if not twin:
            kept.append(explanation)
    return kept


def _proposals(seen: Measured, leader: Fit) -> list[tuple[str, bool, float]]:
    """Return (what, fine, tolerance) of all that could be measured, the easiest first."""
    found: list[tuple[str, bool, float]] = []
    if seen.outside is None:
        found.append(("outside", False, seen.tolerance))
    if seen.depth is None:
        found.append(("depth", False, seen.tolerance))
    taken = {s.across for s in seen.spans}
    possible = [k for k in range(1, leader.teeth // 2 + 1) if _can_span(leader, k, seen)]
    found += [(f"span {k}", False, seen.tolerance) for k in possible if k not in taken]
    if seen.helix is None:
        found.append(("helix", False, HELIX_TOLERANCE_DEG))
    if seen.tolerance > FINE_MM:
        found += [(f"span {k}", True, FINE_MM) for k in possible]
        if leader.teeth % 2 == 0 or seen.jaws == TRUE:
            found.append(("outside", True, FINE_MM))
    if seen.helix is None or (seen.helix > 0 and seen.helix_tolerance > FINE_DEG):
        found.append(("helix", True, FINE_DEG))
    return found


def _can_span(fit: Fit, across: int, seen: Measured) -> bool:
    """Tell whether jaws across so many teeth touch the flank, on a wheel of this width."""
    module, angle, helix = fit.standard.module_mm, fit.standard.angle, radians(fit.helix)
    length = fit.span(across)
    if length <= 0:
        return False
    touch = span_contact(fit.teeth, module, angle, helix, length)
    begins = form_diameter(fit.teeth, module, angle, helix, fit.shift, float(fit.standard.addendum))
    wide = seen.width is None or fit.helix == 0
    return begins <= touch <= fit.outside and (
        wide or span_width(angle, helix, length) + SPAN_MARGIN_MM <= (seen.width or 0.0)
    )


def _expected(fit: Fit, what: str, seen: Measured) -> float:
    kind, _, across = what.partition(" ")
    if kind == "outside":
        return fit.reading(seen.jaws)
    if kind == "span":
        return fit.span(int(across))
    return fit.helix_at(AT_TIP) if kind == "helix" else fit.depth


def _room(explanation: Explanation, what: str, tolerance: float) -> float:
    """Return how far a measurement may lie from what an explanation expects of it."""
    if what == "depth":
        return max(tolerance, DEPTH_TOLERANCE * explanation.standard.module_mm)
    if what == "helix":
        return tolerance + explanation.fit.helix_error / PARTED
    return tolerance
