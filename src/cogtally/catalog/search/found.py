"""What a question finds in a catalog, in a book by its search index where that pays.

How the index finds is left to `index_search`, what a small catalog finds to `search`. The index is
made anew in silence where it is missing, old or spoilt.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path
from typing import Any

from cogtally.catalog.book import book_catalog, book_families, state_of
from cogtally.catalog.model import Catalog, Family
from cogtally.catalog.search.index_file import (
    IndexSpoiltError,
    Parts,
    parts_of,
    read_index,
    write_index,
)
from cogtally.catalog.search.small import Hit, Query, search
from cogtally.store import reading

#: A book of fewer sets is looked through as it stands, which is as quick.
FEWEST_SETS = 500
#: Of more than these it takes no longer to look through the whole book.
MOST_BY_INDEX = 2_000
#: What an index that is not what was written can come to.
_SPOILT = (IndexSpoiltError, LookupError, ValueError, TypeError, AttributeError, OverflowError)


@dataclass(frozen=True, slots=True)
class Found:
    """What was found, the likeliest first: `hits`, the first of `count` in all.

    `name`, `families`, `sets` and `demo` are those of the catalog that was looked through. The
    family of a hit may have fewer sets than the catalog gives it.
    """

    name: str
    families: int
    sets: int
    demo: bool
    count: int
    hits: tuple[Hit, ...]


def find_in(catalog: Catalog, query: Query, most: int | None = None) -> Found:
    """Return what a question finds in a catalog, the first `most` of it, or all."""
    hits = search(catalog, query)
    families, sets = len(catalog.families), catalog.set_count
    return Found(catalog.name, families, sets, catalog.demo, len(hits), hits[:most])


def find_in_book(path: Path, query: Query, most: int | None = None) -> Found:
    """Return what a question finds in the book at `path`, the first `most` of it, or all.

    Raises UserError where the book cannot be read.
    """
    with reading(path) as book:
        state = state_of(book)
        *_, families, sets = state
        if sets < FEWEST_SETS:
            return find_in(book_catalog(book, path), query, most)
        parts = read_index(path, state)
        answer = None if parts is None else _by_index(book, path, parts, query, most)
        if answer is None:
            catalog = book_catalog(book, path)
            answer = _by_index(book, path, _made(path, state, catalog), query, most)
        if answer is None or answer.hits is None:
            return find_in(book_catalog(book, path), query, most)
    return Found(path.name, families, sets, False, answer.count, answer.hits)


@dataclass(frozen=True, slots=True)
class _Answer:
    """How many the index finds, and the first of them; no hits where they are too many for it."""

    count: int
    hits: tuple[Hit, ...] | None


def _made(path: Path, state: list[Any], catalog: Catalog) -> Parts:
    """Make the index of a book anew, and keep it where the disk takes it."""
    from cogtally.catalog.search.index_file import index_of

    parts = index_of(catalog)
    write_index(path, state, parts)
    return parts_of(parts)


def _by_index(
    book: sqlite3.Connection, path: Path, parts: Parts, query: Query, most: int | None
) -> _Answer | None:
    """What the index finds; None where it is spoilt.

    Each hit that is shown is looked at once more as the book has it, and is what the index said.
    """
    from cogtally.catalog.search.index_search import Index

    try:
        scored = Index(parts).find(query)
        count = len(scored)
        shown = count if most is None else min(count, most)
        if shown > MOST_BY_INDEX:
            return _Answer(count, None)
        first = list(islice(scored, shown))
        hits = {
            (hit.family.id, None if hit.known is None else hit.known.id): hit
            for hit in search(_of_these(book, path, first), query)
        }
        found = tuple(hits[family, known] for family, known, _ in first)
        if any(hit.likeness != like for hit, (*_, like) in zip(found, first, strict=True)):
            return None
    except _SPOILT:
        return None
    return _Answer(count, found)


def _of_these(
    book: sqlite3.Connection, path: Path, first: Sequence[tuple[str, str | None, float]]
) -> Catalog:
    """A catalog of some families with some of their sets, out of the book."""
    wanted: dict[str, set[str | None]] = {}
    for family, known, _ in first:
        wanted.setdefault(family, set()).add(known)
    found = {family.id: family for family in book_families(book, path, list(wanted))}
    return Catalog(tuple(_with(found[family], sets) for family, sets in wanted.items()))


def _with(family: Family, wanted: set[str | None]) -> Family:
    """A family with some of its sets, behind the one that tells how its pairs are arranged."""
    first = next((known for known in family.sets if known.is_counted), None)
    return replace(family, sets=tuple(s for s in family.sets if s is first or s.id in wanted))
