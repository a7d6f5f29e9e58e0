"""Making a book, and bringing one of an older version up to date with a copy of it kept beside.

Which versions there are is left to `steps`.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Sequence
from contextlib import closing, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from cogtally.gears.errors import UserError
from cogtally.store.holder import held, holder_note
from cogtally.store.steps import APPLICATION_ID, STEPS, Step, latest
from cogtally.store.writing import Writing, now, opened
from cogtally.store.wrong import damaged, told

if TYPE_CHECKING:
    from sqlite_utils import Database


def make_book(
    path: Path,
    room: str,
    what: str,
    fill: Callable[[Writing], None] | None = None,
    steps: Sequence[Step] = STEPS,
) -> None:
    """Make a new book at `path`, filled by `fill`, which is logged as `what` in the log of a
    room.

    It is made under another name and appears whole or not at all. Raises UserError where anything
    is at `path` already.
    """
    if os.path.lexists(path):
        raise _there_already(path)
    unfinished = path.with_name(f".{path.name}-{os.getpid()}")
    if path.parent.exists() and not path.parent.is_dir():
        raise UserError(f"{path.parent} is a file, not a folder", str(path), "name another place")
    with told(path, writes=True):
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            with opened(unfinished) as db:
                with db.atomic():
                    db.conn.execute(f"PRAGMA application_id = {APPLICATION_ID}")
                    _take(db, steps)
                    if fill is not None:
                        db.conn.execute(
                            "INSERT INTO log (at, room, what) VALUES (?, ?, ?)",
                            (now(), room, what),
                        )
                        fill(Writing(db, 1))
                db.conn.execute("PRAGMA journal_mode = WAL")
            _appear(unfinished, path)
        finally:
            for end in ("", "-journal", "-wal", "-shm"):
                with suppress(OSError):
                    unfinished.with_name(unfinished.name + end).unlink()


def upgrade(path: Path, steps: Sequence[Step] = STEPS) -> None:
    """Bring the book at `path` to the last of `steps`; a copy of it as it was is kept beside it.

    All steps are one transaction. Raises UserError where the book cannot be written.
    """
    with (
        told(path, writes=True, holder=holder_note(path)),
        opened(path, foreign_keys=False) as db,
        db.atomic(),
    ):
        # A write comes first, if only in name: it takes the lock, what is read then is the newest,
        # and nobody writes between the copy and the steps.
        db.conn.execute("DELETE FROM log WHERE false")
        version = _version(db)
        if version >= latest(steps):
            return
        with held(path, f"upgrade to version {latest(steps)}", now()):
            _keep_copy(path, copy_of(path, version))
            _take(db, [step for step in steps if step.version > version])
            if db.conn.execute("PRAGMA foreign_key_check").fetchone() is not None:
                raise damaged(path, "rows of it are about others that are not there")


def copy_of(path: Path, version: int) -> Path:
    """Return where the copy of a book of that version is kept when it is upgraded."""
    return path.with_name(f"{path.name}-version-{version}")


def _take(db: Database, steps: Sequence[Step]) -> None:
    for step in steps:
        for statement in step.statements:
            db.conn.execute(statement)
        db.conn.execute(f"PRAGMA user_version = {step.version}")


def _version(db: Database) -> int:
    return int(db.conn.execute("PRAGMA user_version").fetchone()[0])


def _keep_copy(path: Path, copy: Path) -> None:
    """Copy the book as it stands, its write-ahead log included; whole or not at all."""
    unfinished = copy.with_name(f".{copy.name}-{os.getpid()}")
    try:
        with (
            closing(sqlite3.connect(path)) as source,
            closing(sqlite3.connect(unfinished)) as target,
        ):
            source.backup(target)
        _flush(unfinished)
        os.replace(unfinished, copy)
        _flush(copy.parent)
    finally:
        for end in ("", "-journal", "-wal", "-shm"):
            with suppress(OSError):
                unfinished.with_name(unfinished.name + end).unlink()


def _appear(unfinished: Path, path: Path) -> None:
    """Give a finished book its name, never in place of another file."""
    _flush(unfinished)
    try:
        os.link(unfinished, path)
    except FileExistsError as error:
        raise _there_already(path) from error
    except OSError:
        # A disk without links: the name is taken as safely as such a disk allows.
        if os.path.lexists(path):
            raise _there_already(path) from None
        os.rename(unfinished, path)
    _flush(path.parent)


def _flush(path: Path) -> None:
    """Have the disk keep a file or a folder before going on, where the system can do that."""
    if os.name == "nt" and path.is_dir():
        return
    number = os.open(path, os.O_RDWR if path.is_file() else os.O_RDONLY)
    try:
        os.fsync(number)
    finally:
        os.close(number)


def _there_already(path: Path) -> UserError:
    mend = "nothing was changed; name another with --catalog, or take it away first"
    return UserError("there is a file already", str(path), mend)
