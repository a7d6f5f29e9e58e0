"""The arrays of families of one shape, the family on the last axis; nothing seen.

A base set (sets alike in every type) is a place on a set axis, and so stands for the type that it
has of each piece. Sums over these arrays are left to `stacked_arms` and `stacked_sums`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cogtally.catalog.model import Family
from cogtally.evidence.likelihood import FOREIGN, OWN, SUM_FAR, SUM_OFF
from cogtally.evidence.stacked_shape import MOST_COMMON, StackShape
from cogtally.evidence.stacked_tables import NEAR, SHIFT, SPAN, WIDTH, Array, Profiles

#: Every factor of a tooth sum, rising.
_LEVELS = np.array(sorted({SUM_FAR, *SUM_OFF}))


@dataclass(frozen=True, slots=True)
class PieceArrays:
    """One piece: how much base set s gives the type of set r, and what unknown teeth exclude.

    The weight of the type of r is `spread[s] · share(r)`, summed over sets, with `extra[s]` more
    where r is s; `weight[r, s]` is it outright. `first[r]`: 1 for the first set with these teeth.
    """

    spread: Array
    extra: Array
    weight: Array
    first: Array


@dataclass(frozen=True, slots=True)
class MeshArrays:
    """One mesh: `place` of its profile and lowest sum in a table, `factor[a, b]` of its sums.

    a and b are the sets whose types the wheel nearer to the hub and its mate are of. The factor
    is kept as its place among the few that there are.
    """

    place: Array
    level: Array

    @property
    def factor(self) -> Array:
        """The factor of the tooth sum of every two sets."""
        return _LEVELS.take(self.level)


@dataclass(frozen=True, slots=True)
class Rows:
    """What sets can have in common: a row for each of a family that counts.

    `family` and `base`: whose row, and one of the sets; `sign`: how it counts towards all with any
    set in common; `listed[piece]`: whether a type has all of them.
    """

    family: Array
    base: Array
    sign: Array
    listed: dict[tuple[str, ...], Array]


@dataclass(frozen=True)
class Block:
    """Families of one shape. `members`: for each its base sets, as indexes of its counted sets;
    `groups`: the same by the sets' ids.

    `share[s]`: the part of all commonness in the family that base set s has (0: filled up).
    """

    shape: StackShape
    families: tuple[Family, ...]
    members: tuple[tuple[tuple[int, ...], ...], ...]
    groups: tuple[tuple[tuple[str, ...], ...], ...]
    commonness: Array
    share: Array
    teeth: dict[str, Array]
    pieces: dict[tuple[str, ...], PieceArrays]
    meshes: dict[tuple[str, str], MeshArrays]
    rows: Rows

    @property
    def size(self) -> int:
        """How many base sets there is room for."""
        return int(self.share.shape[0])


def build_block(
    shape: StackShape, size: int, families: Sequence[Family], profiles: Profiles
) -> Block:
    """Return the arrays of families that have this shape and at most `size` base sets."""
    count = len(families)
    members = tuple(_bases(family) for family in families)
    commonness = np.array([sum(s.commonness for s in f.counted_sets) for f in families])
    share = np.zeros((size, count))
    kinds = {
        piece: np.zeros((size, count), dtype=np.intp) for s in shape.stars for piece in s.pieces
    }
    teeth = {wheel: np.zeros((size, count), dtype=np.uint8) for wheel in shape.wheels}
    for place, (family, bases) in enumerate(zip(families, members, strict=True)):
        firsts = [group[0] for group in bases]
        firsts += firsts[:1] * (size - len(firsts))
        for base, group in enumerate(bases):
            weight = sum(family.counted_sets[m].commonness for m in group)
            share[base, place] = weight / commonness[place]
        for piece in family.pieces:
            index = family.type_index[piece.name]
            types = family.types[piece.name]
            kinds[piece.wheels][:, place] = [index[m] for m in firsts]
            for i, wheel in enumerate(piece.wheels):
                teeth[wheel][:, place] = [types[index[m]].teeth[i] or 0 for m in firsts]
    return Block(
        shape,
        tuple(families),
        members,
        tuple(
            tuple(tuple(family.counted_sets[m].id for m in group) for group in bases)
            for family, bases in zip(families, members, strict=True)
        ),
        commonness,
        share,
        teeth,
        {piece: _piece(kind, share, [teeth[w] for w in piece]) for piece, kind in kinds.items()},
        {
            mesh: _mesh(mesh, families, teeth, profiles)
            for star in shape.stars
            for mesh in star.meshes
        },
        _rows(members, kinds),
    )


def _bases(family: Family) -> tuple[tuple[int, ...], ...]:
    """The counted sets alike in every type, in written order."""
    columns = [family.type_index[piece.name] for piece in family.pieces]
    merged: dict[tuple[int, ...], list[int]] = {}
    for index, types in enumerate(zip(*columns, strict=True)):
        merged.setdefault(types, []).append(index)
    return tuple(tuple(group) for group in merged.values())


def _piece(kind: Array, share: Array, teeth: Sequence[Array]) -> PieceArrays:
    same = kind[:, None] == kind[None, :]
    of_type = (same * share[None]).sum(axis=1)
    alone = (kind == kind[0]).all(axis=0)
    spread = np.where(alone, 0.0, FOREIGN / np.where(alone, 1.0, 1 - of_type))
    own = np.where(alone, OWN + FOREIGN, OWN)
    weight = np.where(same, own, spread[None] * of_type[:, None])
    alike = teeth[0][:, None] == teeth[0][None, :]
    earlier = np.tril(np.ones(kind.shape[:1] * 2, dtype=bool), -1)[:, :, None]
    first = ~(alike & earlier).any(axis=1)
    return PieceArrays(spread, own - spread * of_type, weight, first.astype(float))


def _mesh(
    mesh: tuple[str, str],
    families: Sequence[Family],
    teeth: dict[str, Array],
    profiles: Profiles,
) -> MeshArrays:
    left, right = mesh
    known = [f.sums.get((left, right)) or f.sums[right, left] for f in families]
    lowest = np.array([sums[0] for sums in known])
    number = np.array([profiles.number(sums) for sums in known])
    off = teeth[left][:, None] + teeth[right][None, :].astype(np.intp) - lowest + NEAR
    near = (off >= 0) & (off < WIDTH)
    over = profiles.over[number, np.clip(off, 0, WIDTH - 1)]
    factor = SUM_FAR + np.where(near, over, 0.0)
    # What was a difference is rounded; the level is the nearest one.
    level = np.searchsorted((_LEVELS[1:] + _LEVELS[:-1]) / 2, factor).astype(np.uint8)
    return MeshArrays(number * SPAN + lowest + SHIFT, level)


def _rows(
    members: Sequence[tuple[tuple[int, ...], ...]], kinds: dict[tuple[str, ...], Array]
) -> Rows:
    """Every row of every family, by inclusion and exclusion over what sets can have in common."""
    found: list[tuple[int, int, int]] = []
    listed: list[list[bool]] = []
    for place, bases in enumerate(members):
        columns = [kind[: len(bases), place].tolist() for kind in kinds.values()]
        carriers = [_carriers(column) for column in columns]
        for mask, sign in signs_of(carriers, len(bases)).items():
            if sign:
                base = (mask & -mask).bit_length() - 1
                found.append((place, base, sign))
                listed.append(
                    [
                        mask & have[c[base]] == mask
                        for have, c in zip(carriers, columns, strict=True)
                    ]
                )
    table = np.array(found, dtype=np.intp).reshape(-1, 3)
    flags = np.array(listed, dtype=bool).reshape(-1, len(kinds))
    return Rows(
        table[:, 0],
        table[:, 1],
        table[:, 2].astype(float),
        {piece: np.ascontiguousarray(flags[:, i]) for i, piece in enumerate(kinds)},
    )


def _carriers(column: Sequence[int]) -> dict[int, int]:
    """Each type to the base sets that have it, as a bit mask."""
    found: dict[int, int] = {}
    for base, kind in enumerate(column):
        found[kind] = found.get(kind, 0) | 1 << base
    return found


def signs_of(carriers: Sequence[dict[int, int]], bases: int) -> dict[int, int]:
    """Return the base sets that pieces can have in common, with signs.

    For every mask m, the signs of the masks inside m add up to 1.
    """
    common = {(1 << bases) - 1}
    for masks in {tuple(sorted(have.values())) for have in carriers}:
        common |= {mask & other for mask in masks for other in common}
    common.discard(0)
    signs: dict[int, int] = {}
    for mask in sorted(common, key=int.bit_count):
        signs[mask] = 1 - sum(sign for other, sign in signs.items() if other & mask == other)
    return signs


def fits(family: Family) -> bool:
    """Tell whether a family has few enough sets in common to tell apart."""
    bases = _bases(family)
    carriers = [
        _carriers([family.type_index[piece.name][group[0]] for group in bases])
        for piece in family.pieces
    ]
    return len(signs_of(carriers, len(bases))) <= MOST_COMMON
