"""What a recovery may say: the list by weight, its twins, what it proves, what to count next.

The search is left to `recover`, the chance level to `recover_chance`, the next count to
`recover_advice`; how it looks is left to whoever shows it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from math import exp

from cogtally.gears.printed import exactly
from cogtally.gears.recover.advice import Advice, advise
from cogtally.gears.recover.best import Filling
from cogtally.gears.recover.chance import Chance, chance
from cogtally.gears.recover.problem import OF_ONE_PAIR, Problem
from cogtally.gears.recover.solutions import Found, ratios, search, search_by_spread
from cogtally.gears.trains import wheel_names

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
