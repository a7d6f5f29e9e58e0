"""Which pieces are gone through one state after another, so that the rest fall apart.

Given the laygear, say, every speed gear stands alone: it is a hub, they are clusters. Only the
shape matters here, no number of any family.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
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
    def of_type(self) -> Array:
        """The type that each state is of, as listed or with a wheel changed; -1: of none."""
        changed = np.repeat(np.arange(self.types), self.wheels)[: self.count - self.types - 1]
        return np.concatenate([np.arange(self.types), changed, [-1]])

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


#: More combinations than a number tells apart are numbered anew on the way.
MOST_COMBINATIONS = 2**62
#: What ties pieces together, as a flat table: for each piece that it touches, what each of its
#: states adds to the place in it.
Factor = Mapping[int, Array]


class Group(NamedTuple):
    """Pieces that are gone through together, and the state of each in every joint state.

    Of a cluster: `factors` (by number) that touch it; `view` [hub state]: which of `views` (hub
    states that it tells apart, one of each) it sees.
    """

    pieces: tuple[int, ...]
    states: tuple[Array, ...]
    factors: tuple[int, ...] = ()
    view: Array = np.zeros(1, dtype=np.intp)
    views: Array = np.zeros(1, dtype=np.intp)

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

    def has_types(self, types: Sequence[int]) -> Array:
        """Return which hub states are of so many types of each hub, or of none of all."""
        found = np.ones(self.hubs.size, dtype=bool)
        for piece, state, count in zip(self.hubs.pieces, self.hubs.states, types, strict=True):
            found &= self.states[piece].of_type[state] < count
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
    """All moves past one cluster, which of its views they have, and how many nodes are behind it.

    The views of the moves are places among these.
    """

    cluster: int
    views: Array
    behind: int
    moves: tuple[Move, ...]


@lru_cache(maxsize=256)
def steps_of(plan: Plan, order: tuple[int, ...], types: tuple[int, ...]) -> tuple[Step, ...]:
    """Return how the hub states go past the clusters in some order, together where they can.

    Those of the first `types` of each hub; of families that have no more the others are nothing.
    Those that all clusters so far see alike are one node, until one is alone: then its weight
    counts, and it is one node with all such that the clusters to come see alike.
    """
    states = np.flatnonzero(plan.has_types(types))
    every = [distinct(plan.clusters[number].view[states]) for number in order]
    views = np.array([each for _, _, each in every])
    last = len(order) - 1
    so_far, parted = _begun_alike(views)
    to_come = _begun_alike(views[::-1])[0][::-1]
    # After the last cluster they stay as they were seen there.
    to_come = np.concatenate([to_come[:-1], to_come[-2:-1]])
    closing = np.minimum(parted, last)
    is_open = closing >= np.arange(last + 2)[:, None]
    nodes = [
        distinct(each)[2].tolist() for each in np.where(is_open, so_far + len(states), to_come)
    ]
    steps = []
    for number, view in enumerate(views.tolist()):
        # Closed and open ones go on as one of each node, those in between each by itself.
        closed: dict[int, tuple[int, ...]] = {}
        going: dict[int, tuple[int, ...]] = {}
        weighed: list[tuple[int, ...]] = []
        ways = zip(nodes[number], view, nodes[number + 1], strict=True)
        for state, way, close in zip(states.tolist(), ways, closing.tolist(), strict=True):
            if close == number:
                weighed.append((*way, state))
            elif close < number:
                closed[way[0]] = way
            else:
                going[way[2]] = way
        moves = [
            Move(*map(_span, some))
            for each in (closed.values(), going.values(), weighed)
            for some in _separate(sorted(each))
        ]
        behind = max(nodes[number + 1]) + 1
        steps.append(Step(order[number], every[number][0], behind, tuple(moves)))
    return tuple(steps)


def _begun_alike(views: Array) -> tuple[Array, Array]:
    """Which hub states the first clusters see alike, and with which cluster each is alone.

    `views` [cluster, state]; first [how many clusters, state], the numbers of each rising; then
    [state].
    """
    count, size = views.shape
    order = np.lexsort(views[::-1])
    # Where each differs from the one before, and from the one behind.
    is_other = np.ones((count + 1, size + 1), dtype=bool)
    is_other[:count, 1:size] = views[:, order[1:]] != views[:, order[:-1]]
    differs = is_other.argmax(axis=0)
    differs[[0, size]] = -1
    found = np.empty((count + 1, size), dtype=np.intp)
    found[:, order] = (differs[:-1] < np.arange(count + 1)[:, None]).cumsum(axis=1) - 1
    alone = np.empty(size, dtype=np.intp)
    alone[order] = np.maximum(differs[:-1], differs[1:])
    return found, np.maximum(alone, 0)


def _separate(ways: Sequence[tuple[int, ...]]) -> list[list[tuple[int, ...]]]:
    """Ways in parts, in each of which all begin alike or apart, see alike or apart, and so on.

    Of each part where all begin, what all see, where all end.
    """
    columns = list(zip(*ways, strict=True))
    for end, column in enumerate(columns):
        if 1 < len(set(column)) < len(ways):
            alike = Counter(column)
            by_rank = max(alike.values()) <= len(alike)
            parts: dict[int, list[tuple[int, ...]]] = {}
            for way in ways:
                alike[way[end]] -= 1
                parts.setdefault(alike[way[end]] if by_rank else way[end], []).append(way)
            return [some for part in parts.values() for some in _separate(part)]
    return [columns] if columns else []


def _span(places: tuple[int, ...]) -> slice | Array:
    """Places as a slice where they are all one place, or evenly apart."""
    first, last = places[0], places[-1]
    if first == last:
        return slice(first, first + 1)
    step = max(1, places[1] - first)
    evenly = tuple(range(first, last + 1, step)) == places
    return slice(first, last + 1, step) if evenly else np.array(places)


def combinations(parts: Sequence[Array]) -> tuple[Array, Array]:
    """Return which combination of several numbers each state has, and a state of each."""
    places, room = np.zeros(len(parts[0]), dtype=np.intp), 1
    for part in parts:
        size = int(part.max()) + 1
        if room * size > MOST_COMBINATIONS:
            places = distinct(places)[2]
            room = len(places)
        places, room = places * size + part, room * size
    _, firsts, places = distinct(places)
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
