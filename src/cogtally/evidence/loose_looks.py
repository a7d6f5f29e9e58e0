"""Marks and features of a loose piece, as a likelihood beside that of its counts.

The laws are left to `likelihood_marks` and `likelihood_features`, the sums to `loose_weighed`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import exp, fsum

from cogtally.catalog.model import Catalog, Family, PieceType
from cogtally.evidence.feature_pool import FeaturePool, own_name, value_in
from cogtally.evidence.likelihood import HASTY, STEADY
from cogtally.evidence.likelihood_features import log_feature
from cogtally.evidence.likelihood_marks import log_mark, log_unknown_mark
from cogtally.evidence.loose_frames import ready_for_pieces
from cogtally.evidence.loose_weighed import Also
from cogtally.evidence.observed import log_unknown_feature
from cogtally.gears.looks import SeenPiece
from cogtally.gears.words import ReadFeature, ReadMark

HANDS = (STEADY, HASTY)


def also_of(catalog: Catalog, seen: SeenPiece) -> Also | None:
    """Return what marks and features say of every type; None where none were seen."""
    if not (seen.marks or seen.features):
        return None
    looks = _Looks(seen.marks, seen.features, ready_for_pieces(catalog).rho.features)
    tops = [looks.log_elsewhere[hand] for hand in HANDS]
    for family in catalog.families:
        for kinds in family.types.values():
            for kind in kinds:
                tops = [max(top, looks.log_most(kind, hand)) for hand, top in enumerate(tops)]
    top = max(tops)

    def of(family: Family, kind: PieceType, wheels: tuple[int, ...]) -> tuple[float, float]:
        steady, hasty = (exp(looks.log_of(kind, wheels, hand) - top) for hand in HANDS)
        return steady, hasty

    steady, hasty = (exp(looks.log_elsewhere[hand] - top) for hand in HANDS)
    return Also(of, (steady, hasty))


class _Looks:
    """All that was looked at on one piece."""

    def __init__(
        self, marks: Sequence[ReadMark], features: Sequence[ReadFeature], pool: FeaturePool
    ) -> None:
        self._readings = [mark.reading for mark in marks]
        tied: dict[tuple[str, str], list[ReadFeature]] = {}
        for feature in features:
            tied.setdefault((feature.owner, feature.feature), []).append(feature)
        self._groups: Mapping[tuple[str, str], Sequence[ReadFeature]] = tied
        #: What each group is worth, for each hand, where its value is not known.
        self._unknown = {
            (owner, feature): [
                log_unknown_feature(group, pool.of_any(feature, wheel=bool(owner)), hand)
                for hand in HANDS
            ]
            for (owner, feature), group in tied.items()
        }
        #: For each hand the log likelihood where nothing is known of any of it.
        self.log_elsewhere = [
            fsum(
                [
                    *map(log_unknown_mark, self._readings),
                    *(values[hand] for values in self._unknown.values()),
                ]
            )
            for hand in HANDS
        ]
        self._marks: dict[tuple[str, ...] | None, float] = {}

    def log_of(self, kind: PieceType, wheels: Sequence[int], hand: int) -> float:
        """Return the log likelihood under a type; place i as written is its wheel `wheels[i]`."""
        return self._log_marks(kind) + fsum(
            self._log(kind, kind.piece.wheels[wheels[int(key[0]) - 1]] if key[0] else "", key, hand)
            for key in self._groups
        )

    def log_most(self, kind: PieceType, hand: int) -> float:
        """Return what that is at most, wherever a place is."""
        return self._log_marks(kind) + fsum(
            max(self._log(kind, w, key, hand) for w in (kind.piece.wheels if key[0] else ("",)))
            for key in self._groups
        )

    def _log_marks(self, kind: PieceType) -> float:
        found = self._marks.get(kind.marks)
        if found is None:
            found = fsum(log_mark(reading, kind.marks) for reading in self._readings)
            self._marks[kind.marks] = found
        return found

    def _log(self, kind: PieceType, wheel: str, key: tuple[str, str], hand: int) -> float:
        """The log likelihood of one feature of a wheel, or of the piece itself."""
        value = value_in(kind, wheel or own_name(kind.piece), key[1])
        if value is None:
            return self._unknown[key][hand]
        return fsum(log_feature(seen, value, hand) for seen in self._groups[key])
