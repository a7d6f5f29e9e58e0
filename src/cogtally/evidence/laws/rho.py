"""ρ: how teeth that nobody knows are spread, from what the whole catalog has.

Which wheels have unknown teeth is left to `prior`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import cache, cached_property
from typing import TYPE_CHECKING

from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.evidence.laws.likelihood import (
    GREATEST_TEETH,
    LEAST_TEETH,
    RHO_NEAR,
    RHO_SPREAD,
    RHO_UNIFORM,
    TEETH_RANGE,
)
from cogtally.gears.trains import wheel_names

if TYPE_CHECKING:
    from cogtally.evidence.laws.feature_pool import FeaturePool

#: Teeth 5…99 as a vector: index 0 is LEAST_TEETH.
SIZE = GREATEST_TEETH - LEAST_TEETH + 1
UNIFORM = [1 / SIZE] * SIZE


@cache
def _spread(teeth: int) -> list[float]:
    """One catalogued count spread over 5…99 as 0.7^|t−t₀|, adding up to 1."""
    weights = [RHO_SPREAD ** abs(t - teeth) for t in TEETH_RANGE]
    total = sum(weights)
    return [w / total for w in weights]


class Rho:
    """ρ of every wheel name of one catalog, worked out when first asked for."""

    def __init__(self, catalog: Catalog) -> None:
        self._catalog = catalog
        self._pools = _pools_of(catalog)
        self._of: dict[str, list[float]] = {}
        #: For each hand the log of what counts are worth whose teeth are drawn from ρ, as `SeenBox`
        #: keeps it: by name and what they say.
        self.drawn: dict[object, tuple[float, ...]] = {}

    def known_teeth(self, name: str) -> Iterable[int]:
        """Return every count that the catalog has for a wheel of this name."""
        return self._pools.get(name, {})

    @property
    def pools(self) -> Mapping[str, Mapping[int, float]]:
        """Wheel name to catalogued count to summed commonness."""
        return self._pools

    @cached_property
    def features(self) -> FeaturePool:
        """The values of every feature in the catalog."""
        from cogtally.evidence.laws.feature_pool import FeaturePool

        return FeaturePool(self._catalog)

    def of(self, name: str) -> list[float]:
        """Return ρ of a wheel of this name over 5…99; uniform where the catalog has none."""
        found = self._of.get(name)
        if found is None:
            found = self._of[name] = spread_of(self._pools.get(name, {}))
        return found


def _pools_of(catalog: Catalog) -> Mapping[str, Mapping[int, float]]:
    pools: dict[str, dict[int, float]] = {}
    # Of pairs with so many wheels, the pools of those: most families have the same pairs.
    of_pairs: dict[tuple[str, int], list[dict[int, float]]] = {}
    for family in catalog.families:
        counted = family.counted_sets
        sizes = {pair: len(teeth) for pair, teeth in counted[0].pairs.items()} if counted else {}
        for known in counted:
            if family.same or {pair: len(teeth) for pair, teeth in known.pairs.items()} != sizes:
                _add(family, known, pools)
                continue
            for pair, teeth in known.pairs.items():
                places = of_pairs.get((pair, len(teeth)))
                if places is None:
                    names = wheel_names(pair, len(teeth))
                    places = [pools.setdefault(name, {}) for name in names]
                    of_pairs[pair, len(teeth)] = places
                for pool, count in zip(places, teeth, strict=True):
                    if count is not None:
                        pool[count] = pool.get(count, 0.0) + known.commonness
    return {name: pool for name, pool in pools.items() if pool}


def _add(family: Family, known: RatioSet, pools: dict[str, dict[int, float]]) -> None:
    """Put the counts of one set into the pools, a wheel with two names under both."""
    teeth = family.teeth_of(known)
    for name, wheel in family.train.names.items():
        count = teeth.get(wheel)
        if count is not None:
            pool = pools.setdefault(name, {})
            pool[count] = pool.get(count, 0.0) + known.commonness


def spread_of(pool: Mapping[int, float]) -> list[float]:
    """Return ρ over 5…99 from catalogued counts with their weights."""
    if not pool:
        return UNIFORM
    total = sum(pool.values())
    near = [0.0] * SIZE
    for teeth, weight in pool.items():
        share = weight / total
        near = [n + share * s for n, s in zip(near, _spread(teeth), strict=True)]
    return [RHO_UNIFORM / SIZE + RHO_NEAR * n for n in near]


def excluding(rho: Sequence[float], excluded: Iterable[int]) -> list[float]:
    """Return ρ without the excluded teeth, renormalised; all 0 where nothing is left."""
    left = list(rho)
    for teeth in excluded:
        if LEAST_TEETH <= teeth <= GREATEST_TEETH:
            left[teeth - LEAST_TEETH] = 0.0
    total = sum(left)
    return [value / total for value in left] if total > 0 else left
