"""Gearboxes, axles, overdrives and tyres put together as cars, and all that is asked of each.

The arithmetic is left to `speed`, how things are written to `words`.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cogtally.gears.errors import UserError
from cogtally.gears.ratios import WITH_DIRECT, RatioTable
from cogtally.gears.road.speed import (
    Band,
    Change,
    Drive,
    GearRow,
    Holding,
    Tooth,
    bands,
    changes,
    drive,
    engine_speeds,
    highest_gear,
    is_reverse,
    rows,
    saw_tooth,
    speeds,
    with_overdrive,
)
from cogtally.gears.road.tyres import Tyre
from cogtally.gears.trains import gear_order, is_numbered

#: More cars side by side than anybody compares, and than letters and a screen have room for.
MOST_CARS = 6
MOST_SPEEDS = 6


@dataclass(frozen=True, slots=True)
class Axle:
    """A final drive: what was written or counted, and turns of the pinion for one of the wheel."""

    text: str
    ratio: Fraction


@dataclass(frozen=True, slots=True)
class Overdrive:
    """An overdrive: what was written, its ratio, and the gears it is on; none: the highest."""

    text: str
    ratio: Fraction
    on: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Box:
    """A gearbox by the ratios of its gears, turns in for one turn out.

    `name`: `FAMILY/SET`, or empty for the words that were written; `title`: the set's name.
    `printed`: gears whose ratio is printed digits, not counted teeth. `missing`: gears without a
    ratio, each with the wheels that nobody counted. `final`: its own final drive, if it has one.
    `assumed`: the layout that was taken because none was named, else empty. `may_lock`: a gear
    that is not written may be the one that locks input to output, for none was named.
    """

    name: str
    gears: tuple[tuple[str, Fraction], ...]
    title: str = ""
    printed: tuple[str, ...] = ()
    missing: tuple[tuple[str, tuple[str, ...]], ...] = ()
    final: Axle | None = None
    assumed: str = ""
    may_lock: bool = False

    def is_next(self, lower: str, upper: str) -> bool:
        """Tell whether no gear without a ratio belongs between two gears, by their numbers."""
        if not (is_numbered(lower) and is_numbered(upper)):
            return True
        between = range(int(lower) + 1, int(upper))
        return not any(is_numbered(gear) and int(gear) in between for gear, _ in self.missing)

    @property
    def rising(self) -> tuple[tuple[str, str], ...]:
        """Gears next to each other by number of which the higher has no lower ratio."""
        numbered = sorted(
            ((name, ratio) for name, ratio in self.gears if is_numbered(name)),
            key=lambda item: gear_order(item[0]),
        )
        return tuple((low, high) for (low, a), (high, b) in itertools.pairwise(numbered) if a <= b)


@dataclass(frozen=True, slots=True)
class Car:
    """One box behind an engine, with an axle, perhaps an overdrive, and a tyre."""

    box: Box
    axle: Axle
    overdrive: Overdrive | None
    drive: Drive

    @property
    def tyre(self) -> Tyre:
        """The tyre of its driven wheels."""
        return self.drive.tyre


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked of every car: engine speeds, road speeds in `unit`, and an engine band."""

    unit: str
    rpm: tuple[float, ...] = ()
    speeds: tuple[float, ...] = ()
    band: tuple[float, float] | None = None

    @property
    def change_at(self) -> float | None:
        """Engine speed at which gears are changed up: the band's upper end, else the highest."""
        return self.band[1] if self.band else max(self.rpm, default=None)


@dataclass(frozen=True, slots=True)
class RoadRow(GearRow):
    """One gear on the road, with the step to it from the forward gear below, None for none."""

    step_from: str | None = None
    step: Fraction | None = None


@dataclass(frozen=True, slots=True)
class OnTheRoad:
    """All that was asked of one car; speeds in the unit of `asked`.

    `at_rpm`: for each engine speed, every gear's road speed. `at_speed`: for each road speed,
    every forward gear's engine speed, and with a band the gear that holds it. `bands` and `teeth`
    are empty where no band or engine speed was given; `changes` are made at `asked.change_at`,
    none across a gear whose ratio is missing.
    """

    car: Car
    asked: Asked
    rows: tuple[RoadRow, ...]
    at_rpm: tuple[tuple[float, tuple[tuple[str, float], ...]], ...]
    at_speed: tuple[Holding, ...]
    bands: tuple[Band, ...]
    changes: tuple[Change, ...]
    teeth: tuple[Tooth, ...]

    @property
    def gaps(self) -> tuple[str, ...]:
        """Gears from whose end the change up leaves the engine below the band."""
        return tuple(b.gear for b in self.bands if b.overlap is not None and b.overlap < 0)


def box_of_counts(table: RatioTable) -> Box:
    """Return the box that a table of ratios describes; an axle in it is the box's own."""
    axle = table.axle
    own = None
    if axle is not None and table.axle_ratio is not None:
        own = Axle("/".join(str(teeth) for teeth in axle.teeth), table.axle_ratio)
    known = tuple((gear.name, gear.ratio) for gear in table.gears if gear.ratio is not None)
    return Box(
        name="",
        gears=known,
        missing=tuple((gear.name, gear.missing) for gear in table.gears if gear.ratio is None),
        final=own,
        assumed=table.layout if table.assumed and table.layout == "two-shaft" else "",
        may_lock=table.layout in WITH_DIRECT and table.direct is None,
    )


def line_up(
    boxes: Sequence[Box],
    axles: Sequence[Axle],
    tyres: Sequence[Tyre],
    overdrive: Overdrive | None = None,
) -> tuple[Car, ...]:
    """Return every box with every axle on every tyre, in written order, none twice.

    A box without an axle of those written keeps its own. Raises UserError where one has none, or
    where they are too many to stand side by side.
    """
    if not tyres:
        mend = "write --tyre 165/80R15, or what a wheel rolls in one turn: --tyre 1960mm"
        raise UserError("no tyre was written", "cogtally road", mend)
    found: dict[tuple[object, ...], Car] = {}
    for box in dict.fromkeys(boxes):
        for axle in axles or [own_axle(box)]:
            for tyre in tyres:
                made = _car(box, axle, tyre, overdrive)
                found.setdefault((box, axle.ratio, tyre.rolled_mm), made)
    if len(found) > MOST_CARS:
        raise UserError(
            f"{len(found)} cars would stand side by side",
            "cogtally road",
            f"{MOST_CARS} at most: leave out sets, axles or tyres",
        )
    return tuple(found.values())


def own_axle(box: Box) -> Axle:
    """Return a box's own final drive; raise UserError where it has none."""
    if box.final is not None:
        return box.final
    mend = "write --axle 9/41, pinion and crown wheel, or its ratio, --axle 4.56"
    raise UserError("no axle was written", box.name or "cogtally road", mend)


def on_the_road(car: Car, asked: Asked) -> OnTheRoad:
    """Work out all that was asked of one car; raise UserError for speeds that are none."""
    drives, unit = car.drive, asked.unit
    top = asked.change_at
    return OnTheRoad(
        car=car,
        asked=asked,
        bands=bands(drives, *asked.band, unit) if asked.band else (),
        rows=_rows(car, unit),
        at_rpm=tuple((rpm, speeds(drives, rpm, unit)) for rpm in asked.rpm),
        at_speed=tuple(
            highest_gear(drives, speed, *asked.band, unit)
            if asked.band
            else Holding(None, speed, engine_speeds(drives, speed, unit))
            for speed in asked.speeds
        ),
        changes=()
        if top is None
        else tuple(c for c in changes(drives, top) if car.box.is_next(c.lower, c.upper)),
        teeth=() if top is None else saw_tooth(drives, top, unit),
    )


def _rows(car: Car, unit: str) -> tuple[RoadRow, ...]:
    found: list[RoadRow] = []
    for row in rows(car.drive, unit):
        below = found[-1] if found and not is_reverse(row.gear) else None
        if below is not None and not car.box.is_next(below.gear, row.gear):
            below = None
        step = None if below is None else below.ratio / row.ratio
        found.append(
            RoadRow(
                row.gear,
                row.ratio,
                row.overall,
                row.per_1000,
                None if below is None else below.gear,
                step,
            )
        )
    return tuple(found)


def _car(box: Box, axle: Axle, tyre: Tyre, overdrive: Overdrive | None) -> Car:
    if not box.gears:
        raise UserError("no gear has a ratio", box.name or "cogtally road", _wanted(box.missing))
    made = drive(box.gears, axle.ratio, tyre)
    if overdrive is None:
        return Car(box, axle, None, made)
    forward = [gear for gear, _ in made.forward]
    on = overdrive.on or tuple(forward[-1:])
    backwards = [gear for gear in on if is_reverse(gear)]
    if backwards:
        mend = f"gears that it can be on: {', '.join(forward)}"
        raise UserError("reverse has no overdrive", f"--overdriven {backwards[0]}", mend)
    for gear in on:
        if gear not in dict(made.gears):
            raise _no_gear(gear, box)
    fitted = Overdrive(overdrive.text, overdrive.ratio, on)
    return Car(box, axle, fitted, with_overdrive(made, overdrive.ratio, on))


def _no_gear(gear: str, box: Box) -> UserError:
    """Return the error for an overdrive on a gear that has no ratio."""
    place = f"--overdriven {gear}"
    wheels = dict(box.missing).get(gear)
    if wheels:
        return UserError(f"gear {gear} has no ratio", place, _wanted([(gear, wheels)]))
    mend = f"gears: {', '.join(name for name, _ in box.gears)}"
    if box.may_lock:
        mend += f"; where {gear} locks input to output, write --direct {gear} too"
    return UserError(f"there is no gear {gear}", place, mend)


def _wanted(missing: Iterable[tuple[str, tuple[str, ...]]]) -> str:
    wheels = dict.fromkeys(wheel for _, wanted in missing for wheel in wanted)
    return f"count {', '.join(wheels)}" if wheels else "write ratios, 1=3.65, or counts, 1=14/31"
