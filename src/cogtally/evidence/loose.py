"""The posterior of a loose piece, counted along its axis from either end.

How its counts are typed belongs to `gears.notation`, the sums to `loose_weighed`; assembled boxes
belong to `assembled`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from math import exp

from cogtally.catalog.model import Catalog, Family, PieceType
from cogtally.evidence.likelihood import HAND_PRIOR, HASTY, STEADY
from cogtally.evidence.loose_frames import HANDS, Alike, places, ready_for_pieces
from cogtally.evidence.loose_weighed import Also, Question, Weighed, WeighedAlso
from cogtally.gears.looks import SeenPiece

__all__ = ["AlikeShare", "Also", "LoosePosterior", "LooseShare", "loose_posterior", "places"]


@dataclass(frozen=True, slots=True)
class LooseShare:
    """One answer: the piece is of this type of `piece` of `family`, which `sets` carry."""

    family: str
    piece: str
    kind: PieceType
    sets: tuple[str, ...]
    probability: float


@dataclass(frozen=True, slots=True)
class AlikeShare:
    """The types of one piece that are alike in teeth, as one answer."""

    group: Alike
    probability: float


@dataclass(frozen=True)
class LoosePosterior:
    """The exact posterior of a loose piece.

    The answers add up to 1 with `uncatalogued`; `steady`: probability of a steady hand. Single
    answers and the worth of another count are only worked out when they are asked for.
    """

    uncatalogued: float
    steady: float
    _weighed: Weighed = field(repr=False, compare=False)

    @cached_property
    def answers(self) -> tuple[LooseShare, ...]:
        """Every answer, falling."""
        return self.listed(0.0)

    def listed(self, least: float) -> tuple[LooseShare, ...]:
        """Return the answers of at least that probability, falling."""
        shares = [
            LooseShare(
                group.family.id,
                group.piece.name,
                kind,
                tuple(group.family.counted_sets[c].id for c in kind.carriers),
                probability,
            )
            for probability, group, kind in self._weighed.types(least)
            if probability >= least
        ]
        return tuple(sorted(shares, key=lambda share: -share.probability))

    def leading(self, most: int, least: float = 0.0) -> tuple[AlikeShare, ...]:
        """Return the most probable answers, so many, those alike in teeth as one; falling.

        None of less than `least`.
        """
        return tuple(AlikeShare(group, p) for p, group in self._weighed.groups(least, most))

    def of_piece(self, family: Family, piece: str) -> float:
        """Return the probability that it is that piece of that family, of whichever type."""
        return self._weighed.of_piece(family, piece)

    @cached_property
    def worth(self) -> tuple[float, ...]:
        """The bits that one more count of each place is expected to bring."""
        from cogtally.evidence.loose_worth import worth_of_places

        return worth_of_places(self._weighed.question)

    @cached_property
    def sizes(self) -> tuple[int, ...]:
        """How many wheels the catalogued pieces (of the role asked for) have, rising."""
        question = self._weighed.question
        sizes = {
            len(piece.wheels)
            for family in question.catalog.families
            for piece in family.pieces
            if family.counted_sets and question.role in (None, piece.name)
        }
        return tuple(sorted(sizes))


def loose_posterior(
    catalog: Catalog,
    seen: SeenPiece,
    role: str | None = None,
    *,
    also: Also | None = None,
    many: bool = False,
) -> LoosePosterior:
    """Return the exact posterior of a loose piece; `role` (a piece name) restricts the candidates.

    All places in a type that fit, both ways round, are equally likely. `also` is what was seen
    beside the counts. `many`: more questions will be put to this catalog, so that arrays pay.
    """
    ready = ready_for_pieces(catalog)
    counted = tuple([ready.place(counts) for counts in seen.places])
    scales = [sum([p.log_scale[hand] for p in counted if p is not None]) for hand in HANDS]
    top = max(scales)
    hands = (
        HAND_PRIOR[STEADY] * exp(scales[STEADY] - top),
        HAND_PRIOR[HASTY] * exp(scales[HASTY] - top),
    )
    question = Question(catalog, role, ready.frame(seen, role), counted, hands, also, many)
    weighed = Weighed(question) if also is None else WeighedAlso(question, also)
    return LoosePosterior(weighed.uncatalogued, weighed.steady, weighed)
