"""How far each set is from what was counted: teeth that differ, and ratios.

Distance decides nothing; what does is left to `verdict`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from math import prod
from operator import itemgetter
from typing import NamedTuple

from cogtally.catalog.model import Catalog, Family, RatioSet, gear_ratios
from cogtally.evidence.engine import near_families
from cogtally.evidence.laws import READING_SD, reading_of
from cogtally.evidence.seen import Counted, counted_wheels
from cogtally.gears.notation import Seen, Turn
from cogtally.gears.trains import OVERDRIVE, train_ratio

NEAREST_SHOWN = 5
#: More teeth than any set can be away from what was counted.
UNHEARD_OF = 10**9
#: A reading is said to differ from here on, in standard deviations of reading a mark.
READING_FAR = 3.0
_FAR = float("inf")


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

    @property
    def says_something(self) -> bool:
        """Whether anything seen could be held against the set at all."""
        return self.compared > 0 or self.worst_ratio_error is not None


def ratio_in_set(
    family: Family, known: RatioSet, gear: str, teeth: Mapping[str, int | None] | None = None
) -> Fraction | None:
    """Return the ratio that a set gives to a gear: of its teeth, else as printed; 1 if direct.

    `teeth`: those of the set, where they are at hand.
    """
    path = family.train.path(gear)
    if path == ():
        return Fraction(1)
    if known.is_counted and family.layout == OVERDRIVE:
        return gear_ratios(family, known).get(gear)
    found = None
    if known.is_counted and path is not None:
        found = _of_path(family, path, family.teeth_of(known) if teeth is None else teeth)
    printed = known.ratios.get(gear)
    return Fraction(printed) if found is None and printed is not None else found


def ratio_of_path(family: Family, known: RatioSet, gears: Iterable[str]) -> Fraction | None:
    """Return the ratio that a set gives to gears one after the other; None where it lacks one."""
    return product(ratio_in_set(family, known, gear) for gear in gears)


def product(ratios: Iterable[Fraction | None]) -> Fraction | None:
    """Return the ratio of several one after the other; None where one is not known."""
    found = list(ratios)
    known = [ratio for ratio in found if ratio is not None]
    return prod(known, start=Fraction(1)) if len(known) == len(found) else None


def _of_path(
    family: Family, path: tuple[str, ...], teeth: Mapping[str, int | None]
) -> Fraction | None:
    """The exact ratio of a path of pairs, None where teeth are missing."""
    wheels = family.train.path_wheels(path)
    return train_ratio((teeth.get(driver), teeth.get(driven)) for driver, driven in wheels)


def reads_as(turn: Turn, ratio: Fraction) -> bool:
    """Tell whether a turn test reads as that ratio would, within READING_FAR of a mark."""
    reading = reading_of(turn)
    return abs(reading.value - reading.mean(float(ratio))) <= READING_FAR * READING_SD


def differences(
    family: Family, known: RatioSet, counted: Mapping[str, Counted]
) -> tuple[Difference, ...]:
    """Return each wheel whose count is not what the set has; a gap differs from nothing."""
    if not known.is_counted:
        return ()
    teeth = family.teeth_of(known)
    listed = {wheel: teeth.get(wheel) for wheel in counted if teeth.get(wheel, 0) is not None}
    return tuple(
        Difference(wheel, counted[wheel].teeth, has)
        for wheel, has in listed.items()
        if has != counted[wheel].teeth
    )


def turned_ratios(seen: Seen) -> Mapping[str, Fraction]:
    """Return the ratio, turns in for one turn out, of each gear that was turned by itself."""
    return {
        turn.gears[0]: turn.turns_in / turn.turns_out
        for turn in seen.turns
        if len(turn.gears) == 1 and not turn.held
    }


def measure(
    family: Family,
    known: RatioSet,
    counted: Mapping[str, Counted],
    turned: Mapping[str, Fraction] | None = None,
) -> Near:
    """Return how far one set is from the counts, which are by the family's kept names."""
    return _near(family, known, counted, _box_ratios(family, counted, turned or {}))


def _near(
    family: Family, known: RatioSet, counted: Mapping[str, Counted], of_box: Mapping[str, Fraction]
) -> Near:
    teeth = family.teeth_of(known) if known.is_counted else {}
    ratios = {gear: ratio_in_set(family, known, gear, teeth) for gear in of_box}
    errors = [abs(of_box[gear] / ratio - 1) for gear, ratio in ratios.items() if ratio is not None]
    return Near(
        family.id,
        known.id,
        _teeth_apart(teeth, counted) if known.is_counted else None,
        float(max(errors)) if errors else None,
        differences(family, known, counted),
        sum(teeth.get(wheel) is not None for wheel in counted),
    )


def least_difference(catalog: Catalog, seen: Seen, only: str | None = None) -> int:
    """Return the sum of |count − teeth| of the nearest set; very many where no set has counts."""
    families = _asked(catalog, seen, only)
    return min(
        (
            _teeth_apart(teeth, counted)
            for family in families
            for counted in (counted_wheels(seen, family),)
            for teeth in family.counted_teeth
        ),
        default=UNHEARD_OF,
    )


def nearest_sets(catalog: Catalog, seen: Seen, only: str | None = None) -> tuple[Near, ...]:
    """Return the sets nearest to what was seen, by teeth, then by ratio; printed ones behind.

    `only` leaves one family, by its id.
    """
    turned = turned_ratios(seen)
    away = [
        (
            _teeth_apart(family.teeth_of(known), counted) if known.is_counted else _FAR,
            family,
            known,
            counted,
        )
        for family in _asked(catalog, seen, only)
        for counted in (counted_wheels(seen, family),)
        for known in family.sets
    ]
    # Ratios, in fractions, cost most: they are only asked of sets that may be among the nearest.
    bar = max(sorted(one[0] for one in away)[:NEAREST_SHOWN], default=_FAR)
    of_box: dict[str, Mapping[str, Fraction]] = {}
    found = []
    for teeth, family, known, counted in away:
        if teeth <= bar:
            if family.id not in of_box:
                of_box[family.id] = _box_ratios(family, counted, turned)
            near = _near(family, known, counted, of_box[family.id])
            error = near.worst_ratio_error
            found.append((teeth, _FAR if error is None else error, near))
    found.sort(key=itemgetter(0, 1))
    return tuple(near for _, _, near in found[:NEAREST_SHOWN])


def _asked(catalog: Catalog, seen: Seen, only: str | None) -> Sequence[Family]:
    """The families asked about that the nearest sets can be of."""
    if only is None:
        return [catalog.families[place] for place in near_families(catalog, seen, NEAREST_SHOWN)]
    one = catalog.by_id.get(only)
    return () if one is None else (one,)


def _teeth_apart(teeth: Mapping[str, int | None], counted: Mapping[str, Counted]) -> int:
    """The sum of |count − teeth|: nothing of a gap, all of a wheel that is not there."""
    return sum(
        abs(count.teeth - has)
        for wheel, count in counted.items()
        for has in (teeth.get(wheel, 0),)
        if has is not None
    )


def _box_ratios(
    family: Family, counted: Mapping[str, Counted], turned: Mapping[str, Fraction]
) -> Mapping[str, Fraction]:
    """The ratio of each gear that a box gives by its counts, else as it was turned."""
    found = dict(turned)
    teeth = {wheel: count.teeth for wheel, count in counted.items()}
    for gear in family.train.gears:
        path = family.train.path(gear)
        ratio = None if path is None else _of_path(family, path, teeth)
        if ratio is not None:
            found[gear] = ratio
    found.pop(family.direct or "", None)
    return found
