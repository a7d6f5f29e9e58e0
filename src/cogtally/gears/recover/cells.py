"""Where the teeth of a printed box can be: all fillings, in cells small enough to count by hand.

What is counted, weighed or listed in a cell is left to `solutions` and `rank`. Weights are natural
logarithms and add up; whole hundredths where they can be.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from math import exp, gcd, log, prod

from cogtally.gears.errors import UserError
from cogtally.gears.printed import Interval
from cogtally.gears.recover.problem import OF_ONE_PAIR, Problem, Span, Target
from cogtally.gears.trains import AXLE, ROLES_OF_TWO

#: One unit of a whole weight is this much of a natural logarithm.
HUNDREDTH = 0.01
#: In hundredths: a tooth that a pair's sum is off the reference pair's, a pair of coprime counts,
#: a tooth fewer than `FEWEST_LIKED`.
OFF_BY_ONE = -100
COPRIME = 35
EACH_TOO_FEW = -60
FEWEST_LIKED = 14
#: -½((S - 50)/9)² on the reference pair's tooth sum S.
USUAL_SUM, SUM_SPREAD = 50, 9
#: -½(ln(R/1.75)/0.22)² on the ratio R of the pair that the gears share, input or output.
USUAL_INPUT_RATIO, INPUT_RATIO_SPREAD = 1.75, 0.22


@cache
def wheel_weight(teeth: int) -> int:
    """Return the weight of one wheel, in hundredths: fewer than 14 teeth are rare."""
    return EACH_TOO_FEW * max(0, FEWEST_LIKED - teeth)


@cache
def pair_weight(driver: int, driven: int) -> int:
    """Return the weight of one pair by itself, in hundredths, without its tooth sum."""
    coprime = COPRIME if gcd(driver, driven) == 1 else 0
    return wheel_weight(driver) + wheel_weight(driven) + coprime


@cache
def growth(hundredths: int) -> float:
    """Return the factor that a weight in hundredths stands for."""
    return exp(hundredths * HUNDREDTH)


@cache
def row(total: int) -> tuple[tuple[int, ...], tuple[float, ...]]:
    """Return weight and factor of every pair of one tooth sum, by the driver's teeth (0, 1, …)."""
    weights = (0, *(pair_weight(a, total - a) for a in range(1, total)))
    return weights, tuple(growth(w) for w in weights)


@cache
def flat_row(total: int) -> tuple[tuple[int, ...], tuple[float, ...]]:
    """Return the row where nothing is ranked: every pair alike."""
    return (0,) * total, (1.0,) * total


def sum_weight(total: int) -> float:
    """Return the weight of the reference pair's tooth sum."""
    return -0.5 * ((total - USUAL_SUM) / SUM_SPREAD) ** 2


@cache
def input_ratio_weight(driver: int, driven: int) -> float:
    """Return the weight of the ratio of the pair that the gears share."""
    return -0.5 * (log(driven / (driver * USUAL_INPUT_RATIO)) / INPUT_RATIO_SPREAD) ** 2


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
        self.rows = rows_of(problem)
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
    alone = prod(sum(growth(c[0]) for c in loose.choices) for loose in cell.loose)
    rows = window_sums(cell, plan, discounts)
    return alone * sum(sign * prod(row) for (_, _, sign), row in zip(plan, rows, strict=True))


def window_sums(cell: Cell, plan: Plan, discounts: Sequence[float]) -> list[list[float]]:
    """Return, window by window, the sum of factors in it of each tied pair."""
    growths = [
        [slot.growth * d for slot, d in zip(tied.slots, discounts, strict=True)]
        for tied in cell.tied
    ]
    return [[sum(own[first:last]) for own in growths] for first, last, _ in plan]


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
        # They do not mesh with each other: no tooth sum and no common factor speaks for or against.
        self.weigh = wheel_weight if problem.ranked else lambda teeth: 0
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
                yield self.weigh(driver) + self.weigh(driven), driver, driven


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
            sentence = "so many teeth are possible that the search was given up, with no answer"
            mend = "narrow the ranges of teeth, write more decimals or count a wheel"
            raise UserError(sentence, mend=mend)


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
                if behind is None or any(all(s is EMPTY for s in t.slots) for t in tied):
                    continue
                weight = 0.0
                if problem.ranked:
                    weight = sum_weight(own.total) + (input_ratio_weight(p, q) if inputs else 0.0)
                choices = tuple(slot_choices(own, reference.rows))
                steps.add(len(choices))
                yield Cell(weight, (*inputs, Loose(reference.pair, choices), *behind), tied)


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
