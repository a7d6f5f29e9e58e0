"""One box as one family sees it: which counts and tests are of its wheels, which it lacks.

The sums are left to `configurations` and `ratio_only`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import log

from cogtally.catalog.model import Family
from cogtally.evidence.likelihood import NOT_THERE, Reading, no_ratio_density
from cogtally.evidence.meshes import Likelihoods
from cogtally.evidence.ratio_only import RatioOnlySet
from cogtally.evidence.seen import SeenBox
from cogtally.gears.trains import pair_of


@dataclass(frozen=True)
class FamilyView:
    """Counted wheels by kept name to the names they were written under; `absent`: names it lacks.

    `readings`: (path of pairs, reading) of each turn test in gears that it has; `log_lacking`: the
    log of all that depends on no configuration, the counts of absent wheels aside.
    """

    wheels: Mapping[str, tuple[str, ...]]
    absent: tuple[str, ...]
    readings: tuple[tuple[tuple[str, ...], Reading], ...]
    log_lacking: float

    @property
    def lacks(self) -> bool:
        """Whether something was counted or turned that the family does not have."""
        return bool(self.absent) or self.log_lacking != 0.0

    def likelihoods(self, box: SeenBox, hand: int) -> tuple[Likelihoods, float]:
        """Return the scaled likelihood of every counted wheel, and the log of the scale of all."""
        laws = {wheel: box.likelihood(names, hand) for wheel, names in self.wheels.items()}
        scale = sum(law.log_scale for law in laws.values()) + self.log_absent(box, hand)
        return {wheel: law.by_teeth for wheel, law in laws.items()}, scale

    def log_absent(self, box: SeenBox, hand: int) -> float:
        """Return the log of what was seen that depends on no configuration."""
        return self.log_lacking + sum([box.log_elsewhere(name, hand) for name in self.absent])


def view_of_family(family: Family, box: SeenBox) -> FamilyView:
    """Return the box as the counted sets of a family see it."""
    names = family.train.names
    lacking = 0.0
    readings = []
    for gears, reading in box.turns:
        paths = [family.train.path(gear) for gear in gears]
        known = [path for path in paths if path is not None]
        if len(known) < len(paths):
            lacking += log(NOT_THERE) + log(no_ratio_density(reading))
        else:
            readings.append((tuple(pair for path in known for pair in path), reading))
    return view_by_names(box, names.get, tuple(readings), lacking)


def view_of_ratios(known: RatioOnlySet, box: SeenBox) -> FamilyView:
    """Return the box as a set known by printed ratios sees it; its turn tests are in the log."""
    lacking = 0.0
    for gears, reading in box.turns:
        if not all(known.has_gear(gear) for gear in gears):
            lacking += log(NOT_THERE)
        lacking += log(known.reading_density(reading, gears))
    kept = known.family.train.canonical
    return view_by_names(
        box, lambda name: kept(name) if known.has_wheel(name) else None, (), lacking
    )


def view_by_names(
    box: SeenBox,
    kept: Callable[[str], str | None],
    readings: tuple[tuple[tuple[str, ...], Reading], ...],
    lacking: float,
) -> FamilyView:
    """Return the box as whoever calls its wheels by what `kept` gives (None: not there) sees it."""
    wheels: dict[str, tuple[str, ...]] = {}
    absent = []
    for name in box.counts:
        wheel = kept(name)
        if wheel is None:
            absent.append(name)
        else:
            wheels[wheel] = (*wheels.get(wheel, ()), name)
    lacking += len({pair_of(name) for name in absent}) * log(NOT_THERE)
    return FamilyView(wheels, tuple(absent), readings, lacking)
