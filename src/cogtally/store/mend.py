"""Putting back the rows of a book that were spoilt or lost, as its log last has them.

What is spoilt is left to `rows`. The file as it was is kept beside the book.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cogtally.store.change import CHANGES, LOG
from cogtally.store.file import told
from cogtally.store.opening import keep_copy, opened
from cogtally.store.rows import (
    DIGEST,
    Fault,
    Layout,
    Total,
    digested_tables,
    digester,
    faults,
    layout_of,
    seal_all,
    total_of,
)

if TYPE_CHECKING:
    from sqlite3 import Connection

Key = tuple[Any, ...]


@dataclass(frozen=True, slots=True)
class Mended:
    """What was wrong in a book, what of it was put back, what of it is lost for good.

    `copy`: the book as it was, None where nothing was wrong.
    """

    found: tuple[Fault, ...]
    back: tuple[str, ...] = ()
    lost: tuple[str, ...] = ()
    copy: Path | None = None


def mend(path: Path) -> Mended:
    """Put rows of the book at `path` that are not as they were written back from its log.

    One transaction, behind a copy of the file. Raises UserError where the file itself cannot be
    read or written.
    """
    with told(path, writes=True, held=True), opened(path, foreign_keys=False) as db, db.atomic():
        book = db.conn
        # A write comes first, if only in name: it takes the lock.
        book.execute("DELETE FROM log WHERE false")
        found = tuple(faults(book))
        if not found:
            return Mended(())
        copy = path.with_name(f"{path.name}-before-mend")
        keep_copy(path, copy)
        book.execute("REINDEX")
        kept = {each.table: total_of(book, each.table) for each in digested_tables(book)}
        last, lost = _last_states(book)
        back: list[str] = []
        for layout in digested_tables(book):
            if layout.table not in (LOG, CHANGES):
                back += [
                    Fault(layout.table, key, "").named for key in _put_back(book, layout, last)
                ]
        seal_all(book)
        for layout in digested_tables(book):
            if not _is_whole(book, layout, kept[layout.table], last):
                lost.append(f"a row of {layout.table}")
        return Mended(found, tuple(back), tuple(dict.fromkeys(lost)), copy)


def _is_whole(
    book: Connection,
    layout: Layout,
    total: Total,
    last: dict[tuple[str, Key], dict[str, Any] | None],
) -> bool:
    """Whether a table comes to what it came to when it was written, or has what the log has.

    What is lost of the log itself is said where it is met.
    """
    table = layout.table
    if table in (LOG, CHANGES) or total_of(book, table) == total:
        return True
    key = ", ".join(f'"{column}"' for column in layout.key)
    there = set(book.execute(f'SELECT {key} FROM "{table}"'))
    return there == {known for (of, known), row in last.items() if of == table and row is not None}


def _last_states(
    book: Connection,
) -> tuple[dict[tuple[str, Key], dict[str, Any] | None], list[str]]:
    """Each row as the log has it last, by table and key; and the entries that are spoilt.

    A spoilt row of the log itself goes out of it: nothing is to be taken back from it.
    """
    digest_of = digester()
    keys: dict[str, tuple[str, ...]] = {}
    last: dict[tuple[str, Key], dict[str, Any] | None] = {}
    lost = []
    layout = layout_of(book, CHANGES)
    for entry, number, table, before, after, digest in book.execute(
        f"SELECT * FROM {CHANGES} ORDER BY entry, number"
    ).fetchall():
        if digest_of(entry, number, table, before, after) != digest:
            lost.append(f"what entry {entry} of the log changed")
            book.execute(f"DELETE FROM {CHANGES} WHERE {layout.is_key}", [entry, number])
            continue
        if table not in keys:
            keys[table] = layout_of(book, table).key
        row = json.loads(after or before)
        key = tuple(row[column] for column in keys[table])
        last[table, key] = row if after is not None else None
    for row in book.execute(f"SELECT * FROM {LOG}").fetchall():
        if digest_of(*row[:-1]) != row[-1]:
            lost.append(f"what entry {row[0]} of the log says")
    return last, lost


def _put_back(
    book: Connection, layout: Layout, last: dict[tuple[str, Key], dict[str, Any] | None]
) -> Iterator[Key]:
    """Take the spoilt rows of a table out, write those in that are missing; give their keys."""
    digest_of, table = digester(), layout.table
    columns = ", ".join(f'"{column}"' for column in layout.columns)
    there = set()
    for number, digest, *content in book.execute(
        f'SELECT rowid, {DIGEST}, {columns} FROM "{table}" NOT INDEXED'
    ).fetchall():
        if digest_of(*content) == digest:
            there.add(layout.key_of(content))
        else:
            book.execute(f'DELETE FROM "{table}" WHERE rowid = ?', [number])
    for (of, key), row in last.items():
        if of == table and row is not None and key not in there:
            names = ", ".join(f'"{column}"' for column in row)
            marks = ", ".join("?" * len(row))
            book.execute(f'INSERT INTO "{table}" ({names}) VALUES ({marks})', list(row.values()))
            yield key
