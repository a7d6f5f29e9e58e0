"""What a recheck came to, on the screen; what changed is left to the shelf."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cogtally.catalog.book import GONE, NEW, Difference
from cogtally.show.catalog import count_of
from cogtally.show.screen import STRONG, plain, wrapped, written_list
from cogtally.show.stock.screen import end, named_text, say, say_plain

if TYPE_CHECKING:
    from rich.console import Console

    from cogtally.shelf.stock import Recheck, Rechecked

#: So many items are shown before and after; the rest is counted.
MOST_SHOWN = 20


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
