"""What a look at a mark or a feature of a box is expected to bring, in bits.

The joint comes from `joints`, the laws from the room of laws; how a look is worded is left to
`show`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from functools import cache
from typing import NamedTuple

import numpy as np

from cogtally.catalog.model import Family, PieceType
from cogtally.evidence.advice.count_worth import entropy, left_over
from cogtally.evidence.advice.joints import Joints
from cogtally.evidence.engine import HANDS, Array, Weighed
from cogtally.evidence.laws import RIGHT_MARK, log_feature, size_sd
from cogtally.evidence.rho import Pool, known_features, own_name, owner_in, value_in
from cogtally.evidence.seen import MARK
from cogtally.gears.looks import COUNTED, KINDS, MOST_COUNTED, OUTSIDE, Value, mark_key
from cogtally.gears.notation import ReadFeature

#: A size is gone through in steps of so many standard deviations, so many of them to either side;
#: an outside diameter further down, for wear (mm).
STEP_SD, REACH_SD, WORN_REACH_MM = 0.5, 5, 0.8

#: What a type has there: the keys of its marks, or a value; None where it is not known.
Has = tuple[str, ...] | Value | None


class LookWorth(NamedTuple):
    """A look worth `bits`: at the mark of a piece, or at a feature of a wheel or a piece.

    `owner`: the piece or the wheel; `feature`: MARK or its name. `values`: what can be found, as
    the catalog has it, each with the sets of the leading family that have it.
    """

    bits: float
    owner: str
    feature: str
    values: tuple[tuple[Value, tuple[str, ...]], ...]


def looks_by_worth(joints: Joints, family: Family) -> tuple[LookWorth, ...]:
    """Return every look that parts types of a family, not taken yet, falling by its worth.

    A mark counts as read well enough to be told from others, or as another one; a size is summed
    over a grid (to 1e-2 bit).
    """
    looks = list(_looks(joints.weighed, family))
    if not looks:
        return ()
    rho = joints.weighed.ready.rho
    found = []
    for owner, feature in looks:
        had, joint = _joint(joints, owner, feature)
        bits = _fall(joint, _laws(feature, had, rho.values_of(owner, feature)))
        found.append(LookWorth(bits, owner, feature, _values(family, owner, feature)))
    return tuple(sorted(found, key=lambda look: -look.bits))


def _looks(weighed: Weighed, family: Family) -> Iterator[tuple[str, str]]:
    """Every (owner, feature) in which types of a family differ, and that was not looked at."""
    seen = weighed.question.whole.observed
    taken = {} if seen is None else seen.taken
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


def _has(kind: PieceType, owner: str, feature: str) -> Has:
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
            found.setdefault(value, []).extend(kind.sets)
    return tuple((value, tuple(sets)) for value, sets in found.items())


def _joint(joints: Joints, owner: str, feature: str) -> tuple[list[Has], Array]:
    """What can be had under a name, and the joint of the answer with it: [answer, had, hand].

    The first thing had is None: it is not known.
    """
    places: dict[Has, int] = {None: 0}
    of_pieces = []
    for kinds in joints.kinds:
        family = joints.weighed.ready.family(kinds.number)
        there = owner_in(family, owner)
        piece = family.pieces.index(there[0]) if there else 0
        # By kind; what is unlisted is not known.
        had = np.zeros(kinds.rest[piece].shape[2], np.intp)
        if there:
            has = [_has(kind, there[1], feature) for kind in family.types[there[0].name]]
            had[: len(has)] = [places.setdefault(what, len(places)) for what in has]
        of_pieces.append((had, kinds.rest[piece], kinds.matched, kinds.own[:, piece]))
    found = [np.zeros((len(joints.plain), len(places), len(HANDS)))]
    found[0][:, 0] = joints.plain
    for had, rest, matched, own in of_pieces:
        for answer, weights in zip(found[0], rest, strict=False):
            np.add.at(answer, had, weights.T)
        found.append(np.zeros((len(matched), *found[0].shape[1:])))
        found[-1][np.arange(len(matched)), had[own]] = matched
    return [*places], np.concatenate(found)


def _laws(feature: str, had: Collection[Has], pool: Pool) -> Array:
    """Return how likely one plain look finds what, given what is had: [had, hand, outcome].

    Of a size it is a density, times the step of its grid.
    """
    if feature == MARK:
        known = [has if isinstance(has, tuple) else () for has in had]
        marks = sorted({mark for has in known for mark in has})
        found = np.array([_mark_outcomes(marks, has) for has in known])
        return np.repeat(found[:, None], len(HANDS), axis=1)
    outcomes: list[tuple[Value, float]]
    if feature in KINDS:
        outcomes = [(kind, 1.0) for kind in KINDS[feature]]
    elif feature in COUNTED:
        outcomes = [(count, 1.0) for count in range(1, MOST_COUNTED + 1)]
    else:
        outcomes = _grid(feature, [has for has in had if isinstance(has, float)])
    reads = [ReadFeature("", feature, value) for value, _ in outcomes]
    steps = np.array([step for _, step in outcomes])

    @cache
    def law(value: Value) -> Array:
        logs = [[log_feature(read, value, hand) for read in reads] for hand in HANDS]
        return np.asarray(steps * np.exp(logs))

    unknown = sum(w * law(value) for value, w in pool.items()) / sum(pool.values())
    return np.array([unknown if has is None or isinstance(has, tuple) else law(has) for has in had])


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


def _fall(joint: Array, laws: Array) -> float:
    """Return the expected fall of the answer's entropy, in bits.

    What no outcome covers is taken as one outcome more.
    """
    whole = joint.sum(axis=(1, 2))
    outcomes = np.einsum("ahq,hqo->ao", joint, laws)
    left = np.maximum(whole - outcomes.sum(axis=1), 0.0)
    return max(0.0, entropy(whole) - left_over(np.concatenate([outcomes, left[:, None]], axis=1)))
