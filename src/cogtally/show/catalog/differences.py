"""What an import, an edit or a set added changes: before and after, as lines and as plain values.

What differs is left to the catalog.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from cogtally.catalog.book import CHANGED, GONE, NEW, SAME, Difference
from cogtally.catalog.changes import Kept, Plan
from cogtally.show import screen

#: So many families and sets are shown before and after; the rest is counted.
MOST_SHOWN = 10
LONGEST_TEXT = 60

_ORDER = (CHANGED, GONE, NEW)


def show_differences(differences: Sequence[Difference], console: screen.Console) -> None:
    """Show up to MOST_SHOWN differences key by key, those of what was there before first."""
    told = sorted(
        (d for d in differences if d.status != SAME), key=lambda d: _ORDER.index(d.status)
    )
    for difference in told[:MOST_SHOWN]:
        console.print(
            f"{screen.plain(difference.subject)}: {difference.status}", style=screen.STRONG
        )
        _show(difference, console)
    if told[MOST_SHOWN:]:
        console.print(f"… and {len(told) - MOST_SHOWN:,} more.", soft_wrap=True)


def differences_json(differences: Sequence[Difference]) -> list[dict[str, Any]]:
    """Return all that differs as plain values, texts as they were written."""
    return [
        {
            "family": difference.family,
            "set": difference.set or None,
            "status": difference.status,
            "keys": {
                key.key: {"before": key.before, "after": key.after} for key in difference.keys
            },
        }
        for difference in differences
        if difference.status != SAME
    ]


def _show(difference: Difference, console: screen.Console) -> None:
    if difference.status == CHANGED:
        for key in difference.keys:
            said = f"before {_said(key.before)}, after {_said(key.after)}"
            screen.say(console, f"  {screen.plain(key.key)}: {said}", hanging=4)
        return
    # Of what was or is not there at all, the teeth and the ratios say enough.
    side = [
        (key.key.removeprefix("pairs.").replace("ratios.", "ratio "), key.after or key.before)
        for key in difference.keys
        if not difference.set or key.key.startswith(("pairs.", "ratios."))
    ]
    text = ", ".join(f"{screen.plain(key)} {_short(value)}" for key, value in side if value)
    if text:
        screen.say(console, f"  {text}", hanging=2)


def _said(text: str | None) -> str:
    return "nothing" if text is None else _short(text)


def _short(text: str) -> str:
    safe = screen.plain(text)
    return safe if len(safe) <= LONGEST_TEXT else safe[: LONGEST_TEXT - 1] + "…"


_STATUS = (NEW, SAME, CHANGED)
_UNDO = "'cogtally undo' takes it back."


def show_plan(plan: Plan, console: screen.Console, *, book: str, made: bool, dry_run: bool) -> None:
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
        _show_written(book, made, console)
        if not made:
            console.print(_UNDO, soft_wrap=True)


def plan_json(plan: Plan, *, book: str, made: bool, dry_run: bool) -> dict[str, Any]:
    """Return an import as plain values, with every difference."""
    families, sets = plan.counts()
    return {
        "format": screen.FORMAT,
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
    return f"{screen.written_list(parts)}, {screen.count_of(total, 'in all', 'in all')}"


def _counts_json(counter: dict[str, int]) -> dict[str, int]:
    return {status.replace(" ", "_"): counter.get(status, 0) for status in _STATUS}


def show_kept(kept: Kept, console: screen.Console, *, book: str) -> None:
    """Show what was written, and where; `book` is its path."""
    if not kept.differences:
        console.print("Nothing was changed.", soft_wrap=True)
        return
    show_differences(kept.differences, console)
    _show_written(book, kept.made, console)
    console.print(_UNDO, soft_wrap=True)


def _show_written(book: str, made: bool, console: screen.Console) -> None:
    console.print(
        f"Written into {'a new' if made else 'the'} book: {screen.plain(book)}", soft_wrap=True
    )


def kept_json(kept: Kept, *, book: str) -> dict[str, Any]:
    """Return what was written as plain values, with every difference and every warning."""
    return {
        "format": screen.FORMAT,
        "book": book,
        "made": kept.made,
        "written": bool(kept.differences),
        "differences": differences_json(kept.differences),
        "warnings": [
            screen.keys_of(problem, "code", *screen.PROBLEM_KEYS) for problem in kept.warnings
        ],
    }
