"""The catalog of a book of which families are read when they are asked for.

Which families a question needs is left to whoever asks: `families` are all of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from pathlib import Path
from typing import Any

from cogtally.catalog.book import book_catalog, book_families
from cogtally.catalog.collecting import without_collecting
from cogtally.catalog.index_file import state_of
from cogtally.catalog.model import Catalog, Family
from cogtally.gears.errors import UserError
from cogtally.store.reading import reading


class PartlyRead(Catalog):
    """A book's catalog in one state of it. Whatever is asked of it is as of the whole catalog.

    Raises UserError, when it has to read more, if the book has been changed since.
    """

    def __init__(self, book: Path, state: list[Any], ids: Sequence[str], sets: int) -> None:
        # `families` is left out: it is read when it is asked for.
        object.__setattr__(self, "name", book.name)
        object.__setattr__(self, "demo", False)
        self.__dict__.update(_book=book, _state=state, _ids=ids, read={}, set_count=sets)

    def __getattr__(self, name: str) -> Any:
        if name != "families":
            raise AttributeError(name)
        with reading(self._book) as connection:
            self._check(connection)
            families = book_catalog(connection, self._book).families
        # Those that were read before stay the same objects.
        found = tuple(self.read.get(family.id, family) for family in families)
        self.__dict__["families"] = found
        return found

    @cached_property
    def by_id(self) -> Mapping[str, Family]:
        """Each family by its id, read when it is looked up."""
        return _ById(self)

    @property
    def ids(self) -> Sequence[str]:
        """The ids of all families, in their order."""
        found: Sequence[str] = self._ids
        return found

    def some(self, numbers: Iterable[int]) -> tuple[Family, ...]:
        """Return the families at these places among all, in their order."""
        wanted = [self._ids[number] for number in sorted(numbers)]
        if "families" in self.__dict__:
            known = set(wanted)
            return tuple(family for family in self.families if family.id in known)
        read: dict[str, Family] = self.read
        missing = [name for name in wanted if name not in read]
        if missing:
            with reading(self._book) as connection, without_collecting():
                self._check(connection)
                read.update((f.id, f) for f in book_families(connection, self._book, missing))
        return tuple(read[name] for name in wanted)

    def _check(self, connection: Any) -> None:
        if state_of(connection) != self._state:
            sentence = "the book was changed while it was being asked"
            raise UserError(sentence, str(self._book), "ask again")


class _ById(Mapping[str, Family]):
    def __init__(self, catalog: PartlyRead) -> None:
        self._catalog = catalog
        self._number = {name: number for number, name in enumerate(catalog.ids)}

    def __getitem__(self, name: str) -> Family:
        return self._catalog.some([self._number[name]])[0]

    def __iter__(self) -> Iterator[str]:
        return iter(self._number)

    def __len__(self) -> int:
        return len(self._number)
