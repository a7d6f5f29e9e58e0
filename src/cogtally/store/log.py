"""The log of a book: what was changed, when, from what to what; and taking the last change back.

How the rows of a change read to a person is left to `show`.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from cogtally.gears.errors import UserError
from cogtally.store.reading import reading
from cogtally.store.steps import STEPS, Step
from cogtally.store.writing import Row, Writing, restore, writing


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of the log.

    `at` is UTC as text, `rows` the number of rows that changed. `undoes` is the entry that this
    one took back, `undone_by` the one that took this back.
    """

    id: int
    at: str
    what: str
    rows: int
    undoes: int | None = None
    undone_by: int | None = None


@dataclass(frozen=True, slots=True)
class Change:
    """What one row of a table was before and is after; None where there was or is no row."""

    table: str
    before: dict[str, Any] | None
    after: dict[str, Any] | None


_ENTRIES = """
    SELECT log.id, log.at, log.what,
        (SELECT count(*) FROM changes WHERE changes.entry = log.id),
        log.undoes, later.id
    FROM log LEFT JOIN log AS later ON later.undoes = log.id
"""
_CHANGES = "SELECT place, before, after FROM changes WHERE entry = ? ORDER BY number"

#: The last change in a room before an entry that nothing has taken back; an undo is no such change.
_LAST = f"""
    {_ENTRIES} WHERE log.room = ? AND log.undoes IS NULL AND later.id IS NULL AND log.id < ?
    ORDER BY log.id DESC LIMIT 1
"""


def entries(path: Path, room: str, most: int | None = None) -> tuple[Entry, ...]:
    """Return the entries of a room in a book's log, the newest first, at most `most` of them."""
    with reading(path) as book:
        limit = -1 if most is None else most
        rows = book.execute(
            f"{_ENTRIES} WHERE log.room = ? ORDER BY log.id DESC LIMIT ?", [room, limit]
        ).fetchall()
    return tuple(Entry(*row) for row in rows)


def entry_of(path: Path, room: str, number: int) -> tuple[Entry, tuple[Change, ...]]:
    """Return one entry of a room in the log with the rows it changed.

    Raises UserError if there is none.
    """
    with reading(path) as book:
        row = book.execute(
            f"{_ENTRIES} WHERE log.id = ? AND log.room = ?", [number, room]
        ).fetchone()
        if row is None:
            mend = f"'cogtally {room} log' lists them"
            raise UserError("the log has no such entry", str(number), mend)
        return Entry(*row), _changes(book, number)


def undo(path: Path, room: str, steps: Sequence[Step] = STEPS) -> tuple[Entry, tuple[Change, ...]]:
    """Take the last change of a room in a book back and return it; the undo itself is logged.

    Done again, it takes back the change before that. Raises UserError where there is nothing to
    take back, or where a row is no longer as the change left it.
    """
    with writing(path, room, "undo", steps=steps) as change:
        book = change.db.conn
        row = book.execute(_LAST, [room, change.entry]).fetchone()
        if row is None:
            raise UserError("there is nothing to undo", str(path))
        last = Entry(*row)
        book.execute(
            "UPDATE log SET what = ?, undoes = ? WHERE id = ?",
            [f"undo of {last.id}: {last.what}", last.id, change.entry],
        )
        changes = _changes(book, last.id)
        for one in reversed(changes):
            if not _is_now(change, one):
                sentence = f"what change {last.id} wrote is no longer as it left it"
                raise UserError(sentence, str(path), "nothing was undone")
            restore(change, one.table, one.before, one.after)
    return last, changes


def _changes(book: sqlite3.Connection, number: int) -> tuple[Change, ...]:
    return tuple(
        Change(table, _row(before), _row(after))
        for table, before, after in book.execute(_CHANGES, [number])
    )


def _row(text: str | None) -> dict[str, Any] | None:
    return None if text is None else json.loads(text)


def _is_now(change: Writing, one: Change) -> bool:
    """Whether a row is as a change left it; columns of later versions are left aside."""
    known: Row | None = one.after if one.after is not None else one.before
    assert known is not None
    there = change.row(one.table, known)
    if one.after is None or there is None:
        return one.after is None and there is None
    return all(there.get(column) == value for column, value in one.after.items())
