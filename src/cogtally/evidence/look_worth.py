"""What a look at a mark or a feature of a box is expected to bring, in bits.

The sums around a piece come from `contexts`, the laws from `likelihood_marks` and
`likelihood_features`; how a look is worded is left to `show`.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import exp, log2

from cogtally.catalog.model import Family, PieceType
from cogtally.evidence.configurations import Configurations
from cogtally.evidence.contexts import Classes
from cogtally.evidence.contexts_arrays import contexts
from cogtally.evidence.factors import StateFactor
from cogtally.evidence.feature_pool import Pool, known_features, own_name, owner_in, value_in
from cogtally.evidence.joints import TOO_SMALL, Answer, answers_of, named_answers
from cogtally.evidence.likelihood_features import log_feature, size_sd
from cogtally.evidence.likelihood_marks import RIGHT_MARK
from cogtally.evidence.parts import HANDS, Counted
from cogtally.evidence.posterior import UNCATALOGUED
from cogtally.evidence.weighed import Weighed
from cogtally.gears.looks import COUNTED, KINDS, MOST_COUNTED, OUTSIDE, Value, mark_key
from cogtally.gears.words import ReadFeature

#: What is looked at where it is no feature.
MARK = "mark"
#: A size is gone through in steps of so many standard deviations, so many of them to either side;
#: an outside diameter further down, for wear (mm).
STEP_SD, REACH_SD, WORN_REACH_MM = 0.5, 5, 0.8

#: What a type has there: the keys of its marks, or a value; None where it is not known.
Has = tuple[str, ...] | Value | None
#: For each answer the weight of each thing had, by hand.
Joint = Mapping[Answer, Mapping[Has, Sequence[float]]]
#: The probability (or weighted density) of each outcome of a look, given what is had and the hand.
Law = Callable[[Has, int], Sequence[float]]


@dataclass(frozen=True, slots=True)
class LookWorth:
    """A look worth `bits`: at the mark of a piece, or at a feature of a wheel or a piece.

    `owner`: the piece or the wheel; `feature`: MARK or its name. `values`: what can be found, as
    the catalog has it, each with the sets of the leading family that have it.
    """

    bits: float
    owner: str
    feature: str
    values: tuple[tuple[Value, tuple[str, ...]], ...]


def looks_by_worth(weighed: Weighed, family: Family) -> tuple[LookWorth, ...]:
    """Return every look that parts types of a family, not taken yet, falling by its worth.

    A mark counts as read well enough to be told from others, or as another one; a size is summed
    over a grid (to 1e-2 bit).
    """
    looks = list(_looks(weighed, family))
    if not looks:
        return ()
    joints = _joints(weighed, {owner for owner, _ in looks})
    found = []
    for owner, feature in looks:
        joint = joints(owner, feature)
        had = {has for by_has in joint.values() for has in by_has if has is not None}
        law = _law(feature, had, weighed.ready.rho.features.of(owner, feature))
        found.append(LookWorth(_fall(joint, law), owner, feature, _values(family, owner, feature)))
    return tuple(sorted(found, key=lambda look: -look.bits))


def _looks(weighed: Weighed, family: Family) -> Iterator[tuple[str, str]]:
    """Every (owner, feature) in which types of a family differ, and that was not looked at."""
    seen = weighed.box.observed
    taken = set() if seen is None else seen.taken
    for piece in family.pieces:
        types = family.types[piece.name]
        marks = {kind.marks for kind in types if kind.marks}
        if len(marks) > 1 and (piece.name, MARK) not in taken:
            yield piece.name, MARK
        values: dict[tuple[str, str], set[Value]] = {}
        for kind in types:
            for owner, feature, value in known_features(kind):
                values.setdefault((owner, feature), set()).add(value)
        for (owner, feature), different in values.items():
            of_piece = owner == own_name(piece)
            names = {owner, piece.name} if of_piece else {owner}
            if len(different) > 1 and not any((name, feature) in taken for name in names):
                yield piece.name if of_piece else owner, feature


def _has(kind: PieceType | None, owner: str, feature: str) -> Has:
    if kind is None:
        return None
    if feature == MARK:
        return tuple(sorted({key for key in map(mark_key, kind.marks or ()) if key})) or None
    return value_in(kind, owner, feature)


def _values(family: Family, owner: str, feature: str) -> tuple[tuple[Value, tuple[str, ...]], ...]:
    found: dict[Value, list[str]] = {}
    there = owner_in(family, owner)
    for kind in family.types[there[0].name] if there else ():
        listed: Sequence[Value] = ()
        if feature == MARK:
            listed = kind.marks or ()
        else:
            value = value_in(kind, there[1], feature) if there else None
            listed = () if value is None else (value,)
        for value in listed:
            found.setdefault(value, []).extend(family.counted_sets[c].id for c in kind.carriers)
    return tuple((value, tuple(sets)) for value, sets in found.items())


def _joints(weighed: Weighed, owners: set[str]) -> Callable[[str, str], Joint]:
    """Return what gives the joint of the answer with what is had under a name, and the hand."""
    plain: list[tuple[Answer, int, float]] = []
    by_type: list[tuple[Counted, int, str, int | None, Answer, float]] = []
    for hand in HANDS:
        plain.append(((UNCATALOGUED, "", None), hand, weighed.uncatalogued[hand]))
    lacking: list[tuple[Counted, int, Answer, float]] = []
    for part, scales in zip(weighed.worked, weighed.scales, strict=True):
        for hand in HANDS:
            there = _pieces(part, owners) if isinstance(part, Counted) else {}
            if not isinstance(part, Counted) or scales[hand] * part.values[hand] < TOO_SMALL:
                there = {}
            weights = [(a, scales[hand] * w) for a, w in answers_of(part, hand).items()]
            if isinstance(part, Counted) and there:
                lacking += [(part, hand, answer, weight) for answer, weight in weights]
                by_type += [
                    (part, hand, piece, kind, answer, scales[hand] * weight)
                    for piece, kind, answer, weight in _by_type(part, hand, there)
                ]
            else:
                plain += [(answer, hand, weight) for answer, weight in weights]

    def joint(owner: str, feature: str) -> Joint:
        found: dict[Answer, dict[Has, list[float]]] = {}

        def add(answer: Answer, has: Has, hand: int, weight: float) -> None:
            found.setdefault(answer, {}).setdefault(has, [0.0] * len(HANDS))[hand] += weight

        for answer, hand, weight in plain:
            add(answer, None, hand, weight)
        for part, hand, answer, weight in lacking:
            if owner_in(part.family, owner) is None:
                add(answer, None, hand, weight)
        for part, hand, piece, kind, answer, weight in by_type:
            there = owner_in(part.family, owner)
            if there is not None and there[0].name == piece:
                types = part.family.types[piece]
                add(
                    answer,
                    _has(None if kind is None else types[kind], there[1], feature),
                    hand,
                    weight,
                )
        return found

    return joint


def _pieces(part: Counted, owners: set[str]) -> dict[str, int]:
    """The pieces of a family that are looked at, by name, with their number."""
    wanted = {found[0].name for owner in owners if (found := owner_in(part.family, owner))}
    return {p.name: number for number, p in enumerate(part.family.pieces) if p.name in wanted}


def _by_type(
    part: Counted, hand: int, pieces: Mapping[str, int]
) -> Iterator[tuple[str, int | None, Answer, float]]:
    """Give (piece, type or None for unlisted, answer, weight) of the counted sets of a family."""
    flats = {
        name: StateFactor(part.prior, number, [1.0] * (len(part.family.types[name]) + 1))
        for name, number in pieces.items()
    }
    configurations = Configurations(part.prior, [*part.factors[hand], *flats.values()])
    around = contexts(configurations, part.weights, list(flats.values()), part.view.lacks)
    classes = Classes(configurations)
    for name, by_local in zip(flats, around, strict=True):
        last = len(part.family.types[name])
        for (kind,), vector in by_local.items():
            for answer, weight in named_answers(part, classes, vector):
                if weight:
                    yield name, None if kind == last else kind, answer, weight


def _law(feature: str, had: Collection[Has], pool: Pool) -> Law:
    """Return the law of one plain look: what is found, given what is had."""
    if feature == MARK:
        marks = sorted({mark for has in had if isinstance(has, tuple) for mark in has})
        return lambda has, hand: _mark_outcomes(marks, has if isinstance(has, tuple) else ())
    outcomes: list[tuple[Value, float]]
    if feature in KINDS:
        outcomes = [(kind, 1.0) for kind in KINDS[feature]]
    elif feature in COUNTED:
        outcomes = [(count, 1.0) for count in range(1, MOST_COUNTED + 1)]
    else:
        outcomes = _grid(feature, [has for has in had if isinstance(has, float)])
    reads = [(ReadFeature("", feature, value), step) for value, step in outcomes]

    def of_value(value: Value, hand: int) -> list[float]:
        return [step * exp(log_feature(read, value, hand)) for read, step in reads]

    known = {
        (value, hand): of_value(value, hand)
        for value in {*had, *pool}
        if value is not None and not isinstance(value, tuple)
        for hand in HANDS
    }
    total = sum(pool.values())
    unknown = [
        [sum(w * known[v, hand][i] for v, w in pool.items()) / total for i in range(len(reads))]
        for hand in HANDS
    ]

    def law(has: Has, hand: int) -> Sequence[float]:
        return unknown[hand] if has is None or isinstance(has, tuple) else known[has, hand]

    return law


def _mark_outcomes(marks: Sequence[str], has: Sequence[str]) -> list[float]:
    read = [RIGHT_MARK / len(has) if mark in has else 0.0 for mark in marks]
    return [*read, 1.0 - sum(read)]


def _grid(feature: str, sizes: Sequence[float]) -> list[tuple[Value, float]]:
    """Readings about the sizes had, each with its step of the trapezium rule."""
    points: set[float] = set()
    for size in sizes:
        step = STEP_SD * size_sd(feature, size)
        low = round(REACH_SD / STEP_SD)
        more = round(WORN_REACH_MM / step) if feature == OUTSIDE else 0
        points |= {size + i * step for i in range(-low - more, low + 1)}
    ordered = sorted(point for point in points if point > 0)
    return [
        (x, (ordered[min(i + 1, len(ordered) - 1)] - ordered[max(i - 1, 0)]) / 2)
        for i, x in enumerate(ordered)
    ]


def _fall(joint: Joint, law: Law) -> float:
    """Return the expected fall of the answer's entropy, in bits.

    What no outcome covers is taken as one outcome more.
    """
    rows = []
    before = 0.0
    for by_has in joint.values():
        whole = sum(sum(pair) for pair in by_has.values())
        before -= whole * log2(whole) if whole > 0 else 0.0
        row: list[float] = []
        for has, pair in by_has.items():
            for hand in HANDS:
                seen = [pair[hand] * p for p in law(has, hand)]
                row = [a + b for a, b in zip(row, seen, strict=True)] if row else seen
        rows.append((row, whole - sum(row)))
    outcomes = [*zip(*(row for row, _ in rows), strict=True), tuple(max(0.0, r) for _, r in rows)]
    after = 0.0
    for outcome in outcomes:
        total = sum(outcome)
        after -= sum(p * log2(p / total) for p in outcome if p > 0)
    return max(0.0, before - after)
