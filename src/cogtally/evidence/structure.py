"""Which pieces are gone through one state after another, so that the rest fall apart.

Given the laygear, say, every speed gear stands alone. Only the shape matters here, no number.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from math import prod

from cogtally.catalog.model import Family

#: "a family whose tables would pass 10^6 entries is refused when it is catalogued"
MOST_ENTRIES = 1_000_000


def state_count(types: int, wheels: int) -> int:
    """Return how many states a piece of so many listed types and wheels has."""
    return types + 1 if wheels == 1 else types + types * wheels + 1


def tying_meshes(family: Family) -> tuple[tuple[str, str], ...]:
    """Return every two wheels in mesh whose sum some set gives; none of an axle."""
    return tuple([m for m, sums in family.sums.items() if sums and family.layout != "axle"])


def connected(
    wheels: Iterable[str], edges: Iterable[tuple[str, str]]
) -> tuple[tuple[str, ...], ...]:
    """Return the wheels that mesh, directly or through each other, each part in their order."""
    order = {wheel: number for number, wheel in enumerate(wheels)}
    group = {wheel: {wheel} for wheel in order}
    for left, right in edges:
        if group[left] is not group[right]:
            group[left] |= group[right]
            for wheel in group[right]:
                group[wheel] = group[left]
    parts = {id(g): tuple(sorted(g, key=order.__getitem__)) for g in group.values()}
    return tuple(parts.values())


@lru_cache(maxsize=256)
def _chosen(
    sizes: tuple[int, ...], links: tuple[tuple[int, ...], ...]
) -> tuple[tuple[int, ...], tuple[tuple[int, ...], ...]]:
    tied = [set(link) for link in links]
    hubs: tuple[int, ...] = ()
    clusters = _clusters(len(sizes), tied, hubs)
    best = (_cost(sizes, hubs, clusters), hubs, clusters)
    while any(len(cluster) > 1 for cluster in clusters):
        steps = []
        for piece in {p for cluster in clusters if len(cluster) > 1 for p in cluster}:
            more = (*hubs, piece)
            parts = _clusters(len(sizes), tied, more)
            steps.append((_cost(sizes, more, parts), more, parts))
        step = min(steps)
        _, hubs, clusters = step
        best = min(best, step)
    return tuple(sorted(best[1])), best[2]


def choose_hubs(
    sizes: Sequence[int], links: Sequence[Iterable[int]]
) -> tuple[tuple[int, ...], tuple[tuple[int, ...], ...]]:
    """Return hubs, and the clusters that are left, so that the least has to be gone through.

    `sizes`: how many states each piece has; `links`: the pieces that each factor ties together.
    Greedily, one hub after another until nothing is tied any more; one hub may be no gain where
    two are, so the best of all steps counts.
    """
    return _chosen(tuple(sizes), tuple(tuple(sorted(set(link))) for link in links))


def table_entries(family: Family) -> int:
    """Return how many entries the tables of a family would have, before anything is seen."""
    sizes = [
        state_count(len(family.types[piece.name]), len(piece.wheels)) for piece in family.pieces
    ]
    # Within these bounds no choice of hubs could pass the limit; most families stop here.
    if prod(sizes) <= MOST_ENTRIES:
        return prod(sizes)
    place = {piece.name: number for number, piece in enumerate(family.pieces)}
    every = [wheel for piece in family.pieces for wheel in piece.wheels]
    links = [
        {place[family.piece_of[wheel].name] for wheel in wheels}
        for wheels in connected(every, tying_meshes(family))
    ]
    hubs, clusters = choose_hubs(sizes, links)
    return int(_cost(sizes, hubs, clusters))


def is_entangled(family: Family) -> bool:
    """Tell whether a family is too entangled to compute."""
    return table_entries(family) > MOST_ENTRIES


def _clusters(
    pieces: int, links: Sequence[set[int]], hubs: Sequence[int]
) -> tuple[tuple[int, ...], ...]:
    """The pieces that stay tied to each other once the hubs are known."""
    group = {piece: {piece} for piece in range(pieces) if piece not in hubs}
    for link in links:
        rest = [piece for piece in link if piece in group]
        for piece in rest[1:]:
            joined = group[rest[0]] | group[piece]
            for member in joined:
                group[member] = joined
    return tuple(sorted({tuple(sorted(g)) for g in group.values()}))


def _cost(sizes: Sequence[int], hubs: Sequence[int], clusters: Sequence[Sequence[int]]) -> float:
    each = sum(prod(sizes[p] for p in cluster) for cluster in clusters) or 1
    return prod(sizes[p] for p in hubs) * each
