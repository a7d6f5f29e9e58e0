"""The words that a shell may offer: ids of families and sets, pairs and gears, in a small file.

The file stands beside a book; of catalog files and folders, where the command line keeps it. What
of the words is offered where is left to the command line. The file is a convenience: absent, old or
spoilt it is made anew, and never an error.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Collection, Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar
from zlib import crc32

from cogtally.store import check_head, latest, read_summed, write_summed

if TYPE_CHECKING:
    from cogtally.catalog.model import Catalog, Family

T = TypeVar("T")

#: The version of the file: one of another version is no good.
VERSION = 2
ENDING = ".words"
#: A larger file would take longer to read than a key press may.
MOST_BYTES = 5_000_000


@dataclass(frozen=True, slots=True)
class Words:
    """By family: its sets, its pairs (name to number of wheels), its gears."""

    sets: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    pairs: Mapping[str, Mapping[str, int]] = field(default_factory=dict)
    gears: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


def words_path(book: Path) -> Path:
    """Return where the words of a book are kept."""
    return book.with_name(book.name + ENDING)


def write_words(book: Path) -> Words | None:
    """Write the words of the book at `book` beside it and return them; None where it has none.

    Nothing that goes wrong here is an error of the command that changed the book.
    """
    from cogtally.catalog.book import read_book, state_of_book
    from cogtally.gears.errors import UserError

    try:
        # Asked before the book is read: a change in between leaves the words old, not wrong.
        state, stamp = state_of_book(book), _stamp(book)
        words = words_of(read_book(book))
    except (OSError, UserError, ValueError, ArithmeticError):
        return None
    with suppress(OSError):
        _write(words_path(book), words, {"state": state, "book": stamp})
    return words


def renew_words(
    book: Path, before: list[Any], after: list[Any], changed: Mapping[str, Family | None]
) -> None:
    """Write the words of a book that a change brought from one state to another, as `write_words`.

    `changed`: the families that it changed, None where one was taken out. Those of all others are
    kept where they stand as they were before.
    """
    from cogtally.catalog.book import state_of_book
    from cogtally.catalog.model import Catalog
    from cogtally.gears.errors import UserError

    try:
        stamp = _stamp(book)
        kept = _read(words_path(book), lambda document: bool(document["state"] == before))
        if kept is None or state_of_book(book) != after:
            write_words(book)
            return
        new = words_of(Catalog(tuple(family for family in changed.values() if family is not None)))
        words = Words(
            {**_without(kept.sets, changed), **new.sets},
            {**_without(kept.pairs, changed), **new.pairs},
            {**_without(kept.gears, changed), **new.gears},
        )
        _write(words_path(book), words, {"state": after, "book": stamp})
    except (OSError, UserError, ValueError, ArithmeticError):
        return


def _without(words: Mapping[str, T], families: Collection[str]) -> dict[str, T]:
    return {family: has for family, has in words.items() if family not in families}


def write_words_of_files(place: Path, kept: Path, catalog: Catalog | None = None) -> Words:
    """Write the words of a catalog file or a folder of them into the file `kept`; return them.

    `catalog` is what stands there, if it was read already. What cannot be read has no words.
    """
    from cogtally.catalog.files import read_catalog
    from cogtally.gears.errors import UserError

    try:
        stamp = files_stamp(place)
        read = read_catalog(place, check=False)[0] if catalog is None else catalog
        words = words_of(read)
    except (OSError, UserError, ValueError, LookupError, ArithmeticError):
        return Words()
    if not words.sets:
        return words
    with suppress(OSError, ValueError):
        kept.parent.mkdir(parents=True, exist_ok=True)
        _write(kept, words, {"files": stamp})
    return words


def _write(path: Path, words: Words, of: Mapping[str, Any]) -> None:
    """Write words into a file, whole or not at all, behind a sum of all that stands in it."""
    document = {
        "version": VERSION,
        **of,
        "sets": words.sets,
        "pairs": words.pairs,
        "gears": words.gears,
    }
    write_summed(path, json.dumps(document, separators=(",", ":")).encode())


def words_of(catalog: Catalog) -> Words:
    """Return the words of a catalog."""
    return Words(
        {family.id: tuple(known.id for known in family.sets) for family in catalog.families},
        {family.id: dict(family.train.pairs) for family in catalog.families},
        {family.id: family.train.gears for family in catalog.families},
    )


def read_words(book: Path) -> Words:
    """Return the words of a book: those kept beside it, made anew where they are none or spoilt.

    A book that cannot be read as it stands has none.
    """
    kept = _read(words_path(book), lambda document: _is_fresh(document, book))
    if kept is not None:
        return kept
    from cogtally.gears.errors import UserError

    try:
        # A book of an older version is not brought up to date behind somebody's back.
        if check_head(book) < latest():
            return Words()
    except UserError:
        return Words()
    return write_words(book) or Words()


def read_words_of_files(place: Path, kept: Path) -> Words | None:
    """Return the words of a catalog file or folder that `kept` has; None where it is no good."""
    return _read(kept, lambda document: bool(document["files"] == files_stamp(place)))


def files_stamp(place: Path) -> list[int]:
    """Return what tells one state of a file, or of the catalog files of a folder, from another.

    That is how many files there are, their bytes together, and a sum of their names and times.
    Raises OSError where there is nothing.
    """
    if place.is_dir():
        with os.scandir(place) as entries:
            files = [
                (entry.name, entry.stat())
                for entry in entries
                if entry.name.lower().endswith((".toml", ".csv")) and not entry.name.startswith(".")
            ]
    else:
        files = [(place.name, place.stat())]
    states = sorted((name, state.st_size, state.st_mtime_ns) for name, state in files)
    return [len(states), sum(size for _, size, _ in states), crc32(repr(states).encode())]


def _read(path: Path, is_fresh: Callable[[Mapping[str, Any]], bool]) -> Words | None:
    try:
        document = json.loads(read_summed(path, MOST_BYTES))
        if document["version"] != VERSION or not is_fresh(document):
            return None
        return Words(
            {family: tuple(_texts(sets)) for family, sets in document["sets"].items()},
            {family: dict(pairs) for family, pairs in document["pairs"].items()},
            {family: tuple(_texts(gears)) for family, gears in document["gears"].items()},
        )
    except Exception:
        # Whatever somebody did to the file: a key press in a shell is no place to complain.
        return None


def _texts(values: Iterable[object]) -> list[str]:
    return [value for value in values if isinstance(value, str)]


def _is_fresh(document: Mapping[str, Any], book: Path) -> bool:
    """Whether the book's catalog is still the one that the words are of.

    The file's time says so in most cases; where other rooms of the book were written since, the
    digests of the catalog do.
    """
    if document["book"] == _stamp(book):
        return True
    from cogtally.catalog.book import state_of_book

    return bool(check_head(book) == latest() and document["state"] == state_of_book(book))


def _stamp(book: Path) -> list[int]:
    """Size and time of a book and of its write-ahead log."""
    log = book.with_name(book.name + "-wal")
    found: list[int] = []
    for path in (book, log):
        try:
            state = path.stat()
            found += [state.st_size, state.st_mtime_ns]
        except FileNotFoundError:
            found += [0, 0]
    return found
