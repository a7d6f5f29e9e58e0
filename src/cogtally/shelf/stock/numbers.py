"""The numbers of the items in the stock, for a shell that offers them at a press of a key.

What an item is is left to `stock`. A book that cannot be read as it stands has no numbers here.
"""

from __future__ import annotations

from pathlib import Path

from cogtally.gears.errors import UserError
from cogtally.shelf.stock.rows import ITEMS
from cogtally.store.head import check_head
from cogtally.store.reading import reading
from cogtally.store.steps import latest


def item_numbers(path: Path) -> tuple[int, ...]:
    """Return the number of every item of the book at `path`, the newest first."""
    try:
        # A book of an older version is not brought up to date behind somebody's back.
        if check_head(path) < latest():
            return ()
        with reading(path) as book:
            rows = book.execute(f"SELECT id FROM {ITEMS} ORDER BY id DESC").fetchall()
    except UserError:
        return ()
    return tuple(row[0] for row in rows)
