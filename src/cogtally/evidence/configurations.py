"""The sum over everything that the pieces of a box of one family can be.

The factors bring what was seen; what the sums mean for an answer is left to `assembled`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import product
from math import prod

from cogtally.evidence.clusters import Allowed, Cluster, Spread
from cogtally.evidence.factors import Factor
from cogtally.evidence.prior import FamilyPrior
from cogtally.evidence.structure import plan_for


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
class Point:
    """One state of the hubs: its weight in each base set, and what each cluster sees of it.

    `bare` leaves out the factors that touch no piece but hubs.
    """

    hub: tuple[int, ...]
    start: int
    weights: tuple[float, ...]
    bare: tuple[float, ...]
    views: tuple[tuple[int, ...], ...]


class Configurations:
    """All configurations of a family under `factors`, ready to be summed in several ways."""

    def __init__(self, prior: FamilyPrior, factors: Sequence[Factor]) -> None:
        self.prior = prior
        plan = plan_for([len(s) for s in prior.states], [f.shape.pieces for f in factors])
        self.plan = plan
        self.clusters = [Cluster(prior, pieces, plan, factors) for pieces in plan.clusters]
        self.inner = [f for f in factors if set(f.shape.pieces) <= set(plan.hubs)]
        self.every = prior.listed_bit - 1
        self.owns = [[c.own(types) for c in self.clusters] for types, _ in prior.bases]
        hubs = product(*(range(len(prior.states[p])) for p in plan.hubs))
        self.points = [self._point(hub) for hub in hubs]

    def _point(self, hub: tuple[int, ...]) -> Point:
        start = self.prior.common(self.plan.hubs, hub)
        bare = tuple(
            prod(
                [
                    self.prior.weights(piece, types[piece])[state]
                    for piece, state in zip(self.plan.hubs, hub, strict=True)
                ]
            )
            for types, _ in self.prior.bases
        )
        common = prod([self.inner_value(factor, hub) for factor in self.inner])
        weights = tuple([common * weight for weight in bare])
        return Point(hub, start, weights, bare, tuple([c.view(hub) for c in self.clusters]))

    def inner_value(self, factor: Factor, hub: tuple[int, ...]) -> float:
        """Return a factor that touches no piece but hubs."""
        local = zip(factor.shape.pieces, factor.shape.local, strict=True)
        return factor.value(tuple(numbers[hub[self.plan.hubs.index(p)]] for p, numbers in local))

    def spreads(self, point: Point, base: int) -> list[Spread]:
        """Return each cluster under one state of the hubs and one base set."""
        return [
            cluster.spread(view, own)
            for cluster, view, own in zip(self.clusters, point.views, self.owns[base], strict=True)
        ]

    def bases(self) -> list[float]:
        """Return the sum of each base set: its normaliser, where the factors hold no evidence."""
        found = [0.0] * len(self.prior.bases)
        for point in self.points:
            for base, weight in enumerate(point.weights):
                found[base] += weight * prod([s.total for s in self.spreads(point, base)])
        return found

    def sums(
        self,
        base_weights: Sequence[float],
        groups: Sequence[Allowed],
        *,
        with_masks: bool = True,
    ) -> Sums:
        """Return the sums of each base set and, weighted by `base_weights`, those over all."""
        every, hubs = self.every, self.plan.hubs
        sums = Sums([0.0] * len(base_weights), groups=[0.0] * len(groups))
        for point in self.points:
            allowing = [
                (number, allowed)
                for number, allowed in enumerate(groups)
                if all(s in allowed.get(p, (s,)) for p, s in zip(hubs, point.hub, strict=True))
            ]
            for base, base_weight in enumerate(base_weights):
                spreads = self.spreads(point, base)
                weight = point.weights[base]
                sums.bases[base] += weight * prod([s.total for s in spreads])
                weight *= base_weight
                if with_masks and point.start & every:
                    _fold(sums.masks, point.start, weight, spreads, every)
                for number, allowed in allowing:
                    parts = [
                        _part(s, c.allowed(number, allowed))
                        for s, c in zip(spreads, self.clusters, strict=True)
                    ]
                    sums.groups[number] += weight * prod(parts)
        return sums

    def pieces(self, base_weights: Sequence[float]) -> list[list[float]]:
        """Return the weighted sum of each state of each piece, whatever the others are."""
        found = [[0.0] * len(states) for states in self.prior.states]
        shares: list[dict[int, tuple[Spread, float]]] = [{} for _ in self.clusters]
        for point in self.points:
            for base, base_weight in enumerate(base_weights):
                spreads = self.spreads(point, base)
                before = [point.weights[base] * base_weight]
                for spread in spreads:
                    before.append(before[-1] * spread.total)
                for piece, state in zip(self.plan.hubs, point.hub, strict=True):
                    found[piece][state] += before[-1]
                after = 1.0
                for number in reversed(range(len(spreads))):
                    spread = spreads[number]
                    _, share = shares[number].get(id(spread), (spread, 0.0))
                    shares[number][id(spread)] = (spread, share + before[number] * after)
                    after *= spread.total
        for cluster, shared in zip(self.clusters, shares, strict=True):
            for spread, share in shared.values():
                for states, value in zip(cluster.states, spread.products, strict=True):
                    for piece, state in zip(cluster.pieces, states, strict=True):
                        found[piece][state] += share * value
        return found


def _part(spread: Spread, allowed: list[int]) -> float:
    products = spread.products
    return spread.total if len(allowed) == len(products) else sum([products[i] for i in allowed])


def _fold(
    masks: dict[int, float], start: int, weight: float, spreads: Sequence[Spread], every: int
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
