"""The SQLite book as a file: its versions, its transactions, its log, and that its rows are whole.

It also knows files that are written whole or not at all, and those of arrays, which are mapped.
What the tables mean is left to the rooms that own them: the catalog and the shelf.
"""

from __future__ import annotations

from cogtally.store.arrays import read_arrays as read_arrays, write_arrays as write_arrays
from cogtally.store.change import (
    Row as Row,
    Writing as Writing,
    copy_of as copy_of,
    make_book as make_book,
    reading as reading,
    upgrade as upgrade,
    writing as writing,
)
from cogtally.store.file import (
    MAGIC as MAGIC,
    check_head as check_head,
    damaged as damaged,
    flush as flush,
    looks_like_book as looks_like_book,
    now as now,
)
from cogtally.store.log import (
    Change as Change,
    Entry as Entry,
    changes_since as changes_since,
    entries as entries,
    entry_of as entry_of,
    last_change as last_change,
    mend as mend,
    undo as undo,
)
from cogtally.store.rows import (
    faults as faults,
    read_records as read_records,
    read_rows as read_rows,
    total_of as total_of,
)
from cogtally.store.steps import STEPS as STEPS, Step as Step, latest as latest
from cogtally.store.whole import (
    read_summed as read_summed,
    refuse_there as refuse_there,
    write_beside as write_beside,
    write_summed as write_summed,
    write_whole as write_whole,
)
