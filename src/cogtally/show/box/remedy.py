"""What makes a box whole, in words and for machines: which piece goes in, where one lies.

Which pieces they are is left to the evidence, what is for sale to the shelf.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from cogtally.evidence.reading import RECOUNT, Answer, Change, Remedy
from cogtally.show.box.headline import a_piece, teeth_text
from cogtally.show.screen import plain, wrapped, written_list

if TYPE_CHECKING:
    from cogtally.shelf.stock import Item

#: The items for sale that a change could use, the cheapest first.
Shelf = Mapping[Change, Sequence["Item"]]
#: So many ways are told on a screen, and so many items for each piece.
WAYS_SHOWN, ITEMS_SHOWN = 2, 2


def remedy_lines(answer: Answer, shelf: Shelf | None, width: int, folded: int = 0) -> list[str]:
    """Return what makes the box whole, a way in so many lines of at most `width` columns.

    `folded`: leave out what the old pieces serve in (1), then all but the nearest way (2), then
    that too where the counts hardly stand (3).
    """
    again = answer.verdict.kind == RECOUNT
    # Counted again, the box most likely is whole: the nearest way is enough.
    most = 1 if again or folded >= 2 else WAYS_SHOWN
    ways = answer.remedies[: 0 if again and folded >= 3 else most]
    return [
        line
        for way in ways
        for line in wrapped(
            remedy_text(answer, way, shelf, briefly=folded >= 1 or way is not ways[0]), width
        )
    ]


def remedy_text(
    answer: Answer, remedy: Remedy, shelf: Shelf | None, *, briefly: bool = False
) -> str:
    """Return one way as sentences: what goes in, where one lies, what the old piece is good for.

    `briefly`: without the last.
    """
    stands = "If the counts stand, to" if answer.verdict.kind == RECOUNT else "To"
    sets = plain(written_list(remedy.sets, "or"))
    found = [f"{stands} make it {sets}: {written_list(map(_goes_in, remedy.changes))}."]
    if shelf is not None and not any(shelf[change] for change in remedy.changes):
        found.append("None on the shelf.")
    else:
        for change in remedy.changes:
            found += _on_shelf(change, shelf, len(remedy.changes) > 1)
    if not briefly:
        found += [_serves(change) for change in remedy.changes if change.serves]
    return " ".join(found)


def remedies_json(answer: Answer, shelf: Shelf | None) -> list[dict[str, Any]]:
    """Return all ways for machines; `shelf` is null where no stock was looked through."""
    return [
        {
            "family": remedy.family,
            "sets": list(remedy.sets),
            "changes": [
                {
                    "piece": change.piece,
                    "out": list(change.out),
                    "in": list(change.into),
                    "sets": list(change.sets),
                    "mates": [{"piece": p, "teeth": t} for p, t in change.mates],
                    "serves": list(change.serves),
                    "shelf": None if shelf is None else [_item_json(i) for i in shelf[change]],
                }
                for change in remedy.changes
            ],
        }
        for remedy in answer.remedies
    ]


def _goes_in(change: Change) -> str:
    if len(change.into) > 1:
        return f"{plain(change.piece)} {teeth_text(change.into)}"
    mates = [f"{plain(piece)} {teeth}" for piece, teeth in change.mates]
    mated = f" (mates {written_list(mates)})" if mates else ""
    return f"{a_piece(plain(change.piece))} of {teeth_text(change.into)} teeth{mated}"


def _on_shelf(change: Change, shelf: Shelf | None, several: bool) -> list[str]:
    if shelf is None:
        return []
    items = shelf[change]
    which = f", the {plain(change.piece)}" if several else ""
    if not items:
        return [f"None on the shelf{which}."]
    more = len(items) - ITEMS_SHOWN
    named = [_item(item) for item in items[:ITEMS_SHOWN]] + ([f"{more} more"] if more > 0 else [])
    return [f"On the shelf{which}: {'; '.join(named)}."]


def _item(item: Item) -> str:
    price = item.details.price
    said = [f"item {item.number}", *([price.text] if price else []), plain(item.details.place)]
    return ", ".join(filter(None, said))


def _item_json(item: Item) -> dict[str, Any]:
    price = item.details.price
    return {
        "item": item.number,
        "price": None if price is None else price.amount,
        "currency": None if price is None else price.currency,
        "place": item.details.place,
    }


def _serves(change: Change) -> str:
    sets = plain(written_list(change.serves, "or"))
    return f"The {plain(change.piece)} {teeth_text(change.out)} that comes out serves in {sets}."
