"""The same ratios with the other reading of the shared pair: tied to the sum of the gears, or free.

The answer to what was asked is left to `recover_rank`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from cogtally.gears.errors import UserError
from cogtally.gears.recover.cells import BESIDE_STEPS, Steps
from cogtally.gears.recover.chance import COPIES, Chance, chance
from cogtally.gears.recover.problem import SPREADS, Problem
from cogtally.gears.recover.solutions import counts_by_spread


@dataclass(frozen=True, slots=True)
class Beside:
    """How many solutions there are at each spread with the shared pair `free`, or tied.

    `counts` is None where finding them would take too long; `chance` where all its copies would.
    """

    free: bool
    counts: tuple[int, ...] | None
    chance: Chance | None


def beside(problem: Problem) -> Beside | None:
    """Return the counts with the shared pair read the other way; None where there is none."""
    if not problem.shared:
        return None
    other = replace(problem, spread=SPREADS[-1], free_input=not problem.free_input)
    steps = Steps(BESIDE_STEPS)
    try:
        counts = counts_by_spread(other, steps)
    except UserError:
        return Beside(other.free_input, None, None)
    level = chance(other) if COPIES * steps.done <= BESIDE_STEPS else None
    return Beside(other.free_input, counts, level)
