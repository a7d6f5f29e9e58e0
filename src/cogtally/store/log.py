"""The log of a book: what was changed, when, from what to what; and taking a change back.

How the rows of a change read to a person is left to `show`.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cogtally.gears.errors import UserError
from cogtally.store import rows
from cogtally.store.change import CHANGES, LOG, keep_copy, one_transaction, reading, writing
from cogtally.store.steps import STEPS, Step

if TYPE_CHECKING:
    from sqlite3 import Connection


#: The room of an undo, which may take back what any room wrote.
UNDO = "undo"


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of the log.

    `at` is UTC as text, `rows` the number of rows that changed. `undoes` is the entry that this
    one took back, `undone_by` the one that took this back.
    """

    id: int
    at: str
    room: str
    what: str
    rows: int
    undoes: int | None = None
    undone_by: int | None = None

    @property
    def is_open(self) -> bool:
        """Whether it is a change that can be taken back: no undo, and not taken back by now."""
        return self.undoes is None and self.undone_by is None


@dataclass(frozen=True, slots=True)
class Change:
    """What one row of a table was before and is after; None where there was or is no row."""

    table: str
    before: dict[str, Any] | None
    after: dict[str, Any] | None


def entries(path: Path) -> tuple[Entry, ...]:
    """Return the entries of a book's log, the newest first."""
    with reading(path) as book:
        return _entries(book, path)


def entry_of(path: Path, number: int) -> tuple[Entry, tuple[Change, ...], str]:
    """Return one entry of the log, the rows it changed, and why it cannot be taken back.

    That is empty where it can. Raises UserError if there is no such entry.
    """
    with reading(path) as book:
        entry = _entry(_entries(book, path), number)
        changes = _changes(book, path, number)
        return entry, changes, _in_the_way(book, path, entry, changes)


def changes_since(path: Path, number: int, tables: Sequence[str]) -> list[tuple[int, Change]]:
    """Return what changed in some tables behind an entry, each with its entry, in order."""
    with reading(path) as book:
        later = [entry.id for entry in reversed(_entries(book, path)) if entry.id > number]
        found = [(entry, one) for entry in later for one in _changes(book, path, entry)]
    return [(entry, one) for entry, one in found if one.table in tables]


def last_change(path: Path, tables: Sequence[str]) -> int:
    """Return the last entry that changed one of some tables; 0 where none did."""
    with reading(path) as book:
        marks = ", ".join("?" * len(tables))
        asked = f"SELECT max(entry) FROM changes WHERE place IN ({marks})"
        return int(book.execute(asked, tables).fetchone()[0] or 0)


def undo(
    path: Path, number: int | None = None, steps: Sequence[Step] = STEPS
) -> tuple[Entry, tuple[Change, ...]]:
    """Take the last change of a book back, or that of one entry, and return it; this is logged.

    Done again, it takes back the change before that. Raises UserError where there is nothing to
    take back, or where a row is no longer as the change left it.
    """
    with writing(path, UNDO, "undo", steps=steps) as change:
        book = change.db.conn
        known = [entry for entry in _entries(book, path) if entry.id != change.entry]
        if number is None:
            last = next((entry for entry in known if entry.is_open), None)
            if last is None:
                raise UserError("there is nothing to undo", str(path))
        else:
            last = _entry(known, number)
        changes = _changes(book, path, last.id)
        why = _in_the_way(book, path, last, changes)
        if why:
            raise UserError(why, f"entry {last.id}", "nothing was undone")
        change.what = f"undo of {last.id}: {last.what}"
        change.undoes = last.id
        for one in reversed(changes):
            if one.before is None:
                change.remove(one.table, one.after or {})
            else:
                change.put(one.table, one.before)
    return last, changes


def _entries(book: Connection, path: Path) -> tuple[Entry, ...]:
    found = list(rows.read_rows(book, path, LOG, order="id DESC"))
    asked = "SELECT part, row_count FROM totals WHERE place = ?"
    counts = dict(book.execute(asked, [CHANGES]).fetchall())
    undone = {undoes: number for number, *_, undoes in found if undoes is not None}
    return tuple(
        Entry(number, at, room, what, counts.get(str(number), 0), undoes, undone.get(number))
        for number, at, room, what, undoes in found
    )


def _entry(known: Sequence[Entry], number: int) -> Entry:
    for entry in known:
        if entry.id == number:
            return entry
    raise UserError("the log has no such entry", str(number), "'cogtally log' lists them")


def _changes(book: Connection, path: Path, number: int) -> tuple[Change, ...]:
    found = rows.read_rows(book, path, CHANGES, [number], order="number")
    return tuple(Change(table, _row(before), _row(after)) for _, _, table, before, after in found)


def _row(text: str | None) -> dict[str, Any] | None:
    return None if text is None else json.loads(text)


def _in_the_way(book: Connection, path: Path, entry: Entry, changes: Sequence[Change]) -> str:
    """Why an entry cannot be taken back; empty where it can."""
    if entry.undone_by is not None:
        return f"it was taken back already, by {entry.undone_by}"
    if entry.undoes is not None:
        return f"it took {entry.undoes} back, which can be made again"
    # Of a row that the entry wrote twice, what it was at the end counts.
    for one in {(c.table, *_key(book, c).values()): c for c in changes}.values():
        if not _is_now(book, path, one):
            return _touched_since(book, entry, one)
    return ""


def _key(book: Connection, one: Change) -> dict[str, Any]:
    known = one.after if one.after is not None else one.before
    assert known is not None
    return {column: known[column] for column in rows.layout_of(book, one.table).key}


def _is_now(book: Connection, path: Path, one: Change) -> bool:
    """Whether a row is as a change left it; columns of later versions are left aside."""
    there = rows.row_of(book, path, rows.layout_of(book, one.table), _key(book, one))
    if one.after is None or there is None:
        return one.after is None and there is None
    return all(there.get(column) == value for column, value in one.after.items())


def _touched_since(book: Connection, entry: Entry, one: Change) -> str:
    """What to say of a row that another change wrote since: the last entry that did."""
    key = _key(book, one)
    row = "/".join(str(value) for value in key.values())
    asked = (
        "SELECT entry, ifnull(after, before) FROM changes JOIN log ON log.id = entry"
        " WHERE place = ? AND entry > ? AND undoes IS NULL"
        " AND entry NOT IN (SELECT undoes FROM log WHERE undoes IS NOT NULL)"
    )
    later = max(
        (
            number
            for number, text in book.execute(asked, [one.table, entry.id])
            if key.items() <= json.loads(text).items()
        ),
        default=None,
    )
    if later is None:
        return f"{row} of {one.table} is no longer as it left it"
    return f"{row} of {one.table} was changed again by {later}; take that back first"


Key = tuple[Any, ...]


@dataclass(frozen=True, slots=True)
class Mended:
    """What was wrong in a book, what of it was put back, what of it is lost for good.

    `copy`: the book as it was, None where nothing was wrong.
    """

    found: tuple[rows.Fault, ...]
    back: tuple[str, ...] = ()
    lost: tuple[str, ...] = ()
    copy: Path | None = None


def mend(path: Path) -> Mended:
    """Put rows of the book at `path` that are not as they were written back from its log.

    One transaction, behind a copy of the file. Raises UserError where the file itself cannot be
    read or written.
    """
    with one_transaction(path, foreign_keys=False) as db:
        book = db.conn
        # A write comes first, if only in name: it takes the lock.
        book.execute("DELETE FROM log WHERE false")
        found = tuple(rows.faults(book))
        if not found:
            return Mended(())
        copy = path.with_name(f"{path.name}-before-mend")
        keep_copy(path, copy)
        book.execute("REINDEX")
        kept = {each.table: rows.total_of(book, each.table) for each in rows.digested_tables(book)}
        last, lost = _last_states(book)
        back: list[str] = []
        for layout in rows.digested_tables(book):
            if layout.table not in (LOG, CHANGES):
                back += [
                    rows.Fault(layout.table, key, "").named for key in _put_back(book, layout, last)
                ]
        rows.seal_all(book)
        for layout in rows.digested_tables(book):
            if not _is_whole(book, layout, kept[layout.table], last):
                lost.append(f"a row of {layout.table}")
        return Mended(found, tuple(back), tuple(dict.fromkeys(lost)), copy)


def _is_whole(
    book: Connection,
    layout: rows.Layout,
    total: rows.Total,
    last: dict[tuple[str, Key], dict[str, Any] | None],
) -> bool:
    """Whether a table comes to what it came to when it was written, or has what the log has.

    What is lost of the log itself is said where it is met.
    """
    table = layout.table
    if table in (LOG, CHANGES) or rows.total_of(book, table) == total:
        return True
    there = set(book.execute(f'SELECT {rows.listed(layout.key)} FROM "{table}"'))
    return there == {known for (of, known), row in last.items() if of == table and row is not None}


def _last_states(
    book: Connection,
) -> tuple[dict[tuple[str, Key], dict[str, Any] | None], list[str]]:
    """Each row as the log has it last, by table and key; and the entries that are spoilt.

    A spoilt row of the log itself goes out of it: nothing is to be taken back from it.
    """
    digest_of = rows.digester()
    keys: dict[str, tuple[str, ...]] = {}
    last: dict[tuple[str, Key], dict[str, Any] | None] = {}
    lost = []
    layout = rows.layout_of(book, CHANGES)
    for entry, number, table, before, after, digest in book.execute(
        f"SELECT * FROM {CHANGES} ORDER BY entry, number"
    ).fetchall():
        if digest_of(entry, number, table, before, after) != digest:
            lost.append(f"what entry {entry} of the log changed")
            book.execute(f"DELETE FROM {CHANGES} WHERE {layout.is_key}", [entry, number])
            continue
        if table not in keys:
            keys[table] = rows.layout_of(book, table).key
        row = json.loads(after or before)
        key = tuple(row[column] for column in keys[table])
        last[table, key] = row if after is not None else None
    for row in book.execute(f"SELECT * FROM {LOG}").fetchall():
        if digest_of(*row[:-1]) != row[-1]:
            lost.append(f"what entry {row[0]} of the log says")
    return last, lost


def _put_back(
    book: Connection, layout: rows.Layout, last: dict[tuple[str, Key], dict[str, Any] | None]
) -> Iterator[Key]:
    """Take the spoilt rows of a table out, write those in that are missing; give their keys."""
    digest_of, table = rows.digester(), layout.table
    there = set()
    for number, digest, *content in book.execute(
        f'SELECT rowid, {rows.DIGEST}, {layout.listed} FROM "{table}" NOT INDEXED'
    ).fetchall():
        if digest_of(*content) == digest:
            there.add(layout.key_of(content))
        else:
            book.execute(f'DELETE FROM "{table}" WHERE rowid = ?', [number])
    for (of, key), row in last.items():
        if of == table and row is not None and key not in there:
            book.execute(rows.insertion(table, row), list(row.values()))
            yield key
