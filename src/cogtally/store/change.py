"""One change of a book: one transaction, every row of it logged, whole or not at all.

What the rows mean is left to the rooms above, taking a change back to `log`.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cogtally.gears.errors import PerhapsWrittenError, UserError
from cogtally.store import file, rows as tables
from cogtally.store.steps import APPLICATION_ID, STEPS, Step, latest
from cogtally.store.whole import clear, sweep, unfinished

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
    with file.told(path), closing(_opened_to_read(path)) as connection:
        file.check_version(path, version_of(connection), latest(steps))
        connection.execute("BEGIN")
        yield connection


@contextmanager
def opened(path: Path, *, foreign_keys: bool = True) -> Iterator[Database]:
    """Open the book at `path` for writing, outside of any transaction."""
    import sqlite3

    from sqlite_utils import Database

    if path.exists() and not os.access(path, os.W_OK):
        raise file.read_only(path)
    connection = sqlite3.connect(path, timeout=LONGEST_WAIT, isolation_level=None)
    try:
        connection.execute(f"PRAGMA foreign_keys = {int(foreign_keys)}")
        # What was said to be done stays done, even if the power fails.
        connection.execute("PRAGMA synchronous = FULL")
        connection.create_function("digest_of", -1, tables.digester(), deterministic=True)
        yield Database(connection, execute_plugins=False)
    finally:
        connection.close()


@contextmanager
def one_transaction(path: Path, *, foreign_keys: bool = True) -> Iterator[Database]:
    """Open the book at `path` for one transaction; all that goes wrong is a UserError.

    A disk that fails at the very end may have kept what it says it did not: the book is looked at
    again, and PerhapsWrittenError raised where it is not known to be as before.
    """
    after: object = None
    try:
        with (
            file.told(path, writes=True, held=True),
            opened(path, foreign_keys=foreign_keys) as db,
            db.atomic(),
        ):
            yield db
            after = _state(db.conn)
    except file.DiskError as error:
        if after is None:
            raise
        try:
            with file.told(path), closing(_opened_to_read(path)) as connection:
                if _state(connection) != after:
                    raise
            mend = "even so it is written; 'cogtally log' shows it"
        except file.DiskError:
            raise
        except UserError:
            mend = "'cogtally log' tells whether it is written"
        raise PerhapsWrittenError("the disk failed at the end", str(path), mend) from error


def _state(book: Connection) -> list[object]:
    """What tells a book from before a change from the book after it."""
    asked = "SELECT count(*) FROM sqlite_schema WHERE name = 'totals'"
    has_totals = book.execute(asked).fetchone() == (1,)
    whole = "SELECT * FROM totals WHERE part = '' ORDER BY place"
    return [version_of(book), *(book.execute(whole).fetchall() if has_totals else ())]


def version_of(book: Connection) -> int:
    """Return the version of an open book."""
    return int(book.execute("PRAGMA user_version").fetchone()[0])


def upgrade(path: Path, steps: Sequence[Step] = STEPS) -> None:
    """Bring the book at `path` to the last of `steps`; a copy of it as it was is kept beside it.

    All steps are one transaction. Raises UserError where the book cannot be written, or a row of
    it is not as it was written.
    """
    with one_transaction(path, foreign_keys=False) as db:
        book = db.conn
        # A write comes first, if only in name: it takes the lock, what is read then is the newest,
        # and nobody writes between the copy and the steps.
        book.execute("DELETE FROM log WHERE false")
        version = version_of(book)
        if version >= latest(steps):
            return
        with file.held(path, f"upgrade to version {latest(steps)}", file.now()):
            tables.refuse_faults(book, path)
            keep_copy(path, copy_of(path, version))
            take(book, [step for step in steps if step.version > version])
            if book.execute("PRAGMA foreign_key_check").fetchone() is not None:
                raise file.damaged(path, "rows of it are about others that are not there")


def copy_of(path: Path, version: int) -> Path:
    """Return where the copy of a book of that version is kept when it is upgraded."""
    return path.with_name(f"{path.name}-version-{version}")


def take(book: Connection, steps: Sequence[Step]) -> None:
    """Take an open book through some steps, and work out its digests anew."""
    for step in steps:
        for statement in step.statements:
            book.execute(statement)
        book.execute(f"PRAGMA user_version = {step.version}")
    tables.seal_all(book)


def keep_copy(path: Path, copy: Path) -> None:
    """Copy the book as it stands, its write-ahead log included; whole or not at all."""
    import sqlite3

    new = unfinished(copy)
    try:
        with closing(sqlite3.connect(path)) as source, closing(sqlite3.connect(new)) as target:
            source.backup(target)
        file.flush(new)
        os.replace(new, copy)
        file.flush(copy.parent)
    finally:
        clear(new)


def _up_to_date(path: Path, steps: Sequence[Step]) -> None:
    if file.check_head(path, latest(steps)) < latest(steps):
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
        if file.has_log_ahead(path):
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


#: A row as the tables hold it: column to text, number or None.
Row = Mapping[str, str | int | float | None]

LOG, CHANGES = "log", "changes"


class Writing:
    """An open change of a book: rows go in and out through it, and the log keeps both sides.

    `what` is what the log says of it, `undoes` the entry that it takes back; both may be set until
    it ends. `at`: when it began, UTC.
    """

    def __init__(self, db: Database, path: Path, room: str, what: str) -> None:
        self.db = db
        self.path = path
        self.what = what
        self.undoes: int | None = None
        self.at = file.now()
        self.changed = 0
        self._layouts: dict[str, tables.Layout] = {}
        # A write comes first: it takes the lock, and all that is read then is the newest.
        entry = db.conn.execute(
            "INSERT INTO log (at, room, what) VALUES (?, ?, ?)", (self.at, room, what)
        ).lastrowid
        assert entry is not None
        self.entry = entry
        self._seal(LOG, [(entry,)])

    def end(self) -> None:
        """See the change into the log; one that changed nothing leaves no entry there."""
        self._unseal(LOG, (self.entry,))
        if not self.changed:
            self.db.conn.execute("DELETE FROM log WHERE id = ?", [self.entry])
            return
        self.db.conn.execute(
            "UPDATE log SET what = ?, undoes = ? WHERE id = ?", [self.what, self.undoes, self.entry]
        )
        self._seal(LOG, [(self.entry,)])

    def rows(self, sql: str, values: Sequence[object] = ()) -> list[dict[str, Any]]:
        """Return the rows that a question to the book gives, as they stand."""
        cursor = self.db.conn.execute(sql, values)
        names = [column[0] for column in cursor.description]
        return [dict(zip(names, row, strict=True)) for row in cursor]

    def row(self, table: str, key: Row) -> dict[str, Any] | None:
        """Return the row of a table that has the key of `key` (a whole row will do), or None.

        Raises UserError where it is not as it was written.
        """
        return tables.row_of(self.db.conn, self.path, self._layout(table), key)

    def put(self, table: str, row: Row) -> None:
        """Write a row, in place of the one with its key if there is one.

        Columns that `row` does not name stay as they are; a new row names all that must be there.
        """
        before = self.row(table, row)
        after = {**before, **row} if before is not None else row
        if after != before:
            layout = self._layout(table)
            key = tuple(row[column] for column in layout.key)
            if before is not None:
                self._unseal(table, key)
            others = [f'"{c}" = excluded."{c}"' for c in after if c not in layout.key]
            then = f"UPDATE SET {', '.join(others)}" if others else "NOTHING"
            sql = f"{tables.insertion(table, after)} ON CONFLICT ({tables.listed(layout.key)})"
            self.db.conn.execute(f"{sql} DO {then}", list(after.values()))
            self._seal(table, [key])
            self._note(table, [(before, after)])

    def add(self, table: str, rows: Iterable[Row]) -> None:
        """Write rows that are new, each with all columns of the table.

        Raises UserError, and all is undone, if one is there already.
        """
        many = list(rows)
        if many:
            columns = self._layout(table).columns
            self._insert_all(table, (tuple(row[column] for column in columns) for row in many))
            self._note(table, [(None, row) for row in many])

    def remove(self, table: str, key: Row) -> bool:
        """Take out the row with that key; tell whether it was there."""
        before = self.row(table, key)
        if before is not None:
            layout = self._layout(table)
            values = tuple(before[column] for column in layout.key)
            self._unseal(table, values)
            self.db.conn.execute(f'DELETE FROM "{table}" WHERE {layout.is_key}', values)
            self._note(table, [(before, None)])
        return before is not None

    def _note(self, table: str, sides: Iterable[tuple[Row | None, Row | None]]) -> None:
        """Write into the log what rows of a table were before and are after."""
        noted = [
            (self.entry, self.changed + number, table, _kept(before), _kept(after))
            for number, (before, after) in enumerate(sides, start=1)
        ]
        self._insert_all(CHANGES, noted)
        self.changed += len(noted)

    def _insert_all(self, table: str, rows: Iterable[tuple[Any, ...]]) -> None:
        """Write new rows, all columns in their order, with their digests."""
        layout, digest_of = self._layout(table), tables.digester()
        stored = [layout.stored(row) for row in rows]
        digests = [digest_of(*row) for row in stored]
        self.db.conn.executemany(
            tables.insertion(table, (*layout.columns, tables.DIGEST)),
            ((*row, digest) for row, digest in zip(stored, digests, strict=True)),
        )
        self._count(layout, zip(map(layout.key_of, stored), digests, strict=True), 1)

    def _seal(self, table: str, keys: Iterable[tuple[Any, ...]]) -> None:
        """Give rows that were just written their digests, from what stands there."""
        layout = self._layout(table)
        sql = (
            f'UPDATE "{table}" SET {tables.DIGEST} = digest_of({layout.listed})'
            f" WHERE {layout.is_key} RETURNING {tables.DIGEST}"
        )
        found = [(key, self.db.conn.execute(sql, key).fetchall()[0][0]) for key in keys]
        self._count(layout, found, 1)

    def _unseal(self, table: str, key: tuple[Any, ...]) -> None:
        """Take a row that is to be changed or to go out of what its table comes to."""
        layout = self._layout(table)
        asked = f'SELECT {tables.DIGEST} FROM "{table}" WHERE {layout.is_key}'
        (digest,) = self.db.conn.execute(asked, key).fetchone()
        self._count(layout, [(key, digest)], -1)

    def _count(
        self, layout: tables.Layout, digests: Iterable[tuple[tuple[Any, ...], int]], each: int
    ) -> None:
        """Take rows, by key and digest, into what their table comes to, or (-1) out of it."""
        totals: dict[str, tables.Total] = {}
        for key, digest in digests:
            tables.count_in(totals, layout.parts_of(key), digest, each)
        for part, (count, total) in totals.items():
            tables.add_total(self.db.conn, layout.table, part, count, total)

    def _layout(self, table: str) -> tables.Layout:
        if table not in self._layouts:
            self._layouts[table] = tables.layout_of(self.db.conn, table)
        return self._layouts[table]


@contextmanager
def writing(
    path: Path, room: str, what: str, *, steps: Sequence[Step] = STEPS
) -> Iterator[Writing]:
    """Change the book at `path` in one transaction, logged as `what` in the log of a room.

    The book is as after the block if the block ends, else as before it. A second writer waits up
    to LONGEST_WAIT seconds. A block that changes nothing leaves no entry in the log. Raises
    UserError where the book cannot be written.
    """
    _up_to_date(path, steps)
    with one_transaction(path) as db:
        change = Writing(db, path, room, what)
        with file.held(path, what, change.at):
            sweep(path.parent)
            file.check_version(path, version_of(db.conn), latest(steps))
            yield change
            change.end()


def make_book(
    path: Path,
    room: str,
    what: str,
    fill: Callable[[Writing], None] | None = None,
    steps: Sequence[Step] = STEPS,
) -> None:
    """Make a new book at `path`, filled by `fill`, logged as `what` in the log of a room.

    It is made under another name and appears whole or not at all. Raises UserError where anything
    is at `path` already.
    """
    if os.path.lexists(path):
        raise _there_already(path)
    if path.parent.exists() and not path.parent.is_dir():
        raise UserError(f"{path.parent} is a file, not a folder", str(path), "name another place")
    new = unfinished(path)
    with file.told(path, writes=True):
        path.parent.mkdir(parents=True, exist_ok=True)
        sweep(path.parent)
        try:
            with opened(new) as db:
                with db.atomic():
                    db.conn.execute(f"PRAGMA application_id = {APPLICATION_ID}")
                    take(db.conn, steps)
                    if fill is not None:
                        change = Writing(db, path, room, what)
                        fill(change)
                        change.end()
                db.conn.execute("PRAGMA journal_mode = WAL")
            _appear(new, path)
        finally:
            clear(new)


def _appear(new: Path, path: Path) -> None:
    """Give a finished book its name, never in place of another file; else nothing is there."""
    file.flush(new)
    try:
        os.link(new, path)
    except FileExistsError as error:
        raise _there_already(path) from error
    except OSError:
        # A disk without links: the name is taken as safely as such a disk allows.
        if os.path.lexists(path):
            raise _there_already(path) from None
        os.rename(new, path)
    try:
        file.flush(path.parent)
    except OSError:
        # Said to be not there, it is not there.
        clear(path)
        raise


def _there_already(path: Path) -> UserError:
    mend = "nothing was changed; name another with --catalog, or take it away first"
    return UserError("there is a file already", str(path), mend)


def _kept(row: Row | None) -> str | None:
    return None if row is None else json.dumps(row, ensure_ascii=False)
