"""Fillings of one pair at one tooth sum, and the cells that they make up: the shapes of a search.

Which cells a problem has is left to `recover_cells`, pairs that no sum ties to `recover_alone`.

For a filling of the shared pair (the input pair, of a sleeve box the output pair: a product of
ratios has no order), a gear and a tooth sum the driver lies between two integer divisions, so no
wheel is ever tried out: (s - a)/a within [low, high]/(den·R), the input pair p/q and R = q/p, is
den·q·s/(high·p + den·q) <= a <= den·q·s/(low·p + den·q).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from math import prod

from cogtally.gears.recover.problem import Problem, Target
from cogtally.gears.recover.weight import (
    OFF_BY_ONE,
    USUAL_INPUT_RATIO,
    flat_row,
    growth,
    row,
)

Rows = Callable[[int], tuple[tuple[int, ...], tuple[float, ...]]]
#: Weight in hundredths, driver, driven.
Choice = tuple[int, int, int]
#: Windows of sums: the first place, the place behind the last, 1 to add or -1 to take away.
Plan = Sequence[tuple[int, int, int]]


@dataclass(frozen=True, slots=True)
class Slot:
    """The fillings of one pair at one tooth sum: drivers `low`…`high`, none where high < low.

    `growth`: sum of the weights' factors; `best`: the highest weight in hundredths. Without what
    the sum is off the reference pair's.
    """

    total: int
    low: int
    high: int
    growth: float
    best: int

    @property
    def number(self) -> int:
        """How many fillings there are."""
        return self.high - self.low + 1


EMPTY = Slot(0, 1, 0, 0.0, 0)


@dataclass(frozen=True, slots=True)
class Loose:
    """The fillings of one pair that no spread ties: they stand in `choices`, in no order."""

    pair: int
    choices: tuple[Choice, ...]


@dataclass(frozen=True, slots=True)
class Tied:
    """The fillings of one pair by how far its sum is off the reference's: -spread … spread."""

    pair: int
    slots: tuple[Slot, ...]


@dataclass(frozen=True, slots=True)
class Cell:
    """The fillings at one input ratio and one tooth sum of the reference pair.

    Every choice of each loose pair goes with every choice of the others, and with one filling of
    each tied pair as long as all sums, the reference's too, keep the spread. `weight`: a natural
    logarithm, the part of the weight that is the same for all of them.
    """

    weight: float
    loose: tuple[Loose, ...]
    tied: tuple[Tied, ...]


def narrowed(cell: Cell, by: int) -> Cell:
    """Return a cell with the outermost `by` sums left out at either end of each tied pair."""
    if not by:
        return cell
    tied = tuple(Tied(pair.pair, pair.slots[by:-by]) for pair in cell.tied)
    return Cell(cell.weight, cell.loose, tied)


class Drivers:
    """Where the driver of one gear can be, given the input pair and a tooth sum."""

    def __init__(self, problem: Problem, target: Target) -> None:
        self.pair = problem.pairs.index(target.gear)
        self.within = target.within
        self.driver = problem.spans[f"{target.gear}.driver"]
        self.driven = problem.spans[f"{target.gear}.driven"]
        self.rows: Rows = row if problem.ranked else flat_row
        self.sums = range(
            self.driver.low + self.driven.low, self.driver.high + self.driven.high + 1
        )
        usual = float(target.printed.value) / USUAL_INPUT_RATIO
        #: About how many drivers there are at one sum, up to a factor: a gear with few of them
        #: is looked at first, since most input pairs already fail at it.
        self.room = usual / (1 + usual) ** 2 * (self.within.high - self.within.low)
        self.room /= max(1, self.within.low)

    def slots(self, p: int, q: int, first: int, last: int) -> tuple[Slot, ...] | None:
        """Return the slots of sums `first` to `last`, or None where there is no driver in any."""
        within = self.within
        n = within.den * q
        x, y = within.high * p + n, within.low * p + n
        # Where the upper end of the interval is out, a whole n·s/x is out too.
        round_up = x - 1 if within.high_in else x
        found = []
        some = False
        for total in range(first, last + 1):
            low = (n * total + round_up) // x
            high = n * total // y
            slot = self.slot(total, low, high) if low <= high else EMPTY
            some = some or slot is not EMPTY
            found.append(slot)
        return tuple(found) if some else None

    def slot(self, total: int, low: int, high: int) -> Slot:
        """Return the slot of one sum, the drivers `low` to `high` cut to the wheels' ranges."""
        low = max(low, self.driver.low, total - self.driven.high)
        high = min(high, self.driver.high, total - self.driven.low)
        if low > high:
            return EMPTY
        weights, growths = self.rows(total)
        if low == high:
            return Slot(total, low, high, growths[low], weights[low])
        return Slot(total, low, high, sum(growths[low : high + 1]), max(weights[low : high + 1]))


def slot_choices(slot: Slot, rows: Rows, penalty: int = 0) -> Iterator[Choice]:
    """Give a slot's fillings one by one, each with the weight of its sum added."""
    weights = rows(slot.total)[0]
    for driver in range(slot.low, slot.high + 1):
        yield weights[driver] + penalty, driver, slot.total - driver


def rows_of(problem: Problem) -> Rows:
    """Return the rows of weights that hold for a problem: flat where nothing is ranked."""
    return row if problem.ranked else flat_row


def off_weights(problem: Problem) -> tuple[int, ...]:
    """Return the weight, in hundredths, of being off the reference's sum by -spread … spread."""
    each = OFF_BY_ONE if problem.ranked else 0
    return tuple(each * abs(off) for off in range(-problem.spread, problem.spread + 1))


def windows(reach: int, spread: int) -> Plan:
    """Return the windows of sums that together count what keeps `spread`: (first, last, sign).

    The fillings whose sums span at most k teeth are those within some window of k + 1 sums about
    the reference's, added over the windows, less those within a window of k: a filling that spans
    w + 1 sums lies in k + 1 - w of the first and in k - w of the second.

    Places are those of slots from -`reach` to `reach`; `last` itself is out. Every window holds
    place `reach`, the reference's own sum.
    """
    wide = [(i, i + spread + 1, 1) for i in range(reach - spread, reach + 1)]
    narrow = [(i, i + spread, -1) for i in range(reach - spread + 1, reach + 1)]
    return (*wide, *narrow)


def cell_number(cell: Cell, plan: Plan) -> int:
    """Return how many fillings of a cell a plan of windows counts."""
    numbers = [[slot.number for slot in tied.slots] for tied in cell.tied]
    alone = prod(len(loose.choices) for loose in cell.loose)
    return alone * sum(
        sign * prod(sum(own[first:last]) for own in numbers) for first, last, sign in plan
    )


def cell_total(cell: Cell, plan: Plan, discounts: Sequence[float]) -> float:
    """Return the sum of exp(weight) over a cell, without the weight that is the cell's own.

    The windows overlap at most threefold, so taking away the narrow ones costs no accuracy.
    """
    growths = [
        [slot.growth * d for slot, d in zip(tied.slots, discounts, strict=True)]
        for tied in cell.tied
    ]
    alone = prod(sum(growth(c[0]) for c in loose.choices) for loose in cell.loose)
    return alone * sum(
        sign * prod(sum(own[first:last]) for own in growths) for first, last, sign in plan
    )
