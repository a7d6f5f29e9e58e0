"""Where and when the words that a shell offers are written anew.

Those of a book are after every command that changes it, those of catalog files where they are old.
What the words are is left to the catalog.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zlib import crc32

from cogtally.catalog.words import (
    Words,
    files_stamp,
    read_words,
    read_words_of_files,
    write_words,
    write_words_of_files,
)
from cogtally.cli.places import PROGRAM_FOLDER, asked_book
from cogtally.store import looks_like_book

if TYPE_CHECKING:
    from cogtally.catalog.model import Catalog

#: The shells that words are completed in.
SHELLS = ("bash", "zsh", "fish")
#: Catalog files of so many bytes are read while somebody waits for a key; larger ones when a
#: command that takes its time reads them anyway.
MOST_BYTES_AT_A_KEY = 500_000


def completing(command: Callable[..., None]) -> Callable[..., None]:
    """Return a command that, done without an error, writes the words of the book it changed.

    The command has the option `catalog`, the book as typed.
    """

    @wraps(command)
    def then_words(**given: Any) -> None:
        command(**given)
        book = asked_book(given.get("catalog"))
        if book.exists():
            write_words(book)

    return then_words


def offered_words(place: Path) -> Words:
    """Return the words of the catalog at a place, written anew first where that is soon done."""
    if looks_like_book(place):
        return read_words(place)
    try:
        many = files_stamp(place)[1] > MOST_BYTES_AT_A_KEY
    except (OSError, ValueError):
        return Words()
    kept = _kept_at(place)
    found = read_words_of_files(place, kept)
    if found is not None or many:
        return found or Words()
    return write_words_of_files(place, kept)


def keep_words(place: Path, catalog: Catalog) -> None:
    """Write the words of large catalog files that a command has just read, where they are old."""
    try:
        many = not looks_like_book(place) and files_stamp(place)[1] > MOST_BYTES_AT_A_KEY
    except (OSError, ValueError):
        return
    if many and read_words_of_files(place, kept := _kept_at(place)) is None:
        write_words_of_files(place, kept, catalog)


def _kept_at(place: Path) -> Path:
    """Where the words of catalog files are kept: among what the program may lose at any time."""
    from platformdirs import user_cache_path

    name = place.absolute().as_posix()
    folder = user_cache_path(PROGRAM_FOLDER, appauthor=False)
    return folder / f"{place.name[:40]}-{crc32(name.encode('utf-8', 'surrogateescape')):08x}.words"
