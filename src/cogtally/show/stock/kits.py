"""Complete sets that the stock makes and what is wanted, on the screen and as plain values.

Which those are is left to the shelf.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from cogtally.catalog.model import Catalog
from cogtally.shelf.kits import Kit, Kits, Near, Part
from cogtally.shelf.stock import Want
from cogtally.show import screen
from cogtally.show.stock.screen import undo_text

#: So many sets that are nearly complete are shown.
MOST_NEAR = 10


@dataclass(frozen=True, slots=True)
class Aside:
    """What was left aside: `unsure` pieces, `whole` boxes and pairs, and what is `stale`.

    An item is stale where the catalog has changed since it was named.
    """

    unsure: int = 0
    whole: int = 0
    stale: int = 0


def show_kits(
    kits: Kits,
    catalog: Catalog,
    currency: str,
    aside: Aside,
    wants: Sequence[Want],
    console: screen.Console,
) -> None:
    """Show the complete sets, what remains of the pieces, and what is nearly complete."""
    screen.say(console, _headline(kits, currency), screen.STRONG)
    for kit in kits.kits:
        console.print()
        screen.say(console, f"{_title(catalog, kit)}{_worth(kit.value, currency)}", screen.STRONG)
        _parts(kit.parts, console)
    console.print()
    screen.say(console, f"What remains: {_left(kits.left)}.")
    for sentence in _aside(aside):
        screen.say(console, sentence)
    if kits.near:
        console.print()
        screen.say(console, "Nearly complete, each from all that remains", screen.STRONG)
        for near in kits.near[:MOST_NEAR]:
            needs = screen.written_list(
                f"{'an' if name[0] in 'aeiou' else 'a'} {name} {screen.teeth_text(teeth)}"
                for name, teeth in near.missing
            )
            screen.say(console, f"{_title(catalog, near)} needs {screen.plain(needs)}.")
            _parts(near.parts, console)
        if kits.near[MOST_NEAR:]:
            screen.say(console, f"… and {len(kits.near) - MOST_NEAR} more; --json has them.")
        noted = {(want.family, want.set, want.piece) for want in wants}
        lacking = [(n.family, n.set, piece) for n in kits.near for piece, _ in n.missing]
        new = [one for one in lacking if one not in noted]
        if new:
            console.print()
            family, known, piece = new[0]
            what = screen.plain(f"{family}/{known} {piece}")
            screen.say(
                console,
                f"'cogtally stock want {what} --up-to AMOUNT' notes what you look for; "
                "'cogtally stock kits --want' notes all of it.",
            )
        elif lacking:
            screen.say(console, "All of it is noted: 'cogtally stock want --list'.")
    screen.say_end(console)


def show_wants(wants: Sequence[Want], console: screen.Console) -> None:
    """Show what is looked for, a line each."""
    if not wants:
        screen.say(
            console, "Nothing is wanted. 'cogtally stock want FAMILY/SET PIECE' notes a piece."
        )
    for want in wants:
        teeth = (
            f" {screen.teeth_text(want.type)}" if want.type else ", which the catalog has no more"
        )
        price = f", up to {want.up_to} {want.currency}" if want.up_to else ""
        screen.say(
            console,
            screen.plain(f"{want.family}/{want.set}  {want.piece}{teeth}{price}"),
            hanging=4,
        )


def show_noted(wants: Sequence[Want], entry: int, console: screen.Console) -> None:
    """Show what is looked for from now on, in an `entry` of the log; 0 if it was before."""
    said = "Wanted" if entry else "Wanted already"
    for want in wants:
        screen.say(console, f"{said}: {screen.plain(want.text)}.", screen.STRONG)
    if entry:
        screen.say(console, undo_text(entry))


def kits_json(kits: Kits, currency: str, aside: Aside, book: str) -> dict[str, Any]:
    """Return all of it as plain values; amounts are exact texts, null without a price.

    Without a currency nothing is priced: there is no price, or they are in several currencies.
    """
    return {
        "format": screen.FORMAT,
        "book": book,
        "value": str(kits.value) if currency else None,
        "currency": currency or None,
        "unpriced": kits.unpriced,
        "kits": [
            {**_set_json(kit), "value": str(kit.value) if currency else None} for kit in kits.kits
        ],
        "left": [_part_json(part) for part in kits.left],
        "nearly": [
            {
                **_set_json(near),
                "missing": [{"piece": n, "teeth": teeth} for n, teeth in near.missing],
            }
            for near in kits.near
        ],
        "aside": screen.keys_of(aside, "unsure", "whole", "stale"),
    }


def _headline(kits: Kits, currency: str) -> str:
    if not kits.kits:
        return "No complete set stands on the shelf."
    text = f"{screen.count_of(len(kits.kits), 'complete set')}{_worth(kits.value, currency)}"
    if currency and kits.unpriced:
        pieces = screen.count_of(kits.unpriced, "piece")
        text += f"; {pieces} in {'it' if len(kits.kits) == 1 else 'them'} without a price"
    return f"{text}."


def _worth(value: Decimal, currency: str) -> str:
    return f", {value} {currency}" if currency else ""


def _title(catalog: Catalog, one: Kit | Near) -> str:
    family = catalog.by_id[one.family]
    title = next(known.title for known in family.sets if known.id == one.set)
    return screen.plain(f"{family.title}, {title}")


def _parts(parts: Iterable[tuple[str, Part]], console: screen.Console) -> None:
    # The numbers are what somebody takes to the shelf: none is parted from its piece.
    words = [
        f"{screen.plain(name)}: {_item(part)}".replace(" ", "\N{NO-BREAK SPACE}")
        for name, part in parts
    ]
    for line in screen.wrapped(", ".join(words), console.width - 2):
        console.print(f"  {line}".replace("\N{NO-BREAK SPACE}", " "), soft_wrap=True)


def _item(part: Part) -> str:
    return f"{'of ' if part.piece else ''}item {part.item}"


def _left(parts: Sequence[Part]) -> str:
    whole = [str(part.item) for part in parts if not part.piece]
    found = [f"{'item' if len(whole) == 1 else 'items'} {', '.join(whole)}"] if whole else []
    taken = Counter(part.item for part in parts if part.piece)
    found += [f"{screen.count_of(n, 'piece')} of item {item}" for item, n in taken.items()]
    return "; ".join(found) or "nothing"


def _aside(aside: Aside) -> Iterator[str]:
    if aside.unsure:
        yield (
            f"{screen.count_of(aside.unsure, 'piece')} left aside: not sure enough, or of no set. "
            "'--sure 0.8' takes less."
        )
    if aside.whole:
        whole = screen.count_of(aside.whole, "whole box or pair", "whole boxes and pairs")
        yield f"{whole} left whole; --break-up takes them apart."
    if aside.stale:
        yield (
            f"{screen.count_of(aside.stale, 'item')} named before the catalog changed: "
            "'cogtally stock recheck' names them anew."
        )


def _set_json(one: Kit | Near) -> dict[str, Any]:
    return {
        **screen.keys_of(one, "family", "set"),
        "parts": [{"piece": name, **_part_json(part)} for name, part in one.parts],
    }


def _part_json(part: Part) -> dict[str, Any]:
    price = None if part.price is None else str(part.price)
    return {"item": part.item, "of_item": part.piece or None, "price": price}
