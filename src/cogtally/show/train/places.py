"""What stands in the picture of a train: wheels, shafts, sleeves, ties, and what is no box.

Where they stand in a box is left to `plan`, how they are drawn to `picture`. A pinion with its
crown wheel, and an overdrive, stand here: they are alike alone and behind a box.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from cogtally.gears.trains import Train, wheel_names
from cogtally.show.drawing import Point

#: Millimetres between the two main axes, between columns, and from a shaft's end to its wheels.
AXES_APART, COLUMN, END = 36.0, 22.0, 6.0
#: Width of a wheel at its rim, and how far a pair of sliding wheels made in one moves either way.
RIM, SLIDE = 7.0, 7.5
FIRST_COLUMN = COLUMN * 0.75
#: Where the two ends of a shaft in two parts come together.
JOINT = "<joint>"
#: How a wheel sits on its shaft.
FIXED, FREE, SLIDES = "fixed", "free", "slides"
#: The names of the wheels of an overdrive that stands behind a box.
SUN, ANNULUS = "overdrive.sun", "overdrive.annulus"

#: The largest half width of a crown wheel; it is then to a scale of its own.
_MOST_CROWN = 60.0
#: Teeth that a pinion and its crown wheel, sun and annulus are drawn with where nobody counted.
_GUESSED_PINION, _GUESSED_CROWN = 10, 40
_GUESSED_SUN, _GUESSED_ANNULUS = 1, 4
#: A sun is drawn no larger than this share of its annulus, so that there is room for a planet.
_LARGEST_SUN = 0.7


@dataclass(frozen=True, slots=True)
class Placed:
    """A wheel by its kept name: the middle of its bar, and half the height of it.

    `seat`: FIXED on its shaft, FREE on it until its gear locks it, or SLIDES on its splines.
    `ghosts`: the middles of the columns in which a sliding wheel comes into mesh, the one it
    stands in left out. `level`: it is a crown wheel, its bar lies level, from `x - radius` to
    `x + radius`, or to its axis alone where it is `half` drawn. `ring`: its teeth are inside.
    `apex`: of a bevel wheel, where its axis and that of its mate cross.
    """

    name: str
    x: float
    y: float
    radius: float
    seat: str = FIXED
    ghosts: tuple[float, ...] = ()
    level: bool = False
    half: bool = False
    ring: bool = False
    apex: Point | None = None

    @property
    def top(self) -> float:
        """Where its upper rim is."""
        return self.y - self.radius

    @property
    def foot(self) -> float:
        """Where its lower rim is."""
        return self.y + self.radius


@dataclass(frozen=True, slots=True)
class Shaft:
    """A shaft from `start` to `end` at the height `y`; `hollow`: another runs inside it.

    `spigot`: its end runs in the end of the shaft before it. `bearings`: where the casing holds
    it. A short one beside the main axes has no name.
    """

    name: str
    y: float
    start: float
    end: float
    hollow: bool = False
    spigot: bool = False
    bearings: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Sleeve:
    """A sleeve on its hub, and the gears that it locks to the left and to the right of it."""

    x: float
    y: float
    left: str | None
    right: str | None


@dataclass(frozen=True, slots=True)
class Tie:
    """Two wheels in mesh that do not touch in the picture, and the corners of a line between.

    `parted`: they are in mesh in another gear only.
    """

    wheels: tuple[str, str]
    points: tuple[Point, ...]
    parted: bool = False


@dataclass(frozen=True, slots=True)
class Planets:
    """Planets on their carrier, over and under a sun that is held; the carrier drives at `arm`."""

    wheels: tuple[Placed, ...]
    arm: float
    sun: Placed


@dataclass(frozen=True)
class Plan:
    """Where all stands. `columns`: pairs, and `JOINT` where there is one, to the middle of theirs.

    The picture reaches from (0, 0) to (`width`, `height`); `enters` and `leaves`: where the power
    comes in and goes out.
    """

    wheels: Mapping[str, Placed]
    shafts: tuple[Shaft, ...]
    ties: tuple[Tie, ...]
    columns: Mapping[str, float]
    width: float
    height: float
    enters: Point
    leaves: Point
    sleeves: tuple[Sleeve, ...] = ()
    planets: Planets | None = None

    def contact(self, one: str, other: str) -> Point | None:
        """Return where two wheels touch; None where they do not."""
        a, b = self.wheels[one], self.wheels[other]
        if b.level:
            return a.x, a.foot
        if a.x != b.x:
            return None
        upper, lower = sorted((a, b), key=lambda wheel: wheel.y)
        return (a.x, upper.foot) if abs(upper.foot - lower.top) < 1e-6 else None

    def tie(self, one: str, other: str) -> Tie | None:
        """Return the tie between two wheels; None where they touch."""
        return next((t for t in self.ties if set(t.wheels) == {one, other}), None)


def stretched(found: Plan, wide: float) -> Plan:
    """Return a plan with everything so many times as far apart along its axes, no wheel wider."""

    def at(point: Point) -> Point:
        return point[0] * wide, point[1]

    def shaft(s: Shaft) -> Shaft:
        bearings = tuple(x * wide for x in s.bearings)
        return replace(s, start=s.start * wide, end=s.end * wide, bearings=bearings)

    wheels = {
        name: replace(
            w, x=w.x * wide, ghosts=tuple(x * wide for x in w.ghosts), apex=w.apex and at(w.apex)
        )
        for name, w in found.wheels.items()
    }
    for name, wheel in wheels.items():
        if wheel.level and wheel.apex is not None:
            # A crown wheel's bar lies along the axes: it still begins at its pinion.
            x = (found.wheels[name].x - wheel.radius) * wide + wheel.radius
            pinion = next(w.name for w in wheels.values() if w.apex is not None and not w.level)
            wheels = {
                **wheels,
                name: replace(wheel, x=x, apex=(x, wheel.apex[1])),
                pinion: replace(wheels[pinion], apex=(x, wheel.apex[1])),
            }
            break
    return replace(
        found,
        wheels=wheels,
        shafts=tuple(shaft(s) for s in found.shafts),
        ties=tuple(replace(t, points=tuple(map(at, t.points))) for t in found.ties),
        columns={pair: x * wide for pair, x in found.columns.items()},
        width=found.width * wide,
        leaves=at(found.leaves),
        sleeves=tuple(replace(s, x=s.x * wide) for s in found.sleeves),
    )


def axle_plan(train: Train, teeth: Mapping[str, int], shaft: str) -> Plan:
    """Return a pinion on its shaft, of that name, and the whole of its crown wheel."""
    pair = next(iter(train.pairs))
    pinion, crown = (train.canonical(w) for w in wheel_names(pair, 2))
    at = (2 * FIRST_COLUMN, _MOST_CROWN / 2)
    wheels = bevel(at, pinion, crown, teeth, _MOST_CROWN, half=False)
    own, other = wheels[pinion], wheels[crown]
    return Plan(
        wheels=wheels,
        shafts=(Shaft(shaft, own.y, 0.0, own.x, bearings=(END, own.x - 1.5 * END)),),
        ties=(),
        columns={pair: own.x},
        width=other.x + other.radius + RIM / 2,
        height=other.y + END,
        enters=(0.0, own.y),
        leaves=(other.x, other.y),
    )


def bevel(
    at: Point, pinion: str, crown: str, teeth: Mapping[str, int], scale: float, *, half: bool
) -> dict[str, Placed]:
    """Return a pinion at `at` and its crown wheel, whose axis crosses the pinion's.

    `scale`: radius for each tooth, held so that the crown wheel is no larger than _MOST_CROWN.
    """
    small, large = teeth.get(pinion, _GUESSED_PINION), teeth.get(crown, _GUESSED_CROWN)
    scale = min(scale, _MOST_CROWN / large)
    r, big = small * scale, large * scale
    x, y = at
    apex = (x + big, y)
    return {
        pinion: Placed(pinion, x, y, r, apex=apex),
        crown: Placed(crown, x + big, y + r, big, level=True, half=half, apex=apex),
    }


def overdrive_plan(
    at: Point, sun: str, annulus: str, teeth: Mapping[str, int], ring: float, run: float, pair: str
) -> Plan:
    """Return a sun, planets over and under it and the annulus round all; the carrier drives.

    `at`: where the shaft that drives the carrier comes in, `run` how far it leads. `ring`: the half
    height of the annulus.
    """
    small, large = teeth.get(sun, _GUESSED_SUN), teeth.get(annulus, _GUESSED_ANNULUS)
    radius = ring * min(small / large, _LARGEST_SUN)
    x, y, between = at[0] + run, at[1], (ring - radius) / 2
    wheels = {sun: Placed(sun, x, y, radius), annulus: Placed(annulus, x, y, ring, ring=True)}
    planets = tuple(Placed("", x, y + side * (radius + between), between, FREE) for side in (-1, 1))
    end, arm = x + COLUMN + END, x - 0.75 * COLUMN
    shafts = (
        Shaft("planet carrier", y, at[0], arm, bearings=(at[0] + END,)),
        Shaft("annulus", y, x + RIM, end, bearings=(end - END,)),
    )
    held = Planets(planets, arm, wheels[sun])
    return Plan(wheels, shafts, (), {pair: x}, end, y + ring, at, (end, y), planets=held)
