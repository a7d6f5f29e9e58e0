"""The catalog of a book with what one question needs of all its families kept beside the book.

With that the few families that can matter are read, and no others. Of a small book it is tables
that are asked without numpy (`kept_tables`), of a large one the stacks themselves (`kept_stacks`);
the file is left to `catalog.index_file`.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cogtally.catalog.changes.partly import PartlyRead, state_of_book
from cogtally.catalog.model import Catalog, Family
from cogtally.catalog.search.index_file import (
    IndexSpoiltError,
    Part,
    Parts,
    read_index,
    write_index,
)
from cogtally.evidence import likelihood as law
from cogtally.evidence.rho import Rho
from cogtally.evidence.seen import SeenBox
from cogtally.gears.notation import Seen

if TYPE_CHECKING:
    from cogtally.evidence.kept_tables import Tables
    from cogtally.evidence.stacked import Stacks

ENDING = ".tables"
#: To be raised when anything changes that tables or the arrays of a block hold.
VERSION = 3
#: Fewer families are read as soon as their tables; of more the stacks are kept, since loading numpy
#: takes no longer than asking the tables.
MOST = 1_000
#: The stacks are kept where so great a part of the families stacks: the rest is always read.
LEAST_STACKED = 1 / 2
#: A greater file is not written.
MOST_BYTES = 1 << 30

#: The constants that stand in the tables: with others they are of no use.
_CONSTANTS = [
    VERSION,
    law.OWN,
    law.FOREIGN,
    law.UNLISTED,
    law.CHANGED_SHARE,
    law.UNCATALOGUED_PRIOR,
    [*law.SUM_OFF],
    law.SUM_FAR,
    law.CLASH,
    law.RHO_UNIFORM,
    law.RHO_NEAR,
    law.RHO_SPREAD,
]


class _Kept(PartlyRead):
    """A book's catalog with ρ and the commonness of all its sets, as `head` has them."""

    pools: Mapping[str, Mapping[int, float]]
    commonness: float

    def _keep(self, head: Mapping[str, Any]) -> None:
        pools = {name: {int(teeth): w for teeth, w in pool} for name, pool in head["pools"]}
        self.__dict__.update(pools=pools, commonness=head["commonness"], shortcuts=self)


class KeptCatalog(_Kept):
    """A small book's catalog with the tables that tell which of its families a question needs."""

    tables: Tables

    def __init__(self, book: Path, state: list[Any], parts: Parts) -> None:
        from cogtally.evidence.kept_tables import Tables

        head = parts.document("head")
        super().__init__(book, state, head["ids"])
        self._keep(head)
        self.__dict__.update(tables=Tables(head, parts))

    @property
    def _is_whole(self) -> bool:
        """Whether all families were read, so that asking them costs nothing more."""
        return "families" in self.__dict__

    def stacks(self, rho: Rho) -> Stacks | None:
        """Return nothing: there are no stacks."""
        return None

    def that_matter(self, seen: Seen, box: SeenBox, rho: Rho) -> tuple[Family, ...]:
        """Return the families that can matter to a box; all of them where too many can."""
        if seen.turns or seen.looks or self._is_whole:
            return self.families
        numbers = self.tables.that_matter(box, rho)
        return self.families if numbers is None else self.some(numbers)

    def nearest(self, seen: Seen, most: int) -> tuple[Family, ...]:
        """Return the families of the `most` sets that are nearest by teeth, ties included."""
        if self._is_whole:
            return self.families
        numbers = self.tables.nearest(seen, most, self.some(self.tables.others))
        return self.families if numbers is None else self.some(numbers)


class StackedCatalog(_Kept):
    """A large book's catalog with its stacks, of which no family is read to weigh a box."""

    def __init__(self, book: Path, state: list[Any], parts: Parts) -> None:
        from cogtally.evidence.kept_stacks import family_ids

        parts.check()
        super().__init__(book, state, family_ids(parts))
        self._keep(parts.document("head"))
        self.__dict__.update(_parts=parts)

    def stacks(self, rho: Rho) -> Stacks | None:
        """Return the stacks, out of the file."""
        from cogtally.evidence.kept_stacks import stacks_of_parts

        return stacks_of_parts(self._parts, rho, self.some)

    def that_matter(self, seen: Seen, box: SeenBox, rho: Rho) -> tuple[Family, ...]:
        """Return all families: this is only asked where the stacks do not say it."""
        return self.families

    def nearest(self, seen: Seen, most: int) -> tuple[Family, ...]:
        """Return all families: this is only asked where the stacks do not say it."""
        return self.families


def kept_catalog(book: Path) -> KeptCatalog | StackedCatalog | None:
    """Return the catalog of a book by its tables; None where there are none for this state of it.

    Raises UserError for what is no book.
    """
    state = state_of_book(book)
    parts = read_index(book, [*state, *_CONSTANTS], ENDING)
    if parts is None:
        return None
    try:
        if "stacks" in parts:
            return StackedCatalog(book, state, parts)
        return KeptCatalog(book, state, parts)
    except (IndexSpoiltError, ValueError, LookupError, TypeError):
        return None


def keep_tables(book: Path, catalog: Catalog, state: list[Any]) -> bool:
    """Write the tables of `catalog` beside its book; tell whether they stand.

    `state` is that of the book before the catalog was read: if it has changed since, nothing is
    written. Nor is it for catalogs that are too small for tables to be of use.
    """
    from cogtally.evidence.kept_tables import FEWEST, tables_of

    families = len(catalog.families)
    if families < FEWEST or state_of_book(book) != state:
        return False
    parts = tables_of(catalog) if families <= MOST else _parts_of_stacks(catalog)
    if parts is None or sum(map(len, parts.values())) > MOST_BYTES:
        return False
    return write_index(book, [*state, *_CONSTANTS], parts, ENDING)


def _parts_of_stacks(catalog: Catalog) -> dict[str, Part] | None:
    """Return the stacks of a catalog as parts; None where they would be of little use."""
    from cogtally.evidence.kept_stacks import parts_of_stacks
    from cogtally.evidence.prepared import prepare

    ready = prepare(catalog)
    stacks = ready.stacked()
    if len(stacks.other_numbers) > (1 - LEAST_STACKED) * len(catalog.families):
        return None
    head = {
        "pools": [[name, list(pool.items())] for name, pool in ready.rho.pools.items()],
        "commonness": ready.commonness,
    }
    parts = parts_of_stacks(stacks, catalog)
    parts["head"] = json.dumps(head, ensure_ascii=False, separators=(",", ":")).encode()
    return parts
