"""The log of the book on the screen and as JSON: what was changed when, and what was taken back.

What the log holds is left to the store, what rows come to, to the catalog.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from cogtally.catalog.book.compare import Difference
from cogtally.show.catalog.differences import count_of, differences_json, show_differences
from cogtally.show.screen import DIM, plain, wrapped
from cogtally.store.log import Entry

if TYPE_CHECKING:
    from rich.console import Console

FORMAT = 1


def show_log(entries: Sequence[Entry], console: Console) -> None:
    """Show the entries, one a line, the newest first; what was taken back says so."""
    if not entries:
        console.print("The log is empty: nothing was changed yet.", soft_wrap=True)
        return
    widest = max(len(str(entry.id)) for entry in entries)
    for entry in entries:
        text = f"{entry.id:>{widest}}  {_time(entry.at)}  {plain(entry.what)}{_marks(entry)}"
        style = DIM if entry.undone_by is not None else ""
        for line in wrapped(text, console.width, hanging=widest + 2):
            console.print(line, style=style, soft_wrap=True)


def show_entry(entry: Entry, differences: Sequence[Difference], console: Console) -> None:
    """Show one entry with what it changed, before and after."""
    show_log([entry], console)
    show_differences(differences, console)


def show_undone(entry: Entry, differences: Sequence[Difference], console: Console) -> None:
    """Show what an undo took back."""
    what = f"{entry.id}, {plain(entry.what)} ({count_of(len(differences), 'family or set')})"
    if len(differences) != 1:
        what = f"{entry.id}, {plain(entry.what)} ({len(differences):,} families and sets)"
    console.print(f"Taken back: change {what}.", soft_wrap=True)


def log_json(entries: Sequence[Entry]) -> dict[str, Any]:
    """Return entries as plain values."""
    return {"format": FORMAT, "log": [_entry_json(entry) for entry in entries]}


def entry_json(entry: Entry, differences: Sequence[Difference]) -> dict[str, Any]:
    """Return one entry with what it changed as plain values."""
    return {
        "format": FORMAT,
        "entry": _entry_json(entry),
        "differences": differences_json(differences),
    }


def _entry_json(entry: Entry) -> dict[str, Any]:
    return {
        "id": entry.id,
        "at": entry.at,
        "what": entry.what,
        "rows": entry.rows,
        "undoes": entry.undoes,
        "undone_by": entry.undone_by,
    }


def _time(at: str) -> str:
    return plain(at).replace("T", " ").removesuffix("Z") + " UTC"


def _marks(entry: Entry) -> str:
    return "" if entry.undone_by is None else f"  (taken back by {entry.undone_by})"
