"""Pairs whose teeth no sum ties: a reverse through an idler, an axle, an overdrive.

Pairs on the same two shafts are left to `recover_slots` and `recover_cells`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from cogtally.gears.printed import Interval
from cogtally.gears.recover.problem import AXLE, Problem, Span
from cogtally.gears.recover.slots import Cell, Choice, Loose
from cogtally.gears.recover.weight import reverse_weight

#: At one pitch two wheels are clear of each other where their teeth sum to this much less than
#: those of a pair in mesh: a tooth's height is a module above each reference circle, half a tooth.
REVERSE_CLEARANCE = 4
#: To find the driven wheels of one driver takes as long as so many steps of a search.
STEPS_A_DRIVER = 4


class Reverse:
    """The end wheels of a reverse through an idler: a ratio, and that they clear each other."""

    def __init__(self, problem: Problem, worked: Callable[[int], None]) -> None:
        """`worked` is told the work done, a step a division."""
        self.target = problem.reverse
        self.worked = worked
        self.weigh = reverse_weight if problem.ranked else lambda driver, driven: 0
        self.pair = len(problem.pairs) - 1
        if self.target:
            self.driver = problem.spans[f"{self.target.gear}.driver"]
            self.driven = problem.spans[f"{self.target.gear}.driven"]
        self.last: tuple[int, int] = (0, 0)
        self.choices: tuple[Choice, ...] = ()

    def loose(self, p: int, q: int, total: int) -> tuple[Loose, ...] | None:
        """Return the choices where the other pairs sum to `total`: () for no reverse, or None."""
        if self.target is None:
            return ()
        if self.last != (p, q):
            self.last = (p, q)
            self.choices = tuple(self._all(self.target.within, p, q))
            self.worked(STEPS_A_DRIVER * (self.driver.high - self.driver.low + 1))
        self.worked(len(self.choices))
        fit = tuple(c for c in self.choices if c[1] + c[2] + REVERSE_CLEARANCE <= total)
        return (Loose(self.pair, fit),) if fit else None

    def _all(self, within: Interval, p: int, q: int) -> Iterator[Choice]:
        for driver in range(self.driver.low, self.driver.high + 1):
            for driven in _driven(within, driver * p, q, self.driven):
                yield self.weigh(driver, driven), driver, driven


def _driven(within: Interval, driver: int, factor: int, span: Span) -> Sequence[int]:
    """Return the driven wheels b in `span` for which factor·b/driver falls in an interval."""
    den = within.den * factor
    low = -(-within.low * driver // den)
    high = (within.high * driver - (not within.high_in)) // den
    return range(max(low, span.low), min(high, span.high) + 1)


def one_pair(problem: Problem) -> Cell:
    """An axle's pinion and crown wheel, or an overdrive's sun and annulus."""
    (target,) = problem.forward
    drivers = problem.spans[f"{target.gear}.driver"]
    driven = problem.spans[f"{target.gear}.driven"]
    choices: list[Choice] = []
    for driver in range(drivers.low, drivers.high + 1):
        found = (
            _driven(target.within, driver, 1, driven)
            if problem.layout == AXLE
            else _annuli(target.within, driver, problem.planets, driven)
        )
        choices += [(0, driver, b) for b in found]
    return Cell(0.0, (Loose(0, tuple(choices)),), ())


def _annuli(within: Interval, sun: int, planets: int, span: Span) -> Sequence[int]:
    """Return the annuli A for which A/(A + S) falls in an interval and the planets go in."""
    return [
        annulus
        for annulus in range(max(span.low, sun + 1), span.high + 1)
        if (annulus - sun) % 2 == 0
        and (annulus + sun) % planets == 0
        and within.low * (annulus + sun) <= within.den * annulus
        and within.den * annulus <= within.high * (annulus + sun) - (not within.high_in)
    ]
