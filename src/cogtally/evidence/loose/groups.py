"""One answer of a loose piece: which types it stands for, where the counts lie, where they differ.

And which marks and features part several of them. The probabilities are left to `posterior`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import inf
from typing import NamedTuple

from cogtally.catalog.model import Family, FeatureValue, Piece, PieceType, Teeth
from cogtally.evidence.advice import entropy
from cogtally.evidence.laws import likeliest_teeth
from cogtally.evidence.loose.candidates import places
from cogtally.evidence.seen import MARK
from cogtally.gears.looks import SeenPiece
from cogtally.gears.notation import FEWEST_TEETH, MOST_TEETH, Count

#: What is measured parts two types from so much on, by the unit that its name ends with (common
#: practice, no source: callipers on a worn piece, a helix seen against a protractor).
LEAST_APART = {"_mm": 0.2, "_deg": 2.0}
#: Measures are compared as written; 20.2 − 20.0 is 0.2.
DECIMALS = 6

#: What is looked at: a mark or the name of a feature, and where. The place is the piece as a whole
#: (None), a place as written from 1, or the name of a wheel that was not looked at.
_Key = tuple[str, int | str | None]
#: One type: the index of its group and of its share there.
Member = tuple[int, int]
#: Counts go as far as they can be written.
_ANY_TEETH = range(FEWEST_TEETH, MOST_TEETH + 1)


class LooseShare(NamedTuple):
    """One answer: the piece is of this type of `piece` of `family`, which `sets` carry.

    `kind` is None where it is of no listed type.
    """

    family: str
    piece: str
    kind: PieceType | None
    sets: tuple[str, ...]
    probability: float


class Off(NamedTuple):
    """A place, from 1 as written, counted otherwise than something that is listed has it."""

    place: int
    counted: int
    listed: int


class Mate(NamedTuple):
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
    piece: Piece
    shares: tuple[LooseShare, ...]
    probability: float

    @property
    def is_listed(self) -> bool:
        """Whether it stands for listed types."""
        return self.shares[0].kind is not None

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
        return _away(self.off)

    @cached_property
    def sets(self) -> tuple[str, ...]:
        """The sets that it would complete, in the order of the catalog; none where unlisted."""
        carried = {name for share in self.shares for name in share.sets}
        return tuple(s.id for s in self.family.counted_sets if s.id in carried)

    @property
    def near_sets(self) -> tuple[str, ...]:
        """The same; of an unlisted piece the sets with the type nearest to it."""
        return self.sets if self.is_listed else self._fit[0].sets

    @cached_property
    def _fit(self) -> tuple[PieceType, tuple[int, ...], tuple[Off, ...]]:
        counted = [counted_teeth(counts) for counts in self.seen.places]
        own = self.shares[0].kind
        found = []
        for kind in self.family.types[self.piece.name] if own is None else (own,):
            fits = [
                (kind, wheels, tuple(_off(counted, [kind.teeth[w] for w in wheels])))
                for wheels in places(len(kind.teeth), self.seen)
            ]
            found.append(min(fits, key=lambda fit: _away(fit[2])))
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
            meshes = (mesh for mesh in family.train.meshes if wheel in mesh)
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


def _off(counted: Sequence[int | None], teeth: Sequence[int | None]) -> Iterator[Off]:
    """Where counts, by place, are not the teeth there; a gap differs from nothing."""
    for place, (count, has) in enumerate(zip(counted, teeth, strict=True), 1):
        if count is not None and has is not None and count != has:
            yield Off(place, count, has)


def _away(off: Sequence[Off]) -> int:
    return sum(abs(o.counted - o.listed) for o in off)


class Parting(NamedTuple):
    """One mark or feature, and the types by its value.

    `what` is MARK or the name of the feature as catalogued; `place` is None for the piece as a
    whole, a place as written from 1, or the name of a wheel that was not looked at. `values` are
    (value, types), each type the index of its group and of its share there; a type of which it is
    not known is at none.
    """

    what: str
    place: int | str | None
    values: tuple[tuple[FeatureValue, tuple[Member, ...]], ...]


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
            key: sum(_gain(_by_value(members, values), weights) for members in classes)
            for key, values in known.items()
        }
        best = max(gains, key=gains.__getitem__, default=None)
        if best is None or gains[best] <= least * sum(weights.values()):
            break
        values = known.pop(best)
        parts = _by_value(weights, values).items()
        by_value = tuple((value, tuple(part)) for value, part in parts if value is not None)
        found.append(Parting(*best, by_value))
        classes = [part for of in classes for part in _by_value(of, values).values()]
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
            marks = ", ".join(sorted(share.kind.marks or ())) or None
            for owner, feature, value in (("", MARK, marks), *share.kind.features):
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
    first = last = -inf
    for number in sorted(numbers):
        if round(number - last, DECIMALS) >= least:
            first = number
        taken[number] = first
        last = number
    return {member: taken.get(value, value) for member, value in values.items()}


def _by_value(
    members: Iterable[Member], values: Mapping[Member, FeatureValue]
) -> dict[FeatureValue | None, list[Member]]:
    """The members by value, in their order; those without one under None."""
    parts: dict[FeatureValue | None, list[Member]] = {}
    for member in members:
        parts.setdefault(values.get(member), []).append(member)
    return parts


def _gain(
    parts: Mapping[FeatureValue | None, Sequence[Member]], weights: Mapping[Member, float]
) -> float:
    """Bits, times their weight, from parting the members of which the value is known."""
    sums = [sum(weights[m] for m in part) for value, part in parts.items() if value is not None]
    return sum(sums) * entropy(sums)
