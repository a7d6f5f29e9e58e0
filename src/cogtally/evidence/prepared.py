"""A catalog made ready for many questions: all that does not depend on what was seen.

What is made of it is left to `parts` and `assembled`.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import fsum
from sys import modules
from typing import TYPE_CHECKING, Protocol

from cogtally.catalog.model import Catalog, Family
from cogtally.evidence.configurations import Configurations
from cogtally.evidence.factors import mesh_factors, mesh_shapes
from cogtally.evidence.prior import FamilyPrior
from cogtally.evidence.ratio_only import RatioOnlySet
from cogtally.evidence.rho import Rho

if TYPE_CHECKING:
    from cogtally.evidence.framed import Frames
    from cogtally.evidence.seen import SeenBox
    from cogtally.evidence.stacked import Stacks
    from cogtally.evidence.weighed import Weighed
    from cogtally.gears.notation import Seen

#: How many catalogs are kept ready.
KEPT = 4
#: From so many questions on a catalog has arrays; of more where numpy has to be loaded for them.
ASKED_AGAIN = 3
ASKED_OFTEN = 6
#: Of many families each question takes longer, so that it pays sooner.
ASKED_OF_MANY = 5


class Shortcuts(Protocol):
    """What is known of all families of a catalog without reading them."""

    @property
    def pools(self) -> Mapping[str, Mapping[int, float]]:
        """The pools of ρ."""

    @property
    def commonness(self) -> float:
        """The summed commonness of all its sets."""

    def stacks(self, rho: Rho) -> Stacks | None:
        """Return the families that stack in arrays, where those are known."""

    def that_matter(self, seen: Seen, box: SeenBox, rho: Rho) -> tuple[Family, ...]:
        """Return the families that can matter to a box, in their order."""

    def nearest(self, seen: Seen, most: int) -> tuple[Family, ...]:
        """Return the families of the `most` sets nearest by teeth, ties too, in their order."""


def shortcuts_of(catalog: Catalog) -> Shortcuts | None:
    """Return what is known of all families of a catalog that was not read as a whole."""
    found: Shortcuts | None = getattr(catalog, "shortcuts", None)
    return found


class Prepared:
    """One catalog: ρ, the states and meshes of its families, their normalisers."""

    def __init__(self, catalog: Catalog) -> None:
        self.catalog = catalog
        self.shortcuts = shortcuts_of(catalog)
        self.rho = Rho(catalog, None if self.shortcuts is None else self.shortcuts.pools)
        #: The summed commonness of all its sets.
        self.commonness = (
            fsum(s.commonness for f in catalog.families for s in f.sets)
            if self.shortcuts is None
            else self.shortcuts.commonness
        )
        self._families: dict[str, FamilyPrior] = {}
        self._normalisers: dict[str, list[float]] = {}
        #: The last question and what was worked out for it.
        self.last: tuple[object, Weighed] | None = None
        self._ratio_only: dict[str, list[RatioOnlySet]] = {}
        #: The families that stack, once they were asked for.
        self.stacks: Stacks | None = None
        self._asked = 0
        self._frames: Frames | None = None

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

    def frames(self) -> Frames | None:
        """Return the frames of the families; None while the catalog was asked too seldom."""
        if self._frames is None and self.asked_often():
            from cogtally.evidence.framed import Frames

            self._frames = Frames(self)
        return self._frames

    def asked_often(self, often: int = ASKED_OFTEN) -> bool:
        """Tell whether it was asked so often that arrays pay; every call counts as a question."""
        self._asked += 1
        return self._asked >= (ASKED_AGAIN if "numpy" in modules else often)

    def known_stacks(self) -> Stacks | None:
        """Return the families that stack, if they were asked for or are known without reading."""
        if self.stacks is None and self.shortcuts is not None:
            self.stacks = self.shortcuts.stacks(self.rho)
        return self.stacks

    def stacked(self) -> Stacks:
        """Return the families that stack in arrays; loads numpy."""
        found = self.known_stacks()
        if found is None:
            from cogtally.evidence.stacked import stacks_of

            found = self.stacks = stacks_of(self.catalog, self.rho)
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
