"""What a look at a mark or a feature of a box is expected to bring, in bits.

The joint comes from `joints`, the laws from the room of laws; how a look is worded is left to
`show`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from functools import cache
from typing import NamedTuple

import numpy as np

from cogtally.catalog.model import Family, PieceType
from cogtally.evidence.advice.count_worth import Joint
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
    found = [
        LookWorth(
            _worth(joints, owner, feature),
            owner,
            feature,
            tuple((value, tuple(sets)) for value, sets in values.items()),
        )
        for owner, feature, values in _looks(joints.weighed, family)
    ]
    return tuple(sorted(found, key=lambda look: -look.bits))


def _looks(
    weighed: Weighed, family: Family
) -> Iterator[tuple[str, str, Mapping[Value, Sequence[str]]]]:
    """Every (owner, feature) in which types of a family differ, and that was not looked at.

    With the values there, each with the sets that have it.
    """
    seen = weighed.question.whole.observed
    taken = {} if seen is None else seen.taken
    for piece in family.pieces:
        there: dict[tuple[str, str], dict[Value, list[str]]] = {(piece.name, MARK): {}}
        for kind in family.types[piece.name]:
            listed = [(piece.name, MARK, mark) for mark in kind.marks or ()]
            for owner, feature, value in [*listed, *known_features(kind)]:
                values = there.setdefault((owner, feature), {})
                values.setdefault(value, []).extend(kind.sets)
        for (owner, feature), values in there.items():
            name = piece.name if owner == own_name(piece) else owner
            looked = (owner, feature) in taken or (name, feature) in taken
            # Types differ where some value is not had by all sets of which any is known.
            if not looked and len({tuple(sets) for sets in values.values()}) > 1:
                yield name, feature, values


def _has(kind: PieceType, owner: str, feature: str) -> Has:
    if feature == MARK:
        return tuple(sorted({key for key in map(mark_key, kind.marks or ()) if key})) or None
    return value_in(kind, owner, feature)


def _worth(joints: Joints, owner: str, feature: str) -> float:
    """How many bits a look is expected to bring; what is had first, None, is not known."""
    places: dict[Has, int] = {None: 0}
    found = []
    for kinds in joints.kinds:
        family = joints.weighed.ready.family(kinds.number)
        there = owner_in(family, owner)
        piece = family.pieces.index(there[0]) if there else 0
        # By kind; what is unlisted is not known.
        had = np.zeros(kinds.rest[piece].shape[2], np.intp)
        if there:
            has = [_has(kind, there[1], feature) for kind in family.types[there[0].name]]
            had[: len(has)] = [places.setdefault(what, len(places)) for what in has]
        found.append((had, kinds.rest[piece], kinds.matched, kinds.own[:, piece]))
    states = np.eye(len(places))
    unknown = np.array([states[0] for _ in HANDS])
    values = joints.weighed.ready.rho.values_of(owner, feature)
    joint = Joint(_laws(feature, places, values), unknown)
    joint.add(joints.plain[2:])
    rest = joints.plain[:2, :, None] * unknown
    for had, others, matched, own in found:
        joint.add(matched, had[own])
        rest += others @ states[had]
    joint.add_spread(rest)
    return joint.worth()


def _laws(feature: str, had: Collection[Has], pool: Pool) -> Array:
    """Return how likely one plain look finds what, given what is had: [hand, had, outcome].

    Of a size it is a density, times the step of its grid. What no outcome covers is one more.
    """
    if feature == MARK:
        known = [has if isinstance(has, tuple) else () for has in had]
        marks = sorted({mark for has in known for mark in has})
        read = [[RIGHT_MARK / len(has) if m in has else 0.0 for m in marks] for has in known]
        found = np.array([read for _ in HANDS])
    else:
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
        laws = [unknown if has is None or isinstance(has, tuple) else law(has) for has in had]
        found = np.stack(laws, axis=1)
    left = np.maximum(1.0 - found.sum(axis=2, keepdims=True), 0.0)
    return np.concatenate([found, left], axis=2)


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
