"""What all the rest of a family weighs, for each thing that one factor can see of its pieces.

From it follows the joint of an answer with the teeth of a wheel, or with the ratio of a gear,
which `advice` needs. The plain sums are left to `configurations`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, TypeVar

import numpy as np

from cogtally.evidence.clusters import Cluster
from cogtally.evidence.configurations import Configurations
from cogtally.evidence.contexts import Classes, Vector
from cogtally.evidence.factors import Factor

Array = np.ndarray[Any, np.dtype[Any]]
T = TypeVar("T")
#: What a factor sees of its pieces, with the sums of all around it, each once: [seen, sum].
Around = tuple[list[tuple[int, ...]], Array]


def contexts(
    configurations: Configurations,
    base_weights: Sequence[float],
    wanted: Sequence[Factor],
    lacks: bool,
) -> list[dict[tuple[int, ...], Vector]]:
    """Return for each wanted factor, and each thing it can see, the answers' weights without it."""
    classes = Classes(configurations)
    around = _Around(configurations, classes, np.array(base_weights))
    found = []
    for factor in wanted:
        seen, sums = around.of(factor)
        answers = [classes.answers(each, lacks) for each in sums.tolist()]
        found.append(dict(zip(seen, answers, strict=True)))
    return found


class _Around:
    """For each cluster, each way the hubs show it and each base set, what stands around it."""

    def __init__(
        self, configurations: Configurations, classes: Classes, base_weights: Array
    ) -> None:
        self._all = configurations
        self._classes = classes
        points = configurations.points
        hub = self._holding(point.start for point in points)
        weights = np.array([point.weights for point in points]) * base_weights
        #: Of each cluster: what it sees of the hubs, by point, and its own types, by base set.
        self._views = [_numbered(p.views[n] for p in points) for n in self._clusters()]
        self._owns = [_numbered(own[n] for own in configurations.owns) for n in self._clusters()]
        vectors = [self._vectors(number) for number in self._clusters()]
        before = [weights[:, :, None] * hub[:, None]]
        for vector in vectors:
            before.append(before[-1] * vector)
        #: Of each cluster: [view, own types, sum].
        self._out: list[Array] = [np.zeros(0)] * len(vectors)
        after: Array | float = 1.0
        for number in reversed(self._clusters()):
            out = before[number] * after
            views, at = self._views[number]
            owns, own = self._owns[number]
            into = np.zeros((len(views), len(owns), out.shape[2]))
            np.add.at(into, (at[:, None], own[None]), out)
            self._out[number] = into
            after = after * vectors[number]
        if configurations.inner:
            bare = np.array([point.bare for point in points]) * base_weights
            self._inner = (bare[:, :, None] * hub[:, None] * after).sum(axis=1)

    def _clusters(self) -> range:
        return range(len(self._all.clusters))

    def _vectors(self, number: int) -> Array:
        """The sums of one cluster by point and base set."""
        (views, at), (owns, own) = self._views[number], self._owns[number]
        cluster = self._all.clusters[number]
        spreads = [[cluster.spread(view, each) for each in owns] for view in views]
        by_mask = np.array([[[v for _, v in s.classes] for s in row] for row in spreads])
        totals = np.array([[[s.total] for s in row] for row in spreads])
        held = self._holding([mask for mask, _, _ in cluster.runs if mask])[:, :-1]
        vectors = np.concatenate([by_mask @ held, totals], axis=2)
        return vectors[at[:, None], own[None]]

    def _holding(self, masks: Iterable[int]) -> Array:
        every = self._classes.every
        return np.array([self._classes.holding(mask & every, mask > every) for mask in masks])

    def of(self, factor: Factor) -> Around:
        """Return all that one factor can see, with the sums of all around it."""
        for number, cluster in enumerate(self._all.clusters):
            if factor in cluster.factors:
                return self._in_cluster(factor, cluster, number)
        hubs = self._all.plan.hubs
        local, others = [], []
        for point in self._all.points:
            places = [point.hub[hubs.index(piece)] for piece in factor.shape.pieces]
            local.append(tuple(n[p] for n, p in zip(factor.shape.local, places, strict=True)))
            value = 1.0
            for other in self._all.inner:
                if other is not factor:
                    value *= self._all.inner_value(other, point.hub)
            others.append(value)
        return _together(local, self._inner * np.array(others)[:, None])

    def _in_cluster(self, factor: Factor, cluster: Cluster, number: int) -> Around:
        place = cluster.factors.index(factor)
        holding = self._holding(mask for mask, _, _ in cluster.runs)
        held = holding.repeat([last - first for _, first, last in cluster.runs], axis=0)
        weights = np.array([cluster.weight(own) for own in self._owns[number][0]])
        local: list[tuple[int, ...]] = []
        found = []
        for view, out in zip(self._views[number][0], self._out[number], strict=True):
            seen = cluster.locals_seen(view)
            others = np.ones(len(cluster.states))
            for other, locals_seen in zip(cluster.factors, seen, strict=True):
                if other is not factor:
                    others *= [other.value(each) for each in locals_seen]
            # States that look the same to the factor are taken together.
            each, sums = _together(seen[place], (weights.T @ out) * held * others[:, None])
            local += each
            found.append(sums)
        return _together(local, np.concatenate(found))


def _numbered(values: Iterable[T]) -> tuple[list[T], Array]:
    """Each different value once, and the number of each."""
    numbers: dict[T, int] = {}
    at = [numbers.setdefault(value, len(numbers)) for value in values]
    return list(numbers), np.array(at)


def _together(local: Sequence[tuple[int, ...]], sums: Array) -> Around:
    """Add up the sums of all that is seen alike."""
    seen, at = _numbered(local)
    found = np.zeros((len(seen), sums.shape[1]))
    np.add.at(found, at, sums)
    return seen, found
