"""The first bytes of a file: whether it is a book, whole, and of a version that can be read.

Looked at before SQLite opens anything, so that a file which is no book is never touched. What
stands behind the head is left to the rooms that read.
"""

from __future__ import annotations

import os
from pathlib import Path

from cogtally.gears.errors import UserError
from cogtally.store.steps import APPLICATION_ID, latest
from cogtally.store.wrong import no_book, not_a_book, told

MAGIC = b"SQLite format 3\0"

# Where the fields of the head stand: https://www.sqlite.org/fileformat2.html#the_database_header
_HEAD = 100
_PAGE_SIZE, _PAGES, _VERSION, _APPLICATION, _PAGES_VALID, _CHANGES = 16, 28, 60, 68, 92, 24


def looks_like_book(path: str | Path) -> bool:
    """Tell whether a path is a file that begins as an SQLite database does."""
    try:
        if not os.path.isfile(path):
            return False
        with open(path, "rb") as stream:
            return stream.read(len(MAGIC)) == MAGIC
    except (OSError, ValueError):
        return False


def check_head(path: Path, newest: int | None = None) -> int:
    """Return the version that the head of a book gives; raise UserError for all that is no book.

    `newest` is the newest version that can be read, that of this program if None.
    """
    with told(path):
        if not path.exists():
            raise no_book(path)
        if not path.is_file():
            raise not_a_book(path, "it is no file")
        with open(path, "rb") as stream:
            head = stream.read(_HEAD)
        size = path.stat().st_size
    if not head:
        raise not_a_book(path, "the file is empty")
    if not head.startswith(MAGIC):
        raise not_a_book(path, "it is no SQLite database")
    if len(head) < _HEAD:
        raise not_a_book(path, "its end is missing")
    if _number(head, _APPLICATION) != APPLICATION_ID:
        raise not_a_book(path, "it is another program's database")
    if not _has_log_ahead(path) and size < _size_by_head(head):
        raise not_a_book(path, "its end is missing")
    version = _number(head, _VERSION)
    check_version(path, version, newest)
    return version


def check_version(path: Path, version: int, newest: int | None = None) -> None:
    """Raise UserError for a book of a version that this program does not know yet."""
    known = latest() if newest is None else newest
    if version > known:
        raise UserError(
            f"the book is of version {version}, and this program knows {known}",
            str(path),
            "it was left as it is; use the newer program",
        )
    if version < 1:
        raise not_a_book(path, "it has no version")


def _number(head: bytes, at: int) -> int:
    return int.from_bytes(head[at : at + 4], "big")


def _size_by_head(head: bytes) -> int:
    """The bytes that the file must have; 0 where the head does not tell."""
    if _number(head, _PAGES_VALID) != _number(head, _CHANGES):
        return 0
    page = int.from_bytes(head[_PAGE_SIZE : _PAGE_SIZE + 2], "big")
    return (65536 if page == 1 else page) * _number(head, _PAGES)


def _has_log_ahead(path: Path) -> bool:
    """Whether pages of the book may stand in its write-ahead log still."""
    log = path.with_name(path.name + "-wal")
    return log.exists() and log.stat().st_size > 0
