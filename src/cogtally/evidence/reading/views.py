"""The box as it was seen beside what a set has: gears, meshes, pairs, marks and features.

Which set stands beside it is left to `verdict`, how a line looks to `show`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from cogtally.catalog.model import Family, PieceType, RatioSet
from cogtally.evidence.laws import STEADY, Helix, clashes, edits, log_feature
from cogtally.evidence.posterior import PieceShare
from cogtally.evidence.reading.nearest import Difference, product, ratio_of_path, reads_as
from cogtally.evidence.rho import may_clash, own_name, owner_in, value_in
from cogtally.evidence.seen import Counted, arranged, counted_wheels, kept_name
from cogtally.gears.looks import HAND, HELIX, SIZED, SeenPiece, Value, mark_key, value_text
from cogtally.gears.notation import ReadFeature, ReadMark, Seen, Turn
from cogtally.gears.trains import (
    INPUT,
    NO_GEAR,
    NO_SUMS,
    OVERDRIVE,
    gear_order,
    overdrive_of,
    pair_of,
    tooth_sums,
    train_ratio,
    wheel_names,
)


class GearRatio(NamedTuple):
    """The exact ratio of one gear as counted; None where a count is missing."""

    gear: str
    ratio: Fraction | None


class MeshSum(NamedTuple):
    """The tooth sum of two counted wheels in mesh, and every sum that a set gives there.

    `agrees` is None where no set gives a sum.
    """

    wheels: tuple[str, str]
    teeth: tuple[int, int]
    expected_sums: tuple[int, ...]

    @property
    def sum(self) -> int:
        """The teeth of both wheels together."""
        return self.teeth[0] + self.teeth[1]

    @property
    def agrees(self) -> bool | None:
        """Whether some set has this sum."""
        return self.sum in self.expected_sums if self.expected_sums else None

    @property
    def off(self) -> int:
        """How far the sum is from the nearest that a set gives; 0 where none does."""
        return min((self.sum - e for e in self.expected_sums), key=abs, default=0)


class TurnRead(NamedTuple):
    """A turn test as a ratio, turns in for one turn out; `differs` from what the set would give."""

    turn: Turn
    ratio: Fraction
    differs: bool


class PairLine(NamedTuple):
    """One line of the table of pairs.

    `name`: a pair, or a gear without a pair of its own. `wheels` as the pair names them; for each
    of them the count (None: not counted) and its different results. `listed`: what the sets
    beside it have for these wheels, each once (None: a gap). `sums`: of each mesh.
    `ratio`: of the gear of this name, as counted and in the sets, with its printed form.
    `lacking`: the family has no such pair. `parted`: two pieces in mesh of different sets;
    `clashing`: two wheels in mesh that cannot run together, by hand or angle of their helix.
    """

    name: str
    wheels: tuple[str, ...]
    teeth: tuple[int | None, ...]
    results: tuple[tuple[int, ...], ...]
    listed: tuple[tuple[int | None, ...], ...]
    sums: tuple[int | None, ...]
    ratio: Fraction | None
    listed_ratio: Fraction | None
    printed: str
    is_direct: bool
    lacking: bool
    differs: tuple[Difference, ...]
    off: tuple[MeshSum, ...]
    parted: tuple[tuple[str, str], ...]
    clashing: tuple[tuple[str, str], ...]
    turns: tuple[TurnRead, ...]


class CheckedPair(NamedTuple):
    """One pair of a set, wheel by wheel: what was counted, what it has; None where neither is.

    `lacking`: the family has no such pair, or no such idler in it.
    """

    name: str
    wheels: tuple[str, ...]
    counted: tuple[int | None, ...]
    listed: tuple[int | None, ...]
    lacking: bool = False

    @property
    def agrees(self) -> tuple[bool | None, ...]:
        """Whether each wheel agrees; None where it was not counted, or nobody counted it there."""
        return tuple(
            None if c is None or (t is None and not self.lacking) else c == t
            for c, t in zip(self.counted, self.listed, strict=True)
        )


class Checked(NamedTuple):
    """Every wheel of one set as agreeing, disagreeing or not counted."""

    family: str
    set: str
    pairs: tuple[CheckedPair, ...]


def checked_wheels(family: Family, known: RatioSet, counted: Mapping[str, Counted]) -> Checked:
    """Return every wheel of a set beside its count, then what was counted that the family lacks."""
    teeth = family.teeth_of(known)
    pairs = []
    for name, size in family.train.pairs.items():
        wheels = wheel_names(name, size)
        kept = [kept_name(family, wheel) for wheel in wheels]
        found = tuple(counted[w].teeth if w in counted else None for w in kept)
        pairs.append(CheckedPair(name, wheels, found, tuple(teeth.get(w) for w in kept)))
    strange = [wheel for wheel in counted if wheel not in family.train.names]
    for name in dict.fromkeys(map(pair_of, strange)):
        wheels = tuple(w for w in strange if pair_of(w) == name)
        found = tuple(counted[w].teeth for w in wheels)
        pairs.append(CheckedPair(name, wheels, found, (None,) * len(wheels), lacking=True))
    return Checked(family.id, known.id, tuple(pairs))


class PairTable:
    """The table of pairs.

    `family`: the one that the box is of, as far as it is known, `likeliest` the likeliest type of
    each of its pieces; `beside`: sets of `beside_family` to stand beside the counts. `counted`: by
    kept names. `meshes`: those whose two wheels are counted.
    """

    def __init__(
        self,
        family: Family | None,
        seen: Seen,
        likeliest: Mapping[str, PieceShare],
        beside_family: Family | None,
        beside: Sequence[RatioSet],
    ) -> None:
        self._family = family
        self._seen = seen
        self._likeliest = likeliest
        self._beside_family = beside_family
        self._beside = beside
        self._train = arranged(family, seen)
        self.counted = counted = counted_wheels(seen, family)
        #: Sun and annulus mesh with planets, not with each other.
        self._epicyclic = family.train.pairs if family and family.layout == OVERDRIVE else {}
        given = {frozenset(mesh): sums for mesh, sums in (family.sums if family else {}).items()}
        self._sums = {
            ends: MeshSum(
                mesh, (counted[mesh[0]].teeth, counted[mesh[1]].teeth), given.get(ends, ())
            )
            for mesh in self._train.meshes
            if (ends := frozenset(mesh)) <= counted.keys()
            and pair_of(mesh[0]) not in self._epicyclic
        }
        self.meshes = tuple(self._sums.values())

    def gears(self) -> tuple[GearRatio, ...]:
        """Return the ratio of every gear as counted."""
        return tuple(GearRatio(gear, self._ratio(gear)) for gear in self._train.gears)

    def lines(self) -> tuple[PairLine, ...]:
        """Return the lines of the table: pairs, gears without a pair of their own, turn tests."""
        train = self._train
        inside = {
            pair: gear
            for gear in train.gears
            for pair in train.path(gear) or ()
            if pair not in train.gears and pair not in NO_GEAR
        }

        def order(name: str) -> tuple[int, int, bool]:
            if name in NO_GEAR:
                return (-1 if name == INPUT else 3, 0, False)
            return (*gear_order(inside.get(name, name)), name not in inside)

        names = sorted(dict.fromkeys([*train.pairs, *train.gears]), key=order)
        turned = ("+".join(turn.gears) for turn in self._seen.turns)
        return tuple(map(self._line, dict.fromkeys([*names, *turned])))

    def _line(self, name: str) -> PairLine:
        train, family = self._train, self._family
        wheels = wheel_names(name, train.pairs[name]) if name in train.pairs else ()
        kept = [train.canonical(w) for w in wheels]
        found = [self.counted.get(w) for w in kept]
        teeth = tuple(None if c is None else c.teeth for c in found)
        listed = self._listed(wheels)
        meshes = [self._sums.get(frozenset(two)) for two in pairwise(kept)]
        listed_ratio, printed = self._listed_ratio(name)
        strange = family is not None and any(w not in family.train.names for w in wheels)
        return PairLine(
            name=name,
            wheels=wheels,
            teeth=teeth,
            results=tuple(() if c is None else c.results for c in found),
            listed=listed,
            sums=() if not wheels or self._epicyclic else tooth_sums(teeth),
            ratio=self._ratio(name),
            listed_ratio=listed_ratio,
            printed=printed,
            is_direct=train.path(name) == (),
            lacking=strange,
            differs=tuple(
                Difference(wheel, has, listed[0][place])
                for place, (wheel, has) in enumerate(zip(wheels, teeth, strict=True))
                # A gap differs from nothing.
                if has is not None and listed and {None, has}.isdisjoint(r[place] for r in listed)
            ),
            off=tuple(m for m in meshes if m is not None and m.agrees is False),
            parted=() if family is None else tuple(self._parted(family, kept)),
            clashing=() if family is None else tuple(self._clashing(family, kept)),
            turns=tuple(self._turn(t) for t in self._seen.turns if "+".join(t.gears) == name),
        )

    def _ratio(self, name: str) -> Fraction | None:
        """The ratio of a gear as counted, or of several one after the other: `1+final`."""
        return product(map(self._of_gear, name.split("+")))

    def _of_gear(self, gear: str) -> Fraction | None:
        if gear not in self._train.gears:
            return None
        wheels = self._train.gear_wheels[gear]
        counts = [[self.counted.get(wheel) for wheel in pair] for pair in wheels]
        teeth = [[None if count is None else count.teeth for count in pair] for pair in counts]
        return overdrive_of(*teeth[0]) if gear in self._epicyclic else train_ratio(teeth)

    def _listed(self, wheels: Sequence[str]) -> tuple[tuple[int | None, ...], ...]:
        """What each set has for the wheels of one pair, alike ones once; none without any teeth."""
        family = self._beside_family
        if family is None:
            return ()
        kept = [kept_name(family, wheel) for wheel in wheels]
        teeth = [family.teeth_of(known) for known in self._beside if known.is_counted]
        rows = dict.fromkeys(tuple(t.get(w) for w in kept) for t in teeth)
        return tuple(row for row in rows if any(t is not None for t in row))

    def _listed_ratio(self, gear: str) -> tuple[Fraction | None, str]:
        """The ratio that all sets beside the counts give to a gear, and how it is printed."""
        family, sets = self._beside_family, self._beside
        if family is None:
            return None, ""
        ratios = {ratio_of_path(family, known, gear.split("+")) for known in sets}
        ratio = ratios.pop() if len(ratios) == 1 else None
        if ratio is None:
            return None, ""
        return ratio, "" if sets[0].is_counted else sets[0].ratios.get(gear, "")

    def _turn(self, turn: Turn) -> TurnRead:
        ratio = turn.turns_in / turn.turns_out * (2 if turn.held else 1)
        expected, _ = self._listed_ratio("+".join(turn.gears))
        return TurnRead(turn, ratio, expected is not None and not reads_as(turn, expected))

    def _shares(self, family: Family, wheels: Sequence[str]) -> list[PieceShare]:
        """The likeliest types of the pieces of some wheels, as far as there are any."""
        pieces = [family.piece_of[wheel].name for wheel in wheels if wheel in family.piece_of]
        return [self._likeliest[name] for name in pieces if name in self._likeliest]

    def _parted(self, family: Family, kept: Sequence[str]) -> Iterator[tuple[str, str]]:
        """Two counted pieces in mesh whose likeliest types no set carries together."""
        for mesh in pairwise(kept):
            shares = self._shares(family, mesh)
            if len(shares) == 2 and self.counted.keys() >= set(mesh):
                a, b = shares
                if a.teeth and b.teeth and not set(a.sets) & set(b.sets):
                    yield a.piece, b.piece

    def _clashing(self, family: Family, kept: Sequence[str]) -> Iterator[tuple[str, str]]:
        """Two wheels in mesh that cannot run together, as far as their helices are known."""
        looked = self._seen.features
        if family.layout in NO_SUMS or not (looked or may_clash(family)):
            return
        for mesh in pairwise(kept):
            sets = [set(share.sets) for share in self._shares(family, mesh)]
            # What one set carries together runs together, unless something else was seen.
            if not looked and (len(sets) < 2 or sets[0] & sets[1]):
                continue
            if all(wheel in family.piece_of for wheel in mesh) and clashes(
                *(self._helix(family, wheel) for wheel in mesh)
            ):
                yield mesh

    def _helix(self, family: Family, wheel: str) -> Helix:
        """What is known of a wheel: as it was looked at, else as its likeliest type has it."""
        piece = family.piece_of[wheel]
        found = {
            f.feature: f.value
            for f in self._seen.features
            if owner_in(family, f.owner) == (piece, wheel)
        }
        share = self._likeliest.get(piece.name)
        for kind in family.types[piece.name]:
            if share is not None and kind.sets == share.sets:
                for feature in (HAND, HELIX):
                    value = value_in(kind, wheel, feature)
                    if value is not None:
                        found.setdefault(feature, value)
        hand, angle = found.get(HAND), found.get(HELIX)
        return Helix(
            hand if isinstance(hand, str) else None,
            float(angle) if isinstance(angle, (int, float)) else None,
        )


NOT_KNOWN = "is not known there"


@dataclass(frozen=True, slots=True)
class LookLine:
    """One mark or feature as seen, and what each of the sets beside it has there.

    `listed`: the different values, as text; empty where none of the sets is known by it.
    `differs`: no set has what was seen. `lacking`: the family has no such piece or wheel.
    """

    look: ReadMark | ReadFeature
    listed: tuple[str, ...]
    differs: bool
    lacking: bool = False


def look_lines(
    seen: Seen, family: Family | None, beside: Sequence[RatioSet]
) -> tuple[LookLine, ...]:
    """Return a line for each mark, then each feature, beside what sets of a family have."""
    if family is None:
        return tuple(_look_line(look, []) for look in seen.looks)
    return tuple(
        replace(
            _look_line(look, [_there(family, known.id, look) for known in beside]),
            lacking=owner_in(family, _owner(look)) is None,
        )
        for look in seen.looks
    )


def _owner(look: ReadMark | ReadFeature) -> str:
    return look.piece if isinstance(look, ReadMark) else look.owner


def piece_look_lines(
    seen: SeenPiece, kinds: Sequence[PieceType], wheels: Sequence[int]
) -> tuple[LookLine, ...]:
    """Return the same of a loose piece beside types of it; place i is the wheel `wheels[i]`."""
    found = [_look_line(mark, [(k, own_name(k.piece)) for k in kinds]) for mark in seen.marks]
    for look in seen.features:
        owners = [
            k.piece.wheels[wheels[int(look.owner) - 1]] if look.owner else own_name(k.piece)
            for k in kinds
        ]
        found.append(_look_line(look, list(zip(kinds, owners, strict=True))))
    return tuple(found)


def listed_text(family: Family, set_id: str, look: ReadMark | ReadFeature) -> str:
    """Return what a set has where a mark or feature was seen, as part of a sentence: `has 10`."""
    there = _there(family, set_id, look)
    found = () if there is None else _listed_there(*there, look)
    return f"has {' or '.join(found)}" if found else NOT_KNOWN


#: A type of the piece that was looked at, and what its features are kept under there.
_There = tuple[PieceType, str]


def _look_line(look: ReadMark | ReadFeature, beside: Sequence[_There | None]) -> LookLine:
    there = [one for one in beside if one is not None]
    listed = tuple(dict.fromkeys(text for one in there for text in _listed_there(*one, look)))
    return LookLine(look, listed, bool(listed) and not any(_look_fits(*one, look) for one in there))


def _there(family: Family, set_id: str, look: ReadMark | ReadFeature) -> _There | None:
    """The type that a counted set has of the piece that was looked at."""
    found = owner_in(family, _owner(look))
    number = next((i for i, s in enumerate(family.counted_sets) if s.id == set_id), None)
    if found is None or number is None:
        return None
    piece, owner = found
    return family.types[piece.name][family.type_index[piece.name][number]], owner


def _listed_there(kind: PieceType, owner: str, look: ReadMark | ReadFeature) -> tuple[str, ...]:
    if isinstance(look, ReadMark):
        return kind.marks or ()
    value = value_in(kind, owner, look.feature)
    return () if value is None else (value_text(look.feature, value),)


def _look_fits(kind: PieceType, owner: str, look: ReadMark | ReadFeature) -> bool:
    """Whether a type has what was seen; one that is not known by it has nothing else."""
    if isinstance(look, ReadMark):
        return kind.marks is None or any(
            edits(look.reading, mark_key(mark)) == 0 for mark in kind.marks
        )
    value = value_in(kind, owner, look.feature)
    return value is None or _value_near(look, value)


#: A size is said to differ where it is this much less likely than the size itself: e^(−4.5).
_FAR = 4.5


def _value_near(look: ReadFeature, value: Value) -> bool:
    if look.feature not in SIZED:
        return look.value == value
    best = ReadFeature(look.owner, look.feature, value, look.unsure)
    once = ReadFeature(look.owner, look.feature, look.value, look.unsure)
    return log_feature(once, value, STEADY) > log_feature(best, value, STEADY) - _FAR
