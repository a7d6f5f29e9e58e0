"""The SQLite book as a file: its versions, its transactions, its log, and that its rows are whole.

What the tables mean is left to the rooms that own them: the catalog and the shelf.
"""

from __future__ import annotations

from cogtally.store.change import Row, Writing, copy_of, make_book, reading, upgrade, writing
from cogtally.store.file import MAGIC, check_head, damaged, flush, looks_like_book, now
from cogtally.store.log import (
    Change,
    Entry,
    changes_since,
    entries,
    entry_of,
    last_change,
    mend,
    undo,
)
from cogtally.store.rows import faults, read_records, read_rows, total_of
from cogtally.store.steps import STEPS, Step, latest
from cogtally.store.whole import read_summed, refuse_there, write_beside, write_summed, write_whole

__all__ = [
    "MAGIC",
    "STEPS",
    "Change",
    "Entry",
    "Row",
    "Step",
    "Writing",
    "changes_since",
    "check_head",
    "copy_of",
    "damaged",
    "entries",
    "entry_of",
    "faults",
    "flush",
    "last_change",
    "latest",
    "looks_like_book",
    "make_book",
    "mend",
    "now",
    "read_records",
    "read_rows",
    "read_summed",
    "reading",
    "refuse_there",
    "total_of",
    "undo",
    "upgrade",
    "write_beside",
    "write_summed",
    "write_whole",
    "writing",
]
