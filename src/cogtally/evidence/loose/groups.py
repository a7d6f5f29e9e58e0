"""One answer of a loose piece: which types it stands for, where the counts lie, where they differ.

The probabilities are left to `posterior`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from cogtally.catalog.model import Family, Piece, PieceType, Teeth
from cogtally.evidence.laws import likeliest_teeth
from cogtally.evidence.loose.candidates import places
from cogtally.gears.looks import SeenPiece
from cogtally.gears.notation import FEWEST_TEETH, MOST_TEETH, Count

#: Counts go as far as they can be written.
_ANY_TEETH = range(FEWEST_TEETH, MOST_TEETH + 1)


@dataclass(frozen=True, slots=True)
class LooseShare:
    """One answer: the piece is of this type of `piece` of `family`, which `sets` carry.

    `kind` is None where it is of no listed type.
    """

    family: str
    piece: str
    kind: PieceType | None
    sets: tuple[str, ...]
    probability: float


@dataclass(frozen=True, slots=True)
class Off:
    """A place, from 1 as written, where a type has other teeth than were counted."""

    place: int
    counted: int
    listed: int


@dataclass(frozen=True, slots=True)
class Mate:
    """What one wheel of a piece runs with: the other wheel and its teeth in each set.

    `wheel` is the index in the piece; `teeth` are (teeth, sets) in the order of the catalog, None
    for a gap.
    """

    wheel: int
    mate: str
    teeth: tuple[tuple[int | None, tuple[str, ...]], ...]


@dataclass(frozen=True)
class LooseGroup:
    """The types of one piece of a family that are alike in teeth, as one answer; or none of them.

    Marks and features seen are equally likely under all of them. `shares` falling; `probability`
    is their sum.
    """

    seen: SeenPiece
    family: Family
    piece_name: str
    shares: tuple[LooseShare, ...]
    probability: float

    @property
    def is_listed(self) -> bool:
        """Whether it stands for listed types."""
        return self.shares[0].kind is not None

    @cached_property
    def piece(self) -> Piece:
        """The piece in its family."""
        return next(piece for piece in self.family.pieces if piece.name == self.piece_name)

    @property
    def teeth(self) -> Teeth:
        """The teeth of its wheels; of an unlisted piece those of the listed type nearest to it."""
        return self._fit[0].teeth

    @property
    def wheels(self) -> tuple[int, ...]:
        """For each place the index of the wheel of `piece` that it is, as the counts fit best."""
        return self._fit[1]

    @property
    def off(self) -> tuple[Off, ...]:
        """Where the counts are not those of `teeth`."""
        return self._fit[2]

    @property
    def away(self) -> int:
        """How many teeth that is in all."""
        return sum(abs(off.counted - off.listed) for off in self.off)

    @cached_property
    def sets(self) -> tuple[str, ...]:
        """The sets that it would complete, in the order of the catalog; none where unlisted."""
        carried = {name for share in self.shares for name in share.sets}
        return tuple(s.id for s in self.family.counted_sets if s.id in carried)

    @property
    def near_sets(self) -> tuple[str, ...]:
        """The same; of an unlisted piece the sets with the type nearest to it."""
        if self.is_listed:
            return self.sets
        return tuple(self.family.counted_sets[c].id for c in self._fit[0].carriers)

    @cached_property
    def _fit(self) -> tuple[PieceType, tuple[int, ...], tuple[Off, ...]]:
        counted = [counted_teeth(counts) for counts in self.seen.places]
        kinds = [share.kind for share in self.shares if share.kind is not None][:1]
        found = [
            (kind, *best_place(self.seen, counted, kind.teeth))
            for kind in kinds or self.family.types[self.piece_name]
        ]
        # Of the nearest the commonest.
        return min(found, key=lambda fit: (len(fit[2]), _away(fit[2]), -fit[0].weight))

    def mates(self) -> tuple[Mate, ...]:
        """Return what every wheel runs with in the sets that the piece would complete.

        In the order of the piece's wheels; a wheel that runs with two (an idler) comes twice.
        """
        family = self.family
        teeth = {s.id: family.teeth_of(s) for s in family.counted_sets if s.id in self.sets}
        found = []
        for index, wheel in enumerate(self.piece.wheels):
            meshes = [mesh for mesh in family.train.meshes if wheel in mesh]
            for mate in dict.fromkeys(b if a == wheel else a for a, b in meshes):
                by_teeth: dict[int | None, list[str]] = {}
                for name in self.sets:
                    by_teeth.setdefault(teeth[name].get(mate), []).append(name)
                found.append(Mate(index, mate, tuple((t, tuple(s)) for t, s in by_teeth.items())))
        return tuple(found)


def counted_teeth(counts: Sequence[Count]) -> int | None:
    """Return the teeth that the counts of one place make likeliest; None where there are none."""
    if len(counts) == 1:
        return counts[0].teeth
    return likeliest_teeth(counts, _ANY_TEETH) if counts else None


def best_place(
    seen: SeenPiece, counted: Sequence[int | None], teeth: Teeth
) -> tuple[tuple[int, ...], tuple[Off, ...]]:
    """Return where on a type the counts fit with the fewest teeth off, and where they are off."""
    found = []
    for wheels in places(len(teeth), seen):
        off = tuple(
            Off(place, count, listed)
            for place, (wheel, count) in enumerate(zip(wheels, counted, strict=True), 1)
            if count is not None and (listed := teeth[wheel]) is not None and listed != count
        )
        found.append((wheels, off))
    return min(found, key=lambda fit: _away(fit[1]))


def _away(off: Sequence[Off]) -> int:
    return sum(abs(o.counted - o.listed) for o in off)
