"""Overdrives and other simple epicyclic trains: sun, planets and annulus, in exact fractions.

Which gears an overdrive works on, and what a road speed comes to, is left to `road` and `ratios`.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import permutations
from math import pi, sin

from cogtally.gears.errors import UserError

SUN, CARRIER, ANNULUS = "sun", "carrier", "annulus"
MEMBERS = (SUN, CARRIER, ANNULUS)

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
    planets: int = USUAL_PLANETS

    @property
    def planet(self) -> Fraction:
        """Teeth of one planet, (A − S)/2; whole in a train that can be made without shift."""
        return Fraction(self.annulus - self.sun, 2)

    def speeds(self, held: str, driver: str) -> dict[str, Fraction]:
        """Return turns of every member for one turn of `driver` while `held` stands.

        Willis: S·sun + A·annulus = (S + A)·carrier. Negative turns run the other way.
        Raises ValueError for a name that is no member or for the same name twice.
        """
        if held == driver or held not in MEMBERS or driver not in MEMBERS:
            raise ValueError(f"held and driver are two of {MEMBERS}")
        share = {SUN: self.sun, ANNULUS: self.annulus, CARRIER: -(self.sun + self.annulus)}
        (other,) = set(MEMBERS) - {held, driver}
        return {
            held: Fraction(0),
            driver: Fraction(1),
            other: Fraction(-share[driver], share[other]),
        }

    def ratio(self, held: str, driver: str) -> Fraction:
        """Return turns in for one turn out, with `held` still and `driver` driving the third."""
        speeds = self.speeds(held, driver)
        (out,) = set(MEMBERS) - {held, driver}
        return 1 / speeds[out]

    @property
    def overdrive(self) -> Fraction:
        """Turns in for one turn out with the sun held, carrier in and annulus out: A/(A + S)."""
        return self.ratio(SUN, CARRIER)

    def ratios(self) -> dict[tuple[str, str], Fraction]:
        """Return the ratio of each way to use the train, keyed (held, driver)."""
        ways = permutations(MEMBERS, 2)
        return {(held, driver): self.ratio(held, driver) for held, driver in ways}

    def problems(self) -> tuple[str, ...]:
        """Say why evenly spaced planets cannot be put together, one sentence a reason.

        Planets of standard teeth need A − S even; evenly spaced ones need (A + S)/n whole; two
        neighbours clear each other where (S + P)·sin(π/n) > P + 2 addenda. Empty: it can be made.
        """
        found = []
        if (self.annulus - self.sun) % 2:
            found.append(
                f"{self.annulus} less {self.sun} is odd, so no whole planet fits between them "
                "without profile shift"
            )
        if (self.annulus + self.sun) % self.planets:
            found.append(
                f"{self.annulus} and {self.sun} add to {self.annulus + self.sun}, which "
                f"{self.planets} does not divide: {self.planets} evenly spaced planets cannot mesh"
            )
        between = float(self.sun + self.planet) * sin(pi / self.planets)
        if self.planets > 1 and between <= float(self.planet) + 2 * ADDENDUM:
            found.append(f"{self.planets} planets of {float(self.planet):g} teeth touch each other")
        return tuple(found)

    def possible_planets(self) -> tuple[int, ...]:
        """Return the numbers of evenly spaced planets, two or more, that can be put together."""
        return tuple(
            n
            for n in range(2, MOST_PLANETS + 1)
            if not Epicyclic(self.sun, self.annulus, n).problems()
        )


def epicyclic(sun: int, annulus: int, planets: int = USUAL_PLANETS) -> Epicyclic:
    """Check the counts that a person gave and return the train; raise UserError.

    Whether planets can be put in is not asked here: see `Epicyclic.problems`.
    """
    place = f"{sun}/{annulus}"
    for teeth in (sun, annulus):
        if not isinstance(teeth, int) or isinstance(teeth, bool):
            raise UserError("a count of teeth is a whole number", place, "write it as 24/84")
        if not FEWEST_TEETH <= teeth <= MOST_TEETH:
            raise UserError(
                f"{teeth} teeth is outside {FEWEST_TEETH} to {MOST_TEETH}", place, "count it again"
            )
    if annulus < sun + LEAST_BETWEEN:
        turned = f"did you mean {annulus}/{sun}?" if annulus < sun else "count them again"
        raise UserError("the annulus must have more teeth than the sun inside it", place, turned)
    if not isinstance(planets, int) or not 1 <= planets <= MOST_PLANETS:
        raise UserError(f"planets are 1 to {MOST_PLANETS}", str(planets), "count the planets")
    return Epicyclic(sun, annulus, planets)


def overdrive_ratio(sun: int, annulus: int) -> Fraction:
    """Return in/out of an overdrive: sun held, carrier in, annulus out: 1/(1 + S/A), exact.

    Raises UserError where the counts cannot be those of a sun and its annulus.
    """
    return epicyclic(sun, annulus).overdrive


def overdrive_of(sun: int | None, annulus: int | None) -> Fraction | None:
    """Return in/out of counts that were looked at before, exact; None where one is missing."""
    if sun is None or annulus is None:
        return None
    return Epicyclic(sun, annulus).overdrive
