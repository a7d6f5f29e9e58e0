"""Turn tests that were seen, as factors of the tables of stacked families.

A test ties the wheels on its path. The table of one pair on it, that all tests of a star share, is
held to teeth, one after the other; each time a test is a factor of one other table. Which teeth a
table can be held to is left to `stacked_held`, the sums to `stacked_sums` and `stacked_rows`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import reduce
from itertools import product
from math import log, pi, prod, sqrt

import numpy as np

from cogtally.evidence.likelihood import (
    NOT_THERE,
    READING_SD,
    READING_SLIP,
    Reading,
    no_ratio_density,
    reading_density,
)
from cogtally.evidence.seen import SeenBox
from cogtally.evidence.stacked import Stacks
from cogtally.evidence.stacked_arms import Question
from cogtally.evidence.stacked_block import Block
from cogtally.evidence.stacked_held import Counted, Place, cells_of
from cogtally.evidence.stacked_ready import Ready, part_of, star_tables
from cogtally.evidence.stacked_shape import StackShape, Star
from cogtally.evidence.stacked_tables import Array, picked

#: The teeth of every wheel on a path, shaped alike; NaN where a wheel has none.
_Teeth = Mapping[str, Array]
#: What tables of a star are multiplied by, by their places.
Factors = Mapping[int, Array]


@dataclass(frozen=True, slots=True)
class Turned:
    """A turn test on a path: the places of its pairs on a hub, and all drivers and driven."""

    places: tuple[int, ...]
    drivers: tuple[str, ...]
    driven: tuple[str, ...]
    reading: Reading

    def density(self, teeth: _Teeth) -> Array:
        """Return the density of the reading where the wheels have these teeth."""
        # Products of whole numbers are exact, so that the ratio is rounded but once.
        driven, drivers = (
            reduce(np.multiply, [teeth[wheel].astype(float) for wheel in each])
            for each in (self.driven, self.drivers)
        )
        ratio = driven / drivers
        reading, flat = self.reading, no_ratio_density(self.reading)
        mean = reading.factor * ratio if reading.reads_input else reading.factor / ratio
        off = (reading.value - mean) / READING_SD
        normal = np.exp(-off * off / 2) / (READING_SD * sqrt(2 * pi))
        found: Array = (1 - READING_SLIP) * normal + READING_SLIP * flat
        return np.where(np.isnan(ratio), flat, found)


@dataclass(frozen=True, slots=True)
class StarTests:
    """All tests on the wheels of one star; `held`: the place of the table that is held, if any."""

    number: int
    star: Star
    tests: tuple[Turned, ...]
    held: int | None

    @property
    def tied(self) -> frozenset[str]:
        """The wheels of the hub whose tables are read beside the one that is held."""
        places = {place for test in self.tests if len(test.places) > 1 for place in test.places}
        return frozenset(self.star.hub[place] for place in places - {self.held})

    def factors(self, block: Block, tables: Sequence[Array], counted: Counted) -> Iterator[Factors]:
        """Give the factors of the tables for all that the held one can be; their sums add up.

        `tables`: those of the star, as `star_tables` gives them.
        """
        alone: dict[int, Array] = {}
        beside: dict[int, list[Turned]] = {}
        for test in self.tests:
            if len(test.places) == 1:
                (place,) = test.places
                own = self._teeth_at(block, place, tables[place], counted)
                alone[place] = alone.get(place, 1.0) * test.density(own)
            else:
                (place,) = set(test.places) - {self.held}
                beside.setdefault(place, []).append(test)
        if self.held is None:
            yield alone
            return

        held = self.held

        def together(mask: Array, tested: Factors) -> Factors:
            found = {**alone, held: mask * alone[held] if held in alone else mask}
            for place, factor in tested.items():
                found[place] = factor * alone[place] if place in alone else factor
            return found

        own_of = {p: self._teeth_at(block, p, tables[p], counted) for p in beside}
        chain = (self.star.hub[held], *self.star.arms[held])
        at, whole = Place(self.number, held, chain), tables[held]
        left = np.ones((1,) * (whole.ndim - 1), dtype=bool)
        cells = cells_of(block, at, whole, (chain[0], chain[-1]), counted, by_mode=True)
        for mask, known in cells:
            left = left & ~mask
            tested = {}
            for place, tests in beside.items():
                more = [1] * (tables[place].ndim - 3)
                teeth = {wheel: own.reshape(len(own), *more, -1) for wheel, own in known.items()}
                teeth.update(own_of[place])
                tested[place] = reduce(np.multiply, [test.density(teeth) for test in tests])
            yield together(mask, tested)
        if left.any():
            flat = {p: prod([no_ratio_density(t.reading) for t in beside[p]]) for p in beside}
            yield together(left, {p: np.full((1,) * (tables[p].ndim - 1), flat[p]) for p in flat})

    def _teeth_at(self, block: Block, place: int, table: Array, counted: Counted) -> _Teeth:
        """The teeth of the ends of a pair at each entry of its table."""
        chain = (self.star.hub[place], *self.star.arms[place])
        found = {}
        for axis, wheel in enumerate(chain, 1):
            if 1 < axis < len(chain):
                continue
            of_counts = counted[wheel]
            teeth = np.full((table.shape[axis], block.share.shape[1]), np.nan)
            teeth[: block.size] = block.teeth[wheel]
            if of_counts is not None:
                teeth[block.size :] = of_counts
            before, behind = axis - 1, table.ndim - axis - 2
            found[wheel] = teeth.reshape(*[1] * before, len(teeth), *[1] * behind, -1)
        return found


@dataclass(frozen=True)
class Tests:
    """All turn tests of a question as the families of one shape see them.

    `lacking`: the log of those in gears that they do not have; `direct`: of those that no pair
    carries. `stars`: the others, by the number of their star. `counted`: the likeliest teeth.
    """

    stars: Mapping[int, StarTests]
    counted: Counted
    lacking: float
    direct: float

    @property
    def all(self) -> Iterator[Turned]:
        """Every test that wheels matter to."""
        for star in self.stars.values():
            yield from star.tests

    def as_listed(self, teeth: _Teeth) -> Array | float:
        """Return the density of all readings where every wheel has these teeth."""
        found: Array | float = 1.0
        for test in self.all:
            found = found * test.density(teeth)
        return found


def tests_of(shape: StackShape, box: SeenBox) -> Tests | None:
    """Return the turn tests as families of this shape see them; None where they do not fit.

    They fit where the path of each is at most two pairs of one star, one of them shared by all.
    """
    places = {
        wheel: (number, place)
        for number, star in enumerate(shape.stars)
        for place, (hub, arm) in enumerate(zip(star.hub, star.arms, strict=True))
        for wheel in (hub, *arm)
    }
    paths = dict(shape.paths)
    lacking = direct = 0.0
    by_star: dict[int, list[Turned]] = {}
    for gears, reading in box.turns:
        if not all(gear in paths for gear in gears):
            lacking += log(NOT_THERE) + log(no_ratio_density(reading))
            continue
        path = [pair for gear in gears for pair in paths[gear]]
        if not path:
            direct += log(reading_density(reading, 1))
            continue
        drivers = tuple([f"{pair}.driver" for pair in path])
        driven = tuple([f"{pair}.driven" for pair in path])
        on_path = [(places.get(a), places.get(b)) for a, b in zip(drivers, driven, strict=True)]
        at = [one for one, other in on_path if one is not None and one == other]
        stars = {number for number, _ in at}
        if len(at) < len(path) or len(stars) > 1:
            return None
        found = Turned(tuple(sorted({p for _, p in at})), drivers, driven, reading)
        by_star.setdefault(stars.pop(), []).append(found)
    known = {}
    for number, tests in by_star.items():
        two = [set(test.places) for test in tests if len(test.places) > 1]
        if any(len(each) > 2 for each in two):
            return None
        star, held = shape.stars[number], None
        if two:
            shared = reduce(set.intersection, two)
            if not shared:
                return None
            held = min(shared, key=lambda place: (len(star.arms[place]), place))
        known[number] = StarTests(number, star, tuple(tests), held)
    counted = {wheel: box.likeliest((wheel,)) for wheel in shape.wheels} if known else {}
    return Tests(known, counted, lacking, direct)


@dataclass(frozen=True)
class Tested:
    """Families of a block, at some places of it, with the tests in the tables of every star."""

    ready: Ready
    at: Array
    tables: list[list[Array]]
    factors: Sequence[Factors]

    def add(self, around: Sequence[Sequence[Array]], into: list[Array], count: int) -> None:
        """Add what is around the tables to what is around all of those without the tests.

        `into`: of all `count` families of the block, star by star; empty to begin with.
        """
        every = [m for star in zip(around, self.factors, strict=True) for m in multiplied(*star)]
        if not into:
            into.extend([np.zeros((*each.shape[:-1], count)) for each in every])
        for whole, part in zip(into, every, strict=True):
            whole[..., self.at] += part


def tested_tables(ready: Ready, question: Question, tests: Tests) -> Iterator[Tested]:
    """Give the tables of every star with the tests in them.

    Sums over all that is given add up.
    """
    stars = ready.block.shape.stars
    tables = [star_tables(ready, star, question) for star in stars]
    choices: list[list[Factors]] = [
        [*tests.stars[number].factors(ready.block, tables[number], tests.counted)]
        if number in tests.stars
        else [{}]
        for number in range(len(stars))
    ]
    count = ready.block.numbers.size
    for each in product(*choices):
        some = np.ones(count, dtype=bool)
        for star in each:
            for factor in star.values():
                some &= np.broadcast_to(
                    (factor != 0).any(axis=tuple(range(factor.ndim - 1))), count
                )
        at = np.flatnonzero(some)
        if at.size == count:
            both = zip(tables, each, strict=True)
            yield Tested(ready, at, [multiplied(*star) for star in both], each)
        elif at.size:
            factors = [{p: _picked(f, at) for p, f in star.items()} for star in each]
            own = [[picked(table, at) for table in star] for star in tables]
            both = zip(own, factors, strict=True)
            yield Tested(part_of(ready, at), at, [multiplied(*star) for star in both], factors)


def _picked(factor: Array, at: Array) -> Array:
    return picked(factor, at) if factor.shape[-1] > 1 else factor


def multiplied(tables: Sequence[Array], factors: Factors) -> list[Array]:
    """Return the tables of a star, or what is around them, with their factors."""
    return [
        table * factors[place] if place in factors else table for place, table in enumerate(tables)
    ]


def fitting(stacks: Stacks, box: SeenBox) -> Stacks:
    """Return the stacks of families that the turn tests fit; the others are to be asked alone."""
    kept, others = [], {*stacks.other_numbers}
    for stack in stacks.stacks:
        if tests_of(stack.shape, box) is not None:
            kept.append(stack)
        else:
            others.update(n for ready in stack.blocks for n in ready.block.numbers.tolist())
    if len(kept) == len(stacks.stacks):
        return stacks
    return Stacks(kept, stacks.roll, sorted(others), stacks.over)
