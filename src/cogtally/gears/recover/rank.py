"""What a recovery may say: the list by weight, its twins, what it proves beside chance, all spreads
side by side, and which wheel to count next.

The search is left to `solutions`, how it looks to whoever shows it.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import exp, log2, prod

from cogtally.gears.errors import UserError
from cogtally.gears.printed import exactly, interval
from cogtally.gears.recover import cells
from cogtally.gears.recover.cells import BESIDE_STEPS, Cell, Steps
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

#: For each wheel, the share of the total weight that each number of its teeth has.
Marginals = Mapping[str, Mapping[int, float]]
#: A second wheel is given up early at a pace so many times too slow for all that is to be done.
TOO_SLOW = 2
#: Bits that agree to so many decimals are alike.
ALIKE_DECIMALS = 9


@dataclass(frozen=True, slots=True)
class Worth:
    """What a count of a wheel is expected to tell, in bits: the entropy of its marginal."""

    wheel: str
    bits: float


@dataclass(frozen=True, slots=True)
class Check:
    """A second wheel: the `bits` that it tells beyond the first, on average.

    `noticed`: the probability that a first count wrong by one tooth, either way alike, then fits
    no filling together with a right count of this wheel.
    """

    wheel: str
    bits: float
    noticed: float


@dataclass(frozen=True, slots=True)
class Advice:
    """What to count next: `worths` of all wheels not counted yet, the best first, and a check.

    `check` is None where no second wheel is left, or where finding it would take too long.
    """

    worths: tuple[Worth, ...]
    check: Check | None

    @property
    def first(self) -> Worth:
        """The wheel to count first."""
        return self.worths[0]


def advise(problem: Problem, log_total: float | None = None) -> Advice | None:
    """Return what to count next, or None where there is no filling or no wheel left to count.

    `log_total` is that of the problem's `Found`, where it is at hand. Raises UserError where the
    search itself takes too long.
    """
    if log_total is None:
        log_total = search(problem).log_total
    left = [wheel for wheel in problem.wheels if wheel not in problem.counted]
    shares = marginals(problem, log_total)
    if not left or not shares[left[0]]:
        return None
    order = {wheel: i for i, wheel in enumerate(left)}
    worths = sorted(
        (Worth(wheel, entropy(shares[wheel])) for wheel in left),
        key=lambda w: (-round(w.bits, ALIKE_DECIMALS), order[w.wheel]),
    )
    check = None
    if len(left) > 1:
        first = worths[0].wheel
        try:
            check = _check(problem, log_total, first, shares[first], left)
        except UserError:
            check = None
    return Advice(tuple(worths), check)


def entropy(shares: Mapping[int, float]) -> float:
    """Return the entropy in bits of shares, which need not add up to one."""
    total = sum(shares.values())
    return 0.0 - sum(p / total * log2(p / total) for p in shares.values() if p > 0)


def marginals(problem: Problem, log_total: float, steps: Steps | None = None) -> Marginals:
    """Return the share of the weight exp(`log_total`) that each number of teeth of a wheel has.

    Exact: every filling counts, listed or not. With the problem's own total the shares of a wheel
    add up to 1. Raises UserError where that would take more than `steps` allows.
    """
    sums = _Sums(problem)
    for cell in cells.cells(problem, steps):
        sums.add(cell, exp(cell.weight - log_total))
    return sums.by_wheel()


class _Sums:
    """Sums of exp(weight), pair by pair, by the teeth of the pair."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.plan: cells.Plan = cells.windows(problem.spread, problem.spread)
        self.discounts = [cells.growth(penalty) for penalty in cells.off_weights(problem)]
        self.rows = cells.rows_of(problem)
        self.pairs: list[dict[tuple[int, int], float]] = [{} for _ in problem.pairs]

    def add(self, cell: Cell, scale: float) -> None:
        """Add a cell, each filling's factor times `scale`."""
        alone = [sum(cells.growth(c[0]) for c in loose.choices) for loose in cell.loose]
        together = cells.window_sums(cell, self.plan, self.discounts)
        signs = [sign for _, _, sign in self.plan]
        tied = sum(s * prod(row) for s, row in zip(signs, together, strict=True))
        if tied <= 0:
            return
        for i, loose in enumerate(cell.loose):
            rest = scale * tied * prod(alone[:i]) * prod(alone[i + 1 :])
            found = self.pairs[loose.pair]
            for weight, *teeth in loose.choices:
                key = (teeth[0], teeth[1])
                found[key] = found.get(key, 0.0) + rest * cells.growth(weight)
        scale *= prod(alone)
        for i, pair in enumerate(cell.tied):
            others = [
                s * prod(row[:i]) * prod(row[i + 1 :])
                for s, row in zip(signs, together, strict=True)
            ]
            found = self.pairs[pair.pair]
            for place, slot in enumerate(pair.slots):
                if not slot.number:
                    continue
                rest = sum(
                    other
                    for other, (first, last, _) in zip(others, self.plan, strict=True)
                    if first <= place < last
                )
                rest *= scale * self.discounts[place]
                if rest <= 0:
                    continue
                growths = self.rows(slot.total)[1]
                for driver in range(slot.low, slot.high + 1):
                    key = (driver, slot.total - driver)
                    found[key] = found.get(key, 0.0) + rest * growths[driver]

    def by_wheel(self) -> Marginals:
        """Return the sums wheel by wheel."""
        shares: dict[str, dict[int, float]] = {wheel: {} for wheel in self.problem.wheels}
        for pair, found in zip(self.problem.pairs, self.pairs, strict=True):
            for teeth, share in found.items():
                # A share too small for a float is none.
                if share == 0:
                    continue
                for wheel, number in zip(wheel_names(pair, 2), teeth, strict=True):
                    shares[wheel][number] = shares[wheel].get(number, 0.0) + share
        return shares


def _check(
    problem: Problem, log_total: float, first: str, shares: Mapping[int, float], left: Sequence[str]
) -> Check | None:
    """Return the best second wheel once the first is counted; None or UserError: too long."""
    steps = Steps(BESIDE_STEPS)
    given: dict[int, Marginals] = {}
    for teeth in sorted(shares):
        given[teeth] = marginals(problem.with_counted(first, teeth), log_total, steps)
        if steps.done * len(shares) > TOO_SLOW * len(given) * steps.most:
            return None
    checks = [
        Check(
            wheel,
            sum(shares[teeth] * entropy(given[teeth][wheel]) for teeth in shares),
            _noticed(shares, {teeth: own[wheel] for teeth, own in given.items()}),
        )
        for wheel in left
        if wheel != first
    ]
    # On a tie the wheel that shows a slip more often, then the one named first.
    return max(checks, key=lambda c: (round(c.bits, ALIKE_DECIMALS), round(c.noticed, 9)))


def _noticed(shares: Mapping[int, float], given: Mapping[int, Mapping[int, float]]) -> float:
    """Return how often a first count wrong by one would not go with the second, right one."""
    total = 0.0
    for teeth, share in shares.items():
        second = given[teeth]
        whole = sum(second.values())
        for slip in (-1, 1):
            fitting = given.get(teeth + slip, {})
            total += share / 2 * sum(p for t, p in second.items() if t not in fitting) / whole
    return min(1.0, total)


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
    numbered = enumerate(found.best, start=1)
    solutions = tuple(_solution(problem, found, place, filling) for place, filling in numbered)
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
            targets = [
                replace(t, within=exactly(r)) for t, r in zip(problem.targets, key, strict=True)
            ]
            alike = search(problem.with_targets(targets), listed=0)
            in_all, share = alike.count, exp(alike.log_total - found.log_total)
        places = tuple(s.place for s in group)
        twins.append(Twins(group[0].ratios, places, in_all, share if problem.ranked else None))
    return tuple(twins)


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
