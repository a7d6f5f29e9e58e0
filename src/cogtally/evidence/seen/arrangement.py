"""Where the pairs of one box stand: as a family has them, and as written where it has none.

How many teeth they have is left to `counted`, how they are shown to `views`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction
from itertools import pairwise

from cogtally.catalog.model import Family
from cogtally.evidence.seen.counted import Counted, kept_name
from cogtally.gears.notation import Seen
from cogtally.gears.trains import (
    FINAL,
    INPUT,
    NO_GEAR,
    OUTPUT,
    OVERDRIVE,
    gear_order,
    pair_of,
    train_ratio,
    wheel_names,
)


class Arrangement:
    """Where the pairs of a box stand: as a family has them, and as written where it has none."""

    def __init__(self, family: Family | None, seen: Seen) -> None:
        self.family = family
        self.pairs = dict(family.train.pairs) if family else {}
        for word in seen.words:
            if word.pair is not None and word.counts and word.pair not in self.pairs:
                self.pairs[word.pair] = word.size
            for count in word.counts:
                pair = pair_of(count.wheel)
                known = self.pairs.get(pair, 2)
                self.pairs[pair] = 3 if count.wheel.endswith(".idler") else known
        self.counted_pairs = {pair_of(c.wheel) for c in seen.counts}
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
        if INPUT in self.counted_pairs:
            return (INPUT, gear)
        return (gear, OUTPUT) if OUTPUT in self.counted_pairs else (gear,)

    def ratio(self, gear: str, counted: Mapping[str, Counted]) -> Fraction | None:
        """Return the exact ratio of a gear, None where a count is missing."""

        def teeth(wheel: str) -> int | None:
            found = counted.get(self.kept(wheel))
            return None if found is None else found.teeth

        if gear in self._overdrives:
            from cogtally.gears.epicyclic import overdrive_of

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
