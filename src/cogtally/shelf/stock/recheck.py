"""Items named anew after the catalog changed: which are called otherwise now, and what did it.

The names are left to `naming`, writing them to `stock`, the words for it to `show`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from cogtally.shelf.stock.items import Item, Named, Share

if TYPE_CHECKING:
    from cogtally.catalog.book.compare import Difference
    from cogtally.shelf.stock.naming import Naming

#: A probability that moved by less is as it was.
LEAST_MOVE = 0.001


@dataclass(frozen=True, slots=True)
class Rechecked:
    """What an item is called now: `item.now` is what it was called before, `after` what it is.

    `because`: the changes of the catalog in the sets that it was or is called after.
    """

    item: Item
    after: Named
    because: tuple[Difference, ...] = ()

    @property
    def before(self) -> Named:
        """What it was called before."""
        return self.item.now

    @property
    def is_renamed(self) -> bool:
        """Whether it is called otherwise."""
        return _called(self.before) != _called(self.after)

    @property
    def is_moved(self) -> bool:
        """Whether any probability of what it may be is another."""
        old, new = _shares(self.before), _shares(self.after)
        return any(
            abs(old.get(key, 0.0) - new.get(key, 0.0)) >= LEAST_MOVE for key in {*old, *new}
        ) or (abs(self.before.probability - self.after.probability) >= LEAST_MOVE)


@dataclass(frozen=True, slots=True)
class Recheck:
    """What a recheck came to: each item, and whether the log tells of any change of the catalog."""

    all: tuple[Rechecked, ...]
    catalog_changed: bool = False

    @property
    def renamed(self) -> tuple[Rechecked, ...]:
        """The items that are called otherwise now."""
        return tuple(one for one in self.all if one.is_renamed)

    @property
    def moved(self) -> tuple[Rechecked, ...]:
        """The items that are called as before, with another probability."""
        return tuple(one for one in self.all if one.is_moved and not one.is_renamed)


def recheck(
    path: Path,
    items: Sequence[Item],
    naming: Naming,
    advance: Callable[[int, int], None] = lambda done, total: None,
) -> Recheck:
    """Name items anew by the catalog of the book at `path`; nothing is written."""
    found = []
    for number, item in enumerate(items, start=1):
        found.append(Rechecked(item, naming.name(item.thing)))
        advance(number, len(items))
    entries = [one.before.entry for one in found if one.is_renamed]
    if not entries:
        return Recheck(tuple(found))
    changes = _changes_since(path, min(entries))
    told = [
        Rechecked(one.item, one.after, _because(one, changes)) if one.is_renamed else one
        for one in found
    ]
    return Recheck(tuple(told), bool(changes))


def keep_recheck(path: Path, done: Recheck, what: str) -> None:
    """Write what the items are called now, in one change of the book; what is as it was stays."""
    from cogtally.shelf.stock.book import stock_writing

    other = [one for one in done.all if one.is_renamed or one.is_moved]
    if not other:
        return
    with stock_writing(path, what) as stock:
        there = {item.number: item for item in stock.items()}
        for one in other:
            item = there.get(one.item.number)
            # Whoever changed its counts meanwhile has named it anew.
            if item is not None and item.thing == one.item.thing:
                stock.put_named(item.number, one.after)


def _changes_since(path: Path, entry: int) -> list[tuple[int, Difference]]:
    """Every change of a family or a set behind an entry of the book's log, the oldest first."""
    from cogtally.catalog.book.compare import differences_of
    from cogtally.catalog.book.reading import ROOM
    from cogtally.store.log import entries, entry_of

    found: list[tuple[int, Difference]] = []
    for later in reversed(entries(path, ROOM)):
        if later.id > entry:
            _, changes = entry_of(path, ROOM, later.id)
            found += [(later.id, difference) for difference in differences_of(changes)]
    return found


def _because(one: Rechecked, changes: Iterable[tuple[int, Difference]]) -> tuple[Difference, ...]:
    """The changes since an item was named in what it was and what it is called after.

    Where one set was changed several times, the last change tells.
    """
    subjects = {
        f"{named.family}/{known}" for named in (one.before, one.after) for known in named.sets
    }
    found = {
        difference.subject: difference
        for entry, difference in changes
        if entry > one.before.entry and difference.subject in subjects
    }
    return tuple(found.values())


def _called(named: Named) -> tuple[object, ...]:
    return (named.name, named.verdict, named.family, named.piece, named.teeth, named.sets)


def _shares(named: Named) -> dict[tuple[object, ...], float]:
    return {_key(share): share.probability for share in named.shares}


def _key(share: Share) -> tuple[object, ...]:
    return (share.family, share.piece, share.teeth, share.sets)
