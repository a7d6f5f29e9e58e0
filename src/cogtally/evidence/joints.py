"""The joint of the answer with the teeth of a wheel, or with the ratio of a gear.

The sums around one factor of a family come from `contexts`; what a joint is worth is left to
`worth` and `turn_worth`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import fsum
from operator import mul

from cogtally.catalog.model import Family
from cogtally.evidence.configurations import Configurations
from cogtally.evidence.contexts import Classes
from cogtally.evidence.contexts_arrays import contexts
from cogtally.evidence.factors import FlatFactor, path_shape
from cogtally.evidence.likelihood import LEAST_TEETH, TEETH_RANGE
from cogtally.evidence.meshes import ComponentSum
from cogtally.evidence.parts import HANDS, Counted, New, Ratios, unknown_ratio
from cogtally.evidence.posterior import MATCHED, MIXED, NEW, UNCATALOGUED, VARIANT
from cogtally.evidence.rho import SIZE
from cogtally.evidence.weighed import Part, Weighed
from cogtally.evidence.worth import Joint

#: An answer: its kind, and the family and group where it is matched.
Answer = tuple[str, str, object]

#: A part with less than this share is taken as one whole: it changes no worth by 1e-7 bit.
TOO_SMALL = 1e-9
#: A part with less than this share is taken as without any ratio: it changes no worth of a turn
#: test by 1e-4 bit.
TOO_RARE = 1e-6

_UNKNOWN: Answer = (UNCATALOGUED, "", None)


@dataclass(frozen=True, slots=True)
class Between:
    """A ratio known by print: the mean reading is uniform between what the two ends give."""

    low: Fraction
    high: Fraction


Ratio = Fraction | Between | None


def answers_of(part: Part, hand: int) -> dict[Answer, float]:
    """Return the weight of each answer of one part, unscaled."""
    if isinstance(part, Ratios):
        return {(MATCHED, part.family.id, part.known.key): part.values[hand]}
    if isinstance(part, New):
        return {(NEW, part.family.id, None): part.values[hand]}
    every = (1 << len(part.family.counted_sets)) - 1
    found: dict[Answer, float] = {}
    for mask, value in part.sums[hand].masks.items():
        answer: Answer = (VARIANT, "", None)
        if mask > every and not part.view.lacks:
            answer = (MATCHED, part.family.id, mask & every)
        found[answer] = found.get(answer, 0.0) + value
    found[MIXED, "", None] = max(0.0, part.values[hand] - fsum(found.values()))
    return found


def named_answers(
    part: Counted, classes: Classes, vector: Sequence[float]
) -> list[tuple[Answer, float]]:
    """Return the answers of a family that `contexts` gives, each with its weight."""
    names: list[Answer] = [(MATCHED, part.family.id, group) for group in classes.groups]
    names += [(VARIANT, "", None), (MIXED, "", None)]
    return list(zip(names, vector, strict=True))


class _Gathered:
    """A joint being added up: answer to hand to teeth."""

    def __init__(self) -> None:
        self._of: dict[Answer, tuple[dict[int, float], dict[int, float]]] = {}

    def add(self, answer: Answer, hand: int, spread: Mapping[int, float], weight: float) -> None:
        into = self._of.setdefault(answer, ({}, {}))[hand]
        for teeth, value in spread.items():
            into[teeth] = into.get(teeth, 0.0) + weight * value

    def joints(self) -> dict[Answer, Joint]:
        return {answer: Joint(*pair) for answer, pair in self._of.items()}


def joint_with_teeth(weighed: Weighed, wheels: Sequence[str]) -> dict[str, dict[Answer, Joint]]:
    """Return for each wheel name the joint of answer, hand and teeth of that wheel.

    A family without the wheel draws its teeth from ρ.
    """
    gathered = {wheel: _Gathered() for wheel in wheels}
    for hand in HANDS:
        for wheel in wheels:
            spread = elsewhere(weighed, wheel, hand)
            gathered[wheel].add(_UNKNOWN, hand, spread, weighed.uncatalogued[hand])
        for part, scales in zip(weighed.worked, weighed.scales, strict=True):
            scale = scales[hand]
            if isinstance(part, Ratios):
                _add_ratios(weighed, part, hand, scale, gathered)
            elif isinstance(part, New):
                _add_new(weighed, part, hand, scale, gathered)
            else:
                _add_counted(weighed, part, hand, scale, gathered)
    return {wheel: found.joints() for wheel, found in gathered.items()}


def elsewhere(weighed: Weighed, name: str, hand: int) -> dict[int, float]:
    """Return how teeth drawn from ρ are spread, given the counts of that name; adding up to 1."""
    weights: Sequence[float] = weighed.ready.rho.of(name)
    if name in weighed.box.counts:
        by_teeth = weighed.box.likelihood((name,), hand).by_teeth
        weights = list(map(mul, weights, by_teeth[LEAST_TEETH : LEAST_TEETH + SIZE]))
    total = sum(weights)
    return {t: w / total for t, w in zip(TEETH_RANGE, weights, strict=True) if w > 0}


def _add_ratios(
    weighed: Weighed, part: Ratios, hand: int, scale: float, gathered: Mapping[str, _Gathered]
) -> None:
    known = part.known
    answer: Answer = (MATCHED, part.family.id, known.key)
    seen, _ = part.view.likelihoods(weighed.box, hand)
    whole = scale * part.values[hand]
    for name, into in gathered.items():
        if not known.has_wheel(name) or whole < TOO_SMALL:
            into.add(answer, hand, elsewhere(weighed, name, hand), whole)
            continue
        spread = known.spread(part.family.train.canonical(name), seen)
        total = sum(spread.values())
        if total > 0:
            into.add(answer, hand, spread, whole / total)


def _add_new(
    weighed: Weighed, part: New, hand: int, scale: float, gathered: Mapping[str, _Gathered]
) -> None:
    answer: Answer = (NEW, part.family.id, None)
    names = part.family.train.names
    seen, _ = part.view.likelihoods(weighed.box, hand)
    whole = scale * part.values[hand]
    for name, into in gathered.items():
        if name not in names or whole < TOO_SMALL:
            into.add(answer, hand, elsewhere(weighed, name, hand), whole)
            continue
        spread = part.sets.spread(names[name], seen, slice(part.row, part.row + 1))[0].tolist()
        by_teeth = {teeth: value for teeth, value in enumerate(spread) if value > 0}
        into.add(answer, hand, by_teeth, scale)


def _add_counted(
    weighed: Weighed, part: Counted, hand: int, scale: float, gathered: Mapping[str, _Gathered]
) -> None:
    names = part.family.train.names
    whole = scale * part.values[hand]
    has = {name: names[name] for name in gathered if name in names and whole >= TOO_SMALL}
    lacking = [name for name in gathered if name not in has]
    if lacking:
        weights = answers_of(part, hand)
        for name in lacking:
            spread = elsewhere(weighed, name, hand)
            for answer, weight in weights.items():
                gathered[name].add(answer, hand, spread, scale * weight)
    if not has:
        return
    configurations = part.configurations[hand]
    components = part.prior.components
    factors = part.factors[hand][: len(components)]
    around = contexts(configurations, part.weights, factors, part.view.lacks)
    classes = Classes(configurations)
    seen, _ = part.view.likelihoods(weighed.box, hand)
    for name, wheel in has.items():
        number = next(i for i, c in enumerate(components) if wheel in c.wheels)
        root = components[number].wheels.index(wheel)
        component = ComponentSum(components[number], part.prior, seen, root)
        for local, vector in around[number].items():
            spread = component.spread(factors[number].seen(local))  # type: ignore[arg-type]
            for answer, weight in named_answers(part, classes, vector):
                if weight:
                    gathered[name].add(answer, hand, spread, scale * weight)


def gears_of(family: Family) -> tuple[str, ...]:
    """Return the gears of a family; of one known by print alone, those that are printed."""
    if family.counted_sets:
        return family.train.gears
    return tuple(dict.fromkeys(g for known in family.ratio_only_sets for g in known.ratios))


def joint_with_ratios(
    weighed: Weighed, gears: Sequence[str]
) -> dict[str, dict[Answer, dict[Ratio, float]]]:
    """Return for each gear the joint of the answer with its ratio (None: there is no ratio)."""
    found: dict[str, dict[Answer, dict[Ratio, float]]] = {gear: {} for gear in gears}

    def add(gear: str, answer: Answer, ratio: Ratio, weight: float) -> None:
        into = found[gear].setdefault(answer, {})
        into[ratio] = into.get(ratio, 0.0) + weight

    for gear in gears:
        add(gear, _UNKNOWN, unknown_ratio(weighed.box, (gear,)), fsum(weighed.uncatalogued))
    for part, scales in zip(weighed.worked, weighed.scales, strict=True):
        for hand in HANDS:
            scale = scales[hand]
            whole = scale * part.values[hand]
            if isinstance(part, Ratios):
                answer: Answer = (MATCHED, part.family.id, part.known.key)
                for gear in gears:
                    add(gear, answer, _printed(part, gear), whole)
                continue
            paths = {gear: part.family.train.path(gear) for gear in gears}
            if isinstance(part, New):
                for gear, path in paths.items():
                    ratio = None if path is None else part.ratio(path)
                    add(gear, (NEW, part.family.id, None), ratio, whole)
                continue
            turning = {g: path for g, path in paths.items() if path and whole >= TOO_RARE}
            plain = [gear for gear in gears if gear not in turning]
            for answer, weight in answers_of(part, hand).items() if plain else ():
                for gear in plain:
                    ratio = Fraction(1) if paths[gear] == () else None
                    add(gear, answer, ratio, scale * weight)
            if turning:
                _add_turning(part, hand, scale, turning, add)
    return found


def _add_turning(
    part: Counted,
    hand: int,
    scale: float,
    paths: Mapping[str, Sequence[str]],
    add: Callable[[str, Answer, Ratio, float], None],
) -> None:
    """Add one family's joint for gears that turn through its pairs, all of them in one pass."""
    flats = {
        g: FlatFactor(*path_shape(part.prior, path, part.likeliest)) for g, path in paths.items()
    }
    configurations = Configurations(part.prior, [*part.factors[hand], *flats.values()])
    around = contexts(configurations, part.weights, list(flats.values()), part.view.lacks)
    classes = Classes(configurations)
    for (gear, flat), weights in zip(flats.items(), around, strict=True):
        for local, vector in weights.items():
            ratio = _path_ratio(flat.seen(local))
            for answer, weight in named_answers(part, classes, vector):
                if weight:
                    add(gear, answer, ratio, scale * weight)


def _printed(part: Ratios, gear: str) -> Ratio:
    if gear == part.family.direct:
        return Fraction(1)
    interval = part.known.intervals.get(gear)
    return None if interval is None else Between(interval.low, interval.high)


def _path_ratio(seen: Sequence[object]) -> Fraction | None:
    teeth = [t for t in seen if isinstance(t, int)]
    if len(teeth) < len(seen):
        return None
    ratio = Fraction(1)
    for driver, driven in zip(teeth[::2], teeth[1::2], strict=True):
        ratio *= Fraction(driven, driver)
    return ratio
