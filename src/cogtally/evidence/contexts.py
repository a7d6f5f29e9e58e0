"""What all the rest of a family weighs, for each thing that one factor can see of its pieces.

From it follows the joint of an answer with the teeth of a wheel, or with the ratio of a gear,
which `advice` needs. The plain sums are left to `configurations`.

The sets that the listed pieces of a configuration have in common are told apart by inclusion and
exclusion over the sets of sets that can be had in common: each is a product over pieces.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce
from operator import add, mul
from sys import modules

from cogtally.evidence.clusters import Cluster, Spread
from cogtally.evidence.common_sets import signs_of
from cogtally.evidence.configurations import Configurations, Point
from cogtally.evidence.factors import Factor

Vector = list[float]


class Classes:
    """The answers that configurations of a family belong to: its matched groups, variant, mixed.

    `groups` are the bit masks of sets alike in every type.
    """

    def __init__(self, configurations: Configurations) -> None:
        prior = configurations.prior
        self.every = configurations.every
        self.groups = [sum(1 << m for m in members) for _, members in prior.bases]
        signs = signs_of(prior.carriers, self.every)
        self.common = sorted(signs)
        self._signs: Vector = [float(signs[mask]) for mask in self.common]

    def holding(self, mask: int, listed: bool) -> Vector:
        """Return for each sum whether pieces with `mask` in common are in it."""
        return [
            *(1.0 if mask & m == m else 0.0 for m in self.common),
            *(1.0 if listed and mask & g == g else 0.0 for g in self.groups),
            1.0,
        ]

    def of_spread(self, spread: Spread) -> Vector:
        """Return the sums of one cluster."""
        classes = [(mask & self.every, mask > self.every, value) for mask, value in spread.classes]
        return [
            *(sum([v for mask, _, v in classes if mask & m == m]) for m in self.common),
            *(sum([v for mask, ok, v in classes if ok and mask & g == g]) for g in self.groups),
            spread.total,
        ]

    def answers(self, sums: Sequence[float], lacks: bool) -> Vector:
        """Return the weights of the matched groups, then variant, then mixed.

        Where something was seen that the family does not have, what would be matched is variant.
        """
        count = len(self.common)
        related = sum(map(mul, self._signs, sums[:count]))
        matched = list(sums[count:-1])
        mixed = max(0.0, sums[-1] - related)
        if lacks:
            return [*([0.0] * len(matched)), max(0.0, related), mixed]
        return [*matched, max(0.0, related - sum(matched)), mixed]


def contexts(
    configurations: Configurations,
    base_weights: Sequence[float],
    wanted: Sequence[Factor],
    lacks: bool,
) -> list[dict[tuple[int, ...], Vector]]:
    """Return for each wanted factor, and each thing it can see, the answers' weights without it.

    Where numpy is loaded already they are worked out in arrays.
    """
    if "numpy" in modules:
        from cogtally.evidence import contexts_arrays

        return contexts_arrays.contexts(configurations, base_weights, wanted, lacks)
    classes = Classes(configurations)
    nothing = [0.0] * (len(classes.common) + len(classes.groups) + 1)
    around = _Around(configurations, classes)
    for point in configurations.points:
        hub = classes.holding(point.start & classes.every, point.start > classes.every)
        for base, base_weight in enumerate(base_weights):
            around.add(point, base, base_weight, hub)
    found = []
    for factor in wanted:
        sums: dict[tuple[int, ...], Vector] = {}
        for local, vector in around.of(factor):
            sums[local] = list(map(add, sums.get(local, nothing), vector))
        found.append({local: classes.answers(v, lacks) for local, v in sums.items()})
    return found


class _Around:
    """For each cluster, and each way the hubs and base sets show it, what stands around it."""

    def __init__(self, configurations: Configurations, classes: Classes) -> None:
        self._all = configurations
        self._classes = classes
        self._vectors: dict[int, Vector] = {}
        count = len(configurations.clusters)
        self._out: list[dict[tuple[tuple[int, ...], tuple[int, ...]], Vector]] = [
            {} for _ in range(count)
        ]
        self._inner: list[tuple[Point, Vector]] = []

    def add(self, point: Point, base: int, base_weight: float, hub: Vector) -> None:
        """Take in one state of the hubs with one base set."""
        spreads = self._all.spreads(point, base)
        vectors = [self._vector(spread) for spread in spreads]
        weight = point.weights[base] * base_weight
        if self._all.inner:
            whole = reduce(lambda a, b: list(map(mul, a, b)), vectors, hub)
            bare = point.bare[base] * base_weight
            self._inner.append((point, [bare * v for v in whole]))
        if weight == 0.0:
            return
        before = [[weight * v for v in hub]]
        for vector in vectors[:-1]:
            before.append(list(map(mul, before[-1], vector)))
        after: Vector | None = None
        for number in reversed(range(len(vectors))):
            out = before[number] if after is None else list(map(mul, before[number], after))
            key = (point.views[number], self._all.owns[base][number])
            kept = self._out[number].get(key)
            self._out[number][key] = out if kept is None else list(map(add, kept, out))
            after = vectors[number] if after is None else list(map(mul, after, vectors[number]))

    def _vector(self, spread: Spread) -> Vector:
        found = self._vectors.get(id(spread))
        if found is None:
            found = self._vectors[id(spread)] = self._classes.of_spread(spread)
        return found

    def of(self, factor: Factor) -> list[tuple[tuple[int, ...], Vector]]:
        """Return what one factor can see, with the sums of all around it; repeats add up."""
        for cluster, out in zip(self._all.clusters, self._out, strict=True):
            if factor in cluster.factors:
                return self._in_cluster(factor, cluster, out)
        found = []
        hubs = self._all.plan.hubs
        for point, vector in self._inner:
            local = tuple(
                numbers[point.hub[hubs.index(piece)]]
                for piece, numbers in zip(factor.shape.pieces, factor.shape.local, strict=True)
            )
            others = 1.0
            for other in self._all.inner:
                if other is not factor:
                    others *= self._all.inner_value(other, point.hub)
            found.append((local, [others * v for v in vector]))
        return found

    def _in_cluster(
        self,
        factor: Factor,
        cluster: Cluster,
        out: dict[tuple[tuple[int, ...], tuple[int, ...]], Vector],
    ) -> list[tuple[tuple[int, ...], Vector]]:
        place = cluster.factors.index(factor)
        holding = [
            self._classes.holding(mask & self._classes.every, mask > self._classes.every)
            for mask, _, _ in cluster.runs
        ]
        others: dict[tuple[int, ...], list[list[tuple[int, ...]]]] = {}
        found = []
        for (view, own), around in out.items():
            seen = others.get(view)
            if seen is None:
                seen = others[view] = cluster.locals_seen(view)
            weights = cluster.weight(own)
            for other, locals_seen in zip(cluster.factors, seen, strict=True):
                if other is not factor:
                    weights = list(map(mul, weights, map(other.value, locals_seen)))
            for (_, first, last), kept in zip(cluster.runs, holding, strict=True):
                # States that look the same to the factor and have the same sets are taken together.
                by_local: dict[tuple[int, ...], float] = {}
                for local, weight in zip(seen[place][first:last], weights[first:last], strict=True):
                    by_local[local] = by_local.get(local, 0.0) + weight
                held = list(map(mul, around, kept))
                found += [(local, [weight * v for v in held]) for local, weight in by_local.items()]
        return found
