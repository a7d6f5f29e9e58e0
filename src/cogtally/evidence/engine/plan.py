"""Which pieces are gone through one state after another, so that the rest fall apart.

Given the laygear, say, every speed gear stands alone: it is a hub, they are clusters. Only the
shape matters here, no number of any family.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from typing import NamedTuple

import numpy as np

from cogtally.evidence.engine.stack import Array
from cogtally.evidence.structure import choose_hubs, state_count


@dataclass(frozen=True)
class States:
    """The states of one piece of so many types and wheels: what is known of it as a whole.

    Its listed types come first, then unlisted ones: of one wheel, other teeth than all types have;
    of several, type by type and wheel by wheel that type with this wheel changed, then another
    altogether.
    """

    types: int
    wheels: int

    @cached_property
    def count(self) -> int:
        """How many states there are."""
        return state_count(self.types, self.wheels)

    @cached_property
    def kinds(self) -> Array:
        """The type of each state, `types` for all that is unlisted."""
        return np.minimum(np.arange(self.count), self.types)

    @cached_property
    def modes(self) -> Array:
        """The mode of each wheel in each state, as `meshes.Modes` orders them: [state, wheel]."""
        types, wheels = self.types, self.wheels
        listed = np.repeat(np.arange(types)[:, None], wheels, 1)
        if wheels == 1:
            return np.concatenate([listed, [[types]]])
        changed = np.repeat(listed, wheels, 0)
        each = np.arange(types * wheels)
        changed[each, each % wheels] += types + 1
        return np.concatenate([listed, changed, np.full((1, wheels), types)])


#: What ties pieces together, as a flat table: for each piece that it touches, what each of its
#: states adds to the place in it.
Factor = Mapping[int, Array]


@dataclass(frozen=True, eq=False)
class Group:
    """Pieces that are gone through together, and the state of each in every joint state.

    Of a cluster: `factors` (by number) that touch it; `view` [hub state]: which of `views` (hub
    states that it tells apart, one of each) it sees.
    """

    pieces: tuple[int, ...]
    states: tuple[Array, ...]
    factors: tuple[int, ...] = ()
    view: Array = field(default_factory=lambda: np.zeros(1, dtype=np.intp))
    views: Array = field(default_factory=lambda: np.zeros(1, dtype=np.intp))

    @property
    def size(self) -> int:
        """How many joint states there are."""
        return len(self.states[0]) if self.states else 1

    def state_of(self, piece: int) -> Array:
        """Return the state of one piece in every joint state."""
        return self.states[self.pieces.index(piece)]


@dataclass(frozen=True, eq=False)
class Plan:
    """Hubs, and clusters that are independent given the state of the hubs.

    `factors`: what ties the pieces; those of the hubs alone are in `hubs.factors`.
    """

    states: tuple[States, ...]
    factors: tuple[Factor, ...]
    hubs: Group
    clusters: tuple[Group, ...]

    def hub_places(self, number: int) -> Array:
        """Return the place in the table of a factor of hubs alone: [hub state]."""
        found = np.zeros(self.hubs.size, dtype=np.intp)
        for piece, local in self.factors[number].items():
            found += local[self.hubs.state_of(piece)]
        return found

    def places(self, number: int, cluster: Group) -> Array:
        """Return the place in the table of a factor of a cluster: [view, cluster state]."""
        found = np.zeros((len(cluster.views), cluster.size), dtype=np.intp)
        for piece, local in self.factors[number].items():
            if piece in cluster.pieces:
                found += local[cluster.state_of(piece)]
            else:
                found += local[self.hubs.state_of(piece)[cluster.views]][:, None]
        return found


def plan_of(states: Sequence[States], factors: Sequence[Factor]) -> Plan:
    """Return the plan of least work for pieces of these states, tied by these factors."""
    sizes = [each.count for each in states]
    hubs, clusters = choose_hubs(sizes, factors)
    on_hubs = tuple(n for n, factor in enumerate(factors) if set(factor) <= set(hubs))
    hub = Group(hubs, _joint(sizes, hubs), on_hubs)
    found = []
    for pieces in clusters:
        mine = tuple(n for n, factor in enumerate(factors) if set(factor) & set(pieces))
        # What the cluster sees of the hubs: the same for hub states that no factor tells apart.
        seen, views = combinations(
            [np.zeros(hub.size, dtype=np.intp)]
            + [
                local[hub.state_of(piece)]
                for number in mine
                for piece, local in factors[number].items()
                if piece in hubs
            ]
        )
        found.append(Group(pieces, _joint(sizes, pieces), mine, seen, views))
    return Plan(tuple(states), tuple(factors), hub, tuple(found))


def _joint(sizes: Sequence[int], pieces: Sequence[int]) -> tuple[Array, ...]:
    if not pieces:
        return ()
    grids = np.indices([sizes[piece] for piece in pieces])
    return tuple(grid.ravel() for grid in grids)


class Move(NamedTuple):
    """Some hub states at once on their way past a cluster: from nodes, through views, to nodes.

    Each as a slice, of one place where they have it alike, or as places apart. `hubs`: the hub
    states, where their weights count from here on.
    """

    source: slice | Array
    view: slice | Array
    target: slice | Array
    hubs: slice | Array | None = None


class Step(NamedTuple):
    """All moves past one cluster, and how many nodes are behind it."""

    cluster: int
    behind: int
    moves: tuple[Move, ...]


@lru_cache(maxsize=256)
def steps_of(plan: Plan, order: tuple[int, ...]) -> tuple[Step, ...]:
    """Return how the hub states go past the clusters in some order, together where they can.

    Those that all clusters so far see alike are one node, until one is alone: then its weight
    counts, and it is one node with all such that the clusters to come see alike.
    """
    views = [plan.clusters[number].view for number in order]
    so_far = [np.zeros(plan.hubs.size, dtype=np.intp)]
    for view in views:
        so_far.append(combinations([so_far[-1], view])[0])
    to_come = 2 * [combinations([views[-1]])[0]]
    for view in views[-2::-1]:
        to_come.insert(0, combinations([view, to_come[0]])[0])
    closing = np.full(plan.hubs.size, len(views) - 1)
    for number in range(len(views) - 1, -1, -1):
        closing[np.bincount(so_far[number + 1])[so_far[number + 1]] == 1] = number
    nodes = [
        combinations([closing >= number, np.where(closing >= number, begun, rest)])
        for number, (begun, rest) in enumerate(zip(so_far, to_come, strict=True))
    ]
    steps = []
    for number, cluster in enumerate(order):
        (source, before), (target, behind) = nodes[number : number + 2]
        weighed = np.flatnonzero(closing == number)
        kinds = before[closing[before] < number], behind[closing[behind] > number], weighed
        view = views[number]
        moves = [
            Move(
                _span(source[some]),
                _span(view[some]),
                _span(target[some]),
                _span(some) if each is weighed else None,
            )
            for each in kinds
            for some in _separate(each, (source, view, target))
        ]
        steps.append(Step(cluster, len(behind), tuple(moves)))
    return tuple(steps)


def _separate(states: Array, ways: Sequence[Array]) -> list[Array]:
    """Hub states in parts, in each of which every way has them all alike or all different."""
    if not states.size:
        return []
    for way in ways:
        order = np.argsort(way[states], kind="stable")
        states = states[order]
        firsts = np.searchsorted(way[states], way[states])
        rank = np.arange(len(states)) - firsts
        _, values = combinations([firsts])
        if 0 < rank.max() < len(states) - 1:
            by = rank if rank.max() < len(values) else firsts
            parts = [states[by == each] for each in np.flatnonzero(np.bincount(by))]
            return [some for part in parts for some in _separate(part, ways)]
    return [states]


def _span(places: Array) -> slice | Array:
    """Places as a slice where they are all one place, or evenly apart."""
    first, apart = int(places[0]), np.diff(places)
    if not apart.any():
        return slice(first, first + 1)
    if apart[0] > 0 and (apart == apart[0]).all():
        return slice(first, int(places[-1]) + 1, int(apart[0]))
    return places


def combinations(parts: Sequence[Array]) -> tuple[Array, Array]:
    """Return which combination of several numbers each state has, and a state of each."""
    places = np.zeros(len(parts[0]), dtype=np.intp)
    firsts = np.zeros(1, dtype=np.intp)
    for part in parts:
        both = places * (int(part.max()) + 1) + part
        _, firsts, places = distinct(both)
    return places, firsts


def distinct(values: Array) -> tuple[Array, Array, Array]:
    """Return the values once each, rising, the first place of each, and which each value is.

    As numpy's own, which loads the masked arrays for it.
    """
    order = np.argsort(values, kind="stable")
    sorted_values = values[order]
    is_new = np.ones(len(values), dtype=bool)
    is_new[1:] = sorted_values[1:] != sorted_values[:-1]
    places = np.empty(len(values), dtype=np.intp)
    places[order] = np.cumsum(is_new) - 1
    return sorted_values[is_new], order[is_new], places
