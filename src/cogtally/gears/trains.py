"""Pairs, layouts, paths, meshes and exact ratios of a gear train.

How counts are written belongs to `notation`; which sets exist belongs to the catalog.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property, lru_cache
from math import gcd, pi, sin

from cogtally.gears.errors import UserError

LAYSHAFT, SLEEVE, TWO_SHAFT, AXLE = LAYOUTS = ("layshaft", "sleeve", "two-shaft", "axle")
#: A sun and its annulus, written as a pair: what a family of a catalog can be besides.
OVERDRIVE = "overdrive"
FAMILY_LAYOUTS = (*LAYOUTS, OVERDRIVE)
#: Layouts whose pairs share no shafts with others, so that tooth sums say nothing.
NO_SUMS = (AXLE, OVERDRIVE)
ROLES_OF_TWO = ("driver", "driven")
ROLES_OF_THREE = ("driver", "idler", "driven")
INPUT, OUTPUT, REVERSE, FINAL = "input", "output", "R", "final"
#: The pair that every gear but direct runs through, in the layouts in which a gear can be direct.
SHARED = {LAYSHAFT: INPUT, SLEEVE: OUTPUT}

#: Pairs that are never a position of the lever.
NO_GEAR = (INPUT, OUTPUT)
#: Tooth sums of pairs on the same two shafts are no more than this apart; profile shift allows it.
MOST_SUMS_APART = 3


def roles(size: int) -> tuple[str, ...]:
    """Return the roles of the wheels of a pair of `size` wheels (2, or 3 with an idler)."""
    return ROLES_OF_THREE if size == 3 else ROLES_OF_TWO


@lru_cache(maxsize=1024)
def wheel_names(pair: str, size: int) -> tuple[str, ...]:
    """Return the names of the wheels of `pair`, driver first: `("1.driver", "1.driven")`."""
    return tuple(f"{pair}.{role}" for role in roles(size))


def pair_of(wheel: str) -> str:
    """Return the pair that a wheel's name speaks of: `"1"` of `"1.driver"`."""
    return wheel.rpartition(".")[0]


def role_of(wheel: str) -> str:
    """Return the role in a wheel's name: `"driver"` of `"1.driver"`."""
    return wheel.rpartition(".")[2]


def is_numbered(name: str) -> bool:
    """Tell whether a gear's or pair's name is a plain number: `"1"`."""
    return name.isascii() and name.isdigit()


def gear_order(name: str) -> tuple[int, int]:
    """Sort key for gears: numbered ones by number, then others as written, R last."""
    if is_numbered(name):
        return (0, int(name))
    return (2, 0) if name == REVERSE else (1, 0)


@dataclass(frozen=True)
class Train:
    """How the pairs of one casing are arranged; no teeth.

    `pairs` gives each pair's number of wheels in written order, `direct` the gear that locks
    input to output, `paths` the spelled-out paths, `same` a second name of a wheel to its first.
    """

    layout: str
    pairs: Mapping[str, int]
    direct: str | None = None
    paths: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    same: Mapping[str, str] = field(default_factory=dict)

    def canonical(self, wheel: str) -> str:
        """Return the one name under which a wheel of two names is kept."""
        seen = {wheel}
        while wheel in self.same:
            wheel = self.same[wheel]
            if wheel in seen:
                return min(seen)
            seen.add(wheel)
        return wheel

    @cached_property
    def wheels(self) -> tuple[str, ...]:
        """Every wheel once, by its one name, in written order."""
        names = (w for pair, size in self.pairs.items() for w in wheel_names(pair, size))
        return tuple(dict.fromkeys(self.canonical(w) for w in names))

    @cached_property
    def names(self) -> Mapping[str, str]:
        """Every name of every wheel to the one name under which it is kept."""
        named = {
            w: self.canonical(w)
            for pair, size in self.pairs.items()
            for w in wheel_names(pair, size)
        }
        for alias in self.same:
            if self.canonical(alias) in named.values():
                named.setdefault(alias, self.canonical(alias))
        return named

    @cached_property
    def gears(self) -> tuple[str, ...]:
        """Positions of the lever, in their order: numbered, then others as written, R last.

        A pair that stands only inside another gear's spelled-out path is no gear of its own,
        unless its name is a number; nor are `input` and `output`. An overdrive has none: its
        turns are not those of pairs one after the other.
        """
        if self.layout == OVERDRIVE:
            return ()
        inside = {p for path in self.paths.values() for p in path}
        own = [
            p
            for p in self.pairs
            if p not in NO_GEAR and (p in self.paths or p not in inside or is_numbered(p))
        ]
        found = dict.fromkeys([*own, *self.paths, *([self.direct] if self.direct else [])])
        return tuple(sorted(found, key=gear_order))

    def path(self, gear: str) -> tuple[str, ...] | None:
        """Return the pairs that carry `gear`, in order; empty for direct, None for no such gear."""
        if gear not in self.gears:
            return None
        if gear in self.paths:
            return self.paths[gear]
        if gear == self.direct:
            return ()
        return self.rule_path(gear)

    def rule_path(self, gear: str) -> tuple[str, ...]:
        """Return the path that the layout's rule gives to a gear with a pair of its own."""
        if self.layout == LAYSHAFT:
            return (INPUT, gear)
        if self.layout == SLEEVE:
            return (gear, OUTPUT)
        return (gear,)

    def path_wheels(self, path: Iterable[str]) -> tuple[tuple[str, str], ...]:
        """Return (driver, driven) of each pair on a path, by kept names; idlers do not count."""
        return tuple(
            (self.canonical(f"{pair}.driver"), self.canonical(f"{pair}.driven")) for pair in path
        )

    @cached_property
    def gear_wheels(self) -> Mapping[str, tuple[tuple[str, str], ...]]:
        """For each gear, `path_wheels` of the pairs that carry it."""
        return {gear: self.path_wheels(self.path(gear) or ()) for gear in self.gears}

    def ratios(self, teeth: Mapping[str, int | None]) -> Mapping[str, Fraction | None]:
        """Return turns in for one turn out of every gear; None where a wheel has no teeth.

        `teeth` by kept names. Of an overdrive that is the ratio of its pair with the sun held.
        """
        if self.layout == OVERDRIVE:
            ends = {pair: [f"{pair}.{role}" for role in ROLES_OF_TWO] for pair in self.pairs}
            return {pair: overdrive_of(*map(teeth.get, wheels)) for pair, wheels in ends.items()}
        return {
            gear: train_ratio([(teeth.get(a), teeth.get(b)) for a, b in wheels])
            for gear, wheels in self.gear_wheels.items()
        }

    @cached_property
    def meshes(self) -> tuple[tuple[str, str], ...]:
        """Every two wheels in mesh, once, by their kept names; an idler makes two such meshes.

        None in an overdrive: sun and annulus each mesh with the planets.
        """
        if self.layout == OVERDRIVE:
            return ()
        found: dict[frozenset[str], tuple[str, str]] = {}
        for pair, size in self.pairs.items():
            names = [self.canonical(w) for w in wheel_names(pair, size)]
            for left, right in itertools.pairwise(names):
                found.setdefault(frozenset((left, right)), (left, right))
        return tuple(found.values())


def pair_ratio(teeth: Sequence[int | None]) -> Fraction | None:
    """Return driven/driver of one pair, exact, or None where an end wheel is not known.

    An idler never changes the size of a ratio.
    """
    driver, driven = teeth[0], teeth[-1]
    if driver is None or driven is None:
        return None
    return Fraction(driven, driver)


def train_ratio(pairs: Iterable[Sequence[int | None]]) -> Fraction | None:
    """Return turns in for one turn out of pairs one after the other, or None if unknown."""
    drivers, driven = 1, 1
    for teeth in pairs:
        first, last = teeth[0], teeth[-1]
        if first is None or last is None:
            return None
        drivers, driven = drivers * first, driven * last
    return Fraction(driven, drivers)


def tooth_sums(teeth: Sequence[int | None]) -> tuple[int | None, ...]:
    """Return the sum of teeth of each mesh of one pair (two of them with an idler)."""
    return tuple(None if a is None or b is None else a + b for a, b in itertools.pairwise(teeth))


def is_hunting(teeth: Sequence[int | None]) -> bool | None:
    """Tell whether every tooth of one wheel meets every tooth of its mate, in each mesh of a pair.

    That is so where the two counts have no common factor; None where a count is missing.
    """
    if None in teeth:
        return None
    return all(factor == 1 for factor in common_factors(teeth))


def common_factors(teeth: Sequence[int | None]) -> tuple[int | None, ...]:
    """Return the greatest common factor of each mesh of one pair; None where a count is missing.

    With a factor of f each tooth of one wheel meets only every f-th tooth of its mate.
    """
    return tuple(
        None if a is None or b is None else gcd(a, b) for a, b in itertools.pairwise(teeth)
    )


def same_shafts(train: Train) -> tuple[tuple[str, ...], ...]:
    """Return groups of pairs that work on the same two shafts, so that their sums should agree.

    Pairs with an idler, `final`, the pairs of an axle or an overdrive and pairs that stand on
    spelled-out paths alone are in no group; the `input` pair of a layshaft and the `output` pair
    of a sleeve are with the gears.
    """
    if train.layout in NO_SUMS:
        return ()
    shared = SHARED.get(train.layout)
    inside = {p for path in train.paths.values() for p in path}
    group = [
        p
        for p, size in train.pairs.items()
        if size == 2
        and p != FINAL
        and p not in train.paths
        and (p == shared or (p not in NO_GEAR and (p not in inside or is_numbered(p))))
    ]
    return (tuple(group),) if len(group) > 1 else ()


#: Planets in the usual overdrive.
USUAL_PLANETS = 3
MOST_PLANETS = 12
FEWEST_TEETH, MOST_TEETH = 4, 300
#: So many more teeth at least has an annulus than the sun inside it.
LEAST_BETWEEN = 2
#: Height of a tooth above its reference circle, in modules: full teeth of ISO 53.
ADDENDUM = 1


@dataclass(frozen=True, slots=True)
class Epicyclic:
    """A sun, an annulus round it, and planets between them on a carrier; counts of teeth.

    Built by `epicyclic`, which checks what a person wrote.
    """

    sun: int
    annulus: int

    @property
    def overdrive(self) -> Fraction:
        """Turns in for one turn out with the sun held, carrier in and annulus out: A/(A + S)."""
        return Fraction(self.annulus, self.annulus + self.sun)

    def possible_planets(self) -> tuple[int, ...]:
        """Return the numbers of evenly spaced planets, two or more, that can be put together.

        Planets of standard teeth need A − S even; evenly spaced ones need (A + S)/n whole; two
        neighbours clear each other where (S + P)·sin(π/n) > P + 2 addenda.
        """
        planet = (self.annulus - self.sun) / 2
        return tuple(
            n
            for n in range(2, MOST_PLANETS + 1)
            if planet.is_integer()
            and (self.annulus + self.sun) % n == 0
            and (self.sun + planet) * sin(pi / n) > planet + 2 * ADDENDUM
        )


def epicyclic(sun: int, annulus: int) -> Epicyclic:
    """Check the counts that a person gave and return the train; raise UserError.

    Whether planets can be put in is not asked here: see `Epicyclic.possible_planets`.
    """
    place = f"{sun}/{annulus}"
    for teeth in (sun, annulus):
        if not FEWEST_TEETH <= teeth <= MOST_TEETH:
            mend = "count it again"
            raise UserError(f"{teeth} teeth is outside {FEWEST_TEETH} to {MOST_TEETH}", place, mend)
    if annulus < sun + LEAST_BETWEEN:
        turned = f"did you mean {annulus}/{sun}?" if annulus < sun else "count them again"
        raise UserError("the annulus must have more teeth than the sun inside it", place, turned)
    return Epicyclic(sun, annulus)


def overdrive_of(sun: int | None, annulus: int | None) -> Fraction | None:
    """Return in/out of counts that were looked at before, exact; None where one is missing."""
    if sun is None or annulus is None:
        return None
    return Epicyclic(sun, annulus).overdrive
