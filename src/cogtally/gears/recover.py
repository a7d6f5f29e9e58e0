"""Printed ratios to teeth: how many fillings print as them, and the best of these.

Where fillings are is left to `recover_cells`; what may be said of them, and what to count next, to
`recover_rank` and `recover_advice`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import exp, inf, log

from cogtally.gears.recover_best import Best, Filling, cell_bound
from cogtally.gears.recover_cells import Steps, cells
from cogtally.gears.recover_problem import LAYSHAFT, OVERDRIVE, Problem
from cogtally.gears.recover_slots import cell_number, cell_total, off_weights, windows
from cogtally.gears.recover_weight import growth

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
    plan = windows(problem.spread, problem.spread)
    penalties = off_weights(problem)
    discounts = [growth(penalty) for penalty in penalties]
    number = 0
    total = _LogSum()
    best = Best(problem, listed)
    for cell in cells(problem):
        here = cell_number(cell, plan)
        if here:
            number += here
            total.add(cell.weight, cell_total(cell, plan, discounts))
            if best.wants(cell.weight + cell_bound(cell, penalties)):
                best.take(cell)
    return Found(number, best.fillings(), total.value)


def ratios(problem: Problem, teeth: Sequence[tuple[int, int]]) -> tuple[Fraction, ...]:
    """Return the exact ratio of each printed gear of a filling, in the order of the targets."""
    shared = Fraction(1)
    gears = list(teeth)
    if problem.layout == LAYSHAFT:
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
