"""The best fillings of a search, by weight, without listing the others.

Which fillings there are stands in cells, made by `recover_cells`; the search is `recover`'s.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush
from math import inf

from cogtally.gears.recover.problem import Problem
from cogtally.gears.recover.slots import (
    Cell,
    Choice,
    Tied,
    off_weights,
    rows_of,
    slot_choices,
)
from cogtally.gears.recover.weight import HUNDREDTH

#: Weights that agree to so many decimals are alike: then fewer teeth come first.
ALIKE_DECIMALS = 9

Teeth = tuple[tuple[int, int], ...]
#: For each pair of a filling, in order, its choices, best first.
_Box = list[list[Choice]]


@dataclass(frozen=True, slots=True)
class Filling:
    """Teeth for every pair of a problem, in the order of its `pairs`: (driver, driven).

    `weight`: a natural logarithm, 0 where nothing is ranked.
    """

    teeth: Teeth
    weight: float


class Best:
    """The `most` best fillings seen so far."""

    def __init__(self, problem: Problem, most: int) -> None:
        self._pairs = len(problem.pairs)
        self._spread = problem.spread
        self._penalties = off_weights(problem)
        self._rows = rows_of(problem)
        self._most = most
        self._kept: list[tuple[float, Teeth]] = []

    def fillings(self) -> tuple[Filling, ...]:
        """Return what is kept, best first; of equal weight, in order of teeth."""
        return tuple(Filling(teeth, 0.0 - key) for key, teeth in self._kept)

    def wants(self, weight: float) -> bool:
        """Tell whether a filling of this weight could be among the best."""
        if len(self._kept) < self._most:
            return True
        return bool(self._kept) and self._key(weight) <= self._kept[-1][0]

    def take(self, cell: Cell) -> None:
        """Keep those fillings of a cell that are among the best."""
        for box in self._boxes(cell):
            for hundredths, teeth in _best_first(box):
                found = (self._key(cell.weight + HUNDREDTH * hundredths), teeth)
                if len(self._kept) >= self._most:
                    if found >= self._kept[-1]:
                        break
                    self._kept.pop()
                insort(self._kept, found)

    @staticmethod
    def _key(weight: float) -> float:
        return -round(weight, ALIKE_DECIMALS) + 0.0

    def _boxes(self, cell: Cell) -> Iterator[_Box]:
        """Give a cell's fillings as boxes without spread, none in two of them.

        A box has the lowest sum and the first tied pair that is at it; where the lowest sum is
        the reference's own, that is enough.
        """
        spread, middle = self._spread, self._spread
        for lowest in range(middle - spread, middle + 1):
            if lowest == middle:
                yield from self._box(cell, [(lowest, lowest + spread + 1)] * len(cell.tied))
                continue
            for at_it in range(len(cell.tied)):
                places = [
                    (lowest + (i < at_it), lowest + (1 if i == at_it else spread + 1))
                    for i in range(len(cell.tied))
                ]
                yield from self._box(cell, places)

    def _box(self, cell: Cell, places: Sequence[tuple[int, int]]) -> Iterator[_Box]:
        """Give the box that takes each tied pair's slots from these places, if it has any."""
        box: _Box = [[]] * self._pairs
        for tied, (first, last) in zip(cell.tied, places, strict=True):
            box[tied.pair] = self._choices(tied, first, last)
            if not box[tied.pair]:
                return
        for loose in cell.loose:
            box[loose.pair] = sorted(loose.choices, key=_order)
        yield box

    def _choices(self, tied: Tied, first: int, last: int) -> list[Choice]:
        found = [
            choice
            for place in range(first, last)
            for choice in slot_choices(tied.slots[place], self._rows, self._penalties[place])
        ]
        found.sort(key=_order)
        return found


def cell_bound(cell: Cell, penalties: Sequence[int]) -> float:
    """Return a weight that no filling of a cell exceeds, without the weight of the cell itself.

    -inf where a pair of it has no choice: it has no filling then.
    """
    loose = sum(max((c[0] for c in pair.choices), default=-inf) for pair in cell.loose)
    tied = sum(
        max(
            (
                slot.best + penalty
                for slot, penalty in zip(pair.slots, penalties, strict=True)
                if slot.number
            ),
            default=-inf,
        )
        for pair in cell.tied
    )
    return HUNDREDTH * (loose + tied)


def _order(choice: Choice) -> tuple[int, int, int]:
    return -choice[0], choice[1], choice[2]


def _best_first(box: _Box) -> Iterator[tuple[int, Teeth]]:
    """Give every filling of a box with its weight in hundredths, best first, then by teeth.

    Each filling has one parent, the one a step back at its last advanced pair, so none comes
    twice; a step never raises the weight, and where it keeps it, it raises the teeth.
    """

    def entry(places: tuple[int, ...], advanced: int) -> tuple[int, Teeth, tuple[int, ...], int]:
        chosen = [own[i] for own, i in zip(box, places, strict=True)]
        weight = sum(c[0] for c in chosen)
        return -weight, tuple((c[1], c[2]) for c in chosen), places, advanced

    waiting = [entry((0,) * len(box), 0)]
    while waiting:
        weight, teeth, places, advanced = heappop(waiting)
        yield -weight, teeth
        for pair in range(advanced, len(box)):
            if places[pair] + 1 < len(box[pair]):
                further = (*places[:pair], places[pair] + 1, *places[pair + 1 :])
                heappush(waiting, entry(further, pair))
