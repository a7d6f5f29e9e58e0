"""What is other than it was in families and sets, before and after, as lines and as plain values.

What differs is left to the catalog; where the screen is, to `console`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from cogtally.catalog.book import CHANGED, GONE, NEW, SAME, Difference, Key
from cogtally.show.screen import STRONG, plain, wrapped

if TYPE_CHECKING:
    from rich.console import Console

#: So many families and sets are shown before and after; the rest is counted.
MOST_SHOWN = 10
LONGEST_TEXT = 60

_ORDER = (CHANGED, GONE, NEW)


def show_differences(differences: Sequence[Difference], console: Console) -> None:
    """Show up to MOST_SHOWN differences key by key, those of what was there before first."""
    told = sorted(
        (d for d in differences if d.status != SAME), key=lambda d: _ORDER.index(d.status)
    )
    for difference in told[:MOST_SHOWN]:
        console.print(f"{plain(difference.subject)}: {difference.status}", style=STRONG)
        for line in _lines(difference, console.width):
            console.print(line, soft_wrap=True)
    if told[MOST_SHOWN:]:
        console.print(f"… and {count_of(len(told) - MOST_SHOWN, 'more')}.", soft_wrap=True)


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


def count_of(number: int, one: str, several: str = "") -> str:
    """Return a number of things in words: `1 set`, `1,200 sets`, `3 families`."""
    if one == "more":
        return f"{number:,} more"
    return f"{number:,} {one if number == 1 else several or one + 's'}"


def _lines(difference: Difference, width: int) -> list[str]:
    if difference.status == CHANGED:
        return [
            line
            for key in difference.keys
            for line in wrapped(f"  {_before_and_after(key)}", width, hanging=4)
        ]
    # Of what was or is not there at all, the teeth and the ratios say enough.
    side = [
        (key.key.removeprefix("pairs.").replace("ratios.", "ratio "), key.after or key.before)
        for key in difference.keys
        if not difference.set or key.key.startswith(("pairs.", "ratios."))
    ]
    text = ", ".join(f"{plain(key)} {_short(value)}" for key, value in side if value)
    return wrapped(f"  {text}", width, hanging=2) if text else []


def _before_and_after(key: Key) -> str:
    return f"{plain(key.key)}: before {_said(key.before)}, after {_said(key.after)}"


def _said(text: str | None) -> str:
    return "nothing" if text is None else _short(text)


def _short(text: str) -> str:
    safe = plain(text)
    return safe if len(safe) <= LONGEST_TEXT else safe[: LONGEST_TEXT - 1] + "…"
