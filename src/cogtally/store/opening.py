"""Opening a book, to read it or to write it; one of an older version is brought up to date first.

Reading takes the standard library alone, and changes nothing. What the rows are is left to `rows`,
what a change of them is to `writing`, which versions there are to `steps`.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from cogtally.store.file import (
    check_head,
    check_version,
    damaged,
    flush,
    held,
    now,
    read_only,
    told,
)
from cogtally.store.rows import digester, refuse_faults, seal_all
from cogtally.store.steps import STEPS, Step, latest
from cogtally.store.whole import clear, unfinished

if TYPE_CHECKING:
    from sqlite3 import Connection

    from sqlite_utils import Database

#: Seconds that a command waits for another that is writing.
LONGEST_WAIT = 5.0


@contextmanager
def reading(path: Path, steps: Sequence[Step] = STEPS) -> Iterator[Connection]:
    """Open the book at `path` for reading, all from one state of it; `steps` are its versions.

    A book of an older version is brought up to date first. Raises UserError for a file that is no
    book, or one that is damaged or newer than this program.
    """
    _up_to_date(path, steps)
    with told(path), closing(_opened_to_read(path)) as connection:
        check_version(path, version_of(connection), latest(steps))
        connection.execute("BEGIN")
        yield connection


@contextmanager
def opened(path: Path, *, foreign_keys: bool = True) -> Iterator[Database]:
    """Open the book at `path` for writing, outside of any transaction."""
    import sqlite3

    from sqlite_utils import Database

    if path.exists() and not os.access(path, os.W_OK):
        raise read_only(path)
    connection = sqlite3.connect(path, timeout=LONGEST_WAIT, isolation_level=None)
    try:
        connection.execute(f"PRAGMA foreign_keys = {int(foreign_keys)}")
        # What was said to be done stays done, even if the power fails.
        connection.execute("PRAGMA synchronous = FULL")
        connection.create_function("digest_of", -1, digester(), deterministic=True)
        yield Database(connection, execute_plugins=False)
    finally:
        connection.close()


@contextmanager
def opened_to_change(path: Path, steps: Sequence[Step] = STEPS) -> Iterator[Database]:
    """Open the book at `path` for one transaction, which is given up where the block raises.

    Raises UserError where the book cannot be written.
    """
    _up_to_date(path, steps)
    with told(path, writes=True, held=True), opened(path) as db, db.atomic():
        yield db


def version_of(book: Connection) -> int:
    """Return the version of an open book."""
    return int(book.execute("PRAGMA user_version").fetchone()[0])


def upgrade(path: Path, steps: Sequence[Step] = STEPS) -> None:
    """Bring the book at `path` to the last of `steps`; a copy of it as it was is kept beside it.

    All steps are one transaction. Raises UserError where the book cannot be written, or a row of
    it is not as it was written.
    """
    with (
        told(path, writes=True, held=True),
        opened(path, foreign_keys=False) as db,
        db.atomic(),
    ):
        book = db.conn
        # A write comes first, if only in name: it takes the lock, what is read then is the newest,
        # and nobody writes between the copy and the steps.
        book.execute("DELETE FROM log WHERE false")
        version = version_of(book)
        if version >= latest(steps):
            return
        with held(path, f"upgrade to version {latest(steps)}", now()):
            refuse_faults(book, path)
            keep_copy(path, copy_of(path, version))
            take(book, [step for step in steps if step.version > version])
            if book.execute("PRAGMA foreign_key_check").fetchone() is not None:
                raise damaged(path, "rows of it are about others that are not there")


def copy_of(path: Path, version: int) -> Path:
    """Return where the copy of a book of that version is kept when it is upgraded."""
    return path.with_name(f"{path.name}-version-{version}")


def take(book: Connection, steps: Sequence[Step]) -> None:
    """Take an open book through some steps, and work out its digests anew."""
    for step in steps:
        for statement in step.statements:
            book.execute(statement)
        book.execute(f"PRAGMA user_version = {step.version}")
    seal_all(book)


def keep_copy(path: Path, copy: Path) -> None:
    """Copy the book as it stands, its write-ahead log included; whole or not at all."""
    import sqlite3

    new = unfinished(copy)
    try:
        with closing(sqlite3.connect(path)) as source, closing(sqlite3.connect(new)) as target:
            source.backup(target)
        flush(new)
        os.replace(new, copy)
        flush(copy.parent)
    finally:
        clear(new)


def _up_to_date(path: Path, steps: Sequence[Step]) -> None:
    if check_head(path, latest(steps)) < latest(steps):
        upgrade(path, steps)


def _opened_to_read(path: Path) -> Connection:
    """Return a connection that cannot write.

    Opened so that the last reader leaves no file beside the book; where it may not write into the
    folder, a book without a write-ahead log is read as a file that does not change.
    """
    import sqlite3

    try:
        return _connected(path, "mode=rw")
    except sqlite3.OperationalError:
        log = path.with_name(path.name + "-wal")
        if log.exists() and log.stat().st_size > 0:
            raise
        return _connected(path, "mode=ro&immutable=1")


def _connected(path: Path, how: str) -> Connection:
    import sqlite3

    uri = f"{path.absolute().as_uri()}?{how}"
    connection = sqlite3.connect(uri, uri=True, timeout=LONGEST_WAIT, isolation_level=None)
    try:
        connection.execute("PRAGMA query_only = 1")
        # Asked here, for only now SQLite looks at the file and its log.
        connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    except BaseException:
        connection.close()
        raise
    return connection
