"""The catalog of a book of which families are read when they are asked for.

Which families a question needs is left to whoever asks: `families` are all of them.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from pathlib import Path
from typing import Any, NamedTuple

from cogtally.catalog.book import reading as tables
from cogtally.catalog.model import Catalog, Family
from cogtally.gears.errors import UserError
from cogtally.store import reading


class Called(NamedTuple):
    """What a family or a set is called."""

    id: str
    name: str
    aliases: tuple[str, ...]


def _called(name_id: str, name: str, aliases: str | None) -> Called:
    return Called(name_id, name, tuple(json.loads(aliases)) if aliases else ())


class PartlyRead(Catalog):
    """A book's catalog in one state of it. Whatever is asked of it is as of the whole catalog.

    `ids` of all families in their order, where they are known already. Raises UserError, when it
    has to read more, if the book has been changed since.
    """

    def __init__(self, book: Path, state: list[Any], ids: Sequence[str] | None = None) -> None:
        # `families` is left out: it is read when it is asked for.
        object.__setattr__(self, "name", book.name)
        object.__setattr__(self, "demo", False)
        *_, families, sets = state
        self.__dict__.update(
            _book=book, _state=state, read={}, set_count=sets, family_count=families
        )
        if ids is not None:
            self.__dict__["ids"] = ids

    def __getattr__(self, name: str) -> Any:
        if name != "families":
            raise AttributeError(name)
        with reading(self._book) as connection:
            self._check(connection)
            families = tables.book_catalog(connection, self._book).families
        # Those that were read before stay the same objects.
        found = tuple(self.read.get(family.id, family) for family in families)
        self.read.update((family.id, family) for family in found)
        self.__dict__["families"] = found
        return found

    @cached_property
    def ids(self) -> Sequence[str]:
        """The ids of all families, in their order."""
        return [called.id for called in self.names]

    @cached_property
    def names(self) -> Sequence[Called]:
        """What all families are called, in their order."""
        with reading(self._book) as connection:
            self._check(connection)
            return [_called(*row) for row in tables.book_names(connection, self._book)]

    @cached_property
    def pair_names(self) -> frozenset[str]:
        """What pairs and gears are called in any family: as the first counted set names them."""
        with reading(self._book) as connection:
            self._check(connection)
            return tables.book_pair_names(connection, self._book)

    @property
    def set_names(self) -> Iterable[tuple[str, Sequence[Called]]]:
        """What the sets of each family are called, by its id, in their order."""
        found: dict[str, list[Called]] = {}
        with reading(self._book) as connection:
            self._check(connection)
            for family, name_id, name, aliases in tables.book_set_names(connection, self._book):
                found.setdefault(family, []).append(_called(name_id, name, aliases))
        return [(family, found[family]) for family in self.ids if family in found]

    @cached_property
    def by_id(self) -> Mapping[str, Family]:
        """Each family by its id, read when it is looked up."""
        return _ById(self)

    def some(self, numbers: Iterable[int]) -> tuple[Family, ...]:
        """Return the families at these places among all, in their order."""
        return self.of_ids([self.ids[number] for number in sorted(numbers)])

    def of_ids(self, wanted: Sequence[str]) -> tuple[Family, ...]:
        """Return the families of these ids; raise KeyError where there is none of one."""
        read: dict[str, Family] = self.read
        missing = [name for name in wanted if name not in read]
        if missing and "families" not in self.__dict__:
            with reading(self._book) as connection, tables.without_collecting():
                self._check(connection)
                read.update(
                    (f.id, f) for f in tables.book_families(connection, self._book, missing)
                )
        return tuple([read[name] for name in wanted])

    def _check(self, connection: Any) -> None:
        if tables.state_of(connection) != self._state:
            sentence = "the book was changed while it was being asked"
            raise UserError(sentence, str(self._book), "ask again")


def partly_read(book: Path) -> PartlyRead:
    """Return the catalog of a book of which nothing is read yet; raise UserError for no book."""
    return PartlyRead(book, tables.state_of_book(book))


class _ById(Mapping[str, Family]):
    def __init__(self, catalog: PartlyRead) -> None:
        self._catalog = catalog

    def __getitem__(self, name: str) -> Family:
        if not name:
            raise KeyError(name)
        return self._catalog.of_ids([name])[0]

    def __iter__(self) -> Iterator[str]:
        return iter(self._catalog.ids)

    def __len__(self) -> int:
        return int(self._catalog.family_count)
