"""The catalog in the book: read whole, and changed a family or a set at a time.

Transactions, the log and taking back are left to the store, the rules a catalog must meet to
`check`.
"""

from __future__ import annotations

import gc
import json
import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from operator import itemgetter
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cogtally.catalog.model import (
    Catalog,
    Family,
    Origin,
    RatioSet,
    family_table,
    set_table,
    written_number,
)
from cogtally.gears.errors import UserError
from cogtally.store import (
    damaged,
    make_book,
    read_records,
    read_rows,
    reading,
    total_of,
    writing as one_change,
)

if TYPE_CHECKING:
    import sqlite3

    from cogtally.store import Change, Row, Writing


FAMILIES, SETS = "families", "sets"

#: The columns of a family and of a set, in the order in which they are read.
FAMILY_COLUMNS = (
    *("id", "position", "name", "aliases", "layout", "direct", "centre_distance_mm", "note"),
    *("pieces", "same", "paths"),
)
SET_COLUMNS = (
    *("family", "id", "position", "name", "aliases", "commonness", "source", "pairs", "teeth"),
    *("ratios", "marks", "features"),
)


def family_row(family: Family, position: int) -> Row:
    """Return the row of a family, its sets left out."""
    values = {**family_table(family), "position": position}
    return {column: _kept(values[column]) for column in FAMILY_COLUMNS}


def set_row(family: str, known: RatioSet, position: int) -> Row:
    """Return the row of a set; its pairs are kept as somebody wrote them."""
    values = {**set_table(known), "family": family, "position": position, "teeth": known.pairs}
    written = values["pairs"]
    values["pairs"] = {pair: known.typed.get(pair) or text for pair, text in written.items()}
    return {column: _kept(values[column]) for column in SET_COLUMNS}


def typed_again(row: Mapping[str, Any], known: RatioSet) -> dict[str, str]:
    """Return the pairs of a set's row as they were typed there, those whose teeth are the same."""
    teeth, pairs = _lists(row["teeth"]), _table(row["pairs"])
    return {pair: text for pair, text in pairs.items() if teeth.get(pair) == known.pairs.get(pair)}


def family_of(values: Iterable[Any], sets: tuple[RatioSet, ...]) -> Family:
    """Return the family of a row (as FAMILY_COLUMNS); ValueError or TypeError if it is none."""
    (name_id, _, name, aliases, layout, direct, distance, note, pieces, same, paths) = values
    return Family(
        id=name_id,
        layout=layout,
        name=name,
        sets=sets,
        direct=direct,
        aliases=_texts(aliases),
        centre_distance_mm=distance,
        note=note,
        given_pieces=_lists(pieces),
        same=_table(same),
        paths=_lists(paths),
    )


def set_of(values: Iterable[Any]) -> RatioSet:
    """Return the set of a row (as SET_COLUMNS); ValueError or TypeError if it is none."""
    (_, name_id, _, name, aliases, commonness, source, _, teeth, ratios, marks, features) = values
    return RatioSet(
        id=name_id,
        name=name,
        pairs=_lists(teeth),
        ratios=_table(ratios),
        commonness=commonness,
        source=source,
        aliases=_texts(aliases),
        marks=_lists(marks),
        features=_table(features),
    )


def _kept(value: Any) -> Any:
    """Return a list or a table as JSON, None for an empty one; all else as it is."""
    if not isinstance(value, (tuple, Mapping)):
        return value
    return json.dumps(value, ensure_ascii=False, separators=(",", ":")) if value else None


def _texts(kept: str | None) -> tuple[str, ...]:
    return tuple(json.loads(kept)) if kept else ()


def _lists(kept: str | None) -> dict[str, tuple[Any, ...]]:
    return {name: tuple(items) for name, items in json.loads(kept).items()} if kept else {}


def _table(kept: str | None) -> dict[str, Any]:
    return dict(json.loads(kept)) if kept else {}


#: The name of the catalog in the log of the book.
ROOM = "catalog"


def read_book(path: str | Path) -> Catalog:
    """Return the catalog that the book at `path` keeps; raise UserError if that is no book."""
    place = Path(path)
    with reading(place) as book:
        return replace(book_catalog(book, place), origin=Origin(place, state_of(book)))


def make_catalog_book(
    path: str | Path, families: Iterable[Family] = (), what: str = "catalog init"
) -> None:
    """Make a new book at `path` that holds `families`; raise UserError if a file is there."""
    found = list(families)

    def fill(change: Writing) -> None:
        Book(Path(path), change).add_families(found)

    make_book(Path(path), ROOM, what, fill if found else None)


@contextmanager
def writing(path: str | Path, what: str) -> Iterator[Book]:
    """Change the catalog in the book at `path`: one transaction, logged as `what`, or nothing.

    Raises UserError where the book cannot be written, or is held by another for too long.
    """
    with one_change(Path(path), ROOM, what) as change:
        yield Book(Path(path), change)


class Book:
    """The catalog's tables during one change of the book.

    What is written into it is taken as it is: the rules are asked by whoever writes.
    """

    def __init__(self, path: Path, change: Writing) -> None:
        self.path = path
        self.change = change
        #: The state of the catalog before the change.
        self.before = self.state()

    def state(self) -> list[Any]:
        """Return what tells the catalog, as it stands in the middle of this change, from others."""
        return state_of(self.change.db.conn)

    def catalog(self) -> Catalog:
        """Return the catalog as it stands in the middle of this change."""
        return book_catalog(self.change.db.conn, self.path)

    def family(self, family_id: str) -> Family | None:
        """Return a family as it stands in the middle of this change; None if it is not there."""
        found = book_families(self.change.db.conn, self.path, [family_id])
        return found[0] if found else None

    def marked_families(self) -> list[Family]:
        """Return the families that have a mark on any piece, as they stand."""
        rows = self.change.rows("SELECT DISTINCT family FROM sets WHERE marks IS NOT NULL")
        return book_families(self.change.db.conn, self.path, [row["family"] for row in rows])

    def put_family(self, family: Family) -> None:
        """Write what is said of a family itself, new or in place of what was there; no sets."""
        there = self.change.row(FAMILIES, {"id": family.id})
        position = self._next(FAMILIES) if there is None else there["position"]
        self.change.put(FAMILIES, family_row(family, position))

    def put_set(self, family_id: str, known: RatioSet) -> None:
        """Write a set, new at the end of its family or in place of the one with its id.

        What was typed of a pair stays as it was typed where its teeth stay the same and nobody
        typed it anew. Raises UserError if the family is not there.
        """
        if self.change.row(FAMILIES, {"id": family_id}) is None:
            raise UserError("the book has no such family", family_id, "add the family first")
        there = self.change.row(SETS, {"family": family_id, "id": known.id})
        position = self._next(SETS, family_id) if there is None else there["position"]
        if there is not None:
            known = replace(known, typed={**typed_again(there, known), **known.typed})
        self.change.put(SETS, set_row(family_id, known, position))

    def add_families(self, families: Iterable[Family]) -> None:
        """Write families with all their sets, none of which the book has: many at once."""
        first = self._next(FAMILIES)
        found = list(families)
        self.change.add(FAMILIES, [family_row(f, first + n) for n, f in enumerate(found)])
        rows: list[Row] = [
            set_row(family.id, known, position)
            for family in found
            for position, known in enumerate(family.sets, start=1)
        ]
        self.change.add(SETS, rows)

    def remove_set(self, family_id: str, set_id: str) -> bool:
        """Take a set out; tell whether it was there."""
        return self.change.remove(SETS, {"family": family_id, "id": set_id})

    def remove_family(self, family_id: str) -> bool:
        """Take a family out with all its sets; tell whether it was there."""
        for row in self.change.rows("SELECT id FROM sets WHERE family = ?", [family_id]):
            self.remove_set(family_id, row["id"])
        return self.change.remove(FAMILIES, {"id": family_id})

    def _next(self, table: str, family_id: str | None = None) -> int:
        """The position behind the last family, or behind the last set of a family."""
        where, values = ("WHERE family = ?", [family_id]) if family_id is not None else ("", [])
        found = self.change.rows(f"SELECT max(position) AS last FROM {table} {where}", values)
        return int(found[0]["last"] or 0) + 1


def book_catalog(book: sqlite3.Connection, path: Path) -> Catalog:
    """Return the catalog of an open book: all families and sets, each table in one pass."""
    with without_collecting():
        return Catalog(tuple(book_families(book, path)), name=os.path.basename(path))


def book_families(
    book: sqlite3.Connection, path: Path, ids: Sequence[str] | None = None
) -> list[Family]:
    """Return all families of an open book, or those of some ids, with their sets, in its order.

    Raises UserError where a row of them is not as it was written.
    """
    sets: dict[str, list[tuple[int, RatioSet]]] = {}
    families: list[tuple[int, str, Family]] = []
    row: Any = ()
    try:
        for row in read_rows(book, path, SETS, ids):
            sets.setdefault(row[0], []).append((row[2], set_of(row)))
        for row in read_rows(book, path, FAMILIES, ids):
            own = sorted(sets.get(row[0], ()), key=itemgetter(0))
            families.append((row[1], row[0], family_of(row, tuple(known for _, known in own))))
    except (ValueError, TypeError, AttributeError) as error:
        raise damaged(path, f"{row[0]} and {row[1]} cannot be read") from error
    return [family for *_, family in sorted(families, key=itemgetter(0, 1))]


def book_names(book: sqlite3.Connection, path: Path) -> list[tuple[str, str, str | None]]:
    """Return id, name and aliases, these as JSON, of all families of an open book, in order."""
    rows = read_rows(book, path, FAMILIES, order="position, id")
    return [(row[0], row[2], row[3]) for row in rows]


def book_pair_names(book: sqlite3.Connection, path: Path) -> frozenset[str]:
    """Return what pairs and gears are called in any family of an open book.

    The counted sets of a family name the same pairs, so one of them is enough. Raises UserError
    where a row is not as it was written.
    """
    sets: dict[str, list[RatioSet]] = {}
    counted: set[str] = set()
    for row in read_records(book, path, SETS):
        if row["ratios"] or row["family"] not in counted:
            known = set_of(row.values())
            sets.setdefault(row["family"], []).append(known)
            counted.update([row["family"]] if known.is_counted else [])
    rows = read_rows(book, path, FAMILIES)
    return Catalog(tuple(family_of(row, tuple(sets.get(row[0], ()))) for row in rows)).pair_names


def book_set_names(book: sqlite3.Connection, path: Path) -> list[tuple[str, str, str, str | None]]:
    """Return the family, id, name and aliases of all sets of an open book, by their families."""
    rows = read_rows(book, path, SETS, order="family, position")
    return [(row[0], row[1], row[3], row[4]) for row in rows]


def state_of(book: sqlite3.Connection) -> list[Any]:
    """Return what tells one state of a book's catalog from another: digests of all that it holds.

    Behind these stand how many families and sets there are.
    """
    (families, of_families), (sets, of_sets) = (total_of(book, t) for t in (FAMILIES, SETS))
    return [of_families, of_sets, families, sets]


def state_of_book(book: Path) -> list[Any]:
    """Return what tells the state of a book's catalog from another; UserError for no book."""
    with reading(book) as connection:
        return state_of(connection)


@contextmanager
def without_collecting() -> Iterator[None]:
    """Keep the collector of waste still: going through a large catalog takes it as long again."""
    collects = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collects:
            gc.enable()


NEW, SAME, CHANGED, GONE = "new", "the same", "changed", "gone"


@dataclass(frozen=True, slots=True)
class Key:
    """One key that differs, as it was and as it is: None where it was or is not there."""

    key: str
    before: str | None
    after: str | None


@dataclass(frozen=True, slots=True)
class Difference:
    """How one family (`set` is empty) or set came to be: `status`, and the keys that differ."""

    family: str
    set: str
    status: str
    keys: tuple[Key, ...] = ()

    @property
    def subject(self) -> str:
        """The family, or family and set: `alder-4/wide`."""
        return f"{self.family}/{self.set}" if self.set else self.family


def compare_families(before: Family | None, after: Family | None) -> Difference:
    """Return how a family's own keys differ; its sets are left aside. One of both is there."""
    tables = [None if one is None else family_table(one) for one in (before, after)]
    return _difference((tables[1] or tables[0] or {})["id"], "", *tables)


def compare_sets(family_id: str, before: RatioSet | None, after: RatioSet | None) -> Difference:
    """Return how two states of a set differ. One of both is there."""
    tables = [None if one is None else set_table(one) for one in (before, after)]
    return _difference(family_id, (tables[1] or tables[0] or {})["id"], *tables)


def differences_of(changes: Iterable[Change]) -> tuple[Difference, ...]:
    """Return what the rows of a change of the book come to; rows of other rooms are left out."""
    found: list[Difference] = []
    for change in changes:
        if change.table == FAMILIES:
            found.append(compare_families(_family(change.before), _family(change.after)))
        elif change.table == SETS:
            family_id = (change.after or change.before or {})["family"]
            found.append(compare_sets(family_id, _set(change.before), _set(change.after)))
    return tuple(found)


def _family(row: Mapping[str, Any] | None) -> Family | None:
    return None if row is None else family_of([row.get(c) for c in FAMILY_COLUMNS], ())


def _set(row: Mapping[str, Any] | None) -> RatioSet | None:
    return None if row is None else set_of([row.get(c) for c in SET_COLUMNS])


def _difference(
    family_id: str, set_id: str, before: Mapping[str, Any] | None, after: Mapping[str, Any] | None
) -> Difference:
    old, new = _keys(before or {}), _keys(after or {})
    keys = tuple(
        Key(key, old.get(key), new.get(key))
        for key in dict.fromkeys([*new, *old])
        if old.get(key) != new.get(key)
    )
    status = NEW if before is None else GONE if after is None else CHANGED if keys else SAME
    return Difference(family_id, set_id, status, keys)


def _keys(table: Mapping[str, Any]) -> dict[str, str]:
    """Return all of a table but its id as texts, by dotted keys; what is empty is left out."""
    found = {key: text for key, value in table.items() for key, text in _key_texts(key, value)}
    return {key: text for key, text in found.items() if text and key != "id"}


def _key_texts(key: str, value: Any) -> Iterator[tuple[str, str]]:
    if isinstance(value, Mapping):
        for name, inner in value.items():
            yield from _key_texts(f"{key}.{name}", inner)
    elif isinstance(value, tuple):
        yield key, ", ".join(value)
    elif value is not None:
        is_number = key in ("commonness", "centre_distance_mm")
        yield key, written_number(value) if is_number else str(value)
