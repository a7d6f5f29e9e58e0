"""Which pieces are gone through one state after another, so that the rest fall apart.

Given the laygear, say, every speed gear stands alone. Only the shape matters here, no number.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from itertools import pairwise
from math import prod
from typing import TypeVar

from cogtally.catalog.model import Family

#: "a family whose tables would pass 10^6 entries is refused when it is catalogued"
MOST_ENTRIES = 1_000_000


def state_count(types: int, wheels: int) -> int:
    """Return how many states a piece of so many listed types and wheels has."""
    return types + 1 if wheels == 1 else types + types * wheels + 1


def tying_meshes(family: Family) -> tuple[tuple[str, str], ...]:
    """Return every two wheels in mesh whose sum some set gives; none of an axle."""
    return tuple([m for m, sums in family.sums.items() if sums and family.layout != "axle"])


_T = TypeVar("_T", str, int)


def connected(things: Iterable[_T], edges: Iterable[tuple[_T, _T]]) -> tuple[tuple[_T, ...], ...]:
    """Return what is tied, directly or through each other, each part in the order of `things`."""
    order = {thing: number for number, thing in enumerate(things)}
    group = {thing: {thing} for thing in order}
    for left, right in edges:
        if group[left] is not group[right]:
            group[left] |= group[right]
            for thing in group[right]:
                group[thing] = group[left]
    parts = {id(g): tuple(sorted(g, key=order.__getitem__)) for g in group.values()}
    return tuple(parts.values())


def choose_hubs(
    sizes: Sequence[int], links: Sequence[Iterable[int]]
) -> tuple[tuple[int, ...], tuple[tuple[int, ...], ...]]:
    """Return hubs, and the clusters that are left, so that the least has to be gone through.

    `sizes`: how many states each piece has; `links`: the pieces that each factor ties together.
    Greedily, one hub after another until nothing is tied any more; one hub may be no gain where
    two are, so the best of all steps counts.
    """
    tied = {tuple(sorted(set(link))) for link in links}
    return _chosen(tuple(sizes), tuple(sorted(link for link in tied if len(link) > 1)))


@lru_cache(maxsize=256)
def _chosen(
    sizes: tuple[int, ...], links: tuple[tuple[int, ...], ...]
) -> tuple[tuple[int, ...], tuple[tuple[int, ...], ...]]:
    def step(hubs: tuple[int, ...]) -> tuple[int, tuple[int, ...], tuple[tuple[int, ...], ...]]:
        left = [piece for piece in range(len(sizes)) if piece not in hubs]
        tied = [[piece for piece in link if piece not in hubs] for link in links]
        clusters = connected(left, [edge for link in tied for edge in pairwise(link)])
        return _cost(sizes, hubs, clusters), hubs, clusters

    best = last = step(())
    while any(len(cluster) > 1 for cluster in last[2]):
        tied = {piece for cluster in last[2] if len(cluster) > 1 for piece in cluster}
        last = min(step((*last[1], piece)) for piece in tied)
        best = min(best, last)
    return tuple(sorted(best[1])), best[2]


def is_entangled(family: Family) -> bool:
    """Tell whether the tables of a family would have too many entries, before anything is seen."""
    sizes = [
        state_count(len(family.types[piece.name]), len(piece.wheels)) for piece in family.pieces
    ]
    # Within these bounds no choice of hubs could pass the limit; most families stop here.
    if prod(sizes) <= MOST_ENTRIES:
        return False
    place = {wheel: number for number, piece in enumerate(family.pieces) for wheel in piece.wheels}
    links = [{place[w] for w in wheels} for wheels in connected(place, tying_meshes(family))]
    return _cost(sizes, *choose_hubs(sizes, links)) > MOST_ENTRIES


def _cost(sizes: Sequence[int], hubs: Sequence[int], clusters: Sequence[Sequence[int]]) -> int:
    each = sum(prod(sizes[p] for p in cluster) for cluster in clusters) or 1
    return prod(sizes[p] for p in hubs) * each
