"""One change of a book: one transaction, every row of it logged, whole or not at all.

What the rows mean is left to the rooms above, taking a change back to `undo`.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cogtally.store.head import check_head, check_version
from cogtally.store.holder import held, holder_note
from cogtally.store.reading import LONGEST_WAIT
from cogtally.store.steps import STEPS, Step, latest
from cogtally.store.wrong import read_only, told

if TYPE_CHECKING:
    from sqlite_utils import Database

#: A row as the tables hold it: column to text, number or None.
Row = Mapping[str, str | int | float | None]


class Writing:
    """An open change of a book: rows go in and out through it, and the log keeps both sides."""

    def __init__(self, db: Database, entry: int) -> None:
        self.db = db
        self.entry = entry
        self.changed = 0
        self._keys: dict[str, tuple[str, ...]] = {}

    def rows(self, sql: str, values: Sequence[object] = ()) -> list[dict[str, Any]]:
        """Return the rows that a question to the book gives."""
        cursor = self.db.conn.execute(sql, values)
        names = [column[0] for column in cursor.description]
        return [dict(zip(names, row, strict=True)) for row in cursor]

    def row(self, table: str, key: Row) -> dict[str, Any] | None:
        """Return the row of a table that has the key of `key` (a whole row will do), or None."""
        columns = self.keys(table)
        where = " AND ".join(f'"{column}" = ?' for column in columns)
        found = self.rows(
            f'SELECT * FROM "{table}" WHERE {where}', [key[column] for column in columns]
        )
        return found[0] if found else None

    def put(self, table: str, row: Row) -> None:
        """Write a row, in place of the one with its key if there is one.

        Columns that `row` does not name stay as they are; a new row names all that must be there.
        """
        before = self.row(table, row)
        after = {**before, **row} if before is not None else row
        if after != before:
            _write(self.db, table, self.keys(table), after)
            self.note(table, [(before, after)])

    def add(self, table: str, rows: Iterable[Row]) -> None:
        """Write rows that are new; raises UserError, and all is undone, if one is there already."""
        many = list(rows)
        if many:
            columns = list(many[0])
            self.db.conn.executemany(
                _insert(table, columns), ([row[column] for column in columns] for row in many)
            )
            self.note(table, [(None, row) for row in many])

    def remove(self, table: str, key: Row) -> bool:
        """Take out the row with that key; tell whether it was there."""
        before = self.row(table, key)
        if before is not None:
            _delete(self.db, table, self.keys(table), before)
            self.note(table, [(before, None)])
        return before is not None

    def keys(self, table: str) -> tuple[str, ...]:
        """Return the columns of a table's key, in their order."""
        if table not in self._keys:
            found = self.rows("SELECT name FROM pragma_table_info(?) WHERE pk ORDER BY pk", [table])
            self._keys[table] = tuple(row["name"] for row in found)
        return self._keys[table]

    def note(self, table: str, sides: Iterable[tuple[Row | None, Row | None]]) -> None:
        """Write into the log what rows of a table were before and are after."""
        noted = [
            (self.entry, self.changed + number, table, _kept(before), _kept(after))
            for number, (before, after) in enumerate(sides, start=1)
        ]
        self.db.conn.executemany("INSERT INTO changes VALUES (?, ?, ?, ?, ?)", noted)
        self.changed += len(noted)


@contextmanager
def writing(
    path: Path, room: str, what: str, *, steps: Sequence[Step] = STEPS
) -> Iterator[Writing]:
    """Change the book at `path` in one transaction, logged as `what` in the log of a room.

    The book is as after the block if the block ends, else as before it. A second writer waits up
    to LONGEST_WAIT seconds. A block that changes nothing leaves no entry in the log. Raises
    UserError where the book cannot be written.
    """
    if check_head(path, latest(steps)) < latest(steps):
        from cogtally.store.upgrade import upgrade

        upgrade(path, steps)
    with told(path, writes=True, holder=holder_note(path)), opened(path) as db, db.atomic():
        # A write comes first: it takes the lock, and all that is read then is the newest.
        at = now()
        entry = db.conn.execute(
            "INSERT INTO log (at, room, what) VALUES (?, ?, ?)", (at, room, what)
        ).lastrowid
        assert entry is not None
        with held(path, what, at):
            check_version(path, _version(db), latest(steps))
            change = Writing(db, entry)
            yield change
            if not change.changed:
                db.conn.execute("DELETE FROM log WHERE id = ?", [entry])


@contextmanager
def opened(path: Path, *, foreign_keys: bool = True) -> Iterator[Database]:
    """Open the book at `path` for writing, outside of any transaction."""
    import os

    from sqlite_utils import Database

    if path.exists() and not os.access(path, os.W_OK):
        raise read_only(path)
    connection = sqlite3.connect(path, timeout=LONGEST_WAIT, isolation_level=None)
    try:
        connection.execute(f"PRAGMA foreign_keys = {int(foreign_keys)}")
        # What was said to be done stays done, even if the power fails.
        connection.execute("PRAGMA synchronous = FULL")
        yield Database(connection, execute_plugins=False)
    finally:
        connection.close()


def now() -> str:
    """Return the time as the log keeps it: UTC, to the second."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def restore(change: Writing, table: str, row: Row | None, instead_of: Row | None) -> None:
    """Put a row back as it was in place of what it became, and log it."""
    keys = change.keys(table)
    if row is None:
        assert instead_of is not None
        _delete(change.db, table, keys, instead_of)
    else:
        _write(change.db, table, keys, row)
    change.note(table, [(instead_of, row)])


def _insert(table: str, columns: Iterable[str]) -> str:
    names = list(columns)
    listed = ", ".join(f'"{name}"' for name in names)
    return f'INSERT INTO "{table}" ({listed}) VALUES ({", ".join("?" * len(names))})'


def _write(db: Database, table: str, keys: Sequence[str], row: Row) -> None:
    others = [f'"{c}" = excluded."{c}"' for c in row if c not in keys]
    then = f"UPDATE SET {', '.join(others)}" if others else "NOTHING"
    listed = ", ".join(f'"{key}"' for key in keys)
    sql = f"{_insert(table, row)} ON CONFLICT ({listed}) DO {then}"
    db.conn.execute(sql, list(row.values()))


def _delete(db: Database, table: str, keys: Sequence[str], row: Row) -> None:
    where = " AND ".join(f'"{key}" = ?' for key in keys)
    db.conn.execute(f'DELETE FROM "{table}" WHERE {where}', [row[key] for key in keys])


def _kept(row: Row | None) -> str | None:
    return None if row is None else json.dumps(row, ensure_ascii=False)


def _version(db: Database) -> int:
    return int(db.conn.execute("PRAGMA user_version").fetchone()[0])
