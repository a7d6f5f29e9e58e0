"""What all counts of one box come to, wheel by wheel, what a family lacks, and how pairs stand.

How probable it makes a set is left to the engine, how it is shown to `reading`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from cogtally.catalog.model import Family
from cogtally.evidence.laws import likeliest_teeth
from cogtally.gears.notation import Count, Seen
from cogtally.gears.trains import (
    FINAL,
    INPUT,
    NO_GEAR,
    OUTPUT,
    OVERDRIVE,
    TWO_SHAFT,
    Train,
    pair_of,
    role_of,
)

PAIR, IDLER, GEAR = "pair", "idler", "gear"


class Counted(NamedTuple):
    """All counts of one wheel: `teeth` is what they make likeliest from a steady hand.

    `results` are the different results in written order, `times` how often it was counted.
    `is_tied`: several results came up, and none more often than each other.
    """

    wheel: str
    teeth: int
    results: tuple[int, ...]
    times: int
    is_tied: bool = False


class Lacking(NamedTuple):
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
        list(times.values()).count(most) > 1,
    )


def lacking_in(family: Family, seen: Seen) -> tuple[Lacking, ...]:
    """Return what was counted or turned that `family` does not have, in written order."""
    train = family.train
    found: dict[Lacking, None] = {}
    for word in seen.words:
        for count in word.counts:
            if count.wheel not in train.names:
                pair = pair_of(count.wheel)
                found[Lacking(IDLER if pair in train.pairs else PAIR, pair)] = None
        for gear in word.turn.gears if word.turn else ():
            if train.path(gear) is None and Lacking(PAIR, gear) not in found:
                found[Lacking(GEAR, gear)] = None
    return tuple(found)


def arranged(family: Family | None, seen: Seen) -> Train:
    """Return how the pairs of a box stand: as a family has them, as written where it has none.

    A pair that the family does not have is a gear of its own, behind the input pair where that was
    counted, else before the output pair; and so is the pair of an overdrive, which has no gears.
    """
    known = family.train if family else Train(TWO_SHAFT, {})
    pairs = dict(known.pairs)
    for word in seen.words:
        if word.pair is not None and word.counts:
            pairs.setdefault(word.pair, word.size)
        for count in word.counts:
            pair = pair_of(count.wheel)
            pairs[pair] = 3 if role_of(count.wheel) == "idler" else pairs.get(pair, 2)
    counted = {pair_of(count.wheel) for count in seen.counts}
    before = [INPUT] if INPUT in counted else []
    behind = [OUTPUT] if OUTPUT in counted and not before else []
    strange = [p for p in pairs if p not in (*known.pairs, *NO_GEAR) and known.path(p) is None]
    more = {p: (p,) if p == FINAL else (*before, p, *behind) for p in strange}
    layout = TWO_SHAFT if known.layout == OVERDRIVE else known.layout
    return replace(known, layout=layout, pairs=pairs, paths={**known.paths, **more})
