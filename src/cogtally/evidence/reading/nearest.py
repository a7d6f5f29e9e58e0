"""How far each set is from what was counted: teeth that differ, and ratios.

Distance decides nothing; what does is left to `verdict`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction
from math import inf
from typing import NamedTuple

from cogtally.catalog.model import Catalog, Family, RatioSet, gear_ratios
from cogtally.evidence.engine import near_families
from cogtally.evidence.laws import READING_SD, reading_of
from cogtally.evidence.seen import Counted, counted_wheels
from cogtally.gears.notation import Seen, Turn

NEAREST_SHOWN = 5
#: A reading is said to differ from here on, in standard deviations of reading a mark.
READING_FAR = 3.0


class Difference(NamedTuple):
    """One wheel whose count is not what a set has; `listed` None where it lacks the wheel."""

    wheel: str
    counted: int
    listed: int | None


class Near(NamedTuple):
    """A set's distance from what was counted.

    `tooth_differences`: the sum of |count − teeth|, a wheel that the set lacks with its whole
    number; None for a set known by printed ratios only. `worst_ratio_error`: the greatest
    |box/set − 1| over the gears that both give, the box by counts, else by a turn test; None
    where there is no such gear. `compared`: how many counted wheels the set has teeth for.
    """

    family: str
    set: str
    tooth_differences: int | None
    worst_ratio_error: float | None
    differences: tuple[Difference, ...]
    compared: int


def set_ratios(family: Family, known: RatioSet) -> Mapping[str, Fraction]:
    """Return the ratio that a set gives to each gear: of its teeth, else as printed."""
    of_teeth = gear_ratios(family, known).items()
    printed = {gear: Fraction(text) for gear, text in known.ratios.items()}
    return printed | {gear: ratio for gear, ratio in of_teeth if ratio is not None}


def product(ratios: Iterable[Fraction | None]) -> Fraction | None:
    """Return the ratio of gears one after the other; None where one of them is not known."""
    found = Fraction(1)
    for ratio in ratios:
        if ratio is None:
            return None
        found *= ratio
    return found


def reads_as(turn: Turn, ratio: Fraction) -> bool:
    """Tell whether a turn test reads as that ratio would, within READING_FAR of a mark."""
    reading = reading_of(turn)
    return abs(reading.value - reading.mean(float(ratio))) <= READING_FAR * READING_SD


def differences(
    teeth: Mapping[str, int | None], counted: Mapping[str, Counted]
) -> tuple[Difference, ...]:
    """Return each wheel whose count is not what a set has; a gap differs from nothing."""
    return tuple(
        Difference(wheel, count.teeth, teeth.get(wheel))
        for wheel, count in counted.items()
        if teeth.get(wheel, 0) not in (None, count.teeth)
    )


def _teeth_apart(off: Iterable[Difference]) -> int:
    return sum(abs(wheel.counted - (wheel.listed or 0)) for wheel in off)


def measure(family: Family, known: RatioSet, seen: Seen) -> Near:
    """Return how far one set is from what was counted and turned."""
    counted, teeth = counted_wheels(seen, family), family.teeth_of(known)
    off = differences(teeth, counted) if known.is_counted else ()
    of_box = _box_ratios(family, counted, seen)
    ratios = set_ratios(family, known) if of_box else {}
    errors = [abs(of_box[gear] / ratios[gear] - 1) for gear in of_box if gear in ratios]
    return Near(
        family.id,
        known.id,
        _teeth_apart(off) if known.is_counted else None,
        float(max(errors)) if errors else None,
        off,
        sum(teeth.get(wheel) is not None for wheel in counted),
    )


def _box_ratios(
    family: Family, counted: Mapping[str, Counted], seen: Seen
) -> Mapping[str, Fraction]:
    """The ratio of each gear that a box gives by its counts, else as it was turned by itself."""
    found = {
        turn.gears[0]: turn.turns_in / turn.turns_out
        for turn in seen.turns
        if len(turn.gears) == 1 and not turn.held
    }
    ratios = family.train.ratios({wheel: count.teeth for wheel, count in counted.items()})
    found |= {gear: of for gear in family.train.gears if (of := ratios[gear]) is not None}
    found.pop(family.direct or "", None)
    return found


def teeth_away(
    catalog: Catalog, seen: Seen, only: str | None
) -> Iterator[tuple[float, Family, RatioSet]]:
    """Give each set that can be among the nearest, with its sum of |count − teeth|.

    Nothing of a gap, all of a wheel that is not there; infinite of a set without counts. `only`
    leaves one family, by its id.
    """
    if only is None:
        places = near_families(catalog, seen, NEAREST_SHOWN)
        families = [catalog.families[place] for place in places]
    else:
        families = [family for family in catalog.families if family.id == only]
    for family in families:
        counted = counted_wheels(seen, family)
        for known, teeth in zip(family.counted_sets, family.counted_teeth, strict=True):
            yield _teeth_apart(differences(teeth, counted)), family, known
        for known in family.ratio_only_sets:
            yield inf, family, known


def nearest_sets(catalog: Catalog, seen: Seen, only: str | None = None) -> tuple[Near, ...]:
    """Return the sets nearest to what was seen, by teeth, then by ratio; printed ones behind.

    `only` leaves one family, by its id.
    """
    away = list(teeth_away(catalog, seen, only))
    # Ratios, in fractions, cost most: they are only asked of sets that may be among the nearest.
    bar = max(sorted(teeth for teeth, _, _ in away)[:NEAREST_SHOWN], default=inf)
    found = [measure(family, known, seen) for teeth, family, known in away if teeth <= bar]

    def order(near: Near) -> list[float]:
        off = near.tooth_differences, near.worst_ratio_error
        return [inf if each is None else each for each in off]

    return tuple(sorted(found, key=order)[:NEAREST_SHOWN])
