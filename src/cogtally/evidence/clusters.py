"""Pieces that are summed out together once the hubs of a family are known.

Which pieces those are is left to `structure`, what is summed over the hubs to `configurations`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from math import prod
from operator import mul

from cogtally.evidence.factors import Factor
from cogtally.evidence.prior import FamilyPrior
from cogtally.evidence.structure import Plan

#: Piece (by index) to the states that are allowed there; other pieces are free.
Allowed = Mapping[int, frozenset[int]]


@dataclass(frozen=True, slots=True)
class Spread:
    """One cluster under one state of the hubs and one base set."""

    total: float
    classes: tuple[tuple[int, float], ...]
    products: tuple[float, ...]


class Cluster:
    """Pieces that are summed out together once the hubs are known."""

    def __init__(
        self, prior: FamilyPrior, pieces: tuple[int, ...], plan: Plan, factors: Sequence[Factor]
    ) -> None:
        self.pieces = pieces
        self.prior = prior
        masked = [
            (prior.common(pieces, states), states)
            for states in product(*(range(len(prior.states[p])) for p in pieces))
        ]
        masked.sort()
        self.states = [states for _, states in masked]
        self.runs: list[tuple[int, int, int]] = []
        for index, (mask, _) in enumerate(masked):
            if self.runs and self.runs[-1][0] == mask:
                self.runs[-1] = (mask, self.runs[-1][1], index + 1)
            else:
                self.runs.append((mask, index, index + 1))
        self.factors = [f for f in factors if set(f.shape.pieces) & set(pieces)]
        #: For each factor and each of its pieces: the hub's place, or the local numbers by state.
        self._parts = [
            [
                (plan.hubs.index(piece), None)
                if piece in plan.hubs
                else (-1, [local[states[pieces.index(piece)]] for states in self.states])
                for piece, local in zip(f.shape.pieces, f.shape.local, strict=True)
            ]
            for f in self.factors
        ]
        self._views = [
            (plan.hubs.index(piece), local)
            for f in self.factors
            for piece, local in zip(f.shape.pieces, f.shape.local, strict=True)
            if piece in plan.hubs
        ]
        self._rows: dict[tuple[int, ...], list[float]] = {}
        self._weights: dict[tuple[int, ...], list[float]] = {}
        self._spreads: dict[tuple[tuple[int, ...], tuple[int, ...]], Spread] = {}
        self._allowed: dict[int, list[int]] = {}

    def view(self, hub: tuple[int, ...]) -> tuple[int, ...]:
        """What this cluster sees of a state of the hubs."""
        return tuple([local[hub[place]] for place, local in self._views])

    def own(self, base: Sequence[int]) -> tuple[int, ...]:
        """The types of these pieces in a base set."""
        return tuple([base[piece] for piece in self.pieces])

    def spread(self, view: tuple[int, ...], own: tuple[int, ...]) -> Spread:
        """The sums over the joint states, seen from the hubs as `view`, with base types `own`."""
        key = (view, own)
        found = self._spreads.get(key)
        if found is None:
            products = tuple(map(mul, self.row(view), self.weight(own)))
            classes = tuple((mask, sum(products[a:b])) for mask, a, b in self.runs if mask)
            found = self._spreads[key] = Spread(sum(products), classes, products)
        return found

    def allowed(self, group: int, allowed: Allowed) -> list[int]:
        """The joint states, by index, that a restriction allows here."""
        found = self._allowed.get(group)
        if found is None:
            found = self._allowed[group] = [
                index
                for index, states in enumerate(self.states)
                if all(
                    piece not in allowed or state in allowed[piece]
                    for piece, state in zip(self.pieces, states, strict=True)
                )
            ]
        return found

    def row(self, view: tuple[int, ...]) -> list[float]:
        """The product of all factors for each joint state."""
        found = self._rows.get(view)
        if found is None:
            found = [1.0] * len(self.states)
            for factor, locals_seen in zip(self.factors, self.locals_seen(view), strict=True):
                found = list(map(mul, found, map(factor.value, locals_seen)))
            self._rows[view] = found
        return found

    def locals_seen(self, view: tuple[int, ...]) -> list[list[tuple[int, ...]]]:
        """For each factor, what it sees of its pieces in each joint state."""
        taken = iter(view)
        found = []
        for parts in self._parts:
            columns = [
                [next(taken)] * len(self.states) if numbers is None else numbers
                for _, numbers in parts
            ]
            found.append(list(zip(*columns, strict=True)))
        return found

    def weight(self, own: tuple[int, ...]) -> list[float]:
        """The prior weight of each joint state."""
        found = self._weights.get(own)
        if found is None:
            columns = [
                self.prior.weights(p, kind) for p, kind in zip(self.pieces, own, strict=True)
            ]
            found = [
                prod([column[state] for column, state in zip(columns, states, strict=True)])
                for states in self.states
            ]
            self._weights[own] = found
        return found
