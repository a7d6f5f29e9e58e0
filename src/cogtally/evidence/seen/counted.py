"""What all counts of one box come to, wheel by wheel, what a family lacks, and where pairs stand.

How probable it makes a set is left to the engine, how it is shown to `reading`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from cogtally.catalog.model import Family
from cogtally.evidence.laws import likeliest_teeth
from cogtally.gears.notation import Count, Seen, Word
from cogtally.gears.trains import (
    FINAL,
    INPUT,
    NO_GEAR,
    OUTPUT,
    OVERDRIVE,
    gear_order,
    pair_of,
    role_of,
    train_ratio,
    wheel_names,
)

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

    def left(word: Word) -> Word:
        counts = tuple(c for c in word.counts if kept_name(family, c.wheel) != wheel)
        return replace(word, counts=counts)

    return replace(seen, words=tuple(map(left, seen.words)))


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
        replace(c, wheel=f"{pair_of(c.wheel)}.{_OTHER_END[role_of(c.wheel)]}")
        if pair in (None, pair_of(c.wheel))
        else c
        for c in word.counts
    )
    turned = replace(word, counts=counts)
    written = counts == word.counts or word.pair is None
    return turned if written else replace(turned, text=pair_text(turned))


class Arrangement:
    """Where the pairs of a box stand: as a family has them, and as written where it has none.

    `counted`: what was counted, by the kept names of the family.
    """

    def __init__(self, family: Family | None, seen: Seen) -> None:
        self.family = family
        self.counted = counted_wheels(seen, family)
        self.pairs = dict(family.train.pairs) if family else {}
        for word in seen.words:
            if word.pair is not None and word.counts and word.pair not in self.pairs:
                self.pairs[word.pair] = word.size
            for count in word.counts:
                pair = pair_of(count.wheel)
                known = self.pairs.get(pair, 2)
                self.pairs[pair] = 3 if count.wheel.endswith(".idler") else known
        self._counted_pairs = {pair_of(c.wheel) for c in seen.counts}
        self.gears = self._gears()

    def kept(self, wheel: str) -> str:
        """Return the name under which the family keeps a wheel."""
        return kept_name(self.family, wheel)

    def _gears(self) -> tuple[str, ...]:
        known = self.family.train.gears if self.family else ()
        own = self.family.train.pairs if self.family else {}
        more = [p for p in self.pairs if p not in own and p not in NO_GEAR]
        found = sorted(dict.fromkeys([*known, *more]), key=gear_order)
        return (*self._overdrives, *found)

    @property
    def _overdrives(self) -> tuple[str, ...]:
        """The pair of an overdrive: a sun and its annulus, with a ratio and yet no gear."""
        if self.family is None or self.family.layout != OVERDRIVE:
            return ()
        return tuple(self.family.train.pairs)

    def path(self, gear: str) -> tuple[str, ...]:
        """Return the pairs that carry a gear: the family's, else the input pair and its own.

        The output pair of a direct-top box carries its gears as the input pair does in others.
        """
        found = self.family.train.path(gear) if self.family else None
        if found is not None:
            return found
        if gear == FINAL:
            return (gear,)
        if INPUT in self._counted_pairs:
            return (INPUT, gear)
        return (gear, OUTPUT) if OUTPUT in self._counted_pairs else (gear,)

    def ratio(self, gear: str) -> Fraction | None:
        """Return the exact ratio of a gear, None where a count is missing."""

        def teeth(wheel: str) -> int | None:
            found = self.counted.get(self.kept(wheel))
            return None if found is None else found.teeth

        if gear in self._overdrives:
            from cogtally.gears.trains import overdrive_of

            return overdrive_of(teeth(f"{gear}.driver"), teeth(f"{gear}.driven"))
        return train_ratio(
            (teeth(f"{pair}.driver"), teeth(f"{pair}.driven")) for pair in self.path(gear)
        )

    def mesh_wheels(self) -> Iterable[tuple[str, str]]:
        """Give every two wheels in mesh, by their kept names, once."""
        found: dict[frozenset[str], tuple[str, str]] = {}
        for pair, size in self.pairs.items():
            if pair in self._overdrives:
                continue
            names = [self.kept(w) for w in wheel_names(pair, size)]
            for left, right in pairwise(names):
                found.setdefault(frozenset((left, right)), (left, right))
        return found.values()

    def names(self) -> list[str]:
        """Return the names of all lines: pairs, and gears that have no pair of their own."""
        inside = {
            pair: gear
            for gear in self.gears
            for pair in self.path(gear)
            if pair not in self.gears and pair not in NO_GEAR
        }

        def order(name: str) -> tuple[int, int, int, int]:
            if name in NO_GEAR:
                return (-1 if name == INPUT else 3, 0, 0, 0)
            return (*gear_order(inside.get(name, name)), int(name not in inside), 0)

        return sorted(dict.fromkeys([*self.pairs, *self.gears]), key=order)
