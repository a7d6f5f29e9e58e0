"""A catalog made ready for many questions: all that does not depend on what was seen.

What is made of it is left to `parts` and `assembled`.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import fsum
from typing import TYPE_CHECKING

from cogtally.catalog.model import Catalog, Family
from cogtally.evidence.configurations import Configurations
from cogtally.evidence.factors import mesh_factors, mesh_shapes
from cogtally.evidence.prior import FamilyPrior
from cogtally.evidence.ratio_only import RatioOnlySet
from cogtally.evidence.rho import Rho

if TYPE_CHECKING:
    from cogtally.evidence.new_sets import NewSets
    from cogtally.evidence.weighed import Weighed

#: How many catalogs are kept ready.
KEPT = 4


class Prepared:
    """One catalog: ρ, the states and meshes of its families, their normalisers."""

    def __init__(self, catalog: Catalog) -> None:
        self.catalog = catalog
        self.rho = Rho(catalog)
        #: The summed commonness of all its sets.
        self.commonness = fsum(s.commonness for f in catalog.families for s in f.sets)
        self._families: dict[str, FamilyPrior] = {}
        self._normalisers: dict[str, list[float]] = {}
        #: The last question and what was worked out for it.
        self.last: tuple[object, Weighed] | None = None
        self._ratio_only: dict[str, list[RatioOnlySet]] = {}
        self._new_sets: dict[tuple[str, ...], list[tuple[list[int], NewSets]]] = {}

    def family(self, family: Family) -> FamilyPrior:
        """Return the states, weights and meshes of a family with counted sets."""
        found = self._families.get(family.id)
        if found is None:
            found = self._families[family.id] = FamilyPrior(family, self.rho)
        return found

    def ratio_only(self, family: Family) -> list[RatioOnlySet]:
        """Return the sets of a family that are known by printed ratios only."""
        found = self._ratio_only.get(family.id)
        if found is None:
            found = [RatioOnlySet(family, known, self.rho) for known in family.ratio_only_sets]
            self._ratio_only[family.id] = found
        return found

    def normalisers(self, family: Family) -> list[float]:
        """Return the sum of all weighted configurations of each base set, nothing seen."""
        found = self._normalisers.get(family.id)
        if found is None:
            prior = self.family(family)
            factors = mesh_factors(prior, mesh_shapes(prior), {})
            found = self._normalisers[family.id] = Configurations(prior, factors).bases()
        return found

    def new_sets(self, families: Sequence[Family]) -> list[tuple[list[int], NewSets]]:
        """Return the new sets of families with counted sets: those of one shape at once.

        Each with the places of its families among `families`.
        """
        # Loads numpy, which not every command that knows of answers needs.
        from cogtally.evidence.new_sets import new_sets_of, shape_of

        key = tuple([family.id for family in families])
        found = self._new_sets.get(key)
        if found is None:
            alike: dict[object, list[int]] = {}
            for place, family in enumerate(families):
                alike.setdefault(shape_of(family), []).append(place)
            found = self._new_sets[key] = [
                (places, new_sets_of([families[place] for place in places], self.rho))
                for places in alike.values()
            ]
        return found


_PREPARED: list[Prepared] = []


def prepare(catalog: Catalog) -> Prepared:
    """Return the catalog made ready; the last few are kept, since one is asked many questions."""
    for ready in _PREPARED:
        if ready.catalog is catalog:
            return ready
    ready = Prepared(catalog)
    _PREPARED.append(ready)
    del _PREPARED[:-KEPT]
    return ready
