"""A key to follow at the bench: which wheel to count first, and which next after each count.

Which wheels two sets differ in, and what else is told of them, is left to `apart`.

A wheel is counted only where two of the sets that still fit are known to differ in it; the key
ends where no two of them are. A set with a gap there still fits after any count. How long a key
is on average is worked out for a box drawn by the commonness of the sets, a gap filled with one of
the counts that the family's other sets have for that wheel, by their commonness.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import lcm, log2, prod

from cogtally.catalog.model import Teeth

#: Sets looked at before the search for the best key is given up, about a second of one processor.
MOST_LOOKED_AT = 1_000_000
#: Bits that are alike to so many decimals are taken as a tie: they differ by rounding alone.
TIE_DECIMALS = 9

#: Sets that still fit, by their places, rising, and the weight of each.
Group = tuple[tuple[int, ...], tuple[int, ...]]
#: Counts still to be made, summed by weight; the most; the wheel to count first, None at an end.
Best = tuple[int, int, int | None]


@dataclass(frozen=True, slots=True)
class Branch:
    """Where one count leads: on to another node, or to the sets that it leaves.

    `teeth` is None for any count that has no branch of its own. `sets`: ids of the sets that still
    fit, in written order. `node`: the number of the next node; None where nothing is left to part.
    """

    teeth: int | None
    sets: tuple[str, ...]
    node: int | None


@dataclass(frozen=True, slots=True)
class Node:
    """A wheel to count, and where each count leads, by rising teeth, any other count last.

    There is a branch for any other count only where a set with a gap there still fits.
    """

    wheel: str
    branches: tuple[Branch, ...]


@dataclass(frozen=True, slots=True)
class Key:
    """A key: its nodes, each before those that it leads to, the first one first.

    `average`: counts on average; `most`: counts at most. `is_exact`: there is no key of fewer
    counts on average, nor one as short with fewer at most; else each wheel is the one that tells
    most by itself, in bits.
    """

    nodes: tuple[Node, ...]
    average: Fraction
    most: int
    is_exact: bool


class _SpentError(Exception):
    """The bound on the work is reached."""


def identification_key(
    wheels: tuple[str, ...],
    sets: Sequence[str],
    counts: Sequence[Teeth],
    commonness: Sequence[float],
    most_looked_at: int = MOST_LOOKED_AT,
) -> Key:
    """Return the key of fewest counts on average, or a good one where that is too much work.

    `sets`: ids; `counts`: of each set the teeth of every wheel, in the order of `wheels`, None for
    a gap; `commonness`: positive, of each set.
    """
    table = _Table(counts, commonness)
    best = _Best(table, most_looked_at)
    try:
        best.of(table.all)
    except _SpentError:
        return _build(wheels, sets, table, table.most_telling, is_exact=False)
    return _build(wheels, sets, table, lambda group: best.of(group)[2], is_exact=True)


class _Table:
    """The counts of the sets, and what a gap may turn out to be.

    Weights are whole numbers, so that sums are exact and ties are ties. They begin as multiples of
    all that they can be divided by when gaps are filled. No wheel is counted twice on one way, so
    no division leaves a rest.
    """

    def __init__(self, counts: Sequence[Teeth], commonness: Sequence[float]) -> None:
        self.counts = counts
        exact = [Fraction(share) for share in commonness]
        scale = lcm(*(share.denominator for share in exact))
        weights = [int(share * scale) for share in exact]
        self.listed: list[Counter[int]] = []
        self.totals: list[int] = []
        for column in zip(*counts, strict=True):
            found: Counter[int] = Counter()
            for teeth, weight in zip(column, weights, strict=True):
                if teeth is not None:
                    found[teeth] += weight
            self.listed.append(found)
            self.totals.append(found.total())
        beforehand = prod(
            total
            for total, column in zip(self.totals, zip(*counts, strict=True), strict=True)
            if total and None in column
        )
        self.all: Group = (tuple(range(len(counts))), tuple(w * beforehand for w in weights))
        self._useful: dict[tuple[int, ...], tuple[int, ...]] = {}

    def useful(self, members: tuple[int, ...]) -> tuple[int, ...]:
        """Return the wheels in which two of the sets are known to differ."""
        found = self._useful.get(members)
        if found is None:
            columns = zip(*(self.counts[known] for known in members), strict=True)
            found = self._useful[members] = tuple(
                place for place, column in enumerate(columns) if len({*column} - {None}) > 1
            )
        return found

    def split(self, group: Group, wheel: int) -> list[tuple[int | None, Group]]:
        """Return what each count of a wheel leaves, by rising teeth, any other count last."""
        fitting: dict[int, list[tuple[int, int]]] = {}
        gaps = []
        for known, weight in zip(*group, strict=True):
            teeth = self.counts[known][wheel]
            if teeth is None:
                gaps.append((known, weight))
            else:
                fitting.setdefault(teeth, []).append((known, weight))
        found: list[tuple[int | None, Group]] = []
        listed, total = self.listed[wheel], self.totals[wheel]
        for teeth in sorted(fitting):
            filled = [(known, weight * listed[teeth] // total) for known, weight in gaps]
            found.append((teeth, _group(sorted(fitting[teeth] + filled))))
        if gaps:
            rest = total - sum(listed[teeth] for teeth in fitting)
            found.append(
                (None, _group([(known, weight * rest // total) for known, weight in gaps]))
            )
        return found

    def most_telling(self, group: Group) -> int | None:
        """Return the wheel whose count tells most of which set it is, in bits; None if none does.

        Of several alike the first in written order.
        """
        wheels = self.useful(group[0])
        if not wheels or not sum(group[1]):
            return wheels[0] if wheels else None
        return min(wheels, key=lambda wheel: (self._doubt_after(group, wheel), wheel))

    def _doubt_after(self, group: Group, wheel: int) -> float:
        """The entropy, in bits, that is left on average after a count."""
        total = sum(group[1])
        parts = [part for _, part in self.split(group, wheel)]
        left = sum(sum(part[1]) / total * _entropy(part) for part in parts)
        return round(left, TIE_DECIMALS)


class _Best:
    """The best key for each group that can arise, each worked out once."""

    def __init__(self, table: _Table, most_looked_at: int) -> None:
        self.table = table
        self.left_to_look_at = most_looked_at
        self.known: dict[Group, Best] = {}

    def of(self, group: Group) -> Best:
        """Return the counts still to be made after a group is left.

        Raises _SpentError where the bound on the work is reached.
        """
        found = self.known.get(group)
        if found is None:
            found = self.known[group] = self._search(group)
        return found

    def _search(self, group: Group) -> Best:
        wheels = self.table.useful(group[0])
        if not wheels:
            return (0, 0, None)
        # Two looks at each set for each wheel: to see what is useful, and to split.
        self.left_to_look_at -= 2 * len(group[0]) * len(wheels)
        if self.left_to_look_at < 0:
            raise _SpentError
        total = sum(group[1])
        tries = []
        for wheel in wheels:
            parts = [p for _, p in self.table.split(group, wheel) if self.table.useful(p[0])]
            # Whatever is not settled takes one more count at least.
            tries.append((total + sum(sum(part[1]) for part in parts), wheel, parts))
        best: tuple[int, int, int] | None = None
        for bound, wheel, parts in sorted(tries):
            if best is not None and bound > best[0]:
                break
            cost, most = total, 1
            for part in parts:
                below, deepest, _ = self.of(part)
                cost += below
                most = max(most, 1 + deepest)
                if best is not None and cost > best[0]:
                    break
            if best is None or (cost, most, wheel) < best:
                best = (cost, most, wheel)
        return best or (0, 0, None)


def _group(members: Sequence[tuple[int, int]]) -> Group:
    return tuple(m for m, _ in members), tuple(weight for _, weight in members)


def _entropy(group: Group) -> float:
    """The entropy of which set of a group it is, in bits; 0 of a group without weight."""
    total = sum(group[1])
    shares = [weight / total for weight in group[1] if weight]
    return -sum(share * log2(share) for share in shares if share)


def _build(
    wheels: tuple[str, ...],
    sets: Sequence[str],
    table: _Table,
    choose: Callable[[Group], int | None],
    *,
    is_exact: bool,
) -> Key:
    """Follow a rule that names the wheel to count of each group, down to every end."""
    nodes: list[Node] = []
    counted: list[int] = []

    def grow(group: Group, wheel: int) -> tuple[int, int]:
        """Add the node of a group and all below it; return its number and the counts from it."""
        number, most = len(nodes), 0
        nodes.append(Node(wheels[wheel], ()))
        counted.append(sum(group[1]))
        branches = []
        for teeth, part in table.split(group, wheel):
            following = choose(part)
            node = None
            if following is not None:
                node, below = grow(part, following)
                most = max(most, below)
            branches.append(Branch(teeth, tuple(sets[m] for m in part[0]), node))
        nodes[number] = Node(wheels[wheel], tuple(branches))
        return number, most + 1

    first = choose(table.all)
    most = 0 if first is None else grow(table.all, first)[1]
    average = Fraction(sum(counted), sum(table.all[1]))
    return Key(tuple(nodes), average, most, is_exact)
