"""What an import brings into the book, on the screen and as JSON.

What that is, is left to the catalog.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cogtally.catalog.book import CHANGED, NEW, SAME
from cogtally.catalog.changes import Plan
from cogtally.show.catalog.differences import count_of, differences_json, show_differences
from cogtally.show.screen import plain, written_list

if TYPE_CHECKING:
    from rich.console import Console

FORMAT = 1
_STATUS = (NEW, SAME, CHANGED)


def show_plan(plan: Plan, console: Console, *, book: str, made: bool, dry_run: bool) -> None:
    """Show the counts of an import; before and after where nothing was written (`dry_run`).

    `book` is its path, `made` whether the import made it.
    """
    families, sets = plan.counts()
    console.print(f"Families: {_counted(families)}.", soft_wrap=True)
    console.print(f"Sets: {_counted(sets)}.", soft_wrap=True)
    if dry_run:
        changed = [d for d in plan.families if d.status == CHANGED]
        show_differences([*changed, *plan.sets], console)
        console.print("Nothing was written.", soft_wrap=True)
    elif not made and not any(n for c in (families, sets) for s, n in c.items() if s != SAME):
        console.print("Nothing was written: the book has all of it.", soft_wrap=True)
    else:
        how = "Written into a new book" if made else "Written into the book"
        console.print(f"{how}: {plain(book)}", soft_wrap=True)
        if not made:
            console.print("'cogtally undo' takes it back.", soft_wrap=True)


def plan_json(plan: Plan, *, book: str, made: bool, dry_run: bool) -> dict[str, Any]:
    """Return an import as plain values, with every difference."""
    families, sets = plan.counts()
    return {
        "format": FORMAT,
        "book": book,
        "made": made and not dry_run,
        "written": not dry_run,
        "families": _counts_json(families),
        "sets": _counts_json(sets),
        "differences": differences_json([*plan.families, *plan.sets]),
    }


def _counted(counter: dict[str, int]) -> str:
    parts = [f"{counter[status]:,} {status}" for status in _STATUS if counter.get(status)]
    total = sum(counter.values())
    if len(parts) == 1:
        return parts[0]
    return f"{written_list(parts)}, {count_of(total, 'in all', 'in all')}"


def _counts_json(counter: dict[str, int]) -> dict[str, int]:
    return {status.replace(" ", "_"): counter.get(status, 0) for status in _STATUS}
