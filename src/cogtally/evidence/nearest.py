"""How far each set is from what was counted: teeth that differ, and ratios.

Distance decides nothing; what does is left to `verdict`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cogtally.catalog.gear_ratios import gear_ratios
from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.evidence.counted import Counted, counted_wheels
from cogtally.evidence.prepared import shortcuts_of
from cogtally.gears.notation import Seen
from cogtally.gears.trains import OVERDRIVE, train_ratio

NEAREST_SHOWN = 5


@dataclass(frozen=True, slots=True)
class Difference:
    """One wheel whose count is not what a set has; `listed` None where it lacks the wheel."""

    wheel: str
    counted: int
    listed: int | None


@dataclass(frozen=True, slots=True)
class Near:
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
    path = family.train.path(gear)
    if path == ():
        return Fraction(1)
    if known.is_counted and family.layout == OVERDRIVE:
        return gear_ratios(family, known).get(gear)
    if known.is_counted and path is not None:
        teeth = family.teeth_of(known)
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
    found = []
    for wheel, count in counted.items():
        if wheel not in teeth:
            found.append(Difference(wheel, count.teeth, None))
        elif teeth[wheel] not in (None, count.teeth):
            found.append(Difference(wheel, count.teeth, teeth[wheel]))
    return tuple(found)


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
    differing = differences(family, known, counted)
    teeth = family.teeth_of(known) if known.is_counted else {}
    return Near(
        family.id,
        known.id,
        sum(abs(d.counted - (d.listed or 0)) for d in differing) if known.is_counted else None,
        _worst_ratio_error(family, known, counted, turned or {}),
        differing,
        sum(teeth.get(wheel) is not None for wheel in counted),
    )


def least_difference(catalog: Catalog, seen: Seen, only: str | None = None) -> int:
    """Return the sum of |count − teeth| of the nearest set; very many where no set has counts."""
    return min(
        (
            sum(abs(d.counted - (d.listed or 0)) for d in differences(family, known, counted))
            for family in _asked(catalog, seen, only, 1)
            for counted in (counted_wheels(seen, family),)
            for known in family.counted_sets
        ),
        default=10**9,
    )


def nearest_sets(catalog: Catalog, seen: Seen, only: str | None = None) -> tuple[Near, ...]:
    """Return the sets nearest to what was seen, by teeth, then by ratio; printed ones behind.

    `only` leaves one family, by its id.
    """
    turned = turned_ratios(seen)
    far = float("inf")
    away = [
        (teeth_away(family, known, counted), family, known, counted)
        for family in _asked(catalog, seen, only, NEAREST_SHOWN)
        for counted in (counted_wheels(seen, family),)
        for known in family.sets
    ]
    # Ratios, in fractions, cost most: they are only asked of sets that may be among the nearest.
    bar = sorted(one[0] for one in away)[:NEAREST_SHOWN][-1:] or [far]
    found = [
        measure(family, known, counted, turned)
        for teeth, family, known, counted in away
        if teeth <= bar[0]
    ]
    found.sort(
        key=lambda near: (
            far if near.tooth_differences is None else near.tooth_differences,
            far if near.worst_ratio_error is None else near.worst_ratio_error,
        )
    )
    return tuple(found[:NEAREST_SHOWN])


def _asked(catalog: Catalog, seen: Seen, only: str | None, most: int) -> Sequence[Family]:
    """The families among which the `most` nearest sets are."""
    shortcuts = shortcuts_of(catalog)
    if shortcuts is not None and only is None:
        return shortcuts.nearest(seen, most)
    return [family for family in catalog.families if only in (None, family.id)]


def teeth_away(family: Family, known: RatioSet, counted: Mapping[str, Counted]) -> float:
    """Return the sum of |count − teeth|; infinite for a set known by printed ratios only."""
    if not known.is_counted:
        return float("inf")
    return sum(abs(d.counted - (d.listed or 0)) for d in differences(family, known, counted))


def _worst_ratio_error(
    family: Family,
    known: RatioSet,
    counted: Mapping[str, Counted],
    turned: Mapping[str, Fraction],
) -> float | None:
    errors = []
    for gear in dict.fromkeys([*family.train.gears, *known.ratios]):
        box = ratio_of_counts(family, gear, counted) or turned.get(gear)
        listed = ratio_in_set(family, known, gear)
        if box is not None and listed is not None and gear != family.direct:
            errors.append(abs(box / listed - 1))
    return float(max(errors)) if errors else None
