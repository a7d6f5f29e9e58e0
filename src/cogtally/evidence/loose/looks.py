"""Marks and features of a loose piece: what they say of a type, and which of them part types.

The laws are left to `likelihood_marks` and `likelihood_features`, the sums to `posterior`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from math import fsum, log2

import numpy as np

from cogtally.catalog.model import FeatureValue, PieceType
from cogtally.evidence.laws import log_feature, log_mark, log_unknown_mark
from cogtally.evidence.loose.candidates import HANDS, Block, LooseCatalog, Reals
from cogtally.evidence.loose.groups import LooseGroup
from cogtally.evidence.rho import own_name, value_in
from cogtally.evidence.seen import log_unknown_feature
from cogtally.gears.looks import SeenPiece
from cogtally.gears.notation import ReadFeature

MARK = "mark"
#: What is measured parts two types from so much on, by the unit that its name ends with (common
#: practice, no source: callipers on a worn piece, a helix seen against a protractor).
LEAST_APART = {"_mm": 0.2, "_deg": 2.0}
#: Measures are compared as written; 20.2 − 20.0 is 0.2.
DECIMALS = 6
#: Fewer bits than this are not worth a look.
SMALL_GAIN = 0.05

#: What is looked at: a mark or the name of a feature, and where. The place is the piece as a whole
#: (None), a place as written from 1, or the name of a wheel that was not looked at.
_Key = tuple[str, int | str | None]
#: One type: the index of its group and of its share there.
Member = tuple[int, int]


class Looks:
    """All that was looked at on one piece.

    `log_elsewhere`: for each hand the log likelihood where nothing is known of any of it, as of a
    piece of no listed type.
    """

    def __init__(self, ready: LooseCatalog, seen: SeenPiece) -> None:
        self._ready = ready
        self._readings = [mark.reading for mark in seen.marks]
        tied: dict[tuple[str, str], list[ReadFeature]] = {}
        for feature in seen.features:
            tied.setdefault((feature.owner, feature.feature), []).append(feature)
        pool = ready.rho.features
        self._unknown = sum(map(log_unknown_mark, self._readings))
        #: Each thing of one value: its place, its name, what was seen of it, and for each hand what
        #: that is worth where its value is not known.
        self._groups = [
            (
                owner,
                feature,
                group,
                [
                    log_unknown_feature(group, pool.of_any(feature, wheel=bool(owner)), hand)
                    for hand in HANDS
                ],
            )
            for (owner, feature), group in tied.items()
        ]
        self.log_elsewhere = self._unknown + np.array(
            [fsum(unknown[hand] for *_, unknown in self._groups) for hand in HANDS]
        )
        self._marked = cache(self._log_marks)

    def log_beside(self, block: Block) -> Reals:
        """Return by hand, way and type the log of what all of it is worth, over `log_elsewhere`."""
        found = np.zeros((len(HANDS), len(block.ways), len(block.kinds)))
        for at, number in enumerate(block.kinds.tolist()):
            kind = self._ready.kinds[number]
            found[:, :, at] = self._marked(kind.marks)
            for way, wheels in enumerate(block.ways):
                for hand in HANDS:
                    found[hand, way, at] += self._log_features(kind, wheels, hand)
        return found

    def _log_marks(self, marks: tuple[str, ...] | None) -> float:
        return fsum(log_mark(reading, marks) for reading in self._readings) - self._unknown

    def _log_features(self, kind: PieceType, wheels: Sequence[int], hand: int) -> float:
        total = 0.0
        for owner, feature, group, unknown in self._groups:
            wheel = kind.piece.wheels[wheels[int(owner) - 1]] if owner else own_name(kind.piece)
            value = value_in(kind, wheel, feature)
            if value is not None:
                total += fsum(log_feature(seen, value, hand) for seen in group) - unknown[hand]
        return total


@dataclass(frozen=True, slots=True)
class Parting:
    """One mark or feature, and the types by its value.

    `what` is MARK or the name of the feature as catalogued; `place` is None for the piece as a
    whole, a place as written from 1, or the name of a wheel that was not looked at. `values` are
    (value, types), each type the index of its group and of its share there; `unlisted` are the
    types of which it is not known.
    """

    what: str
    place: int | str | None
    values: tuple[tuple[FeatureValue, tuple[Member, ...]], ...]
    unlisted: tuple[Member, ...]


def partings(
    groups: Sequence[LooseGroup], most: int = 2, least: float = 0.0
) -> tuple[Parting, ...]:
    """Return the marks and features, at most so many, that part the types of `groups` best.

    The first is that from which most bits are to be had, the next what it leaves unparted, as long
    as it is more than `least` bits. A type of which it is not known is parted from none. Empty
    where nothing listed parts any two.
    """
    known = _known(groups)
    weights = {
        (g, s): share.probability
        for g, group in enumerate(groups)
        for s, share in enumerate(group.shares)
    }
    classes: list[list[Member]] = [list(weights)]
    found: list[Parting] = []
    for _ in range(most):
        gains = {
            key: sum(_gain(members, values, weights) for members in classes)
            for key, values in known.items()
        }
        best = max(gains, key=lambda key: gains[key], default=None)
        if best is None or gains[best] <= least * sum(weights.values()):
            break
        values = known.pop(best)
        found.append(_parting(best, values, list(weights)))
        classes = [part for members in classes for part in _parted(members, values)]
    return tuple(found)


def _known(groups: Sequence[LooseGroup]) -> dict[_Key, dict[Member, FeatureValue]]:
    """For each mark and feature, its value in every type of which it is known."""
    found: dict[_Key, dict[Member, FeatureValue]] = {}
    for g, group in enumerate(groups):
        places: dict[str, int | str | None] = {
            wheel: (group.wheels.index(index) + 1 if index in group.wheels else wheel)
            for index, wheel in enumerate(group.piece.wheels)
        }
        if len(group.piece.wheels) == 1:
            places = dict.fromkeys(places)
        for s, share in enumerate(group.shares):
            if share.kind is None:
                continue
            if share.kind.marks:
                marks = ", ".join(sorted(share.kind.marks))
                found.setdefault((MARK, None), {})[g, s] = marks
            for owner, feature, value in share.kind.features:
                if value is not None:
                    found.setdefault((feature, places.get(owner)), {})[g, s] = value
    return {key: _measured(key[0], values) for key, values in found.items()}


def _measured(what: str, values: dict[Member, FeatureValue]) -> dict[Member, FeatureValue]:
    """Measures closer than LEAST_APART to the one below taken as one, the least of them."""
    least = next((apart for unit, apart in LEAST_APART.items() if what.endswith(unit)), None)
    if least is None:
        return values
    numbers = {v for v in values.values() if isinstance(v, (int, float))}
    taken: dict[FeatureValue, FeatureValue] = {}
    first = last = None
    for number in sorted(numbers):
        if first is None or last is None or round(number - last, DECIMALS) >= least:
            first = number
        taken[number] = first
        last = number
    return {member: taken.get(value, value) for member, value in values.items()}


def _parted(members: Sequence[Member], values: Mapping[Member, FeatureValue]) -> list[list[Member]]:
    """The members by value; those without one stand by themselves."""
    parts: dict[FeatureValue | None, list[Member]] = {}
    for member in members:
        parts.setdefault(values.get(member), []).append(member)
    return list(parts.values())


def _gain(
    members: Sequence[Member],
    values: Mapping[Member, FeatureValue],
    weights: Mapping[Member, float],
) -> float:
    """Bits, times their weight, from parting the members of which the value is known."""
    sums: dict[FeatureValue, float] = {}
    for member in members:
        if member in values:
            sums[values[member]] = sums.get(values[member], 0.0) + weights[member]
    total = sum(sums.values())
    return -sum(w * log2(w / total) for w in sums.values() if w > 0)


def _parting(
    key: _Key, values: Mapping[Member, FeatureValue], members: Sequence[Member]
) -> Parting:
    by_value: dict[FeatureValue, list[Member]] = {}
    for member in members:
        if member in values:
            by_value.setdefault(values[member], []).append(member)
    return Parting(
        what=key[0],
        place=key[1],
        values=tuple((value, tuple(found)) for value, found in by_value.items()),
        unlisted=tuple(member for member in members if member not in values),
    )
