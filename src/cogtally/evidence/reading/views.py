"""The box as it was seen beside what a set has: gears, meshes, pairs, marks and features.

Which set stands beside it is left to `verdict`, how a line looks to `show`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from cogtally.catalog.model import Family, PieceType, RatioSet
from cogtally.evidence.laws import STEADY, Helix, clashes, edits, log_feature
from cogtally.evidence.posterior import PieceShare
from cogtally.evidence.reading.nearest import Difference, product, reads_as, set_ratios
from cogtally.evidence.rho import known_features, may_clash, own_name, owner_in, value_in
from cogtally.evidence.seen import arranged, counted_wheels, kept_name
from cogtally.gears.looks import HAND, HELIX, SIZED, SeenPiece, mark_key, value_text
from cogtally.gears.notation import ReadFeature, ReadMark, Seen, Turn
from cogtally.gears.trains import (
    INPUT,
    NO_GEAR,
    NO_SUMS,
    OVERDRIVE,
    gear_order,
    pair_of,
    tooth_sums,
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


def checked_wheels(family: Family | None, set_id: str, seen: Seen) -> Checked | None:
    """Return every wheel of a set beside its count, then what was counted that the family lacks.

    None where the family has no such set with counts.
    """
    known = next((s for s in family.counted_sets if s.id == set_id), None) if family else None
    if family is None or known is None:
        return None
    counted = {wheel: count.teeth for wheel, count in counted_wheels(seen, family).items()}
    teeth = family.teeth_of(known)
    pairs = []
    for name, size in family.train.pairs.items():
        wheels = wheel_names(name, size)
        kept = [kept_name(family, wheel) for wheel in wheels]
        has = tuple(map(teeth.get, kept))
        pairs.append(CheckedPair(name, wheels, tuple(map(counted.get, kept)), has))
    strange = [wheel for wheel in counted if wheel not in family.train.names]
    for name in dict.fromkeys(map(pair_of, strange)):
        wheels = tuple(w for w in strange if pair_of(w) == name)
        found, none = tuple(counted[w] for w in wheels), (None,) * len(wheels)
        pairs.append(CheckedPair(name, wheels, found, none, lacking=True))
    return Checked(family.id, known.id, tuple(pairs))


class PairTable:
    """The table of pairs.

    `family`: the one that the box is of, as far as it is known, `likeliest` the likeliest type of
    each of its pieces; `beside`: sets of `beside_family` to stand beside the counts. `counted`: by
    kept names. `gears`: their ratios as counted; `meshes`: those whose two wheels are counted.
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
        pieces = (family.piece_of if family else {}).items()
        self._likeliest = {w: likeliest[p.name] for w, p in pieces if p.name in likeliest}
        self._beside_family = beside_family
        self._beside = beside
        of = beside_family
        self._beside_teeth = [of.teeth_of(known) for known in beside if of and known.is_counted]
        self._beside_ratios = [set_ratios(of, known) for known in beside if of]
        self._train = arranged(family, seen)
        self.counted = counted_wheels(seen, family)
        teeth = {wheel: count.teeth for wheel, count in self.counted.items()}
        own = family.train.ratios(teeth) if family else {}
        self._ratios = {**self._train.ratios(teeth), **own}
        self.gears = tuple(GearRatio(gear, self._ratios[gear]) for gear in self._train.gears)
        #: Sun and annulus mesh with planets, not with each other.
        self._epicyclic = family.train.pairs if family and family.layout == OVERDRIVE else {}
        given = {frozenset(mesh): sums for mesh, sums in (family.sums if family else {}).items()}
        self._sums = {
            ends: MeshSum(mesh, (teeth[mesh[0]], teeth[mesh[1]]), given.get(ends, ()))
            for mesh in self._train.meshes
            if (ends := frozenset(mesh)) <= teeth.keys() and pair_of(mesh[0]) not in self._epicyclic
        }
        self.meshes = tuple(self._sums.values())

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
        gears = name.split("+")
        ratios = {product(map(of.get, gears)) for of in self._beside_ratios}
        listed_ratio = ratios.pop() if len(ratios) == 1 else None
        is_printed = listed_ratio is not None and not self._beside[0].is_counted
        return PairLine(
            name=name,
            wheels=wheels,
            teeth=teeth,
            results=tuple(() if c is None else c.results for c in found),
            listed=listed,
            sums=() if self._epicyclic else tooth_sums(teeth),
            ratio=product(map(self._ratios.get, gears)),
            listed_ratio=listed_ratio,
            printed=self._beside[0].ratios.get(name, "") if is_printed else "",
            is_direct=train.path(name) == (),
            lacking=family is not None and any(w not in family.train.names for w in wheels),
            differs=tuple(
                Difference(wheel, has, listed[0][place])
                for place, (wheel, has) in enumerate(zip(wheels, teeth, strict=True))
                # A gap differs from nothing.
                if has is not None and listed and {None, has}.isdisjoint(r[place] for r in listed)
            ),
            off=tuple(m for m in meshes if m is not None and m.agrees is False),
            parted=tuple(self._parted(kept)),
            clashing=() if family is None else tuple(self._clashing(family, kept)),
            turns=tuple(
                TurnRead(
                    turn,
                    turn.turns_in / turn.turns_out * (2 if turn.held else 1),
                    listed_ratio is not None and not reads_as(turn, listed_ratio),
                )
                for turn in self._seen.turns
                if list(turn.gears) == gears
            ),
        )

    def _listed(self, wheels: Sequence[str]) -> tuple[tuple[int | None, ...], ...]:
        """What each set has for the wheels of one pair, alike ones once; none without any teeth."""
        kept = [kept_name(self._beside_family, wheel) for wheel in wheels]
        rows = dict.fromkeys(tuple(teeth.get(w) for w in kept) for teeth in self._beside_teeth)
        return tuple(row for row in rows if any(t is not None for t in row))

    def _parted(self, kept: Sequence[str]) -> Iterator[tuple[str, str]]:
        """Two counted pieces in mesh whose likeliest types no set carries together."""
        for mesh in pairwise(kept):
            a, b = map(self._likeliest.get, mesh)
            counted = self.counted.keys() >= set(mesh)
            if counted and a and b and a.teeth and b.teeth and set(a.sets).isdisjoint(b.sets):
                yield a.piece, b.piece

    def _clashing(self, family: Family, kept: Sequence[str]) -> Iterator[tuple[str, str]]:
        """Two wheels in mesh that cannot run together, as far as their helices are known."""
        looked = self._seen.features
        if family.layout in NO_SUMS or not (looked or may_clash(family)):
            return
        for mesh in pairwise(kept):
            a, b = map(self._likeliest.get, mesh)
            # What one set carries together runs together, unless something else was seen.
            if not looked and not (a and b and set(a.sets).isdisjoint(b.sets)):
                continue
            if all(wheel in family.piece_of for wheel in mesh) and clashes(
                *(self._helix(family, wheel) for wheel in mesh)
            ):
                yield mesh

    def _helix(self, family: Family, wheel: str) -> Helix:
        """What is known of a wheel: as it was looked at, else as its likeliest type has it."""
        piece = family.piece_of[wheel]
        share = self._likeliest.get(wheel)
        kinds = (kind for kind in family.types[piece.name] if share and kind.sets == share.sets)
        found = {f: value for kind in kinds for of, f, value in known_features(kind) if of == wheel}
        for look in self._seen.features:
            if owner_in(family, look.owner) == (piece, wheel):
                found[look.feature] = look.value
        hand, angle = found.get(HAND), found.get(HELIX)
        return Helix(
            hand if isinstance(hand, str) else None,
            float(angle) if isinstance(angle, (int, float)) else None,
        )


class LookLine(NamedTuple):
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
        _look_line(
            look,
            [one for known in beside for one in _there(family, known.id, look)],
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

    def owner(kind: PieceType, place: str) -> str:
        return kind.piece.wheels[wheels[int(place) - 1]] if place else own_name(kind.piece)

    looks: list[ReadMark | ReadFeature] = [*seen.marks, *seen.features]
    return tuple(_look_line(one, [(k, owner(k, _owner(one))) for k in kinds]) for one in looks)


def listed_text(family: Family, set_id: str, look: ReadMark | ReadFeature) -> str:
    """Return what a set has where a mark or feature was seen, as part of a sentence: `has 10`."""
    there = _there(family, set_id, look)
    found = [text for one in there for text in _listed_there(*one, look)]
    return f"has {' or '.join(found)}" if found else "is not known there"


#: A type of the piece that was looked at, and what its features are kept under there.
_There = tuple[PieceType, str]


def _look_line(
    look: ReadMark | ReadFeature, there: Sequence[_There], *, lacking: bool = False
) -> LookLine:
    listed = tuple(dict.fromkeys(text for one in there for text in _listed_there(*one, look)))
    differs = bool(listed) and not any(_look_fits(*one, look) for one in there)
    return LookLine(look, listed, differs, lacking)


def _there(family: Family, set_id: str, look: ReadMark | ReadFeature) -> list[_There]:
    """The type that a set has of the piece that was looked at; none of one without counts."""
    found = owner_in(family, _owner(look))
    if found is None:
        return []
    piece, owner = found
    return [(kind, owner) for kind in family.types[piece.name] if set_id in kind.sets]


def _listed_there(kind: PieceType, owner: str, look: ReadMark | ReadFeature) -> tuple[str, ...]:
    if isinstance(look, ReadMark):
        return kind.marks or ()
    value = value_in(kind, owner, look.feature)
    return () if value is None else (value_text(look.feature, value),)


#: A size is said to differ where it is this much less likely than the size itself: e^(−4.5).
_FAR = 4.5


def _look_fits(kind: PieceType, owner: str, look: ReadMark | ReadFeature) -> bool:
    """Whether a type has what was seen; one that is not known by it has nothing else."""
    if isinstance(look, ReadMark):
        return kind.marks is None or any(
            edits(look.reading, mark_key(mark)) == 0 for mark in kind.marks
        )
    value = value_in(kind, owner, look.feature)
    if value is None or look.feature not in SIZED:
        return value in (None, look.value)
    once = replace(look, times=1)
    best = log_feature(replace(once, value=value), value, STEADY)
    return log_feature(once, value, STEADY) > best - _FAR
