"""What can go wrong with a book, as one line that a person understands.

When it is looked for is left to the rooms that open, read and write.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from cogtally.gears.errors import UserError

_FULL = ("SQLITE_FULL", "SQLITE_IOERR")
_DAMAGED = ("SQLITE_CORRUPT", "SQLITE_NOTADB")
_READ_ONLY = ("SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_PERM", "SQLITE_AUTH")
_BUSY = ("SQLITE_BUSY", "SQLITE_LOCKED")

#: Whatever goes wrong while a book is read or written, of which the user is told.
TROUBLE = (sqlite3.Error, OSError, UnicodeError, OverflowError)


def not_a_book(path: Path, why: str) -> UserError:
    """Return the error for a file that is no book, or no whole one; it was not touched."""
    return UserError(f"this is no book that can be read: {why}", str(path), "it was left as it is")


def damaged(path: Path, why: str = "") -> UserError:
    """Return the error for a book whose contents are not what was written into it."""
    said = f"the book is damaged: {why}" if why else "the book is damaged"
    return UserError(said, str(path), "it was left as it is; take a copy of it from before")


def no_book(path: Path) -> UserError:
    """Return the error for a book that is not there."""
    mend = "'cogtally catalog init' makes one, and 'cogtally catalog import' fills it"
    return UserError("there is no such book", str(path), mend)


def read_only(path: Path) -> UserError:
    """Return the error for a book that may be read and not written."""
    mend = "nothing was changed; see who may write the file and its folder"
    return UserError("the book cannot be written", str(path), mend)


def disk_full(path: Path) -> UserError:
    """Return the error for a disk that did not take what was written to it."""
    mend = "the book is as it was before; make room and try again"
    return UserError("the disk did not take it: it may be full", str(path), mend)


@contextmanager
def told(path: Path, *, writes: bool = False, holder: Path | None = None) -> Iterator[None]:
    """Turn what SQLite and the disk say of the book at `path` into a UserError.

    `writes`: something was to be written. `holder`: the note of who holds the book.
    """
    try:
        yield
    except TROUBLE as error:
        raise _as_user_error(error, path, writes, holder) from error


def _as_user_error(error: Exception, path: Path, writes: bool, holder: Path | None) -> UserError:
    name = str(getattr(error, "sqlite_errorname", ""))
    if name.startswith(_BUSY):
        from cogtally.store.holder import held_by

        mend = "nothing was changed; try again when that has ended"
        return UserError(f"the book is in use: {held_by(holder)}", str(path), mend)
    if name.startswith(_DAMAGED):
        return damaged(path, str(error))
    if name.startswith("SQLITE_READONLY") or (writes and name.startswith(_READ_ONLY)):
        return read_only(path)
    if writes and name.startswith(_FULL):
        return disk_full(path)
    if name.startswith("SQLITE_CONSTRAINT_FOREIGNKEY"):
        mend = "nothing was changed; take out first what needs it"
        return UserError("something else in the book still needs what was to go", str(path), mend)
    if isinstance(error, UnicodeError):
        return UserError("a text holds characters that cannot be kept", str(path), "type it again")
    if isinstance(error, OSError):
        reason = (error.strerror or str(error)).lower()
        if writes:
            import errno

            if error.errno in (errno.ENOSPC, errno.EFBIG, errno.EDQUOT, errno.EIO):
                return disk_full(path)
            if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
                return read_only(path)
        return UserError(f"it cannot be {'written' if writes else 'read'}: {reason}", str(path))
    return UserError(f"the book cannot be {'written' if writes else 'read'}: {error}", str(path))
