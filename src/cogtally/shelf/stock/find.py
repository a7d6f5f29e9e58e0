"""Items by what somebody remembers of them: words, counts along the axis, a pair, a place.

How like a word is to another is left to the catalog's `likeness`, the look of it to `show`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from cogtally.catalog.search import ANY, Likeness, likeliest, parse_query
from cogtally.gears.notation import Word
from cogtally.gears.trains import pair_of, role_of
from cogtally.shelf.stock.items import PIECE, Item, Share

#: A piece is called such a one from here on, as a box is.
SURE = 0.90
_NUMBER = re.compile(r"[0-9]{1,3}|_", re.ASCII)


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is asked for, all of it together.

    `run`: counts as they stand along the axis of a piece, None for any; `pairs`: words of the
    notation; `words`: as well as somebody remembers.
    """

    words: tuple[str, ...] = ()
    run: tuple[int | None, ...] = ()
    pairs: tuple[Word, ...] = ()


@dataclass(frozen=True, slots=True)
class Hit:
    """An item that was found: how like what was asked for (0…100), and by which of its texts."""

    item: Item
    likeness: float
    because: tuple[str, ...] = ()


def parse_wanted(words: Sequence[str]) -> Wanted:
    """Read what is asked for; raise UserError for teeth that cannot be read.

    Numbers and `_` are counts (`28 24`), `28/_`, `3=24/21` and `3.driver=24` are of a pair, all
    other words are text.
    """
    numbers = [word for word in words if _NUMBER.fullmatch(word)]
    rest = parse_query([word for word in words if not _NUMBER.fullmatch(word)])
    run = tuple(None if number == "_" else int(number) for number in numbers)
    return Wanted(rest.words, run, rest.teeth)


def find_items(items: Iterable[Item], wanted: Wanted) -> tuple[Hit, ...]:
    """Return the items that have all the teeth asked for and the words, the likeliest first."""
    found = [item for item in items if _has_teeth(item, wanted)]
    if not wanted.words:
        return tuple(Hit(item, 100.0) for item in found)
    likeness = Likeness.among(wanted.words, (text for item in found for _, text in _texts(item)))
    hits = []
    for item in found:
        _, score, because = likeness.rate(_texts(item))
        if score:
            hits.append(Hit(item, score, because))
    return tuple(likeliest(hits, lambda hit: hit.likeness))


def pieces_for_sale(
    items: Iterable[Item], family: str, piece: str, teeth: Sequence[int | None]
) -> tuple[Item, ...]:
    """Return the loose pieces for sale that are such a piece from 0.90 on, the cheapest first.

    `teeth` along the axis, None for any; those without a price come last.
    """
    found = [
        item
        for item in items
        if item.sale is None
        and item.kind == PIECE
        and sum(s.probability for s in item.now.shares if _is_such(s, family, piece, teeth)) >= SURE
    ]
    return tuple(sorted(found, key=_price_of))


def _is_such(share: Share, family: str, piece: str, teeth: Sequence[int | None]) -> bool:
    same = (share.family, share.piece, len(share.teeth)) == (family, piece, len(teeth))
    return same and all(t is None or t == s for t, s in zip(teeth, share.teeth, strict=True))


def _price_of(item: Item) -> tuple[bool, Decimal]:
    price = item.details.price
    return price is None, Decimal(0) if price is None else price.value


def stands_at(item: Item, place: str) -> bool:
    """Tell whether an item stands at a place, or at one that begins so; case is no matter."""
    return item.details.place.casefold().startswith(place.strip().casefold())


def _texts(item: Item) -> Iterator[tuple[str, str]]:
    """All that somebody may remember of an item, each text with what it is."""
    yield "", item.now.name
    yield "", item.now.family
    for known in item.now.sets:
        yield "set", known
    details = item.details
    for what, text in (
        ("place:", details.place),
        ("note:", details.note),
        ("condition:", details.condition),
        ("role:", item.thing.role),
        *(("mark:", mark) for mark in item.thing.marks),
        *(("feature:", feature) for feature in item.thing.features),
    ):
        if text:
            yield what, text
    if item.sale is not None:
        yield "sold to", item.sale.to
        yield "sold:", item.sale.note


def _has_teeth(item: Item, wanted: Wanted) -> bool:
    if not wanted.run and not wanted.pairs:
        return True
    if item.kind == PIECE:
        teeth = [{c.teeth for c in counts} for _, counts in item.thing.places]
        return _runs(teeth, wanted.run) and all(
            # What runs with a loose wheel, and in which pair, nobody has seen.
            word.pair == ANY
            and len(word.counts) == 1
            and any(word.counts[0].teeth in place for place in teeth)
            for word in wanted.pairs
        )
    counted = {wheel: {c.teeth for c in counts} for wheel, counts in item.thing.places}
    every = {teeth for found in counted.values() for teeth in found}
    return all(one is None or one in every for one in wanted.run) and all(
        any(_has_pair(counted, pair, word) for pair in {pair_of(wheel) for wheel in counted})
        for word in wanted.pairs
    )


def _runs(teeth: Sequence[set[int]], run: Sequence[int | None]) -> bool:
    """Whether counts stand side by side along a piece, from either end."""
    return any(
        all(one is None or one in teeth[first + n] for n, one in enumerate(way))
        for way in (run, run[::-1])
        for first in range(len(teeth) - len(run) + 1)
    )


def _has_pair(counted: dict[str, set[int]], pair: str, word: Word) -> bool:
    named = word.pair or pair_of(word.wheel or "")
    return named in (ANY, pair) and all(
        count.teeth in counted.get(f"{pair}.{role_of(count.wheel)}", set()) for count in word.counts
    )
