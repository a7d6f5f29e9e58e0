"""What can be true of a box of one family before anything is seen: states, weights, meshes.

The law behind each number stands in `likelihood`; evidence is brought in by `family_tables`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from cogtally.catalog.model import Family, Piece, PieceType
from cogtally.evidence.likelihood import (
    CHANGED_SHARE,
    FOREIGN,
    HIGHEST_SUM,
    LEAST_TEETH,
    OWN,
    SUM_FAR,
    TEETH_RANGE,
    UNLISTED,
    sum_factor,
)
from cogtally.evidence.rho import Rho, excluding

if TYPE_CHECKING:
    from cogtally.evidence.factors import ClashFactor

#: What is known of one wheel in a state of its piece: its teeth, or that they are unknown and
#: which teeth they are not.
Mode = int | frozenset[int]

NOTHING_EXCLUDED: frozenset[int] = frozenset()
#: ρ leaves at least this much outside any few teeth: bounds need not be finer.
LEAST_LEFT = 1e-6


@dataclass(frozen=True, slots=True)
class State:
    """One thing that a piece can be: a listed type (by index), or unlisted (`kind` None).

    `modes` say what is known of each of its wheels.
    """

    kind: int | None
    modes: tuple[Mode, ...]


@dataclass(frozen=True, slots=True)
class Component:
    """Wheels that mesh, directly or through each other, where the family's sets give a sum.

    `wheels` in the order of the family; `edges` name two of them by index, with the factor of
    every tooth sum (indexed by the sum, 0…400).
    """

    wheels: tuple[str, ...]
    edges: tuple[tuple[int, int, tuple[float, ...]], ...]


class FamilyPrior:
    """The states of every piece of a family with their weights, and its meshes; no evidence."""

    def __init__(self, family: Family, rho: Rho) -> None:
        self.family = family
        self.rho = rho
        self.pieces = family.pieces
        self.states = tuple(_states(piece, family.types[piece.name]) for piece in self.pieces)
        #: For each piece, the type that each distinct base set has there.
        own = [family.type_index[piece.name] for piece in self.pieces]
        merged: dict[tuple[int, ...], list[int]] = {}
        for index in range(len(family.counted_sets)):
            merged.setdefault(tuple(column[index] for column in own), []).append(index)
        #: Base sets alike in every type, as (type of each piece, indexes of the sets).
        self.bases = tuple((types, tuple(members)) for types, members in merged.items())
        self._rho: dict[tuple[str, frozenset[int]], list[float]] = {}
        self._weights: dict[tuple[int, int], list[float]] = {}

    @cached_property
    def location(self) -> dict[str, tuple[int, int]]:
        """Each wheel to its piece (by index) and its place there."""
        return {
            w: (p, i) for p, piece in enumerate(self.pieces) for i, w in enumerate(piece.wheels)
        }

    @cached_property
    def carriers(self) -> tuple[tuple[int, ...], ...]:
        """For each state of each piece, the sets that carry it as a bit mask; all if unlisted."""
        every = (1 << len(self.family.counted_sets)) - 1
        masks = []
        for piece, states in zip(self.pieces, self.states, strict=True):
            types = self.family.types[piece.name]
            bits = [sum(1 << c for c in kind.carriers) for kind in types]
            masks.append(tuple(every if s.kind is None else bits[s.kind] for s in states))
        return tuple(masks)

    @property
    def listed_bit(self) -> int:
        """The bit above all sets: it stands where no piece is unlisted."""
        return 1 << len(self.family.counted_sets)

    def common(self, pieces: Sequence[int], states: Sequence[int]) -> int:
        """Return the sets that these states have in common as a bit mask, with the listed bit."""
        listed = self.listed_bit
        mask = 2 * listed - 1
        for piece, state in zip(pieces, states, strict=True):
            mask &= self.carriers[piece][state] | listed
            if self.states[piece][state].kind is None:
                mask &= listed - 1
        return mask

    @cached_property
    def components(self) -> tuple[Component, ...]:
        """The mesh graph in its connected parts; a wheel without a meshing mate is a part alone."""
        edges = _edges(self.family)
        return tuple(
            Component(
                wheels,
                tuple(
                    (wheels.index(left), wheels.index(right), sum_factors(values))
                    for (left, right), values in edges.items()
                    if left in wheels
                ),
            )
            for wheels in connected_wheels(self.family)
        )

    @cached_property
    def clashes(self) -> tuple[ClashFactor, ...]:
        """The factors of listed wheels in mesh that cannot run; none where all of them can."""
        from cogtally.evidence.factors import clash_factors

        return clash_factors(self)

    def unknown(self, wheel: str, excluded: frozenset[int]) -> list[float]:
        """Return ρ of a wheel over 5…99 without the excluded teeth."""
        key = (wheel, excluded)
        found = self._rho.get(key)
        if found is None:
            found = self._rho[key] = excluding(self.rho.of(wheel), excluded)
        return found

    def weights(self, piece: int, own: int) -> list[float]:
        """Return the prior weight of each state of a piece whose base set has type `own` there."""
        key = (piece, own)
        found = self._weights.get(key)
        if found is None:
            types = self.family.types[self.pieces[piece].name]
            found = self._weights[key] = _weights(self.states[piece], types, own)
        return found

    @cached_property
    def reach(self) -> dict[str, tuple[tuple[int, ...], float]]:
        """For each wheel its listed teeth, and how much excluding those can raise ρ elsewhere."""
        found: dict[str, tuple[tuple[int, ...], float]] = {}
        for piece in self.pieces:
            for place, wheel in enumerate(piece.wheels):
                kinds = self.family.types[piece.name]
                listed = {kind.teeth[place] for kind in kinds}
                teeth = tuple(t for t in listed if t is not None)
                rho = self.rho.of(wheel)
                mass = sum(rho[t - LEAST_TEETH] for t in teeth if t in TEETH_RANGE)
                found[wheel] = (teeth, 1 / max(1 - mass, LEAST_LEFT))
        return found

    @cached_property
    def has_gaps(self) -> bool:
        """Whether any listed type has a wheel that nobody counted yet."""
        types = (kind for kinds in self.family.types.values() for kind in kinds)
        return any(teeth is None for kind in types for teeth in kind.teeth)

    @cached_property
    def least_normalisers(self) -> tuple[float, ...]:
        """For each base set, a bound from below on its normaliser."""
        return tuple(self._least_normaliser(own) for own, _ in self.bases)

    def _least_normaliser(self, own: Sequence[int]) -> float:
        """Return a bound from below on the sum of all weighted configurations of a base set.

        The configuration without any stranger has every known mesh on a catalogued sum; its hands
        may clash if a set was written so.
        """
        bound = 1.0
        teeth: dict[str, Mode] = {}
        for index, kind in enumerate(own):
            bound *= self.weights(index, kind)[kind]
            state = self.states[index][kind]
            teeth.update(zip(self.pieces[index].wheels, state.modes, strict=True))
        for component in self.components:
            for left, right, _ in component.edges:
                ends = (teeth[component.wheels[left]], teeth[component.wheels[right]])
                if not all(isinstance(end, int) for end in ends):
                    bound *= SUM_FAR
        for clash in self.clashes:
            shape = clash.shape
            bound *= clash.value(
                tuple(local[own[p]] for p, local in zip(shape.pieces, shape.local, strict=True))
            )
        return bound


def _edges(family: Family) -> dict[tuple[str, str], tuple[int, ...]]:
    """Every mesh for which some set gives a sum, with its sums; none in an axle."""
    if family.layout == "axle":
        return {}
    return {mesh: values for mesh, values in family.sums.items() if values}


def connected_wheels(family: Family) -> tuple[tuple[str, ...], ...]:
    """Return the wheels that mesh, directly or through each other, each part in written order."""
    order = {w: i for i, w in enumerate(w for piece in family.pieces for w in piece.wheels)}
    group = {wheel: {wheel} for wheel in order}
    for left, right in _edges(family):
        if group[left] is not group[right]:
            group[left] |= group[right]
            for wheel in group[right]:
                group[wheel] = group[left]
    parts = {id(g): tuple(sorted(g, key=order.__getitem__)) for g in group.values()}
    return tuple(parts.values())


def state_count(types: int, wheels: int) -> int:
    """Return how many states a piece of so many listed types and wheels has."""
    return types + 1 if wheels == 1 else types + types * wheels + 1


def sum_factors(known: Sequence[int]) -> tuple[float, ...]:
    """Return the factor of every tooth sum 0…400 by how far it is from the nearest known one."""
    factors = [SUM_FAR] * (HIGHEST_SUM + 1)
    for value in known:
        for off in (-2, -1, 0, 1, 2):
            if 0 <= value + off <= HIGHEST_SUM:
                factors[value + off] = max(factors[value + off], sum_factor(abs(off)))
    return tuple(factors)


def _states(piece: Piece, types: Sequence[PieceType]) -> tuple[State, ...]:
    """Every state of a piece: its listed types first, in their order, then the unlisted ones."""
    listed = [
        State(k, tuple(NOTHING_EXCLUDED if t is None else t for t in kind.teeth))
        for k, kind in enumerate(types)
    ]
    if len(piece.wheels) == 1:
        every = frozenset(kind.teeth[0] for kind in types if kind.teeth[0] is not None)
        return (*listed, State(None, (every,)))
    changed = [
        State(None, (*state.modes[:i], _other_than(state.modes[i]), *state.modes[i + 1 :]))
        for state in listed
        for i in range(len(piece.wheels))
    ]
    altogether = State(None, (NOTHING_EXCLUDED,) * len(piece.wheels))
    return (*listed, *changed, altogether)


def _other_than(mode: Mode) -> Mode:
    """Unknown teeth other than a type has; a gap excludes nothing."""
    return frozenset({mode}) if isinstance(mode, int) else NOTHING_EXCLUDED


def _weights(states: Sequence[State], types: Sequence[PieceType], own: int) -> list[float]:
    """The weight of each state, in the order of `_states`."""
    total = sum(kind.weight for kind in types)
    if len(types) == 1:
        listed = [OWN + FOREIGN]
    else:
        others = sum(kind.weight for k, kind in enumerate(types) if k != own)
        listed = [
            OWN if k == own else FOREIGN * kind.weight / others for k, kind in enumerate(types)
        ]
    wheels = len(states[0].modes)
    if wheels == 1:
        return [*listed, UNLISTED]
    changed = [
        UNLISTED * CHANGED_SHARE * kind.weight / total / wheels
        for kind in types
        for _ in range(wheels)
    ]
    return [*listed, *changed, UNLISTED * (1 - CHANGED_SHARE)]
