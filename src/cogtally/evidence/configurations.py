"""The sum over everything that the pieces of a box of one family can be.

The factors bring what was seen; what the sums mean for an answer is left to `assembled`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import product
from math import prod
from operator import mul

from cogtally.evidence.factors import Factor
from cogtally.evidence.prior import FamilyPrior
from cogtally.evidence.structure import Plan, plan_for

#: Piece (by index) to the states that are allowed there; other pieces are free.
Allowed = Mapping[int, frozenset[int]]


@dataclass
class Sums:
    """What a family adds up to for one hand.

    `bases[i]`: all weighted configurations of base set i. With base weights given, summed over
    them: `masks`, by the bit mask of the sets that all listed pieces have in common, with the bit
    above all sets where no piece is unlisted (configurations without a common set are in no mask);
    `groups`, for each restriction asked for.
    """

    bases: list[float]
    masks: dict[int, float] = field(default_factory=dict)
    groups: list[float] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Spread:
    """One cluster under one state of the hubs and one base set."""

    total: float
    classes: tuple[tuple[int, float], ...]
    products: tuple[float, ...]


class _Cluster:
    """Pieces that are summed out together once the hubs are known."""

    def __init__(
        self, prior: FamilyPrior, pieces: tuple[int, ...], plan: Plan, factors: Sequence[Factor]
    ) -> None:
        self.pieces = pieces
        self.prior = prior
        every = (1 << len(prior.family.counted_sets)) - 1
        listed = every + 1
        masked = []
        for states in product(*(range(len(prior.states[p])) for p in pieces)):
            mask = every | listed
            for piece, state in zip(pieces, states, strict=True):
                mask &= prior.carriers[piece][state] | listed
                if prior.states[piece][state].kind is None:
                    mask &= every
            masked.append((mask, states))
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
        self._spreads: dict[tuple[tuple[int, ...], tuple[int, ...]], _Spread] = {}
        self._allowed: dict[int, list[int]] = {}

    def view(self, hub: tuple[int, ...]) -> tuple[int, ...]:
        """What this cluster sees of a state of the hubs."""
        return tuple([local[hub[place]] for place, local in self._views])

    def own(self, base: Sequence[int]) -> tuple[int, ...]:
        return tuple([base[piece] for piece in self.pieces])

    def spread(self, view: tuple[int, ...], own: tuple[int, ...]) -> _Spread:
        key = (view, own)
        found = self._spreads.get(key)
        if found is None:
            products = tuple(map(mul, self._row(view), self._weight(own)))
            classes = tuple((mask, sum(products[a:b])) for mask, a, b in self.runs if mask)
            found = self._spreads[key] = _Spread(sum(products), classes, products)
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

    def _row(self, view: tuple[int, ...]) -> list[float]:
        found = self._rows.get(view)
        if found is None:
            found = [1.0] * len(self.states)
            taken = iter(view)
            for factor, parts in zip(self.factors, self._parts, strict=True):
                columns = [
                    [next(taken)] * len(found) if numbers is None else numbers
                    for _, numbers in parts
                ]
                values = [factor.value(local) for local in zip(*columns, strict=True)]
                found = list(map(mul, found, values))
            self._rows[view] = found
        return found

    def _weight(self, own: tuple[int, ...]) -> list[float]:
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


@dataclass(frozen=True, slots=True)
class _Point:
    """One state of the hubs: its weight in each base set, and what each cluster sees of it."""

    hub: tuple[int, ...]
    start: int
    weights: tuple[float, ...]
    views: tuple[tuple[int, ...], ...]


class Configurations:
    """All configurations of a family under `factors`, ready to be summed in several ways."""

    def __init__(self, prior: FamilyPrior, factors: Sequence[Factor]) -> None:
        self._prior = prior
        plan = plan_for([len(s) for s in prior.states], [f.shape for f in factors])
        self._plan = plan
        self._clusters = [_Cluster(prior, pieces, plan, factors) for pieces in plan.clusters]
        self._inner = [f for f in factors if set(f.shape.pieces) <= set(plan.hubs)]
        self._every = (1 << len(prior.family.counted_sets)) - 1
        self._owns = [[c.own(types) for c in self._clusters] for types, _ in prior.bases]
        hubs = product(*(range(len(prior.states[p])) for p in plan.hubs))
        self._points = [self._point(hub) for hub in hubs]

    def _point(self, hub: tuple[int, ...]) -> _Point:
        start = 2 * self._every + 1
        common = _inner_worth(self._inner, self._plan, hub)
        for piece, state in zip(self._plan.hubs, hub, strict=True):
            start &= self._prior.carriers[piece][state] | (self._every + 1)
            if self._prior.states[piece][state].kind is None:
                start &= self._every
        weights = []
        for types, _ in self._prior.bases:
            weight = common
            for piece, state in zip(self._plan.hubs, hub, strict=True):
                weight *= self._prior.weights(piece, types[piece])[state]
            weights.append(weight)
        return _Point(hub, start, tuple(weights), tuple([c.view(hub) for c in self._clusters]))

    def _spreads(self, point: _Point, base: int) -> list[_Spread]:
        return [
            cluster.spread(view, own)
            for cluster, view, own in zip(
                self._clusters, point.views, self._owns[base], strict=True
            )
        ]

    def bases(self) -> list[float]:
        """Return the sum of each base set: its normaliser, where the factors hold no evidence."""
        found = [0.0] * len(self._prior.bases)
        for point in self._points:
            for base, weight in enumerate(point.weights):
                found[base] += weight * prod([s.total for s in self._spreads(point, base)])
        return found

    def sums(self, base_weights: Sequence[float], groups: Sequence[Allowed]) -> Sums:
        """Return the sums of each base set and, weighted by `base_weights`, those over all."""
        every, hubs = self._every, self._plan.hubs
        sums = Sums([0.0] * len(base_weights), groups=[0.0] * len(groups))
        for point in self._points:
            allowing = [
                (number, allowed)
                for number, allowed in enumerate(groups)
                if all(s in allowed.get(p, (s,)) for p, s in zip(hubs, point.hub, strict=True))
            ]
            for base, base_weight in enumerate(base_weights):
                spreads = self._spreads(point, base)
                weight = point.weights[base]
                sums.bases[base] += weight * prod([s.total for s in spreads])
                weight *= base_weight
                if point.start & every:
                    _fold(sums.masks, point.start, weight, spreads, every)
                for number, allowed in allowing:
                    parts = [
                        _part(s, c.allowed(number, allowed))
                        for s, c in zip(spreads, self._clusters, strict=True)
                    ]
                    sums.groups[number] += weight * prod(parts)
        return sums

    def pieces(self, base_weights: Sequence[float]) -> list[list[float]]:
        """Return the weighted sum of each state of each piece, whatever the others are."""
        found = [[0.0] * len(states) for states in self._prior.states]
        shares: list[dict[int, tuple[_Spread, float]]] = [{} for _ in self._clusters]
        for point in self._points:
            for base, base_weight in enumerate(base_weights):
                spreads = self._spreads(point, base)
                before = [point.weights[base] * base_weight]
                for spread in spreads:
                    before.append(before[-1] * spread.total)
                for piece, state in zip(self._plan.hubs, point.hub, strict=True):
                    found[piece][state] += before[-1]
                after = 1.0
                for number in reversed(range(len(spreads))):
                    spread = spreads[number]
                    _, share = shares[number].get(id(spread), (spread, 0.0))
                    shares[number][id(spread)] = (spread, share + before[number] * after)
                    after *= spread.total
        for cluster, shared in zip(self._clusters, shares, strict=True):
            for spread, share in shared.values():
                for states, value in zip(cluster.states, spread.products, strict=True):
                    for piece, state in zip(cluster.pieces, states, strict=True):
                        found[piece][state] += share * value
        return found


def _inner_worth(inner: Sequence[Factor], plan: Plan, hub: tuple[int, ...]) -> float:
    """The factors that touch no piece but hubs."""
    value = 1.0
    for factor in inner:
        local = zip(factor.shape.pieces, factor.shape.local, strict=True)
        value *= factor.value(tuple(numbers[hub[plan.hubs.index(p)]] for p, numbers in local))
    return value


def _part(spread: _Spread, allowed: list[int]) -> float:
    products = spread.products
    return spread.total if len(allowed) == len(products) else sum([products[i] for i in allowed])


def _fold(
    masks: dict[int, float], start: int, weight: float, spreads: Sequence[_Spread], every: int
) -> None:
    """Add up the configurations by the sets that their listed pieces have in common."""
    current = {start: weight}
    for spread in spreads:
        following: dict[int, float] = {}
        for mask, value in current.items():
            for other, more in spread.classes:
                both = mask & other
                if both & every:
                    following[both] = following.get(both, 0.0) + value * more
        current = following
    for mask, value in current.items():
        masks[mask] = masks.get(mask, 0.0) + value
