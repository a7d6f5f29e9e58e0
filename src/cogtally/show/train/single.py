"""Plans of what is no box: a pinion and its crown wheel, a sun with planets and annulus.

Boxes are left to `layout`.
"""

from __future__ import annotations

from collections.abc import Mapping

from cogtally.gears.trains import Train, wheel_names
from cogtally.show.drawing.primitives import Point
from cogtally.show.train.plan import (
    AXES_APART,
    COLUMN,
    END,
    FIRST_COLUMN,
    RIM,
    Placed,
    Plan,
    Shaft,
)

#: The largest half width of a crown wheel; it is then to a scale of its own.
MOST_CROWN = 60.0
#: Teeth that a pinion and its crown wheel are drawn with where nobody counted them.
_GUESSED_PINION, _GUESSED_CROWN = 10, 40
_GUESSED_SUN, _GUESSED_ANNULUS = 1, 4
#: A sun is drawn no larger than this share of its annulus, so that there is room for a planet.
_LARGEST_SUN = 0.8


def axle(train: Train, teeth: Mapping[str, int], shaft: str) -> Plan:
    """Return a pinion on its shaft, of that name, and the whole of its crown wheel."""
    pair = next(iter(train.pairs))
    pinion, crown = (train.canonical(w) for w in wheel_names(pair, 2))
    wheels = bevel((FIRST_COLUMN, MOST_CROWN / 2), pinion, crown, teeth, MOST_CROWN, half=False)
    own, other = wheels[pinion], wheels[crown]
    return Plan(
        wheels=wheels,
        shafts=(Shaft(shaft, own.y, 0.0, own.x),),
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

    `scale`: radius for each tooth, held so that the crown wheel is no larger than MOST_CROWN.
    """
    small, large = teeth.get(pinion, _GUESSED_PINION), teeth.get(crown, _GUESSED_CROWN)
    scale = min(scale, MOST_CROWN / large)
    r, big = small * scale, large * scale
    x, y = at
    return {
        pinion: Placed(pinion, x, y, r, True),
        crown: Placed(crown, x + big, y + r, big, True, level=True, half=half),
    }


def overdrive(train: Train, teeth: Mapping[str, int]) -> Plan:
    """Return a sun, a planet over it and the annulus round both; the planet carrier drives."""
    pair = next(iter(train.pairs))
    sun, annulus = (train.canonical(w) for w in wheel_names(pair, 2))
    small, large = teeth.get(sun, _GUESSED_SUN), teeth.get(annulus, _GUESSED_ANNULUS)
    ring = AXES_APART
    radius = ring * min(small / large, _LARGEST_SUN)
    x, y, between = FIRST_COLUMN + COLUMN, ring, (ring - radius) / 2
    wheels = {
        sun: Placed(sun, x, y, radius, True),
        annulus: Placed(annulus, x, y, ring, True, ring=True),
    }
    planet = Placed("", x, y - radius - between, between, True)
    end = x + COLUMN + END
    shafts = (
        Shaft("planet carrier", y, 0.0, x - COLUMN / 2),
        Shaft("annulus", y, x + RIM, end),
    )
    return Plan(wheels, shafts, (), {pair: x}, end, y + ring, (0.0, y), (end, y), planet)
