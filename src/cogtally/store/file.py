"""The file of a book: what it begins with, what can go wrong with it, who holds it.

Looked at before SQLite opens anything, so that a file which is no book is never touched. What
stands behind the head is left to the rooms that read.
"""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path

from cogtally.gears.errors import UserError, why_of
from cogtally.store.steps import APPLICATION_ID, latest

MAGIC = b"SQLite format 3\0"

# Where the fields of the head stand: https://www.sqlite.org/fileformat2.html#the_database_header
_HEAD = 100
_PAGE_SIZE, _PAGES, _VERSION, _APPLICATION, _PAGES_VALID, _CHANGES = 16, 28, 60, 68, 92, 24

_FULL = ("SQLITE_FULL", "SQLITE_IOERR")
_DAMAGED = ("SQLITE_CORRUPT", "SQLITE_NOTADB")
_READ_ONLY = ("SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_PERM", "SQLITE_AUTH")
_BUSY = ("SQLITE_BUSY", "SQLITE_LOCKED")
_DISK = (errno.ENOSPC, errno.EFBIG, errno.EDQUOT, errno.EIO)
_NOT_ALLOWED = (errno.EACCES, errno.EPERM, errno.EROFS)

_LONGEST_NOTE = 300

_FROM_BEFORE = "take a copy of the book from before, or import an export into a new one"
#: How to get a row back that was spoilt or lost.
WAYS_BACK = f"'cogtally catalog check BOOK --mend' puts back what the log has; else {_FROM_BEFORE}"


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
            mend = "'cogtally catalog init' makes one, and 'cogtally catalog import' fills it"
            raise UserError("there is no such book", str(path), mend)
        if not path.is_file():
            raise _not_a_book(path, "it is no file")
        with open(path, "rb") as stream:
            head = stream.read(_HEAD)
        size = path.stat().st_size
    if not head:
        raise _not_a_book(path, "the file is empty")
    if not head.startswith(MAGIC):
        raise _not_a_book(path, "it is no SQLite database")
    if len(head) < _HEAD:
        raise _not_a_book(path, "its end is missing")
    if _number(head, _APPLICATION) != APPLICATION_ID:
        raise _not_a_book(path, "it is another program's database")
    if not has_log_ahead(path) and size < _size_by_head(head):
        raise _not_a_book(path, "its end is missing")
    version = _number(head, _VERSION)
    check_version(path, version, newest)
    return version


def check_version(path: Path, version: int, newest: int | None = None) -> None:
    """Raise UserError for a book of a version that this program does not know yet."""
    known = latest() if newest is None else newest
    if version > known:
        sentence = f"the book is of version {version}, and this program knows {known}"
        raise UserError(sentence, str(path), "it was left as it is; use the newer program")
    if version < 1:
        raise _not_a_book(path, "it has no version")


def _number(head: bytes, at: int) -> int:
    return int.from_bytes(head[at : at + 4], "big")


def _size_by_head(head: bytes) -> int:
    """The bytes that the file must have; 0 where the head does not tell."""
    if _number(head, _PAGES_VALID) != _number(head, _CHANGES):
        return 0
    page = int.from_bytes(head[_PAGE_SIZE : _PAGE_SIZE + 2], "big")
    return (65536 if page == 1 else page) * _number(head, _PAGES)


def has_log_ahead(path: Path) -> bool:
    """Tell whether pages of the book may stand in its write-ahead log still."""
    log = path.with_name(path.name + "-wal")
    return log.exists() and log.stat().st_size > 0


def _not_a_book(path: Path, why: str) -> UserError:
    return UserError(f"this is no book that can be read: {why}", str(path), "it was left as it is")


def damaged(path: Path, why: str, mend: str = WAYS_BACK) -> UserError:
    """Return the error for a book whose contents are not what was written into it."""
    return UserError(f"the book is damaged: {why}", str(path), mend)


def read_only(path: Path) -> UserError:
    """Return the error for a book that may be read and not written."""
    mend = "nothing was changed; see who may write the file and its folder"
    return UserError("the book cannot be written", str(path), mend)


class DiskError(UserError):
    """The disk did not take what was to be written into a book."""

    def __init__(self, path: Path) -> None:
        mend = "the book is as it was before; make room and try again"
        super().__init__("the disk did not take it: it may be full", str(path), mend)


@contextmanager
def told(path: Path, *, writes: bool = False, held: bool = False) -> Iterator[None]:
    """Turn what SQLite and the disk say of the book at `path` into a UserError.

    `writes`: something was to be written. `held`: whoever holds the book is named by its note.
    """
    try:
        yield
    except (OSError, UnicodeError, OverflowError) as error:
        raise _as_user_error(error, path, writes, held) from error
    except Exception as error:
        # Loaded only here: most runs of most commands never meet it.
        import sqlite3

        if not isinstance(error, sqlite3.Error):
            raise
        raise _as_user_error(error, path, writes, held) from error


def _as_user_error(error: Exception, path: Path, writes: bool, held: bool) -> UserError:
    name = str(getattr(error, "sqlite_errorname", ""))
    done = "written" if writes else "read"
    if name.startswith(_BUSY):
        mend = "nothing was changed; try again when that has ended"
        return UserError(f"the book is in use: {_held_by(path, held)}", str(path), mend)
    if name.startswith(_DAMAGED):
        return damaged(path, str(error), _FROM_BEFORE)
    if name.startswith("SQLITE_READONLY") or (writes and name.startswith(_READ_ONLY)):
        return read_only(path)
    if writes and name.startswith(_FULL):
        return DiskError(path)
    if name.startswith("SQLITE_CONSTRAINT_FOREIGNKEY"):
        mend = "nothing was changed; take out first what needs it"
        return UserError("something else in the book still needs what was to go", str(path), mend)
    if isinstance(error, UnicodeError):
        return UserError("a text holds characters that cannot be kept", str(path), "type it again")
    if isinstance(error, OSError):
        if writes and error.errno in _DISK:
            return DiskError(path)
        if writes and error.errno in _NOT_ALLOWED:
            return read_only(path)
        return UserError(f"it cannot be {done}: {why_of(error)}", str(path))
    return UserError(f"the book cannot be {done}: {error}", str(path))


@contextmanager
def held(path: Path, what: str, at: str) -> Iterator[None]:
    """Keep a note that this process writes the book at `path`; a full disk is no reason to stop.

    Whether anybody writes it, the lock of the book alone decides; a note left behind by a process
    that was killed says nothing, for it is read only when the lock is held.
    """
    note = _note(path)
    with suppress(OSError):
        note.write_text(f"process {os.getpid()}, {what}, since {at}", encoding="utf-8")
    try:
        yield
    finally:
        with suppress(OSError):
            note.unlink()


def _held_by(path: Path, has_note: bool) -> str:
    if has_note:
        with suppress(OSError, UnicodeError):
            text = _note(path).read_text(encoding="utf-8")[:_LONGEST_NOTE].strip()
            if text:
                return f"{text}, holds it"
    return "another program holds it"


def now() -> str:
    """Return the time as the log keeps it: UTC, to the second."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _note(path: Path) -> Path:
    return path.with_name(path.name + "-holder")


def flush(path: Path) -> None:
    """Have the disk keep a file or a folder before going on, where the system can do that."""
    if os.name == "nt" and path.is_dir():
        return
    number = os.open(path, os.O_RDWR if path.is_file() else os.O_RDONLY)
    try:
        os.fsync(number)
    finally:
        os.close(number)
