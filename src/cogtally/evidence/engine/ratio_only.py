"""Sets known by printed ratios only: their wheels are unknown but tied by the ratios.

Sets with counts are left to `weigh`, sums over tied teeth to `tied_sums`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from functools import cached_property
from math import log
from typing import NamedTuple

import numpy as np

from cogtally.catalog.model import Family, RatioSet
from cogtally.evidence.engine.tied_sums import (
    Array,
    TiedGear,
    interval_of,
    tied_spread,
)
from cogtally.evidence.laws import (
    LEAST_TEETH,
    LISTED_SHARE,
    NOT_THERE,
    Reading,
    interval_density,
    no_ratio_density,
    reading_density,
)
from cogtally.evidence.rho import SIZE, Rho
from cogtally.evidence.seen import SeenBox
from cogtally.gears.notation import MOST_TEETH
from cogtally.gears.trains import FINAL, INPUT, NO_GEAR, OUTPUT, REVERSE, pair_of, role_of

#: Wheel to the likelihood of its counts by teeth 0…200; a wheel not counted is not in it.
Likelihoods = Mapping[str, Sequence[float]]


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
        canonical = family.train.canonical
        self.gears = tuple(
            TiedGear(
                gear,
                interval,
                family.train.path_wheels(family.path_of(gear)),
                (canonical(f"{gear}.driver"), canonical(f"{gear}.driven"))
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
            else (
                canonical(f"{self.reference_pair}.driver"),
                canonical(f"{self.reference_pair}.driven"),
            )
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

    def untied(self, wheel: str) -> Array:
        """Return the probability by teeth 0…200 of a wheel that no printed ratio ties."""
        found = np.zeros(MOST_TEETH + 1)
        for known in self.family.counted_sets:
            teeth = self.family.teeth_of(known).get(wheel)
            if teeth is not None:
                found[teeth] += known.commonness
        share = LISTED_SHARE if found.any() else 0.0
        found *= share / (found.sum() or 1.0)
        found[LEAST_TEETH : LEAST_TEETH + SIZE] += (1 - share) * np.array(self.rho.of(wheel))
        return found

    @cached_property
    def normaliser(self) -> float:
        """The summed prior weight of every assignment that prints as the set's ratios."""
        return self._summed({})

    def likelihood(self, seen: Likelihoods) -> float:
        """Return the probability of all counts of one hand (scaled as they are) given this set.

        `seen` holds canonical names of wheels that the set has.
        """
        value = 1.0
        for wheel, by_teeth in seen.items():
            if wheel not in self.tied:
                value *= float(self.untied(wheel) @ np.asarray(by_teeth))
        if any(wheel in self.tied for wheel in seen):
            normaliser = self.normaliser
            value *= self._summed(seen) / normaliser if normaliser > 0 else 0.0
        return value

    def spread(self, wheel: str, seen: Likelihoods) -> Array:
        """Return the weight of teeth 0…200 of a wheel of the set, under the counts."""
        if wheel not in self.tied:
            by_teeth = seen.get(wheel)
            untied = self.untied(wheel)
            return untied if by_teeth is None else untied * np.asarray(by_teeth)
        weights = self._weights(seen)
        found = np.zeros(MOST_TEETH + 1)
        span = slice(LEAST_TEETH, LEAST_TEETH + SIZE)
        found[span] = tied_spread(self.gears, self.reference, weights, wheel)
        return found

    def _weights(self, seen: Likelihoods) -> dict[str, Array]:
        found = {}
        for wheel in self.tied:
            weights = np.array(self.rho.of(wheel))
            if wheel in seen:
                weights = weights * seen[wheel][LEAST_TEETH : LEAST_TEETH + SIZE]
            found[wheel] = weights
        return found

    def _summed(self, seen: Likelihoods) -> float:
        return float(tied_spread(self.gears, self.reference, self._weights(seen)).sum())


class PrintedView(NamedTuple):
    """One box as a set known by printed ratios sees it.

    Counted wheels by canonical name to the names they were written under; `absent`: names it lacks;
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
