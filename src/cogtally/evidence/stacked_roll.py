"""Who the families in the stacks are: their ids and sets, by the place of a family in its catalog.

Where that is known from, the catalog or what was kept of it, is left to whoever makes the roll.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import TypeVar

from cogtally.catalog.model import Catalog, Family
from cogtally.evidence.stacked_laid import Members
from cogtally.evidence.stacked_tables import Array

#: The sets of each base set of a family, by their ids.
Groups = tuple[tuple[str, ...], ...]

T = TypeVar("T")


class Roll:
    """All families of a catalog that stack, by number: the place in the catalog.

    `family_ids`: of all families of the catalog; `families`: those of some numbers, in the order of
    the catalog, which may have to be read; `members`: the base sets of a family as indexes of its
    counted sets; `set_ids`: the ids of those.
    """

    def __init__(
        self,
        family_ids: Sequence[str],
        families: Callable[[Iterable[int]], tuple[Family, ...]],
        members: Callable[[int], Members],
        set_ids: Callable[[int], Sequence[str]],
    ) -> None:
        self.family_ids = family_ids
        self.families = families
        self.members = members
        self._set_ids = set_ids
        self._groups: dict[int, Groups] = {}
        # What many families have alike takes room once.
        self._same: dict[Groups, Groups] = {}

    def groups(self, number: int) -> Groups:
        """Return the base sets of a family by the ids of their sets."""
        found = self._groups.get(number)
        if found is None:
            ids = self._set_ids(number)
            found = tuple([tuple([ids[m] for m in group]) for group in self.members(number)])
            found = self._groups[number] = self._same.setdefault(found, found)
        return found

    def sets_of(self, number: int, bases: Iterable[int]) -> tuple[str, ...]:
        """Return the ids of the sets of several base sets, in catalog order."""
        ids, members = self._set_ids(number), self.members(number)
        return tuple([ids[m] for m in sorted([m for base in bases for m in members[base]])])


def roll_of(catalog: Catalog, members: Mapping[int, Members]) -> Roll:
    """Return the roll of a catalog that was read; `members` of those that stack."""
    every = catalog.families

    def families(numbers: Iterable[int]) -> tuple[Family, ...]:
        return tuple([every[number] for number in sorted(numbers)])

    def set_ids(number: int) -> Sequence[str]:
        return [known.id for known in every[number].counted_sets]

    return Roll([family.id for family in every], families, members.__getitem__, set_ids)


class Each(Sequence[T]):
    """What is known of each family of a block, looked up when it is asked for."""

    def __init__(self, numbers: Array, known: Callable[[int], T]) -> None:
        self._numbers, self._known = numbers, known

    def __len__(self) -> int:
        return int(self._numbers.size)

    def __getitem__(self, place: int) -> T:  # type: ignore[override]
        return self._known(int(self._numbers[place]))

    def __iter__(self) -> Iterator[T]:
        return map(self._known, self._numbers.tolist())
