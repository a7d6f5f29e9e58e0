"""The box as it was seen beside what a set has: gears, meshes, pairs, marks and features.

Which set stands beside it is left to `verdict`, how a line looks to `show`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from math import prod
from typing import NamedTuple

from cogtally.catalog.model import Family, PieceType, RatioSet
from cogtally.evidence.laws import (
    STEADY,
    Helix,
    clashes,
    edits,
    log_feature,
)
from cogtally.evidence.posterior import PieceShare
from cogtally.evidence.reading.nearest import Difference, ratio_of_path, reads_as
from cogtally.evidence.rho import may_clash, own_name, owner_in, value_in
from cogtally.evidence.seen import Arrangement, Counted, kept_name
from cogtally.gears.looks import HAND, HELIX, SIZED, SeenPiece, Value, mark_key, value_text
from cogtally.gears.notation import ReadFeature, ReadMark, Seen, Turn
from cogtally.gears.trains import NO_SUMS, OVERDRIVE, pair_of, tooth_sums, wheel_names


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


def gear_ratios(arrangement: Arrangement, counted: Mapping[str, Counted]) -> tuple[GearRatio, ...]:
    """Return the exact ratio of every gear of the box, in the order of the gears."""
    return tuple(GearRatio(gear, arrangement.ratio(gear, counted)) for gear in arrangement.gears)


def mesh_sums(arrangement: Arrangement, counted: Mapping[str, Counted]) -> tuple[MeshSum, ...]:
    """Return every mesh whose two wheels are counted, with the sums that the family gives it."""
    known = arrangement.family.sums if arrangement.family else {}
    by_wheels = {frozenset(mesh): sums for mesh, sums in known.items()}
    return tuple(
        MeshSum(
            (left, right),
            (counted[left].teeth, counted[right].teeth),
            by_wheels.get(frozenset((left, right)), ()),
        )
        for left, right in arrangement.mesh_wheels()
        if left in counted and right in counted
    )


def pair_lines(
    arrangement: Arrangement,
    seen: Seen,
    counted: Mapping[str, Counted],
    beside: tuple[Family, Sequence[RatioSet]] | None,
    likeliest: Mapping[str, PieceShare],
) -> tuple[PairLine, ...]:
    """Return the lines of the table of pairs.

    `counted` by the arrangement's kept names; `beside`: the family and the sets to stand beside the
    counts; `likeliest`: the likeliest type of each piece of the arrangement's family.
    """
    meshes = {frozenset(m.wheels): m for m in mesh_sums(arrangement, counted)}
    turns: dict[str, list[Turn]] = {}
    for turn in seen.turns:
        turns.setdefault("+".join(turn.gears), []).append(turn)
    names = arrangement.names()
    names += [name for name in turns if name not in names]
    return tuple(
        _line(arrangement, name, counted, beside, meshes, likeliest, turns.get(name, []), seen)
        for name in names
    )


def _line(
    arrangement: Arrangement,
    name: str,
    counted: Mapping[str, Counted],
    beside: tuple[Family, Sequence[RatioSet]] | None,
    meshes: Mapping[frozenset[str], MeshSum],
    likeliest: Mapping[str, PieceShare],
    turns: Sequence[Turn],
    seen: Seen,
) -> PairLine:
    wheels = wheel_names(name, arrangement.pairs[name]) if name in arrangement.pairs else ()
    kept = [arrangement.kept(w) for w in wheels]
    found = [counted.get(w) for w in kept]
    teeth = tuple(None if c is None else c.teeth for c in found)
    listed = _listed(beside, wheels)
    own = [meshes.get(frozenset(two)) for two in pairwise(kept)]
    listed_ratio, printed = _listed_ratio(beside, name)
    family = arrangement.family
    return PairLine(
        name=name,
        wheels=wheels,
        teeth=teeth,
        results=tuple(() if c is None else c.results for c in found),
        listed=listed,
        # Sun and annulus mesh with planets, not with each other.
        sums=()
        if not wheels or (family is not None and family.layout == OVERDRIVE)
        else tooth_sums(teeth),
        ratio=_ratio(arrangement, name, counted),
        listed_ratio=listed_ratio,
        printed=printed,
        is_direct=name in arrangement.gears and arrangement.path(name) == (),
        lacking=bool(wheels)
        and family is not None
        and any(w not in family.train.names for w in wheels),
        differs=tuple(
            Difference(wheel, c.teeth, listed[0][place])
            for place, (wheel, c) in enumerate(zip(wheels, found, strict=True))
            if c is not None and listed and _differs(c.teeth, [row[place] for row in listed])
        ),
        off=tuple(m for m in own if m is not None and m.agrees is False),
        parted=_parted(family, kept, counted, likeliest),
        clashing=_clashing(family, kept, likeliest, seen),
        turns=tuple(_turn_read(turn, beside) for turn in turns),
    )


def _ratio(arrangement: Arrangement, name: str, counted: Mapping[str, Counted]) -> Fraction | None:
    """The ratio of a gear as counted, or of several one after the other: `1+final`."""
    ratios = [
        arrangement.ratio(gear, counted) if gear in arrangement.gears else None
        for gear in name.split("+")
    ]
    known = [ratio for ratio in ratios if ratio is not None]
    return prod(known, start=Fraction(1)) if len(known) == len(ratios) else None


def _listed(
    beside: tuple[Family, Sequence[RatioSet]] | None, wheels: Sequence[str]
) -> tuple[tuple[int | None, ...], ...]:
    """What each set has for the wheels of one pair, alike ones once; none without any teeth."""
    if beside is None:
        return ()
    family, sets = beside
    kept = [kept_name(family, wheel) for wheel in wheels]
    teeth = [family.teeth_of(known) for known in sets if known.is_counted]
    rows = dict.fromkeys(tuple(t.get(w) for w in kept) for t in teeth)
    return tuple(row for row in rows if any(t is not None for t in row))


def _differs(counted: int, listed: Sequence[int | None]) -> bool:
    """Whether no set has the count; a gap differs from nothing."""
    return None not in listed and counted not in listed


def _listed_ratio(
    beside: tuple[Family, Sequence[RatioSet]] | None, gear: str
) -> tuple[Fraction | None, str]:
    """The ratio that all sets beside the counts give to a gear, and how it is printed."""
    if beside is None:
        return None, ""
    family, sets = beside
    ratios = {ratio_of_path(family, known, gear.split("+")) for known in sets}
    ratio = ratios.pop() if len(ratios) == 1 else None
    if ratio is None:
        return None, ""
    return ratio, "" if sets[0].is_counted else sets[0].ratios.get(gear, "")


def _turn_read(turn: Turn, beside: tuple[Family, Sequence[RatioSet]] | None) -> TurnRead:
    ratio = turn.turns_in / turn.turns_out * (2 if turn.held else 1)
    expected, _ = _listed_ratio(beside, "+".join(turn.gears))
    return TurnRead(turn, ratio, expected is not None and not reads_as(turn, expected))


def _parted(
    family: Family | None,
    kept: Sequence[str],
    counted: Mapping[str, Counted],
    likeliest: Mapping[str, PieceShare],
) -> tuple[tuple[str, str], ...]:
    """Two counted pieces in mesh whose likeliest types no set carries together."""
    if family is None:
        return ()
    found = []
    for left, right in pairwise(kept):
        pieces = [family.piece_of.get(left), family.piece_of.get(right)]
        shares = [likeliest.get(p.name) for p in pieces if p is not None]
        if len(shares) < 2 or left not in counted or right not in counted:
            continue
        a, b = shares
        if a and b and a.teeth and b.teeth and not set(a.sets) & set(b.sets):
            found.append((a.piece, b.piece))
    return tuple(found)


def _clashing(
    family: Family | None, kept: Sequence[str], likeliest: Mapping[str, PieceShare], seen: Seen
) -> tuple[tuple[str, str], ...]:
    """Two wheels in mesh that cannot run together, as far as their helices are known."""
    if family is None or family.layout in NO_SUMS or not (seen.features or may_clash(family)):
        return ()
    found = []
    for left, right in pairwise(kept):
        pieces = [family.piece_of.get(left), family.piece_of.get(right)]
        sets = [set(likeliest[p.name].sets) for p in pieces if p and p.name in likeliest]
        # What one set carries together runs together, unless something else was seen.
        if None in pieces or (not seen.features and (len(sets) < 2 or sets[0] & sets[1])):
            continue
        if clashing(family, (left, right), likeliest, seen):
            found.append((left, right))
    return tuple(found)


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


def clashing(
    family: Family, wheels: Sequence[str], likeliest: Mapping[str, PieceShare], seen: Seen
) -> bool:
    """Tell whether two wheels in mesh (kept names) cannot run together by hand or angle of helix.

    As they were looked at, else as the likeliest type of their piece has it.
    """
    return clashes(*(_helix(family, wheel, likeliest, seen) for wheel in wheels))


def _helix(family: Family, wheel: str, likeliest: Mapping[str, PieceShare], seen: Seen) -> Helix:
    piece = family.piece_of[wheel]
    looked = {
        f.feature: f.value for f in seen.features if owner_in(family, f.owner) == (piece, wheel)
    }
    share = likeliest.get(piece.name)
    types = family.types[piece.name]
    kind = next((k for k in types if share and k.sets == share.sets), None)

    def value(feature: str) -> Value | None:
        if feature in looked:
            return looked[feature]
        return None if kind is None else value_in(kind, wheel, feature)

    hand, angle = value(HAND), value(HELIX)
    return Helix(
        hand if isinstance(hand, str) else None,
        float(angle) if isinstance(angle, (int, float)) else None,
    )


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
