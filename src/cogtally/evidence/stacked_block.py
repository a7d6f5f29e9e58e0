"""The arrays of families of one shape, the family on the last axis; nothing seen.

A base set (sets alike in every type) is a place on a set axis, and so stands for the type that it
has of each piece. Sums over these arrays are left to `stacked_arms` and `stacked_sums`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from cogtally.catalog.model import Family
from cogtally.evidence.likelihood import FOREIGN, OWN, SUM_FAR, SUM_OFF
from cogtally.evidence.stacked_laid import Laid, Members
from cogtally.evidence.stacked_roll import Each, Groups, Roll
from cogtally.evidence.stacked_shape import StackShape
from cogtally.evidence.stacked_tables import NEAR, SHIFT, SPAN, WIDTH, Array, Profiles
from cogtally.evidence.stacked_terms import InCommon

#: Every factor of a tooth sum, rising.
_LEVELS = np.array(sorted({SUM_FAR, *SUM_OFF}))


@dataclass(frozen=True, slots=True)
class PieceArrays:
    """One piece: how much base set s gives the type of set r, and what unknown teeth exclude.

    The weight of the type of r is `spread[s] · share(r)`, summed over sets, with `extra[s]` more
    where r is s. `kind[r]`: the number of the type; `first[r]`: 1 for the first set with its teeth.
    """

    spread: Array
    extra: Array
    kind: Array
    first: Array

    def weight(self, like: Array, share: Array) -> Array:
        """Return for set r under base set s the weight of all types that are alike: [r, s, family].

        `like[r]`: what they are alike in, the number of the type or the teeth of its one wheel.
        """
        alike = like[:, None] == like[None]
        found: Array = (alike * share).sum(axis=1)[:, None] * self.spread
        found += alike * self.extra
        return found


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
    """What sets can have in common: a row for each term of each family, see `stacked_terms`.

    `starts[family]`: its first row; `family` and `base`: whose row, and the set whose types it
    names; `sign`: how it counts towards all with any set in common; `listed[piece]`: its code.
    """

    starts: Array
    family: Array
    base: Array
    sign: Array
    listed: dict[tuple[str, ...], Array]


@dataclass(frozen=True)
class Block:
    """Families of one shape, by their `numbers` in the roll of all.

    `share[s]`: the part of all commonness in the family that base set s has (0: filled up).
    """

    shape: StackShape
    roll: Roll
    numbers: Array
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

    @property
    def ids(self) -> Sequence[str]:
        """The id of each family."""
        return Each(self.numbers, self.roll.family_ids.__getitem__)

    @property
    def families(self) -> Sequence[Family]:
        """Each family, which may have to be read when it is asked for."""
        return Each(self.numbers, lambda number: self.roll.families([number])[0])

    @property
    def members(self) -> Sequence[Members]:
        """The base sets of each family, as indexes of its counted sets."""
        return Each(self.numbers, self.roll.members)

    @property
    def groups(self) -> Sequence[Groups]:
        """The base sets of each family by the ids of their sets."""
        return Each(self.numbers, self.roll.groups)

    def sets_of(self, place: int, bases: Sequence[int]) -> tuple[str, ...]:
        """Return the ids of the sets of several base sets of a family, in catalog order."""
        return self.roll.sets_of(int(self.numbers[place]), bases)


def build_block(
    shape: StackShape, size: int, laid: Mapping[int, Laid], roll: Roll, profiles: Profiles
) -> Block:
    """Return the arrays of families that have this shape and at most `size` base sets.

    `laid`: each by its number in the roll.
    """
    numbers, known = np.array([*laid], dtype=np.int32), [*laid.values()]

    def filled(rows: tuple[Any, ...]) -> tuple[Any, ...]:
        """One row for each base set that there is room for, the first one again at the end."""
        return (*rows, *rows[:1] * (size - len(rows)))

    commonness = np.array([sum(one.weights) for one in known])
    share = np.array([[*one.weights, *[0.0] * (size - len(one.weights))] for one in known])
    teeth = np.array([filled(one.teeth) for one in known], dtype=np.uint8).transpose(2, 1, 0)
    kinds = np.array([[filled(kind) for kind in one.kinds] for one in known], dtype=np.uint8)
    by_wheel = dict(zip(shape.wheels, np.ascontiguousarray(teeth), strict=True))
    pieces = [piece for star in shape.stars for piece in star.pieces]
    by_piece = dict(zip(pieces, np.ascontiguousarray(kinds.transpose(1, 2, 0)), strict=True))
    shares = np.ascontiguousarray(share.T) / commonness
    meshes = [mesh for star in shape.stars for mesh in star.meshes]
    return Block(
        shape,
        roll,
        numbers,
        commonness,
        shares,
        by_wheel,
        {p: _piece(kind, shares, [by_wheel[w] for w in p]) for p, kind in by_piece.items()},
        {
            mesh: _mesh(mesh, [one.sums[number] for one in known], by_wheel, profiles)
            for number, mesh in enumerate(meshes)
        },
        _rows([one.common for one in known], pieces),
    )


def _piece(kind: Array, share: Array, teeth: Sequence[Array]) -> PieceArrays:
    same = kind[:, None] == kind[None, :]
    of_type = (same * share[None]).sum(axis=1)
    alone = (kind == kind[0]).all(axis=0)
    spread = np.where(alone, 0.0, FOREIGN / np.where(alone, 1.0, 1 - of_type))
    own = np.where(alone, OWN + FOREIGN, OWN)
    alike = teeth[0][:, None] == teeth[0][None, :]
    earlier = np.tril(np.ones(kind.shape[:1] * 2, dtype=bool), -1)[:, :, None]
    first = ~(alike & earlier).any(axis=1)
    return PieceArrays(spread, own - spread * of_type, kind, first)


def _mesh(
    mesh: tuple[str, str],
    known: Sequence[tuple[int, ...]],
    teeth: dict[str, Array],
    profiles: Profiles,
) -> MeshArrays:
    left, right = mesh
    lowest = np.array([sums[0] for sums in known])
    number = np.array([profiles.number(sums) for sums in known])
    off = teeth[left][:, None] + teeth[right][None, :].astype(np.intp) - lowest + NEAR
    near = (off >= 0) & (off < WIDTH)
    over = profiles.over[number, np.clip(off, 0, WIDTH - 1)]
    factor = SUM_FAR + np.where(near, over, 0.0)
    # What was a difference is rounded; the level is the nearest one.
    level = np.searchsorted((_LEVELS[1:] + _LEVELS[:-1]) / 2, factor).astype(np.uint8)
    return MeshArrays((number * SPAN + lowest + SHIFT).astype(np.int32), level)


def _rows(common: Sequence[InCommon], pieces: Sequence[tuple[str, ...]]) -> Rows:
    """Every row of every family, a row for each term of what its sets can have in common."""
    sizes = [len(each.bases) for each in common]
    codes = np.array([row for each in common for row in each.codes], dtype=np.uint8)
    return Rows(
        np.concatenate([[0], np.cumsum(sizes)]),
        np.repeat(np.arange(len(common), dtype=np.int32), sizes),
        np.array([base for each in common for base in each.bases], dtype=np.uint8),
        np.array([sign for each in common for sign in each.signs], dtype=np.float32),
        dict(zip(pieces, np.ascontiguousarray(codes.T), strict=True)),
    )
