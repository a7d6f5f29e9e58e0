"""Printed ratios to teeth: how many fillings print as them, and the best of them.

Where fillings are is left to `cells`; what may be said of them, and what to count next, to
`rank`.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from heapq import heappop, heappush
from math import exp, inf, log

from cogtally.gears.recover import cells
from cogtally.gears.recover.cells import Cell, Choice, Steps
from cogtally.gears.recover.problem import SPREADS, Problem
from cogtally.gears.trains import OVERDRIVE

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
        self._penalties = cells.off_weights(problem)
        self._rows = cells.rows_of(problem)
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
                found = (self._key(cell.weight + cells.HUNDREDTH * hundredths), teeth)
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

    def _choices(self, tied: cells.Tied, first: int, last: int) -> list[Choice]:
        found = [
            choice
            for place in range(first, last)
            for choice in cells.slot_choices(tied.slots[place], self._rows, self._penalties[place])
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
    return cells.HUNDREDTH * (loose + tied)


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


#: Fillings that a list shows; how many there are in all is counted apart.
LISTED = 20


@dataclass(frozen=True, slots=True)
class Found:
    """All fillings of a problem: their exact number, and the best of them, best first.

    Where nothing is ranked the list is in order of teeth. `log_total`: logarithm of the sum of
    exp(weight) over all fillings, listed or not; -inf where there are none.
    """

    count: int
    best: tuple[Filling, ...]
    log_total: float

    @property
    def whole(self) -> bool:
        """Whether the list holds every filling."""
        return len(self.best) == self.count


def counts_by_spread(problem: Problem, steps: Steps | None = None) -> tuple[int, ...]:
    """Return the exact number of fillings at every spread from 0 to the problem's.

    Raises UserError where that would take more than `steps` allows.
    """
    plans = [cells.windows(problem.spread, k) for k in range(problem.spread + 1)]
    totals = [0] * len(plans)
    for cell in cells.cells(problem, steps):
        for k, plan in enumerate(plans):
            totals[k] += cells.cell_number(cell, plan)
    return tuple(totals)


def search(problem: Problem, listed: int = LISTED) -> Found:
    """Count all fillings, weigh them together and list the best.

    Raises UserError where that would take too long.
    """
    (found,) = _search(problem, {problem.spread: listed})
    return found


def search_by_spread(problem: Problem, listed: int = LISTED) -> tuple[Found, ...]:
    """Return what a search at each spread finds, from one search at the widest.

    At another spread than the problem's own the list has the first filling only. Raises UserError
    where that would take too long.
    """
    lists = {spread: listed if spread == problem.spread else 1 for spread in SPREADS}
    return _search(replace(problem, spread=SPREADS[-1]), lists)


def _search(problem: Problem, lists: Mapping[int, int]) -> tuple[Found, ...]:
    """Search at the problem's spread; find and list so many at each of these, none wider."""
    penalties = cells.off_weights(problem)
    discounts = [cells.growth(penalty) for penalty in penalties]
    searches = [_AtSpread(problem, spread, listed) for spread, listed in lists.items()]
    for cell in cells.cells(problem):
        bound = cell.weight + cell_bound(cell, penalties)
        for one in searches:
            one.add(cell, discounts, bound)
    return tuple(one.found() for one in searches)


class _AtSpread:
    """What was found so far of the fillings whose sums are at most `spread` apart."""

    def __init__(self, problem: Problem, spread: int, listed: int) -> None:
        self.reach = problem.spread
        self.spread = spread
        self.plan = cells.windows(problem.spread, spread)
        self.number = 0
        self.total = _LogSum()
        self.best = Best(replace(problem, spread=spread), listed)

    def add(self, cell: Cell, discounts: Sequence[float], bound: float) -> None:
        """Add a cell's fillings; none of them weighs more than `bound`."""
        here = cells.cell_number(cell, self.plan)
        if not here:
            return
        self.number += here
        self.total.add(cell.weight, cells.cell_total(cell, self.plan, discounts))
        if self.best.wants(bound):
            self.best.take(cells.narrowed(cell, self.reach - self.spread))

    def found(self) -> Found:
        return Found(self.number, self.best.fillings(), self.total.value)


def ratios(problem: Problem, teeth: Sequence[tuple[int, int]]) -> tuple[Fraction, ...]:
    """Return the exact ratio of each printed gear of a filling, in the order of the targets."""
    shared = Fraction(1)
    gears = list(teeth)
    if problem.shared:
        driver, driven = gears.pop(0)
        shared = Fraction(driven, driver)
    if problem.layout == OVERDRIVE:
        return tuple(Fraction(annulus, annulus + sun) for sun, annulus in gears)
    return tuple(shared * Fraction(driven, driver) for driver, driven in gears)


class _LogSum:
    """Logarithm of a sum of which only logarithms fit into a float."""

    def __init__(self) -> None:
        self.top = -inf
        self.sum = 0.0

    def add(self, weight: float, factor: float) -> None:
        """Add factor·exp(weight)."""
        if factor <= 0:
            return
        if weight > self.top:
            self.sum = self.sum * exp(self.top - weight) if self.sum else 0.0
            self.top = weight
        self.sum += factor * exp(weight - self.top)

    @property
    def value(self) -> float:
        return self.top + log(self.sum) if self.sum else -inf
