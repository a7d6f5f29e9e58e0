"""A catalogued set as a gearbox for the road: its ratios, counted or printed, and its own axle.

What the ratios come to on the road is left to `gears.road_cars`.
"""

from __future__ import annotations

from fractions import Fraction

from cogtally.catalog.model import Family, RatioSet, gear_ratios
from cogtally.gears.errors import UserError
from cogtally.gears.printed import parse_ratio
from cogtally.gears.road import Axle, Box
from cogtally.gears.trains import FINAL

AXLE = "axle"


def box_of_set(family: Family, known: RatioSet) -> Box:
    """Return a set's gears by counted teeth, else by printed ratios; UserError for an axle."""
    name = f"{family.id}/{known.id}"
    if family.layout == AXLE:
        mend = f"an axle stands behind a box: write --axle {name}"
        raise UserError("this set is an axle, not a box", f"--set {name}", mend)
    ratios, printed = _ratios(family, known)
    own = None
    if FINAL not in family.train.paths and FINAL in ratios:
        own = _axle(known, ratios.pop(FINAL))
    gears = {gear: ratio for gear, ratio in ratios.items() if ratio is not None}
    return Box(
        name=name,
        title=known.name,
        gears=tuple(gears.items()),
        printed=tuple(gear for gear in gears if gear in printed),
        missing=tuple(
            (gear, _not_counted(family, known, gear)) for gear in ratios if gear not in gears
        ),
        final=own,
    )


def axle_of_set(family: Family, known: RatioSet) -> Axle:
    """Return an axle out of the catalog; raise UserError where the set has no final drive."""
    name = f"{family.id}/{known.id}"
    ratios, _ = _ratios(family, known)
    found = _axle(known, ratios.get(FINAL), f"{name} ")
    if found is None:
        mend = f"a box stands before an axle: write --set {name}"
        if family.layout == AXLE:
            mend = "count its pinion and crown wheel"
        raise UserError("this set has no known final drive", f"--axle {name}", mend)
    return found


def _ratios(family: Family, known: RatioSet) -> tuple[dict[str, Fraction | None], frozenset[str]]:
    """Return the ratio of every gear and final drive, and the gears that were only printed."""
    found = dict(gear_ratios(family, known)) if known.is_counted else {}
    printed = {
        gear: parse_ratio(text).value for gear, text in known.ratios.items() if not found.get(gear)
    }
    if family.direct is not None:
        found.setdefault(family.direct, Fraction(1))
        printed.pop(family.direct, None)
    return {**found, **printed}, frozenset(printed)


def _axle(known: RatioSet, ratio: Fraction | None, before: str = "") -> Axle | None:
    if ratio is None:
        return None
    teeth = known.pairs.get(FINAL, ())
    counted = "/".join("_" if count is None else str(count) for count in teeth)
    return Axle(before + (counted or known.ratios[FINAL]), ratio)


def _not_counted(family: Family, known: RatioSet, gear: str) -> tuple[str, ...]:
    teeth = family.teeth_of(known)
    wheels = (w for pair in family.train.path_wheels(family.train.path(gear) or ()) for w in pair)
    return tuple(dict.fromkeys(wheel for wheel in wheels if teeth.get(wheel) is None))
