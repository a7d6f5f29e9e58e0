"""What all counts of one box come to, wheel by wheel, and what was seen that a family lacks.

How probable they make a set is left to `assembled`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from cogtally.catalog.model import Family
from cogtally.evidence.laws.likelihood import likeliest_teeth
from cogtally.gears.notation import Count, Seen, Word
from cogtally.gears.trains import pair_of, role_of

PAIR, IDLER, GEAR = "pair", "idler", "gear"
_OTHER_END = {"driver": "driven", "driven": "driver", "idler": "idler"}


@dataclass(frozen=True, slots=True)
class Counted:
    """All counts of one wheel: `teeth` is what they make likeliest from a steady hand.

    `results` are the different results in written order, `times` how often it was counted.
    `is_tied`: several results came up, and none more often than each other.
    """

    wheel: str
    teeth: int
    results: tuple[int, ...]
    times: int
    is_tied: bool = False


@dataclass(frozen=True, slots=True)
class Lacking:
    """A thing seen that a family does not have: a whole pair, an idler of a pair, or a gear."""

    kind: str
    name: str


def kept_name(family: Family | None, wheel: str) -> str:
    """Return the name under which a family keeps a wheel; the name itself where it has none."""
    return wheel if family is None else family.train.names.get(wheel, wheel)


def counted_wheels(seen: Seen, family: Family | None = None) -> Mapping[str, Counted]:
    """Return what was counted, by the kept names of `family`, in written order."""
    found: dict[str, list[Count]] = {}
    for count in seen.counts:
        found.setdefault(kept_name(family, count.wheel), []).append(count)
    return {wheel: _counted(wheel, counts) for wheel, counts in found.items()}


def _counted(wheel: str, counts: Sequence[Count]) -> Counted:
    times: dict[int, int] = {}
    for count in counts:
        times[count.teeth] = times.get(count.teeth, 0) + count.times
    most = max(times.values())
    return Counted(
        wheel,
        likeliest_teeth(counts, tuple(sorted(times))),
        tuple(times),
        sum(times.values()),
        len(times) > 1 and sum(n == most for n in times.values()) > 1,
    )


def lacking_in(family: Family, seen: Seen) -> tuple[Lacking, ...]:
    """Return what was counted or turned that `family` does not have, in written order."""
    train = family.train
    found: dict[Lacking, None] = {}
    for word in seen.words:
        for count in word.counts:
            if count.wheel not in train.names:
                pair = pair_of(count.wheel)
                known = pair in train.pairs
                found[Lacking(IDLER if known else PAIR, pair)] = None
        for gear in word.turn.gears if word.turn else ():
            if train.path(gear) is None and Lacking(PAIR, gear) not in found:
                found[Lacking(GEAR, gear)] = None
    return tuple(found)


def turned_round(seen: Seen, pair: str | None = None) -> Seen:
    """Return the same with driver and driven exchanged, in one pair or (None) in all."""
    return replace(seen, words=tuple(_word_turned(word, pair) for word in seen.words))


def without_wheel(seen: Seen, wheel: str, family: Family | None) -> Seen:
    """Return the same without any count of one wheel, named as `family` keeps it."""
    kept = []
    for word in seen.words:
        counts = tuple(c for c in word.counts if kept_name(family, c.wheel) != wheel)
        kept.append(replace(word, counts=counts))
    return replace(seen, words=tuple(kept))


def pair_text(word: Word) -> str:
    """Return a pair's word as it reads in plain counts: `3=24/21`."""
    counts = {role_of(c.wheel): c for c in word.counts}
    order = ("driver", "idler", "driven") if word.size == 3 else ("driver", "driven")
    return f"{word.pair}={'/'.join(_count_text(counts.get(role)) for role in order)}"


def _count_text(count: Count | None) -> str:
    if count is None:
        return "_"
    times = f"x{count.times}" if count.times > 1 else ""
    return f"{count.teeth}{'u' if count.unsure else ''}{times}"


def _word_turned(word: Word, pair: str | None) -> Word:
    counts = tuple(
        Count(f"{pair_of(c.wheel)}.{_OTHER_END[role_of(c.wheel)]}", c.teeth, c.unsure, c.times)
        if pair in (None, pair_of(c.wheel))
        else c
        for c in word.counts
    )
    turned = replace(word, counts=counts)
    if counts == word.counts or word.pair is None:
        return turned
    return replace(turned, text=pair_text(turned))
