"""The exact ratio of each gear of a set, out of its own teeth.

What is printed of a set is left to whoever compares.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from cogtally.catalog.model import Family, RatioSet
from cogtally.gears.trains import train_ratio


def gear_ratios(family: Family, known: RatioSet) -> Mapping[str, Fraction | None]:
    """Return turns in for one turn out of every gear of the family; None where a wheel is a gap."""
    teeth = family.teeth_of(known)
    found: dict[str, Fraction | None] = {}
    for gear in family.train.gears:
        path = family.train.path(gear)
        wheels = family.train.path_wheels(path or ())
        found[gear] = train_ratio([(teeth.get(a), teeth.get(b)) for a, b in wheels])
    return found
