"""Which pieces are gone through one state after another, so that the rest fall apart.

Given the laygear, say, every speed gear stands alone. Only the shape matters here, no number.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import prod

from cogtally.catalog.model import Catalog, Family
from cogtally.evidence.factors import Shape, mesh_shapes
from cogtally.evidence.prior import FamilyPrior
from cogtally.evidence.rho import Rho

#: "a family whose tables would pass 10^6 entries is refused when it is catalogued"
MOST_ENTRIES = 1_000_000


@dataclass(frozen=True, slots=True)
class Plan:
    """`hubs` are gone through state by state; given them the `clusters` are independent."""

    hubs: tuple[int, ...]
    clusters: tuple[tuple[int, ...], ...]


def plan_for(sizes: Sequence[int], shapes: Sequence[Shape]) -> Plan:
    """Choose hubs so that the least has to be gone through.

    Greedily, one hub after another until nothing is tied any more; one hub may be no gain where
    two are, so the best of all steps counts.
    """
    links = [set(shape.pieces) for shape in shapes]
    hubs: tuple[int, ...] = ()
    clusters = _clusters(len(sizes), links, hubs)
    best = (_cost(sizes, hubs, clusters), hubs, clusters)
    while any(len(cluster) > 1 for cluster in clusters):
        steps = []
        for piece in {p for cluster in clusters if len(cluster) > 1 for p in cluster}:
            more = (*hubs, piece)
            parts = _clusters(len(sizes), links, more)
            steps.append((_cost(sizes, more, parts), more, parts))
        step = min(steps)
        _, hubs, clusters = step
        best = min(best, step)
    return Plan(tuple(sorted(best[1])), best[2])


def table_entries(family: Family) -> int:
    """Return how many entries the tables of a family would have, before anything is seen."""
    prior = FamilyPrior(family, Rho(Catalog((family,))))
    sizes = [len(states) for states in prior.states]
    plan = plan_for(sizes, [shape for shape, _ in mesh_shapes(prior)])
    return int(_cost(sizes, plan.hubs, plan.clusters))


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
