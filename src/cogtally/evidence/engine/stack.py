"""Families of one shape along the first axis of arrays: a stack. Nothing of it depends on a box.

A stack holds the types of every piece, what the sets of each family have in common, and the tooth
sums of every mesh, padded to the same numbers. What is summed over them is left to `sums`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, TypeVar

import numpy as np

from cogtally.catalog.model import Family
from cogtally.evidence.laws import CLASH, GREATEST_TEETH, LEAST_TEETH, Helix, clashes
from cogtally.evidence.rho import Rho, known_features, may_clash
from cogtally.evidence.structure import connected, tying_meshes
from cogtally.gears.looks import HAND, HELIX

Array = np.ndarray[Any, np.dtype[Any]]
Made = TypeVar("Made")

#: Families of one shape are stacked together where they have up to so many sets, or so many
#: doublings of it: what is padded costs time.
LEAST_ROOM = 8
#: Index of a type that a gap, or nothing, stands for.
NONE = -1


@dataclass(frozen=True)
class Shape:
    """What families have alike that are stacked: no teeth, no sets.

    `pieces`: (name, wheels); `edges`: wheels in mesh whose sum some set gives; `names`: every name
    of a wheel to the canonical one; `gears`: each with (driver, driven) of the pairs on its
    path; `clashing`: pieces (by index) of which some types cannot run together.
    """

    pieces: tuple[tuple[str, tuple[str, ...]], ...]
    edges: tuple[tuple[str, str], ...]
    names: tuple[tuple[str, str], ...]
    gears: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    clashing: tuple[tuple[int, int], ...] = ()

    @cached_property
    def location(self) -> Mapping[str, tuple[int, int]]:
        """Each wheel to its piece (by index) and its place there."""
        return {
            w: (p, i) for p, (_, wheels) in enumerate(self.pieces) for i, w in enumerate(wheels)
        }

    @cached_property
    def canonical(self) -> Mapping[str, str]:
        """Every name of a wheel to the canonical one."""
        return dict(self.names)

    @cached_property
    def paths(self) -> Mapping[str, tuple[tuple[str, str], ...]]:
        """Each gear to (driver, driven) of the pairs on its path."""
        return dict(self.gears)

    @cached_property
    def components(self) -> tuple[tuple[str, ...], ...]:
        """The wheels that mesh, directly or through each other; one without a mate is alone."""
        return connected(self.location, self.edges)


def shape_of(family: Family) -> tuple[Shape, tuple[Array, ...]]:
    """Return the shape of a family with counted sets, and its clashes by types of two pieces."""
    train = family.train
    gears = tuple(train.gear_wheels.items())
    clash = _clashes_of(family)
    pieces = tuple((piece.name, piece.wheels) for piece in family.pieces)
    shape = Shape(pieces, tying_meshes(family), tuple(train.names.items()), gears, tuple(clash))
    return shape, tuple(clash.values())


def _clashes_of(family: Family) -> dict[tuple[int, int], Array]:
    """The factor of listed wheels in mesh that cannot run, by the types of two pieces."""
    if not may_clash(family):
        return {}
    place = {w: p for p, piece in enumerate(family.pieces) for w in piece.wheels}

    values = {
        name: [{(o, f): v for o, f, v in known_features(kind)} for kind in kinds]
        for name, kinds in family.types.items()
    }

    def helices(wheel: str) -> list[Helix]:
        found = []
        for known in values[family.piece_of[wheel].name]:
            hand, angle = known.get((wheel, HAND)), known.get((wheel, HELIX))
            found.append(
                Helix(
                    hand if isinstance(hand, str) else None,
                    float(angle) if isinstance(angle, (int, float)) else None,
                )
            )
        return found

    between: dict[tuple[int, int], Array] = {}
    for left, right in family.train.meshes:
        if place[left] > place[right]:
            left, right = right, left
        ours, theirs = helices(left), helices(right)
        table = np.array([[CLASH if clashes(a, b) else 1.0 for b in theirs] for a in ours])
        if place[left] == place[right]:
            # Two wheels of one piece: it clashes with itself, type by type.
            table = np.where(np.eye(len(table), dtype=bool), table, 1.0)
        if (table < 1).any():
            key = place[left], place[right]
            between[key] = between.get(key, 1.0) * table
    return between


@dataclass(frozen=True, eq=False)
class Stack:
    """Families of one shape; every array has the family as its first axis.

    `first`: the teeth of place 0 of the grid, of `size` places, that all teeth of the stack are on;
    `rho`: of each wheel on it. `numbers`: the places of the families in the catalog. `arrays`:

    - `teeth P` [type, wheel] of piece P, the places on the grid, NONE for a gap;
      `weight P` [type], commonness, 0 of what is only padding;
    - `own` [base, piece]: the type of each base set; `base` [base]: its commonness;
    - `sums E` [number]: every tooth sum of edge E, as a sum of two places;
    - `clash C` [type, type];
    - `signs` [term], `common` [term, piece]: the sets of sets that can be had in common, counted by
      inclusion and exclusion, with the type that those sets have (NONE: no one type);
    - `normaliser` [base] and `new` [1]: of each base set, and of the new set, once worked out;
      `free M` [mode, …]: the table of mesh component M where nothing was seen.
    """

    shape: Shape
    first: int
    size: int
    rho: Mapping[str, Array]
    arrays: Mapping[str, Array]
    _made: dict[object, Any] = field(default_factory=dict, repr=False)
    _of_shape: dict[object, Any] = field(default_factory=dict, repr=False)

    def once(self, key: object, make: Callable[[], Made]) -> Made:
        """Return what `make` gives of this stack, made when it is first asked for."""
        if key not in self._made:
            self._made[key] = make()
        found: Made = self._made[key]
        return found

    def of_shape(self, key: object, make: Callable[[], Made]) -> Made:
        """Return the same of what depends on the shape and the room for types alone."""
        if key not in self._of_shape:
            self._of_shape[key] = make()
        found: Made = self._of_shape[key]
        return found

    @property
    def count(self) -> int:
        """How many families there are."""
        return len(self.arrays["base"])

    @property
    def bases(self) -> int:
        """How many base sets there is room for."""
        return int(self.arrays["base"].shape[1])

    @property
    def types(self) -> tuple[int, ...]:
        """How many types of each piece there is room for."""
        return tuple(self.teeth(p).shape[1] for p in range(len(self.shape.pieces)))

    @property
    def numbers(self) -> Array:
        """The places of the families in the catalog."""
        return self.arrays["numbers"]

    def teeth(self, piece: int) -> Array:
        """Return the teeth of a piece, by type and wheel, as places on the grid."""
        return self.arrays[f"teeth {piece}"]

    def weight(self, piece: int) -> Array:
        """Return the commonness of the types of a piece."""
        return self.arrays[f"weight {piece}"]

    def rows(self, rows: Array | slice) -> Stack:
        """Return some of the families, each once, in their order."""
        if len(np.arange(self.count)[rows]) == self.count:
            return self
        found = {name: array[rows] for name, array in self.arrays.items()}
        return Stack(self.shape, self.first, self.size, self.rho, found, _of_shape=self._of_shape)

    def with_arrays(self, more: Mapping[str, Array]) -> Stack:
        """Return the stack with more arrays."""
        both = {**self.arrays, **more}
        return Stack(self.shape, self.first, self.size, self.rho, both, self._made, self._of_shape)


def row_in(stacks: Iterable[Stack], number: int) -> tuple[int, int] | None:
    """Return which stack has a family, by its place in the catalog, and in which row; None: no."""
    for at, stack in enumerate(stacks):
        (rows,) = np.nonzero(stack.numbers == number)
        if rows.size:
            return at, int(rows[0])
    return None


def stacks_of(families: Iterable[tuple[int, Family]], rho: Rho) -> list[Stack]:
    """Return families with counted sets, each with its place in the catalog, as stacks."""
    grouped: dict[tuple[Shape, int, int], list[_Member]] = {}
    teeth = {LEAST_TEETH, GREATEST_TEETH}
    for number, family in families:
        member = _Member(number, family)
        grouped.setdefault(member.key, []).append(member)
        teeth.update(t for kinds in member.types for kind in kinds for t in kind.teeth if t)
    first, last = min(teeth), max(teeth)
    return [_stacked(key[0], members, rho, first, last) for key, members in grouped.items()]


def base_sets(family: Family) -> dict[tuple[int, ...], list[int]]:
    """Return sets alike in every type: the type of each piece to the places of the sets."""
    columns = [family.type_index[piece.name] for piece in family.pieces]
    merged: dict[tuple[int, ...], list[int]] = {}
    for index, types in enumerate(zip(*columns, strict=True)):
        merged.setdefault(types, []).append(index)
    return merged


def common_sets(bases: Sequence[Sequence[int]]) -> dict[int, int]:
    """Return the sets of base sets that pieces can have in common, each a bit mask with its sign.

    For every such mask m the signs of the masks inside m add up to 1: inclusion and exclusion.
    """
    every = (1 << len(bases)) - 1
    common = {every}
    for column in {tuple(column) for column in zip(*bases, strict=True)}:
        masks: dict[int, int] = {}
        for base, kind in enumerate(column):
            masks[kind] = masks.get(kind, 0) | 1 << base
        common |= {mask & other for mask in masks.values() for other in common}
    common.discard(0)
    signs: dict[int, int] = {}
    for mask in sorted(common, key=int.bit_count):
        signs[mask] = 1 - sum(sign for other, sign in signs.items() if other & mask == other)
    return {mask: sign for mask, sign in signs.items() if sign}


class _Member:
    """One family, ready to be put into a stack."""

    def __init__(self, number: int, family: Family) -> None:
        self.number = number
        self.shape, self.clash = shape_of(family)
        self.types = [family.types[name] for name, _ in self.shape.pieces]
        merged = base_sets(family)
        self.own = list(merged)
        self.base = [
            sum(family.counted_sets[m].commonness for m in members) for members in merged.values()
        ]
        self.signs = common_sets(self.own)
        self.sums = [family.sums[edge] for edge in self.shape.edges]

    @property
    def key(self) -> tuple[Shape, int, int]:
        """What families have alike that are stacked: their shape, and about how large they are."""
        sets = (max(len(self.own), LEAST_ROOM) - 1).bit_length()
        return self.shape, sets, (max(len(self.signs), 2 * LEAST_ROOM) - 1).bit_length()

    @property
    def common(self) -> list[list[int]]:
        """The type that the sets of each mask have of each piece; NONE where they differ."""
        found = []
        for mask in self.signs:
            sets = [own for base, own in enumerate(self.own) if mask >> base & 1]
            found.append(
                [kinds[0] if len(set(kinds)) == 1 else NONE for kinds in zip(*sets, strict=True)]
            )
        return found


def _stacked(shape: Shape, members: Sequence[_Member], rho: Rho, first: int, last: int) -> Stack:
    size = last + 1 - first
    count = len(members)
    bases = max(len(one.own) for one in members)
    terms = max(len(one.signs) for one in members)
    arrays: dict[str, Array] = {
        "numbers": np.array([one.number for one in members]),
        "own": np.zeros((count, bases, len(shape.pieces)), dtype=np.int16),
        "base": np.zeros((count, bases)),
        "signs": np.zeros((count, terms)),
        "common": np.full((count, terms, len(shape.pieces)), NONE, dtype=np.int16),
    }
    for row, one in enumerate(members):
        arrays["own"][row, : len(one.own)] = one.own
        arrays["base"][row, : len(one.base)] = one.base
        arrays["signs"][row, : len(one.signs)] = list(one.signs.values())
        arrays["common"][row, : len(one.signs)] = one.common
    for piece, (_, wheels) in enumerate(shape.pieces):
        room = max(len(one.types[piece]) for one in members)
        at = np.zeros((count, room, len(wheels)), dtype=np.int16)
        weight = np.zeros((count, room))
        for row, one in enumerate(members):
            kinds = one.types[piece]
            places = [[NONE if t is None else t - first for t in kind.teeth] for kind in kinds]
            at[row] = places[0]
            at[row, : len(kinds)] = places
            weight[row, : len(kinds)] = [kind.weight for kind in kinds]
        arrays[f"teeth {piece}"], arrays[f"weight {piece}"] = at, weight
    for edge in range(len(shape.edges)):
        room = max(len(one.sums[edge]) for one in members)
        padded = [
            one.sums[edge] + one.sums[edge][:1] * (room - len(one.sums[edge])) for one in members
        ]
        arrays[f"sums {edge}"] = np.array(padded, dtype=np.int16) - np.int16(2 * first)
    for number, (left, right) in enumerate(shape.clashing):
        table = np.ones(
            (count, arrays[f"teeth {left}"].shape[1], arrays[f"teeth {right}"].shape[1])
        )
        for row, one in enumerate(members):
            a, b = one.clash[number].shape
            table[row, :a, :b] = one.clash[number]
        arrays[f"clash {number}"] = table
    return Stack(shape, first, size, grid_rho(shape, first, size, rho), arrays)


def grid_rho(shape: Shape, first: int, size: int, rho: Rho) -> dict[str, Array]:
    """Return ρ of every wheel of a shape on a grid of teeth."""
    found = {}
    for wheel in shape.location:
        found[wheel] = np.zeros(size)
        start = LEAST_TEETH - first
        found[wheel][start : start + GREATEST_TEETH + 1 - LEAST_TEETH] = rho.of(wheel)
    return found
