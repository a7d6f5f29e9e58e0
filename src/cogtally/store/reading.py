"""Opening a book to read it, with the standard library alone; nothing in it is changed.

Writing, and bringing a book of an older version up to date, is left to `writing` and `upgrade`.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path

from cogtally.store.head import check_head, check_version
from cogtally.store.steps import STEPS, Step, latest
from cogtally.store.wrong import told

#: Seconds that a command waits for another that is writing.
LONGEST_WAIT = 5.0


@contextmanager
def reading(path: Path, steps: Sequence[Step] = STEPS) -> Iterator[sqlite3.Connection]:
    """Open the book at `path` for reading, all from one state of it; `steps` are its versions.

    A book of an older version is brought up to date first. Raises UserError for a file that is no
    book, or one that is damaged or newer than this program.
    """
    if check_head(path, latest(steps)) < latest(steps):
        from cogtally.store.upgrade import upgrade

        upgrade(path, steps)
    with told(path), closing(_opened(path)) as connection:
        check_version(path, connection.execute("PRAGMA user_version").fetchone()[0], latest(steps))
        connection.execute("BEGIN")
        yield connection


def _opened(path: Path) -> sqlite3.Connection:
    """Return a connection that cannot write.

    Opened so that the last reader leaves no file beside the book; where it may not write into the
    folder, a book without a write-ahead log is read as a file that does not change.
    """
    try:
        return _connected(path, "mode=rw")
    except sqlite3.OperationalError:
        log = path.with_name(path.name + "-wal")
        if log.exists() and log.stat().st_size > 0:
            raise
        return _connected(path, "mode=ro&immutable=1")


def _connected(path: Path, how: str) -> sqlite3.Connection:
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
