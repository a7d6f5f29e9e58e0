"""What was written into the book by hand: said on the screen and as JSON.

What that is, is left to the catalog.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cogtally.catalog.changes import Kept
from cogtally.show.catalog.differences import differences_json, show_differences
from cogtally.show.screen import plain

if TYPE_CHECKING:
    from rich.console import Console

FORMAT = 1


def show_kept(kept: Kept, console: Console, *, book: str) -> None:
    """Show what was written, and where; `book` is its path."""
    if not kept.differences:
        console.print("Nothing was changed.", soft_wrap=True)
        return
    show_differences(kept.differences, console)
    how = "Written into a new book" if kept.made else "Written into the book"
    console.print(f"{how}: {plain(book)}", soft_wrap=True)
    console.print("'cogtally undo' takes it back.", soft_wrap=True)


def kept_json(kept: Kept, *, book: str) -> dict[str, Any]:
    """Return what was written as plain values, with every difference and every warning."""
    return {
        "format": FORMAT,
        "book": book,
        "made": kept.made,
        "written": bool(kept.differences),
        "differences": differences_json(kept.differences),
        "warnings": [
            {
                "code": problem.code,
                "family": problem.family,
                "set": problem.set,
                "key": problem.key,
                "sentence": problem.sentence,
                "mend": problem.mend,
            }
            for problem in kept.warnings
        ],
    }
