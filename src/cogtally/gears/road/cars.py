"""Gearboxes, axles, overdrives and tyres put together as cars, and all that is asked of each.

And how all that is written. The arithmetic is left to `speed`.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from cogtally.gears.errors import UserError, shown
from cogtally.gears.notation import parse_name
from cogtally.gears.printed import parse_ratio
from cogtally.gears.ratios import RatioTable, parse_axle, parse_overdrive
from cogtally.gears.recover import parse_sought
from cogtally.gears.road import speed as road
from cogtally.gears.road.speed import KMH, MPH
from cogtally.gears.trains import SHARED, TWO_SHAFT, gear_order, is_numbered

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
    drive: road.Drive

    @property
    def tyre(self) -> road.Tyre:
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
class OnTheRoad:
    """All that was asked of one car; speeds in the unit of `asked`.

    `at_rpm`: for each engine speed, every gear's road speed. `at_speed`: for each road speed,
    every forward gear's engine speed, and with a band the gear that holds it. `bands` and `teeth`
    are empty where no band or engine speed was given; `changes` are made at `asked.change_at`,
    none across a gear whose ratio is missing.
    """

    car: Car
    asked: Asked
    rows: tuple[road.GearRow, ...]
    at_rpm: tuple[tuple[float, tuple[tuple[str, float], ...]], ...]
    at_speed: tuple[road.Holding, ...]
    bands: tuple[road.Band, ...]
    changes: tuple[road.Change, ...]
    teeth: tuple[road.Tooth, ...]

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
        assumed=table.layout if table.assumed and table.layout == TWO_SHAFT else "",
        may_lock=table.layout in SHARED and table.direct is None,
    )


def line_up(
    boxes: Sequence[Box],
    axles: Sequence[Axle],
    tyres: Sequence[road.Tyre],
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
        mend = f"{MOST_CARS} at most: leave out sets, axles or tyres"
        raise UserError(f"{len(found)} cars would stand side by side", "cogtally road", mend)
    return tuple(found.values())


def own_axle(box: Box) -> Axle:
    """Return a box's own final drive; raise UserError where it has none."""
    if box.final is not None:
        return box.final
    mend = "write --axle 9/41, pinion and crown wheel, or its ratio, --axle 4.56"
    raise UserError("no axle was written", box.name or "cogtally road", mend)


def on_the_road(car: Car, asked: Asked) -> OnTheRoad:
    """Work out all that was asked of one car; raise UserError for speeds that are none."""
    drives, unit, top = car.drive, asked.unit, asked.change_at
    return OnTheRoad(
        car=car,
        asked=asked,
        bands=road.bands(drives, *asked.band, unit) if asked.band else (),
        rows=_rows(car, unit),
        at_rpm=tuple((rpm, road.speeds(drives, rpm, unit)) for rpm in asked.rpm),
        at_speed=tuple(
            road.highest_gear(drives, speed, *asked.band, unit)
            if asked.band
            else road.Holding(None, speed, road.engine_speeds(drives, speed, unit))
            for speed in asked.speeds
        ),
        changes=()
        if top is None
        else tuple(c for c in road.changes(drives, top) if car.box.is_next(c.lower, c.upper)),
        teeth=() if top is None else road.saw_tooth(drives, top, unit),
    )


def _rows(car: Car, unit: str) -> tuple[road.GearRow, ...]:
    found: list[road.GearRow] = []
    for (gear, ratio), (_, fast) in zip(
        car.drive.gears, road.speeds(car.drive, 1000, unit), strict=True
    ):
        row = road.GearRow(gear, ratio, ratio * car.drive.final, fast)
        below = found[-1] if found and not road.is_reverse(row.gear) else None
        if below is not None and car.box.is_next(below.gear, row.gear):
            row = replace(row, step_from=below.gear, step=below.ratio / row.ratio)
        found.append(row)
    return tuple(found)


def _car(box: Box, axle: Axle, tyre: road.Tyre, overdrive: Overdrive | None) -> Car:
    if not box.gears:
        raise UserError("no gear has a ratio", box.name or "cogtally road", _wanted(box.missing))
    made = road.drive(box.gears, axle.ratio, tyre)
    if overdrive is None:
        return Car(box, axle, None, made)
    forward = [gear for gear, _ in made.forward]
    on = overdrive.on or tuple(forward[-1:])
    backwards = [gear for gear in on if road.is_reverse(gear)]
    if backwards:
        mend = f"gears that it can be on: {', '.join(forward)}"
        raise UserError("reverse has no overdrive", f"--overdriven {backwards[0]}", mend)
    for gear in on:
        if gear not in dict(made.gears):
            raise _no_gear(gear, box)
    fitted = Overdrive(overdrive.text, overdrive.ratio, on)
    return Car(box, axle, fitted, road.with_overdrive(made, overdrive.ratio, on))


def _no_gear(gear: str, box: Box) -> UserError:
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


_NUMBER = r"[0-9]{1,7}(?:\.[0-9]{1,6})?"
_RPM = re.compile(rf"({_NUMBER})\s*(?:rpm)?", re.IGNORECASE)
_SPEED = re.compile(rf"({_NUMBER})\s*([a-z/]*)", re.IGNORECASE)
_BAND = re.compile(rf"({_NUMBER})\s*-\s*({_NUMBER})\s*(?:rpm)?", re.IGNORECASE)
_THOUSANDS = re.compile(r"[0-9]{1,2}[,.' ][0-9]{3}")
_RATIO = re.compile(r"(?:[^=@/]+=)?[-+\u2212]?[0-9.,:]+")
_UNITS = {"km/h": KMH, "kmh": KMH, "kph": KMH, "mph": MPH}


def are_ratios(words: Iterable[str]) -> bool:
    """Tell whether all words are ratios, `3.65` or `1=3.65`; raise UserError where some are."""
    kinds = {bool(_RATIO.fullmatch(word.strip())): word for word in words}
    if len(kinds) > 1:
        sentence = "ratios and counts of one box were mixed"
        mend = "write ratios alone (1=3.65 2=2.25) or counts alone (input=17/28 1=14/31)"
        raise UserError(sentence, f"{shown(kinds[True])} {shown(kinds[False])}", mend)
    return True in kinds


def parse_ratios(words: Iterable[str]) -> tuple[tuple[str, Fraction], ...]:
    """Read ratios, `3.65 2.25` or `1=3.65 R=3.84`, as exact decimals; raise UserError.

    Those without a name are gears 1, 2, 3 and so on, in their order.
    """
    return tuple(
        (gear, parse_ratio(text).value) for gear, text in parse_sought(words).gears.items()
    )


def parse_axle_ratio(text: str) -> Fraction:
    """Read an axle, `9/41` counted or `4.56` printed, as turns in for one out; raise UserError."""
    if "/" in text:
        (pinion, crown) = (count.teeth for count in parse_axle(text).counts)
        return Fraction(crown, pinion)
    return _ratio(text, "--axle", "write pinion/crown, 9/41, or a ratio, 4.56")


def parse_overdrive_ratio(text: str) -> Fraction:
    """Read an overdrive, `24/84` counted or `0.78` printed, as turns in for one out; UserError."""
    if "/" in text:
        return parse_overdrive(text).overdrive
    ratio = _ratio(text, "--overdrive", "write sun/annulus, 24/84, or a ratio, 0.78")
    if ratio >= 1:
        turned = f"did you mean {float(1 / ratio):.3g}?" if ratio > 1 else "leave it out"
        raise UserError("an overdrive's ratio is below 1", f"--overdrive {shown(text)}", turned)
    return ratio


def parse_gears(text: str, option: str) -> tuple[str, ...]:
    """Read gears written `3,4`; raise UserError."""
    return tuple(dict.fromkeys(parse_name(name.strip(), option) for name in text.split(",")))


def parse_unit(text: str) -> str:
    """Read a unit of speed, `km/h` or `mph`; raise UserError."""
    unit = _UNITS.get(text.strip().lower())
    if unit is None:
        mend = f"write {KMH} or {MPH}"
        raise UserError("this is no unit of road speed", f"--units {shown(text)}", mend)
    return unit


def parse_rpm(text: str) -> float:
    """Read an engine speed in turns a minute, `3000`; raise UserError."""
    found = _RPM.fullmatch(text.strip())
    if found is None:
        mend = _digits(text, "write --rpm 3000")
        raise UserError("this is no engine speed", f"--rpm {shown(text)}", mend)
    return float(found[1])


def parse_speed(text: str, unit: str) -> float:
    """Read a road speed, `80` in `unit` or `50mph`, and return it in `unit`; raise UserError."""
    found = _SPEED.fullmatch(text.strip())
    written = unit if found is None or not found[2] else _UNITS.get(found[2].lower())
    if found is None or written is None:
        mend = f"write --speed 80, --speed 80{KMH} or --speed 50{MPH}"
        raise UserError("this is no road speed", f"--speed {shown(text)}", _digits(text, mend))
    return float(found[1]) * road.DISTANCE_MM[written] / road.DISTANCE_MM[unit]


def parse_band(text: str) -> tuple[float, float]:
    """Read two engine speeds, `2200-4800`; raise UserError.

    Whether they can be the ends of a band is left to `road`.
    """
    found = _BAND.fullmatch(text.strip())
    if found is None:
        mend = "write --band 2200-4800, two engine speeds"
        raise UserError("this is no engine band", f"--band {shown(text)}", mend)
    return float(found[1]), float(found[2])


def _ratio(text: str, option: str, mend: str) -> Fraction:
    try:
        return parse_ratio(text).value
    except UserError as error:
        raise UserError(error.sentence, f"{option} {shown(text)}", mend) from error


def _digits(text: str, mend: str) -> str:
    if not _THOUSANDS.fullmatch(text.strip()):
        return mend
    return f"did you mean {''.join(c for c in text if c.isdigit())}?"
