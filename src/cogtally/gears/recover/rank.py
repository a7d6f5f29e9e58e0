"""What a recovery may say: the list by weight, its twins, what it proves beside chance, and all
spreads side by side.

The search is left to `solutions`, the next count to `advice`; how it looks is left to whoever
shows it.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from math import exp

from cogtally.gears.errors import UserError
from cogtally.gears.printed import exactly, interval
from cogtally.gears.recover.advice import Advice, advise
from cogtally.gears.recover.cells import BESIDE_STEPS, Steps
from cogtally.gears.recover.problem import OF_ONE_PAIR, SPREADS, Problem, Target
from cogtally.gears.recover.solutions import (
    Filling,
    Found,
    counts_by_spread,
    ratios,
    search,
    search_by_spread,
)
from cogtally.gears.trains import wheel_names

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


#: Nothing is called likeliest that has less of the total weight.
LIKELIEST = 0.8


@dataclass(frozen=True, slots=True)
class Solution:
    """One filling of teeth that prints as the ratios.

    `place`: 1, 2, … in the list. `teeth`: by wheel. `ratios`: exact, by gear. `sums`: of the
    pairs that share two shafts. `weight`: a natural logarithm, and `share` its part of the total
    weight of all solutions, which is not a probability; both None where nothing is ranked.
    """

    place: int
    teeth: Mapping[str, int]
    ratios: Mapping[str, Fraction]
    sums: Mapping[str, int]
    weight: float | None
    share: float | None


@dataclass(frozen=True, slots=True)
class Twins:
    """Solutions with exactly the same ratios: only counting can part them.

    `places`: those in the list; `in_all`: how many there are, listed or not; `share`: of the
    total weight, all of them together; None where nothing is ranked.
    """

    ratios: Mapping[str, Fraction]
    places: tuple[int, ...]
    in_all: int
    share: float | None


@dataclass(frozen=True, slots=True)
class SpreadRow:
    """The answer at one spread: how many solutions, how many by chance, and the first of them."""

    spread: int
    count: int
    by_chance: float | None
    first: Solution | None


@dataclass(frozen=True, slots=True)
class Recovery:
    """All that a recovery has to say.

    `count`: of all solutions, exact; `solutions`: the best of them, at most twenty, in order of
    teeth where nothing is ranked. `twins`: the listed ones grouped, in order of their first.
    `likeliest`: the first solution if it has enough of the weight to be called so. `chance`: None
    where it would take too long. `spreads`: side by side, empty for one pair alone. `advice`: what
    to count next, None where there is nothing to count.
    """

    problem: Problem
    count: int
    solutions: tuple[Solution, ...]
    twins: tuple[Twins, ...]
    likeliest: Solution | None
    chance: Chance | None
    spreads: tuple[SpreadRow, ...]
    advice: Advice | None

    @property
    def under_determined(self) -> bool:
        """Whether too few gears were printed for a ranking: then the list is only a list."""
        return not self.problem.ranked

    @property
    def whole(self) -> bool:
        """Whether the list holds every solution."""
        return len(self.solutions) == self.count

    @property
    def by_chance(self) -> float | None:
        """How many solutions made-up digits have on average at the spread asked for."""
        return self.chance.by_spread[self.problem.spread] if self.chance else None


def recover(problem: Problem) -> Recovery:
    """Find the teeth of printed ratios and say all that goes with them.

    Raises UserError where the search would take too long; never a part of a list as the whole.
    """
    by_spread = () if problem.layout in OF_ONE_PAIR else search_by_spread(problem)
    found = by_spread[problem.spread] if by_spread else search(problem)
    level = chance(problem)
    solutions = _solutions(problem, found)
    first = solutions[0] if solutions else None
    sure = first is not None and first.share is not None and first.share >= LIKELIEST
    return Recovery(
        problem,
        found.count,
        solutions,
        _twins(problem, found, solutions),
        first if sure else None,
        level,
        _spreads(problem, by_spread, level),
        advise(problem, found.log_total) if found.count else None,
    )


def _solutions(problem: Problem, found: Found) -> tuple[Solution, ...]:
    return tuple(_solution(problem, found, i, f) for i, f in enumerate(found.best, start=1))


def _solution(problem: Problem, found: Found, place: int, filling: Filling) -> Solution:
    by_pair = dict(zip(problem.pairs, filling.teeth, strict=True))
    tied = [t.gear for t in problem.forward] if problem.layout not in OF_ONE_PAIR else []
    if problem.shared:
        tied.insert(0, problem.shared)
    exact = ratios(problem, filling.teeth)
    return Solution(
        place,
        {
            wheel: teeth
            for pair, own in by_pair.items()
            for wheel, teeth in zip(wheel_names(pair, 2), own, strict=True)
        },
        {target.gear: ratio for target, ratio in zip(problem.targets, exact, strict=True)},
        {pair: sum(by_pair[pair]) for pair in tied},
        filling.weight if problem.ranked else None,
        exp(filling.weight - found.log_total) if problem.ranked else None,
    )


def _twins(problem: Problem, found: Found, solutions: tuple[Solution, ...]) -> tuple[Twins, ...]:
    """Group the listed solutions; where the list is not whole, count each group's others too."""
    groups: dict[tuple[Fraction, ...], list[Solution]] = {}
    for solution in solutions:
        groups.setdefault(tuple(solution.ratios.values()), []).append(solution)
    twins = []
    for key, group in groups.items():
        in_all = len(group)
        share = sum(s.share for s in group if s.share is not None)
        if not found.whole:
            alike = search(_exact(problem, key), listed=0)
            in_all, share = alike.count, exp(alike.log_total - found.log_total)
        twins.append(
            Twins(
                group[0].ratios,
                tuple(s.place for s in group),
                in_all,
                share if problem.ranked else None,
            )
        )
    return tuple(twins)


def _exact(problem: Problem, wanted: tuple[Fraction, ...]) -> Problem:
    """Return the problem whose solutions have exactly these ratios."""
    return problem.with_targets(
        [replace(t, within=exactly(r)) for t, r in zip(problem.targets, wanted, strict=True)]
    )


def _spreads(
    problem: Problem, by_spread: tuple[Found, ...], level: Chance | None
) -> tuple[SpreadRow, ...]:
    rows = []
    for spread, found in enumerate(by_spread):
        own = replace(problem, spread=spread)
        first = _solution(own, found, 1, found.best[0]) if found.best else None
        by_chance = level.by_spread[spread] if level else None
        rows.append(SpreadRow(spread, found.count, by_chance, first))
    return tuple(rows)


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
