"""How far each set is from what was counted: teeth that differ, and ratios.

Distance decides nothing; what does is left to `verdict`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from operator import itemgetter
from typing import NamedTuple

from cogtally.catalog.model import Catalog, Family, RatioSet, gear_ratios
from cogtally.evidence.engine import near_families
from cogtally.evidence.seen import Counted, counted_wheels
from cogtally.gears.notation import Seen
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


def ratio_of_counts(family: Family, gear: str, counted: Mapping[str, Counted]) -> Fraction | None:
    """Return the exact ratio of `gear` by the family's path, None where a count is missing.

    `counted` by the family's kept names.
    """
    path = family.train.path(gear)
    if path is None:
        return None
    teeth = {wheel: c.teeth for wheel, c in counted.items()}
    return train_ratio(
        (teeth.get(driver), teeth.get(driven)) for driver, driven in family.train.path_wheels(path)
    )


def ratio_in_set(family: Family, known: RatioSet, gear: str) -> Fraction | None:
    """Return the ratio that a set gives to a gear: of its teeth, else as printed; 1 if direct."""
    return _listed_ratio(family, known, gear, _teeth(family, known))


def _listed_ratio(
    family: Family, known: RatioSet, gear: str, teeth: Mapping[str, int | None]
) -> Fraction | None:
    path = family.train.path(gear)
    if path == ():
        return Fraction(1)
    if known.is_counted and family.layout == OVERDRIVE:
        return gear_ratios(family, known).get(gear)
    if known.is_counted and path is not None:
        found = train_ratio(
            (teeth.get(driver), teeth.get(driven))
            for driver, driven in family.train.path_wheels(path)
        )
        if found is not None:
            return found
    printed = known.ratios.get(gear)
    return None if printed is None else Fraction(printed)


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
    teeth = _teeth(family, known)
    return Near(
        family.id,
        known.id,
        _teeth_apart(teeth, counted) if known.is_counted else None,
        _worst_ratio_error(family, known, _box_ratios(family, counted, turned or {}), teeth),
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
        (teeth_away(family, known, counted), family, known, counted)
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
            of_set = _teeth(family, known) if of_box[family.id] else {}
            error = _worst_ratio_error(family, known, of_box[family.id], of_set)
            found.append((teeth, _FAR if error is None else error, family, known, counted))
    found.sort(key=itemgetter(0, 1))
    return tuple(measure(*one[2:], turned) for one in found[:NEAREST_SHOWN])


def _asked(catalog: Catalog, seen: Seen, only: str | None) -> Sequence[Family]:
    """The families asked about that the nearest sets can be of."""
    if only is None:
        return [catalog.families[place] for place in near_families(catalog, seen, NEAREST_SHOWN)]
    one = catalog.by_id.get(only)
    return () if one is None else (one,)


def teeth_away(family: Family, known: RatioSet, counted: Mapping[str, Counted]) -> float:
    """Return the sum of |count − teeth|; infinite for a set known by printed ratios only."""
    return _teeth_apart(family.teeth_of(known), counted) if known.is_counted else _FAR


def _teeth(family: Family, known: RatioSet) -> Mapping[str, int | None]:
    """The teeth of a set; nothing of one that is known by printed ratios only."""
    return family.teeth_of(known) if known.is_counted else {}


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
    for gear in family.train.gears:
        ratio = ratio_of_counts(family, gear, counted)
        if ratio is not None:
            found[gear] = ratio
    found.pop(family.direct or "", None)
    return found


def _worst_ratio_error(
    family: Family,
    known: RatioSet,
    of_box: Mapping[str, Fraction],
    teeth: Mapping[str, int | None],
) -> float | None:
    """The greatest |box/set − 1| over the gears that both give; `teeth` of the set."""
    listed = {gear: _listed_ratio(family, known, gear, teeth) for gear in of_box}
    errors = [abs(of_box[gear] / ratio - 1) for gear, ratio in listed.items() if ratio is not None]
    return float(max(errors)) if errors else None
