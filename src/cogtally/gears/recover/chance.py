"""How many fillings made-up digits have: what finding some for printed ratios proves.

The count for the printed ratios themselves is left to `recover`.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, replace

from cogtally.gears.errors import UserError
from cogtally.gears.printed import interval
from cogtally.gears.recover.cells import BESIDE_STEPS, Steps
from cogtally.gears.recover.problem import OF_ONE_PAIR, SPREADS, Problem, Target
from cogtally.gears.recover.solutions import counts_by_spread

COPIES = 20
#: Fixed, so that the same question always has the same answer.
SEED = 1
#: A ratio is shifted by at most this share of itself, or by so many units of its last place, where
#: that is more: as many fillings are about there as at the ratio itself.
MOST_SHIFT = 0.03
MOST_SHIFT_UNITS = 4


@dataclass(frozen=True, slots=True)
class Chance:
    """The chance level: `copies` with every ratio shifted a little had so many fillings on average.

    They are fewer than `COPIES` where more would have taken too long. `by_spread` gives the average
    number at each spread 0, 1, 2, whatever spread was asked; where no spread is (one pair alone)
    all are the same.
    """

    copies: int
    by_spread: tuple[float, ...]


def chance(problem: Problem) -> Chance | None:
    """Return the chance level of a problem, or None where even one copy would take too long.

    The layout, the ranges and the counted wheels stay; deterministic.
    """
    widest = problem if problem.layout in OF_ONE_PAIR else replace(problem, spread=SPREADS[-1])
    steps = Steps(BESIDE_STEPS)
    counts: list[tuple[int, ...]] = []
    try:
        for copy in shifted_copies(widest, COPIES):
            found = counts_by_spread(copy, steps)
            counts.append(found if len(found) == len(SPREADS) else found[-1:] * len(SPREADS))
    except UserError:
        if not counts:
            return None
    averages = tuple(sum(row) / len(counts) for row in zip(*counts, strict=True))
    return Chance(len(counts), averages)


def shifted_copies(problem: Problem, copies: int) -> Iterator[Problem]:
    """Give copies of a problem with every ratio shifted by itself, clear of its own interval."""
    draw = random.Random(SEED)
    for _ in range(copies):
        yield problem.with_targets([_shifted(t, problem.reading, draw) for t in problem.targets])


def _shifted(target: Target, reading: str, draw: random.Random) -> Target:
    units = target.printed.units
    # An interval is so many half units wide; one unit more, and the two do not meet.
    least = (target.within.high - target.within.low) // 2 + 1
    most = max(least, MOST_SHIFT_UNITS, round(MOST_SHIFT * units))
    shift = draw.randint(least, most) * draw.choice((-1, 1))
    moved = target.printed.shifted(shift if units + shift > 0 else -shift)
    return Target(target.gear, moved, interval(moved, reading))
