"""The exact ratio of each gear of a set, out of its own teeth.

What is printed of a set is left to whoever compares.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from cogtally.catalog.model import Family, RatioSet
from cogtally.gears.trains import OVERDRIVE, train_ratio


def gear_ratios(family: Family, known: RatioSet) -> Mapping[str, Fraction | None]:
    """Return turns in for one turn out of every gear of the family; None where a wheel is a gap.

    Of an overdrive that is the ratio of its pair with the sun held.
    """
    teeth = family.teeth_of(known)
    if family.layout == OVERDRIVE:
        from cogtally.gears.epicyclic import overdrive_of

        return {
            pair: overdrive_of(teeth.get(f"{pair}.driver"), teeth.get(f"{pair}.driven"))
            for pair in family.train.pairs
        }
    found: dict[str, Fraction | None] = {}
    for gear in family.train.gears:
        path = family.train.path(gear)
        wheels = family.train.path_wheels(path or ())
        found[gear] = train_ratio([(teeth.get(a), teeth.get(b)) for a, b in wheels])
    return found
