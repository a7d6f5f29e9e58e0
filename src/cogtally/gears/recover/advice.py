"""Which wheel to count next, to tell the fillings of a printed box apart.

The fillings and their weights are left to `solutions`; each is taken to be true with its share of
the total weight.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, log2, prod

from cogtally.gears.errors import UserError
from cogtally.gears.recover.cells import (
    BESIDE_STEPS,
    Cell,
    Plan,
    Steps,
    cells,
    off_weights,
    rows_of,
    windows,
)
from cogtally.gears.recover.problem import Problem
from cogtally.gears.recover.solutions import search
from cogtally.gears.recover.weight import growth
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
    for cell in cells(problem, steps):
        sums.add(cell, exp(cell.weight - log_total))
    return sums.by_wheel()


class _Sums:
    """Sums of exp(weight), pair by pair, by the teeth of the pair."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.plan: Plan = windows(problem.spread, problem.spread)
        self.discounts = [growth(penalty) for penalty in off_weights(problem)]
        self.rows = rows_of(problem)
        self.pairs: list[dict[tuple[int, int], float]] = [{} for _ in problem.pairs]

    def add(self, cell: Cell, scale: float) -> None:
        """Add a cell, each filling's factor times `scale`."""
        alone = [sum(growth(c[0]) for c in loose.choices) for loose in cell.loose]
        together = _window_sums(cell, self.plan, self.discounts)
        signs = [sign for _, _, sign in self.plan]
        tied = sum(s * prod(row) for s, row in zip(signs, together, strict=True))
        if tied <= 0:
            return
        for i, loose in enumerate(cell.loose):
            rest = scale * tied * prod(alone[:i]) * prod(alone[i + 1 :])
            found = self.pairs[loose.pair]
            for weight, *teeth in loose.choices:
                key = (teeth[0], teeth[1])
                found[key] = found.get(key, 0.0) + rest * growth(weight)
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


def _window_sums(cell: Cell, plan: Plan, discounts: Sequence[float]) -> list[list[float]]:
    """Return, window by window, the sum of factors in it of each tied pair."""
    growths = [
        [slot.growth * d for slot, d in zip(pair.slots, discounts, strict=True)]
        for pair in cell.tied
    ]
    return [[sum(own[first:last]) for own in growths] for first, last, _ in plan]


def _check(
    problem: Problem,
    log_total: float,
    first: str,
    shares: Mapping[int, float],
    left: Sequence[str],
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
