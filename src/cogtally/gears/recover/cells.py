"""Where the teeth of a printed box can be: all fillings, in cells small enough to count by hand.

What a cell is made of stands in `recover_slots`; what is counted, weighed or listed in it is left
to `recover` and `recover_advice`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import gcd

from cogtally.gears.errors import UserError
from cogtally.gears.recover.alone import Reverse, one_pair
from cogtally.gears.recover.problem import OF_ONE_PAIR, Problem
from cogtally.gears.recover.slots import (
    EMPTY,
    Cell,
    Choice,
    Drivers,
    Loose,
    Slot,
    Tied,
    slot_choices,
)
from cogtally.gears.recover.weight import input_ratio_weight, pair_weight, sum_weight
from cogtally.gears.trains import ROLES_OF_TWO

#: Work done in one search before it is given up, in steps of about a quarter of a microsecond: a
#: few seconds. What is kept meanwhile is one input ratio's worth, a few megabytes at most.
MOST_STEPS = 16_000_000
#: So long each may take of what is told beside the answer and can be left out.
BESIDE_STEPS = 8_000_000
#: What takes as long as so many steps: a pair looked at, each sum of one that has a driver, a cell,
#: and each pair of it. A sum without a driver is one step.
STEPS_A_PAIR, STEPS_A_FOUND, STEPS_A_CELL, STEPS_A_TIED = 4, 5, 30, 12


class Steps:
    """The work done so far, and the end of it: one search, or several that share a limit."""

    def __init__(self, most: int = MOST_STEPS) -> None:
        self.done = 0
        self.most = most

    def add(self, steps: int) -> None:
        """Note work done; raise UserError where it becomes too much."""
        self.done += steps
        if self.done > self.most:
            raise UserError(
                "so many teeth are possible that the search was given up, with no answer",
                mend="narrow the ranges of teeth, write more decimals or count a wheel",
            )


def cells(problem: Problem, steps: Steps | None = None) -> Iterator[Cell]:
    """Give every cell that has a filling for each pair, in a fixed order, none twice.

    Raises UserError, before it ends, where the search would take more than `steps` allows.
    """
    steps = steps or Steps()
    if problem.layout in OF_ONE_PAIR:
        return iter((one_pair(problem),))
    if problem.shared and not problem.free_input:
        return _tied_to_input(problem, steps)
    return _tied_to_gear(problem, steps)


def _tied_to_input(problem: Problem, steps: Steps) -> Iterator[Cell]:
    """A box whose shared pair has the sum of the gears: a cell a filling of that pair."""
    gears = sorted((Drivers(problem, t) for t in problem.forward), key=lambda g: g.room)
    backwards = Reverse(problem, steps.add)
    spread = problem.spread
    width = 2 * spread + 1
    for p, q in _inputs(problem):
        total = p + q
        if problem.sums and not problem.sums.low <= total <= problem.sums.high:
            continue
        tied = []
        for gear in gears:
            steps.add(STEPS_A_PAIR + width)
            slots = gear.slots(p, q, total - spread, total + spread)
            if slots is None:
                break
            steps.add(STEPS_A_FOUND * width)
            tied.append(Tied(gear.pair, slots))
        else:
            steps.add(STEPS_A_CELL + STEPS_A_TIED * len(tied))
            behind = backwards.loose(p, q, total)
            if behind is None:
                continue
            weight, own = 0.0, 0
            if problem.ranked:
                weight, own = sum_weight(total) + input_ratio_weight(p, q), pair_weight(p, q)
            yield Cell(weight, (Loose(0, ((own, p, q),)), *behind), tuple(tied))


def _tied_to_gear(problem: Problem, steps: Steps) -> Iterator[Cell]:
    """No shared pair, or a free one: a cell a ratio of that pair and a sum of the reference."""
    (reference,) = (Drivers(problem, t) for t in problem.forward if t.gear == problem.reference)
    others = sorted(
        (Drivers(problem, t) for t in problem.forward if t.gear != problem.reference),
        key=lambda g: g.room,
    )
    backwards = Reverse(problem, steps.add)
    width = 2 * problem.spread + 1
    sums = reference.sums
    if problem.sums:
        sums = range(max(sums.start, problem.sums.low), min(sums.stop, problem.sums.high + 1))
    for p, q, inputs in _input_ratios(problem):
        steps.add(STEPS_A_PAIR + len(sums))
        first = [s for s in reference.slots(p, q, sums.start, sums.stop - 1) or () if s.number]
        if not first:
            continue
        from_sum, to_sum = first[0].total - problem.spread, first[-1].total + problem.spread
        found = []
        for gear in others:
            steps.add(STEPS_A_PAIR + to_sum - from_sum)
            slots = gear.slots(p, q, from_sum, to_sum)
            if slots is None:
                break
            found.append((gear.pair, slots))
        else:
            for own in first:
                # Its own slots are found anew for each sum about which they lie.
                steps.add(STEPS_A_CELL + (STEPS_A_TIED + STEPS_A_FOUND) * len(found))
                behind = backwards.loose(p, q, own.total)
                place = own.total - problem.spread - from_sum
                tied = tuple(Tied(pair, slots[place : place + width]) for pair, slots in found)
                if behind is None or any(_all_empty(gear.slots) for gear in tied):
                    continue
                weight = 0.0
                if problem.ranked:
                    weight = sum_weight(own.total) + (input_ratio_weight(p, q) if inputs else 0.0)
                choices = tuple(slot_choices(own, reference.rows))
                steps.add(len(choices))
                yield Cell(weight, (*inputs, Loose(reference.pair, choices), *behind), tied)


def _all_empty(slots: Sequence[Slot]) -> bool:
    return all(slot is EMPTY for slot in slots)


def _inputs(problem: Problem) -> Iterator[tuple[int, int]]:
    driver, driven = (problem.spans[f"{problem.shared}.{end}"] for end in ROLES_OF_TWO)
    for p in range(driver.low, driver.high + 1):
        for q in range(driven.low, driven.high + 1):
            yield p, q


def _input_ratios(problem: Problem) -> Iterator[tuple[int, int, tuple[Loose, ...]]]:
    """Give each ratio of the shared pair once, in lowest terms, with the fillings that have it."""
    if not problem.shared:
        yield 1, 1, ()
        return
    by_ratio: dict[tuple[int, int], list[Choice]] = {}
    for p, q in _inputs(problem):
        common = gcd(p, q)
        weight = pair_weight(p, q) if problem.ranked else 0
        by_ratio.setdefault((p // common, q // common), []).append((weight, p, q))
    for (p, q), choices in by_ratio.items():
        yield p, q, (Loose(0, tuple(choices)),)
