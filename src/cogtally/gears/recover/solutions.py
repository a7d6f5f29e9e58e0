"""Printed ratios to teeth: how many fillings print as them, and the best of these.

Where fillings are is left to `recover_cells`; what may be said of them, and what to count next, to
`recover_rank` and `recover_advice`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import exp, inf, log

from cogtally.gears.recover.best import Best, Filling, cell_bound
from cogtally.gears.recover.cells import Steps, cells
from cogtally.gears.recover.problem import OVERDRIVE, SPREADS, Problem
from cogtally.gears.recover.slots import (
    Cell,
    cell_number,
    cell_total,
    narrowed,
    off_weights,
    windows,
)
from cogtally.gears.recover.weight import growth

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


def count(problem: Problem) -> int:
    """Return the exact number of fillings; raise UserError where that would take too long."""
    return counts_by_spread(problem)[-1]


def counts_by_spread(problem: Problem, steps: Steps | None = None) -> tuple[int, ...]:
    """Return the exact number of fillings at every spread from 0 to the problem's.

    Raises UserError where that would take more than `steps` allows.
    """
    plans = [windows(problem.spread, k) for k in range(problem.spread + 1)]
    totals = [0] * len(plans)
    for cell in cells(problem, steps):
        for k, plan in enumerate(plans):
            totals[k] += cell_number(cell, plan)
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
    penalties = off_weights(problem)
    discounts = [growth(penalty) for penalty in penalties]
    searches = [_AtSpread(problem, spread, listed) for spread, listed in lists.items()]
    for cell in cells(problem):
        bound = cell.weight + cell_bound(cell, penalties)
        for one in searches:
            one.add(cell, discounts, bound)
    return tuple(one.found() for one in searches)


class _AtSpread:
    """What was found so far of the fillings whose sums are at most `spread` apart."""

    def __init__(self, problem: Problem, spread: int, listed: int) -> None:
        self.reach = problem.spread
        self.spread = spread
        self.plan = windows(problem.spread, spread)
        self.number = 0
        self.total = _LogSum()
        self.best = Best(replace(problem, spread=spread), listed)

    def add(self, cell: Cell, discounts: Sequence[float], bound: float) -> None:
        """Add a cell's fillings; none of them weighs more than `bound`."""
        here = cell_number(cell, self.plan)
        if not here:
            return
        self.number += here
        self.total.add(cell.weight, cell_total(cell, self.plan, discounts))
        if self.best.wants(bound):
            self.best.take(narrowed(cell, self.reach - self.spread))

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
