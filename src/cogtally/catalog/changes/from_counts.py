"""From what was counted to the pairs of a set: as somebody writes a set down, or of one real box.

How counts are written is left to the notation, whether the set will do to `check`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from cogtally.catalog.model import Family, Teeth
from cogtally.gears.errors import UserError
from cogtally.gears.trains import pair_of, role_of, roles, wheel_names
from cogtally.gears.words import Count, Seen, Word


@dataclass(frozen=True, slots=True)
class CountedPairs:
    """The pairs of a set: their teeth, and as `typed` what somebody wrote for whole pairs.

    `doubtful`: wheels that were counted and yet are gaps; `gaps`: every wheel without a count, the
    doubtful ones included.
    """

    pairs: Mapping[str, Teeth]
    typed: Mapping[str, str]
    doubtful: tuple[str, ...] = ()
    gaps: tuple[str, ...] = ()


def written_pairs(seen: Seen, family: Family | None) -> CountedPairs:
    """Return the pairs of a set that somebody writes down, in the order of its family's.

    `family` is the one that the set goes to, None for a new one. A catalog holds counts that are
    sure: raises UserError for a turn test, an unsure count, and two different counts of one wheel.
    """
    for word in seen.words:
        if word.turn is not None:
            mend = "write teeth, 1=14/31, and printed ratios with --ratio 1=3.65"
            raise UserError("a turn test gives no teeth", word.text, mend)
        for count in word.counts:
            if count.unsure:
                mend = "count it again, or write _ for a wheel that is not known yet"
                raise UserError("a catalog has no unsure counts", word.text, mend)
    teeth: dict[str, int] = {}
    for count in seen.counts:
        if teeth.setdefault(count.wheel, count.teeth) != count.teeth:
            both = f"{teeth[count.wheel]} and {count.teeth} were written"
            raise UserError(both, count.wheel, "a set has one count for a wheel, or _")
    pairs = _filled(_sizes(seen.words, family), teeth)
    typed = {word.pair: word.text.partition("=")[2] for word in seen.words if word.pair is not None}
    alone = {pair_of(word.wheel) for word in seen.words if word.wheel is not None}
    kept = {pair: text for pair, text in typed.items() if pair not in alone}
    return CountedPairs(_in_order(pairs, family), kept, gaps=_gaps(pairs))


def box_pairs(seen: Seen, family: Family) -> CountedPairs:
    """Return the pairs of a box that was counted, as a set of `family` would have them.

    A wheel is kept where one result was counted for sure more often than all others together; else
    it is a gap, as is every wheel that nobody counted. Turn tests are left aside. Raises UserError
    where no count is left.
    """
    keep = family.train.canonical
    counts: dict[str, list[Count]] = {}
    for count in seen.counts:
        counts.setdefault(keep(count.wheel), []).append(count)
    settled = {wheel: _settled(found) for wheel, found in counts.items()}
    teeth = {wheel: result for wheel, result in settled.items() if result is not None}
    if not counts:
        raise UserError(
            "nothing was counted, and a set has teeth", mend="count wheels: input=17/28 1=14/31"
        )
    if not teeth:
        raise UserError("no count is sure, and a set has teeth", mend="count again")
    sizes = dict(family.train.pairs) if family.counted_sets else {}
    for pair, size in _sizes(seen.words, family).items():
        sizes[pair] = max(size, sizes.get(pair, 0))
    names = {name: keep(name) for p, n in sizes.items() for name in wheel_names(p, n)}
    pairs = _filled(sizes, {name: teeth[w] for name, w in names.items() if w in teeth})
    return CountedPairs(
        _in_order(pairs, family),
        {},
        doubtful=tuple(wheel for wheel, result in settled.items() if result is None),
        gaps=tuple(dict.fromkeys(keep(wheel) for wheel in _gaps(pairs))),
    )


def _settled(counts: Iterable[Count]) -> int | None:
    """The one result that outweighs all the others; None where there is none."""
    times: dict[int, int] = {}
    unsure = 0
    for count in counts:
        if count.unsure:
            unsure += count.times
        else:
            times[count.teeth] = times.get(count.teeth, 0) + count.times
    if not times:
        return None
    best = max(times, key=lambda teeth: times[teeth])
    return best if times[best] > sum(times.values()) - times[best] else None


def _sizes(words: Iterable[Word], family: Family | None) -> dict[str, int]:
    """How many wheels each pair has that was written, whole or a wheel of it."""
    sizes: dict[str, int] = {}
    known = family.train.pairs if family is not None and family.counted_sets else {}
    for word in words:
        if word.pair is not None:
            sizes[word.pair] = max(word.size, sizes.get(word.pair, 0))
        elif word.wheel is not None:
            pair = pair_of(word.wheel)
            size = 3 if role_of(word.wheel) == "idler" else known.get(pair, 2)
            sizes[pair] = max(size, sizes.get(pair, 0))
    return sizes


def _filled(sizes: Mapping[str, int], teeth: Mapping[str, int]) -> dict[str, Teeth]:
    return {
        pair: tuple(teeth.get(wheel) for wheel in wheel_names(pair, size))
        for pair, size in sizes.items()
    }


def _in_order(pairs: Mapping[str, Teeth], family: Family | None) -> dict[str, Teeth]:
    """The pairs in the order in which the family's other sets have them, new ones behind."""
    if family is None or not family.counted_sets:
        return dict(pairs)
    known = [pair for pair in family.train.pairs if pair in pairs]
    return {pair: pairs[pair] for pair in dict.fromkeys([*known, *pairs])}


def _gaps(pairs: Mapping[str, Teeth]) -> tuple[str, ...]:
    return tuple(
        f"{pair}.{role}"
        for pair, teeth in pairs.items()
        for role, count in zip(roles(len(teeth)), teeth, strict=True)
        if count is None
    )
