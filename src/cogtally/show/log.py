"""The log of the book on the screen and as JSON: what was changed when, and what can be undone.

What the log holds is left to the store, what rows come to, to the catalog and the shelf.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from cogtally.catalog.book import CHANGED, GONE, NEW, differences_of
from cogtally.shelf.stock import ANSWERS, ITEMS, NOW
from cogtally.show import screen
from cogtally.show.catalog import differences_json, show_differences
from cogtally.store import Change, Entry

#: So many items are shown before and after; the rest is counted.
MOST_SHOWN = 20
_LONGEST_TEXT = 60
#: Columns that follow from others, or only tell when.
_LEFT_OUT = {"moment", "counts", "turns", "changed", "shares", "entry", "catalog"}
_LEFT_OUT |= {"id", "item", "at"}


def show_log(entries: Sequence[Entry], console: screen.Console) -> None:
    """Show the entries, one a line, the newest first; what was taken back says so."""
    if not entries:
        console.print("The log is empty: nothing was changed yet.", soft_wrap=True)
        return
    widest = max(len(str(entry.id)) for entry in entries)
    for entry in entries:
        back = "" if entry.undone_by is None else f"  (taken back by {entry.undone_by})"
        text = (
            f"{entry.id:>{widest}}  {screen.time_text(entry.at)}  {screen.plain(entry.what)}{back}"
        )
        screen.say(console, text, screen.DIM if back else "", widest + 2)


def show_entry(
    entry: Entry, changes: Sequence[Change], in_the_way: str, console: screen.Console
) -> None:
    """Show one entry with what it changed, before and after, and whether it can be taken back.

    `in_the_way`: why it cannot be, empty where it can.
    """
    show_log([entry], console)
    show_differences(differences_of(changes), console)
    items = list(_changed_items(changes))
    for number, status, keys in items[:MOST_SHOWN]:
        console.print(f"item {number}: {status}", style=screen.STRONG, soft_wrap=True)
        for key, (before, after) in keys.items():
            text = f"{key} {_short(after if status == NEW else before)}"
            if status == CHANGED:
                text = f"{key}: before {_short(before)}, after {_short(after)}"
            screen.say(console, f"  {screen.plain(text)}", hanging=4)
    if items[MOST_SHOWN:]:
        console.print(f"… and {len(items) - MOST_SHOWN:,} more.", soft_wrap=True)
    back = f"'cogtally undo {entry.id}' takes all of this back."
    said = f"It cannot be taken back: {screen.plain(in_the_way)}." if in_the_way else back
    screen.say(console, said)


def show_undone(entry: Entry, changes: Sequence[Change], console: screen.Console) -> None:
    """Show what an undo took back."""
    said = [screen.count_of(len(differences_of(changes)), "family or set", "families and sets")]
    said.append(screen.count_of(len(list(_changed_items(changes))), "item"))
    told = " and ".join(text for text in said if not text.startswith("0 "))
    text = (
        f"Taken back: change {entry.id}, {screen.plain(entry.what)}{f' ({told})' if told else ''}."
    )
    console.print(text, soft_wrap=True)


def log_json(entries: Sequence[Entry]) -> dict[str, Any]:
    """Return entries as plain values."""
    return {"format": screen.FORMAT, "log": [_entry_json(entry) for entry in entries]}


def entry_json(entry: Entry, changes: Sequence[Change], in_the_way: str) -> dict[str, Any]:
    """Return one entry with what it changed, and why it cannot be taken back, as plain values."""
    return {
        "format": screen.FORMAT,
        "entry": _entry_json(entry),
        "differences": differences_json(differences_of(changes)),
        "items": [
            {
                "item": number,
                "status": status,
                "keys": {key: {"before": b, "after": a} for key, (b, a) in keys.items()},
            }
            for number, status, keys in _changed_items(changes)
        ],
        "in_the_way": in_the_way or None,
    }


def _entry_json(entry: Entry) -> dict[str, Any]:
    return screen.keys_of(entry, "id", "at", "room", "what", "rows", "undoes", "undone_by")


def _changed_items(
    changes: Sequence[Change],
) -> Iterator[tuple[int, str, dict[str, tuple[Any, Any]]]]:
    """Each item that a change of the book changed: number, status, keys before and after."""
    found: dict[int, tuple[str, dict[str, tuple[Any, Any]]]] = {}
    for change in changes:
        there = change.after or change.before or {}
        if change.table == ANSWERS and there.get("moment") == NOW:
            number, status = there["item"], CHANGED
        elif change.table == ITEMS:
            number = there["id"]
            status = NEW if change.before is None else GONE if change.after is None else CHANGED
        else:
            continue
        had, keys = found.get(number, (CHANGED, {}))
        both = (had, status)
        kind = NEW if NEW in both else GONE if GONE in both else CHANGED
        found[number] = (kind, {**keys, **_keys(change.before or {}, change.after or {})})
    for number, (status, keys) in sorted(found.items()):
        yield number, status, keys


def _keys(before: Mapping[str, Any], after: Mapping[str, Any]) -> dict[str, tuple[Any, Any]]:
    return {
        key: (before.get(key), after.get(key))
        for key in dict.fromkeys([*after, *before])
        if key not in _LEFT_OUT
        and before.get(key) != after.get(key)
        and (before.get(key) or after.get(key))
    }


def _short(value: Any) -> str:
    if isinstance(value, float):
        return f"{value:.4f}"
    text = "nothing" if value in (None, "") else str(value)
    return text if len(text) <= _LONGEST_TEXT else f"{text[: _LONGEST_TEXT - 1]}…"
