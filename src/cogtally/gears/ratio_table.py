"""What a table of ratios holds: gears, steps, overall ratios, tooth sums and hunting teeth.

How it comes out of what was counted is left to `ratios`, how it looks to `show`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from cogtally.gears.epicyclic import Epicyclic
from cogtally.gears.notation import Count
from cogtally.gears.trains import common_factors, is_hunting, pair_ratio, tooth_sums


@dataclass(frozen=True, slots=True)
class Wheel:
    """One wheel and what its counts come to: `teeth`, None where nobody counted it."""

    name: str
    teeth: int | None
    counts: tuple[Count, ...]

    @property
    def is_disputed(self) -> bool:
        """Whether it was counted more than once with different results."""
        return len({count.teeth for count in self.counts}) > 1

    @property
    def is_unsure(self) -> bool:
        """Whether no count that gave these teeth was a sure one."""
        agreeing = [count for count in self.counts if count.teeth == self.teeth]
        return bool(agreeing) and all(count.unsure for count in agreeing)


@dataclass(frozen=True, slots=True)
class Pair:
    """One pair: its wheels, driver first."""

    name: str
    wheels: tuple[Wheel, ...]

    @property
    def teeth(self) -> tuple[int | None, ...]:
        """Teeth of its wheels, driver first."""
        return tuple(wheel.teeth for wheel in self.wheels)

    @property
    def sums(self) -> tuple[int | None, ...]:
        """Tooth sum of each mesh."""
        return tooth_sums(self.teeth)

    @property
    def factors(self) -> tuple[int | None, ...]:
        """Greatest common factor of the teeth of each mesh."""
        return common_factors(self.teeth)

    @property
    def hunting(self) -> bool | None:
        """Whether every tooth meets every tooth of its mate; None where a count is missing."""
        return is_hunting(self.teeth)

    @property
    def missing(self) -> tuple[str, ...]:
        """Wheels without which the pair has no ratio."""
        ends = (self.wheels[0], self.wheels[-1])
        return tuple(wheel.name for wheel in ends if wheel.teeth is None)


@dataclass(frozen=True, slots=True)
class Gear:
    """One gear. Ratios are turns in for one turn out; None where a count is missing.

    `path`: its pairs, none in direct. `missing`: wheels without a count that `ratio` would need.
    `step`: ratio of the gear numbered one lower over this one's; known sometimes where neither
    ratio is, since a pair on both paths cancels. `overall`: through the axle too. `overdrive`
    and `overdrive_overall`: the same with the overdrive in; never for reverse.
    """

    name: str
    path: tuple[str, ...]
    missing: tuple[str, ...]
    ratio: Fraction | None
    step_from: str | None = None
    step: Fraction | None = None
    overall: Fraction | None = None
    overdrive: Fraction | None = None
    overdrive_overall: Fraction | None = None


@dataclass(frozen=True, slots=True)
class RatioTable:
    """All that can be worked out of counts without a catalog.

    `assumed`: nobody named the layout. `axle`: the axle's pair where it stands behind the box.
    `unused`: pairs that no gear runs through. `paths`: the spelled-out ones.
    """

    layout: str
    assumed: bool
    direct: str | None
    paths: Mapping[str, tuple[str, ...]]
    gears: tuple[Gear, ...]
    pairs: tuple[Pair, ...]
    axle: Pair | None
    overdrive: Epicyclic | None
    unused: tuple[str, ...]
    sums_apart: tuple[str, ...]

    @property
    def axle_ratio(self) -> Fraction | None:
        """Turns of the pinion for one of the crown wheel; None without an axle or a count."""
        return None if self.axle is None else pair_ratio(self.axle.teeth)

    @property
    def disputed(self) -> tuple[Wheel, ...]:
        """Wheels that were counted more than once with different results."""
        return tuple(wheel for pair in self.pairs for wheel in pair.wheels if wheel.is_disputed)

    @property
    def rising(self) -> tuple[Gear, ...]:
        """Gears whose ratio is not below that of the gear numbered one lower."""
        return tuple(gear for gear in self.gears if gear.step is not None and gear.step <= 1)
