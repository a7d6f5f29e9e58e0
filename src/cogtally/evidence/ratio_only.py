"""Sets known by printed ratios only: their wheels are unknown but tied by the ratios.

Sets with counts are left to `configurations`; sums over tied teeth that no closed form serves are
left to `tied_sums`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property, lru_cache
from math import log, prod

from cogtally.catalog.model import Family, RatioSet
from cogtally.evidence.likelihood import (
    GREATEST_TEETH,
    LEAST_TEETH,
    LISTED_SHARE,
    NOT_THERE,
    TEETH_RANGE,
    Reading,
    interval_density,
    no_ratio_density,
    reading_density,
    sum_factor,
)
from cogtally.evidence.rho import SIZE, Rho
from cogtally.evidence.seen import SeenBox
from cogtally.gears.trains import FINAL, INPUT, NO_GEAR, OUTPUT, REVERSE, pair_of, role_of

#: Wheel to the likelihood of its counts by teeth 0…200; a wheel not counted is not in it.
Likelihoods = Mapping[str, Sequence[float]]


@dataclass(frozen=True, slots=True)
class Interval:
    """The ratios that print as one text, both ends in."""

    low: Fraction
    high: Fraction


def interval_of(text: str) -> Interval:
    """Return the interval of a printed ratio: r ± ½·10^-d, d the decimals as written."""
    ratio = Fraction(text)
    decimals = len(text.partition(".")[2])
    half = Fraction(1, 2 * 10**decimals)
    return Interval(ratio - half, ratio + half)


@dataclass(frozen=True, slots=True)
class TiedGear:
    """One printed gear: its interval, and (driver, driven) of each pair on its path.

    `summed`: its own pair, where that pair's tooth sum stands against the reference pair's.
    """

    gear: str
    interval: Interval
    path: tuple[tuple[str, str], ...]
    summed: tuple[str, str] | None


class RatioOnlySet:
    """One set that is known by printed ratios, with all that does not depend on evidence."""

    def __init__(self, family: Family, known: RatioSet, rho: Rho) -> None:
        self.family = family
        self.known = known
        self.rho = rho
        self.intervals = {
            gear: interval_of(text) for gear, text in known.ratios.items() if gear != family.direct
        }
        inside = {p for path in family.paths.values() for p in path}
        by_rule = [
            gear
            for gear in self.intervals
            if gear not in family.paths
            and gear not in NO_GEAR
            and (gear not in inside or gear.isdigit())
        ]
        summable = [g for g in by_rule if g not in (REVERSE, FINAL)]
        #: The pair whose tooth sum the others stand against, or None.
        self.reference_pair = self._reference(summable)
        kept = family.train.canonical
        self.gears = tuple(
            TiedGear(
                gear,
                interval,
                family.train.path_wheels(family.path_of(gear)),
                (kept(f"{gear}.driver"), kept(f"{gear}.driven"))
                if self.reference_pair is not None
                and gear in summable
                and gear != self.reference_pair
                else None,
            )
            for gear, interval in self.intervals.items()
        )
        self.tied = frozenset(w for g in self.gears for pair in g.path for w in pair)
        self.reference = (
            None
            if self.reference_pair is None
            else (kept(f"{self.reference_pair}.driver"), kept(f"{self.reference_pair}.driven"))
        )
        self._pairs = frozenset(p for gear in self.intervals for p in family.path_of(gear))

    def _reference(self, summable: Sequence[str]) -> str | None:
        layout = self.family.layout
        if layout == "axle" or not summable:
            return None
        if layout == "layshaft":
            return INPUT
        if layout == "sleeve":
            return OUTPUT
        numbered = sorted((g for g in summable if g.isdigit()), key=int)
        return (numbered or list(summable))[0]

    @property
    def key(self) -> tuple[tuple[str, Fraction, Fraction], ...]:
        """What makes two such sets of a family one group: the same printed ratios."""
        ratios = self.known.ratios.items()
        ends = sorted((gear, interval_of(text)) for gear, text in ratios)
        return tuple((gear, interval.low, interval.high) for gear, interval in ends)

    def has_pair(self, pair: str) -> bool:
        """Tell whether a box of this set has a pair: the family's, or one that it prints."""
        if self.family.counted_sets:
            return pair in self.family.train.pairs or pair in self._pairs
        return pair in self._pairs or pair in self.family.path_of(REVERSE)

    def has_wheel(self, name: str) -> bool:
        """Tell whether a box of this set has a wheel; an idler only where the family knows it."""
        if self.family.train.canonical(name) in self.tied:
            return True
        pair = pair_of(name)
        if role_of(name) == "idler":
            if not self.family.counted_sets:
                return pair in self.family.path_of(REVERSE)
            return self.family.train.pairs.get(pair) == 3
        return self.has_pair(pair)

    def has_gear(self, gear: str) -> bool:
        """Tell whether a box of this set has a gear, whether or not its ratio is printed."""
        if gear in self.known.ratios or gear == self.family.direct:
            return True
        if self.family.counted_sets:
            return gear in self.family.train.gears
        return gear == REVERSE

    def reading_density(self, reading: Reading, gears: Sequence[str]) -> float:
        """Return the density of a turn test; its mean is uniform between the interval's ends."""
        low = high = Fraction(1)
        for gear in gears:
            if gear == self.family.direct:
                continue
            interval = self.intervals.get(gear)
            if interval is None:
                return no_ratio_density(reading)
            low, high = low * interval.low, high * interval.high
        if low == high:
            return reading_density(reading, low)
        return interval_density(reading, low, high)

    def untied(self, wheel: str) -> list[tuple[int, float]]:
        """Return teeth with their probability for a wheel that no printed ratio ties."""
        pool: dict[int, float] = {}
        for known in self.family.counted_sets:
            teeth = self.family.teeth_of(known).get(wheel)
            if teeth is not None:
                pool[teeth] = pool.get(teeth, 0.0) + known.commonness
        share = LISTED_SHARE if pool else 0.0
        total = sum(pool.values())
        listed = [(teeth, share * weight / total) for teeth, weight in pool.items()]
        spread = zip(TEETH_RANGE, self.rho.of(wheel), strict=True)
        return listed + [(teeth, (1 - share) * weight) for teeth, weight in spread]

    @cached_property
    def normaliser(self) -> float:
        """The summed prior weight of every assignment that prints as the set's ratios."""
        return self._summed({})

    def likelihood(self, seen: Likelihoods) -> float:
        """Return the probability of all counts of one hand (scaled as they are) given this set.

        `seen` holds kept wheel names that the set has.
        """
        value = 1.0
        for wheel, by_teeth in seen.items():
            if wheel not in self.tied:
                value *= sum(p * by_teeth[t] for t, p in self.untied(wheel))
        if any(wheel in self.tied for wheel in seen):
            normaliser = self.normaliser
            value *= self._summed(seen) / normaliser if normaliser > 0 else 0.0
        return value

    def spread(self, wheel: str, seen: Likelihoods) -> dict[int, float]:
        """Return the weight of each number of teeth of a wheel of the set, under the counts."""
        if wheel not in self.tied:
            by_teeth = seen.get(wheel)
            found: dict[int, float] = {}
            for teeth, share in self.untied(wheel):
                value = share if by_teeth is None else share * by_teeth[teeth]
                found[teeth] = found.get(teeth, 0.0) + value
            return found
        weights = self._weights(seen)
        if self._is_separate:
            return _separate_spread(self.gears, self.reference, weights, wheel)
        from cogtally.evidence.tied_sums import tied_spread

        return tied_spread(self.gears, self.reference, weights, wheel)

    def _weights(self, seen: Likelihoods) -> dict[str, list[float]]:
        found = {}
        for wheel in self.tied:
            weights = self.rho.of(wheel)
            if wheel in seen:
                by_teeth = seen[wheel][LEAST_TEETH : LEAST_TEETH + SIZE]
                weights = [w * v for w, v in zip(weights, by_teeth, strict=True)]
            found[wheel] = weights
        return found

    def _summed(self, seen: Likelihoods) -> float:
        return self._sum_of(self._weights(seen))

    @cached_property
    def _is_separate(self) -> bool:
        """Whether each gear has one pair, and that for itself: tied by tooth sums alone."""
        wheels = [w for g in self.gears for pair in g.path for w in pair]
        return all(len(g.path) == 1 for g in self.gears) and len(set(wheels)) == len(wheels)

    def _sum_of(self, weights: Mapping[str, list[float]]) -> float:
        if self._is_separate:
            return _separate_pairs(self.gears, self.reference, weights)
        from cogtally.evidence.tied_sums import tied_sum

        return tied_sum(self.gears, self.reference, weights)


@lru_cache(maxsize=256)
def pairs_within(interval: Interval) -> list[tuple[int, int]]:
    """Return every (driver, driven) of 5…99 teeth whose exact ratio lies in an interval."""
    low, high = interval.low, interval.high
    return [
        (a, b)
        for a in TEETH_RANGE
        for b in range(
            max(LEAST_TEETH, -(-low.numerator * a // low.denominator)),
            min(GREATEST_TEETH, high.numerator * a // high.denominator) + 1,
        )
    ]


Weights = Mapping[str, Sequence[float]]


def _weighted_pairs(gear: TiedGear, weights: Weights) -> list[tuple[int, int, float]]:
    """The pairs that print as the gear's ratio, with their weights; (driver, driven, weight)."""
    driver, driven = gear.path[0]
    left, right = weights[driver], weights[driven]
    return [
        (a, b, left[a - LEAST_TEETH] * right[b - LEAST_TEETH])
        for a, b in pairs_within(gear.interval)
    ]


def _by_sum(gear: TiedGear, weights: Weights) -> dict[int, float]:
    sums: dict[int, float] = {}
    for a, b, weight in _weighted_pairs(gear, weights):
        sums[a + b] = sums.get(a + b, 0.0) + weight
    return sums


def _against(sums: Mapping[int, float], teeth: int) -> float:
    """The sum over a gear's pairs with the factor of their tooth sums against the reference."""
    return sum(weight * sum_factor(abs(s - teeth)) for s, weight in sums.items())


def _separate_pairs(
    gears: Sequence[TiedGear],
    reference: tuple[str, str] | None,
    weights: Weights,
    beside: int | None = None,
) -> float:
    """Sum where each gear has one pair of its own: tied to the others by tooth sums alone.

    `beside`: the tooth sum of one more pair that stands against the reference pair.
    """
    total = 1.0
    against = {0: 1.0}
    tied = [] if beside is None else [{beside: 1.0}]
    for gear in gears:
        sums = _by_sum(gear, weights)
        if gear.path[0] == reference:
            against = sums
        elif gear.summed:
            tied.append(sums)
        else:
            total *= sum(sums.values())
    return total * sum(
        weight * prod([_against(sums, teeth) for sums in tied]) for teeth, weight in against.items()
    )


def _separate_spread(
    gears: Sequence[TiedGear],
    reference: tuple[str, str] | None,
    weights: Weights,
    wheel: str,
) -> dict[int, float]:
    """The same sum by the teeth of one wheel."""
    own = next(gear for gear in gears if wheel in gear.path[0])
    others = [gear for gear in gears if gear is not own]
    pairs = _weighted_pairs(own, weights)
    around: dict[int, float] = {}
    if own.path[0] == reference:
        sums = [(gear.summed, _by_sum(gear, weights)) for gear in others]
        for teeth in {a + b for a, b, _ in pairs}:
            around[teeth] = prod(
                [_against(by, teeth) if summed else sum(by.values()) for summed, by in sums]
            )
    else:
        for teeth in {a + b for a, b, _ in pairs} if own.summed else {0}:
            beside = teeth if own.summed else None
            around[teeth] = _separate_pairs(others, reference, weights, beside)
    found: dict[int, float] = {}
    is_driven = wheel == own.path[0][1]
    for a, b, weight in pairs:
        teeth = b if is_driven else a
        rest = around[a + b] if 0 not in around else around[0]
        found[teeth] = found.get(teeth, 0.0) + weight * rest
    return found


@dataclass(frozen=True)
class PrintedView:
    """One box as a set known by printed ratios sees it.

    Counted wheels by kept name to the names they were written under; `absent`: names it lacks;
    `log_lacking`: the log of all that depends on no teeth, the counts of absent wheels aside.
    """

    wheels: Mapping[str, tuple[str, ...]]
    absent: tuple[str, ...]
    log_lacking: float

    def likelihoods(self, box: SeenBox, hand: int) -> tuple[Likelihoods, float]:
        """Return the scaled likelihood of every counted wheel, and the log of the scale of all."""
        laws = {wheel: box.likelihood(names, hand) for wheel, names in self.wheels.items()}
        absent = sum([box.log_elsewhere(name, hand) for name in self.absent])
        scale = sum(law.log_scale for law in laws.values()) + self.log_lacking + absent
        return {wheel: law.by_teeth for wheel, law in laws.items()}, scale


def view_of_ratios(known: RatioOnlySet, box: SeenBox) -> PrintedView:
    """Return the box as a set known by printed ratios sees it; its turn tests are in the log."""
    lacking = 0.0
    for gears, reading in box.turns:
        if not all(known.has_gear(gear) for gear in gears):
            lacking += log(NOT_THERE)
        lacking += log(known.reading_density(reading, gears))
    wheels: dict[str, tuple[str, ...]] = {}
    absent = []
    for name in box.counts:
        if known.has_wheel(name):
            wheel = known.family.train.canonical(name)
            wheels[wheel] = (*wheels.get(wheel, ()), name)
        else:
            absent.append(name)
    lacking += len({pair_of(name) for name in absent}) * log(NOT_THERE)
    return PrintedView(wheels, tuple(absent), lacking)
