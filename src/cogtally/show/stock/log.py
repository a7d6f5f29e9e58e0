"""The log of the stock and what a recheck came to, on the screen.

What changed is left to the shelf and the store.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from cogtally.catalog.book.compare import CHANGED, GONE, NEW, Difference
from cogtally.shelf.stock import ANSWERS, ITEMS, NOW
from cogtally.show.catalog.differences import count_of
from cogtally.show.catalog.log import log_json, show_log
from cogtally.show.screen import STRONG, plain, wrapped, written_list
from cogtally.show.stock.screen import end, named_text, say, say_plain
from cogtally.store.log import Change, Entry

if TYPE_CHECKING:
    from rich.console import Console

    from cogtally.shelf.stock import Recheck, Rechecked

#: So many items are shown before and after; the rest is counted.
MOST_SHOWN = 20
#: Columns that follow from others, or only tell when.
_LEFT_OUT = {
    "id",
    "item",
    "moment",
    "counts",
    "turns",
    "changed",
    "shares",
    "entry",
    "at",
    "catalog",
}


def show_entry(entry: Entry, changes: Sequence[Change], console: Console) -> None:
    """Show one entry of the log with what it changed in each item, before and after."""
    show_log([entry], console)
    told = 0
    for number, status, keys in changed_items(changes):
        told += 1
        if told > MOST_SHOWN:
            continue
        say(console, f"item {number}: {status}", STRONG)
        for key, (before, after) in keys.items():
            text = f"{key} {_short(after if status == NEW else before)}"
            if status == CHANGED:
                text = f"{key}: before {_short(before)}, after {_short(after)}"
            for line in wrapped(f"  {plain(text)}", console.width, hanging=4):
                say_plain(console, line)
    if told > MOST_SHOWN:
        say(console, f"… and {count_of(told - MOST_SHOWN, 'more')}.")


def entry_json(entry: Entry, changes: Sequence[Change]) -> dict[str, Any]:
    """Return one entry with what it changed as plain values."""
    (told,) = log_json([entry])["log"]
    return {
        "format": 1,
        "entry": told,
        "items": [
            {
                "item": number,
                "status": status,
                "keys": {key: {"before": b, "after": a} for key, (b, a) in keys.items()},
            }
            for number, status, keys in changed_items(changes)
        ],
    }


def show_undone(entry: Entry, console: Console) -> None:
    """Show what an undo took back."""
    say(console, f"Taken back: change {entry.id}, {plain(entry.what)}.")


def changed_items(
    changes: Sequence[Change],
) -> Iterator[tuple[int, str, dict[str, tuple[Any, Any]]]]:
    """Give each item that a change of the book changed: number, status, keys before and after."""
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


def show_recheck(done: Recheck, console: Console, *, dry_run: bool) -> None:
    """Show the items that are called otherwise now, before and after, and what did it."""
    for one in done.renamed[:MOST_SHOWN]:
        say(console, f"Item {one.item.number} (seen {plain(one.item.thing.text)})", STRONG)
        for label, named in (("before", one.before), ("now", one.after)):
            for line in wrapped(f"  {label:<8}{named_text(named)}", console.width, hanging=10):
                say_plain(console, line)
        for line in wrapped(f"  {'why':<8}{_why(one, done)}", console.width, hanging=10):
            say_plain(console, line)
    if done.renamed[MOST_SHOWN:]:
        more = count_of(len(done.renamed) - MOST_SHOWN, "more")
        say(console, f"… and {more}; --json has them.")
    if done.renamed:
        console.print()
    say(console, _sum(done, dry_run))
    end(console)


def _sum(done: Recheck, dry_run: bool) -> str:
    checked = count_of(len(done.all), "item")
    if not done.renamed:
        found = f"{checked} looked at: all are called as before"
    else:
        found = f"{checked} looked at: {len(done.renamed)} called otherwise now"
    if done.moved:
        found += f", {len(done.moved)} with another probability"
    return f"{found}.{' Nothing was written (--dry-run).' if dry_run else ''}"


def _why(one: Rechecked, done: Recheck) -> str:
    """What changed in the catalog, and whether what it is called now is nearer."""
    told = [_change(difference) for difference in one.because]
    if not told:
        told = [
            "other sets of the catalog changed, and with them what is likely"
            if done.catalog_changed
            else "no change of the catalog is in the log; the answer is worked out otherwise"
        ]
    before, after = one.before.away, one.after.away
    if before is not None and after is not None and before != after:
        nearer = "nearer" if after < before else "farther"
        told.append(f"it is {nearer}: {count_of(after, 'tooth', 'teeth')} off, before {before}")
    return f"{'; '.join(told)}."


def _change(difference: Difference) -> str:
    subject = plain(difference.subject)
    if difference.status == NEW:
        return f"{subject} is new in the catalog"
    if difference.status == GONE:
        return f"{subject} is no longer in the catalog"
    keys = written_list(
        f"{plain(key.key)} {plain(key.before or 'nothing')} to {plain(key.after or 'nothing')}"
        for key in difference.keys
    )
    return f"{subject} was changed ({keys})"


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
    return text if len(text) <= 60 else f"{text[:59]}…"
