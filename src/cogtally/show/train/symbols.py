"""The signs of a train's picture: shafts, wheels, how a wheel sits on its shaft, sleeves, marks.

Where they stand is left to `plan`. They follow the signs for kinematic diagrams of ISO 3952 (from
memory) and of textbooks: a shaft is a line, a wheel a bar with strokes at its rim; a cross where
it is fixed on its shaft, open strokes where it is free to turn on it, strokes that the bar runs
through where it slides on splines; a sleeve is drawn on its hub, a bearing as strokes against the
hatched casing. A bevel wheel's rims lie on its pitch cone.
"""

from dataclasses import dataclass
from math import atan2, cos, hypot, pi, sin

from cogtally.show.drawing import (
    INK,
    WHITE,
    Ellipse,
    Item,
    Line,
    Pen,
    Point,
    Polyline,
    Rectangle,
    hatching,
)
from cogtally.show.train.places import FREE, RIM, SLIDES, Placed, Planets, Shaft, Sleeve, Tie

#: What is not under load while one gear is shown, the band of power under what is, and a mark.
FAINT, POWER, MARK = "#8a8a8a", "#8ec8ee", "#a3161c"
BAND = 3.0
#: Half the length of a cross, and of the strokes beside a shaft on which a wheel runs free.
_CROSS, _STROKE, _GAP = 1.5, 2.4, 1.6
DASH = (1.6, 1.1)
TIE_DASH, GHOST_DASH = (2.6, 1.2), (0.7, 0.9)
_AXIS_DASH = (4.0, 1.5)
#: How large a triangle that marks a disagreement is.
TRIANGLE = 4.2
#: Half the length and height of a sleeve, the dogs that it takes hold of, and how far it moves.
_SLEEVE, _HUB, _DOG, TRAVEL = 4.0, 4.6, 4.2, 4.2
#: How deep the thinner end of a shaft runs in the end of another.
_SPIGOT = 5.0
#: Half the height of the arrow that shows which way a shaft turns.
_TURN = 4.2
#: How the pieces of different sets are hatched, by slope and gap: readable in black and white.
HATCHES: tuple[tuple[tuple[float, float], ...], ...] = (
    ((45.0, 1.9),),
    ((-45.0, 0.9),),
    ((0.0, 1.1),),
    ((45.0, 1.9), (-45.0, 1.9)),
    ((90.0, 1.1),),
)
_HATCH = Pen(0.18, "#404040")


@dataclass(frozen=True, slots=True)
class Look:
    """How strongly something is drawn: its colour, and how much wider than usual."""

    colour: str = INK
    weight: float = 1.0

    def pen(self, width: float, dash: tuple[float, float] | None = None) -> Pen:
        """Return a pen of this look."""
        return Pen(width * self.weight, self.colour, dash)


def shaft_sign(shaft: Shaft, look: Look) -> tuple[Item, ...]:
    """Return a shaft as a line, a hollow one as two; its bearings; the spigot that it ends in."""
    rows = (-_GAP, _GAP) if shaft.hollow else (0.0,)
    pen = look.pen(0.6 if shaft.hollow else 0.9)
    start = shaft.start + (_SPIGOT if shaft.spigot else 0.0)
    found: list[Item] = [
        Line((start, shaft.y + row), (shaft.end, shaft.y + row), pen) for row in rows
    ]
    for x in shaft.bearings:
        found += bearing_sign(x, shaft.y, look, gap=2.4 if shaft.hollow else 1.2)
    if shaft.spigot:
        found += spigot_sign(shaft.start, shaft.y, look)
    return tuple(found)


def bearing_sign(x: float, y: float, look: Look, gap: float = 1.2) -> tuple[Item, ...]:
    """Return a bearing: strokes beside a shaft, and the casing behind them."""
    pen, thin = look.pen(0.45), look.pen(0.25)
    found: list[Item] = []
    for side in (-1, 1):
        edge = y + side * gap
        found.append(Line((x - 1.6, edge), (x + 1.6, edge), pen))
        found += [
            Line((x + at, edge), (x + at + 0.9, edge + side * 1.2), thin)
            for at in (-1.5, -0.3, 0.9)
        ]
    return tuple(found)


def spigot_sign(x: float, y: float, look: Look) -> tuple[Item, ...]:
    """Return the end of one shaft round the end of the next, which turns in it, and its dogs."""
    pen = look.pen(0.6)
    return (
        Line((x + 1.8, y), (x + _SPIGOT, y), look.pen(0.4)),
        Line((x, y - _DOG), (x, y + _DOG), pen),
        *(Line((x, y + row), (x + 4.2, y + row), pen) for row in (-_GAP, _GAP, -_DOG, _DOG)),
    )


def sleeve_sign(sleeve: Sleeve, look: Look, gear: str | None) -> tuple[Item, ...]:
    """Return a hub fixed on its shaft, and the sleeve on it, moved to what `gear` locks."""
    x, y = sleeve.x, sleeve.y
    moved = x + (0.0 if gear is None else {sleeve.left: -TRAVEL, sleeve.right: TRAVEL}.get(gear, 0))
    pen, strong = look.pen(0.6), look.pen(1.1)
    return (
        Line((x, y - _HUB), (x, y + _HUB), pen),
        *cross_sign(x, y, look),
        *(Line((moved - _SLEEVE, y + r), (moved + _SLEEVE, y + r), strong) for r in (-_HUB, _HUB)),
    )


def dog_sign(x: float, y: float, side: int, look: Look) -> tuple[Item, ...]:
    """Return the dogs of a gear on the side of its sleeve, 1 to the right, -1 to the left."""
    pen = look.pen(0.6)
    return tuple(Line((x, y + row), (x + side * 4.2, y + row), pen) for row in (-_DOG, _DOG))


def wheel_sign(wheel: Placed, look: Look, *, known: bool, hollow: bool = False) -> tuple[Item, ...]:
    """Return a wheel; dashed where it is not counted. `hollow`: it sits on a hollow shaft."""
    pen = look.pen(0.7, None if known else DASH)
    rim = look.pen(1.0, None if known else DASH)
    if wheel.level:
        return _crown_sign(wheel, look, pen, rim)
    if wheel.ring:
        return _ring_sign(wheel, pen, rim)
    x, y = wheel.x, wheel.y
    gap = _GAP if wheel.seat == FREE or hollow else 0.0
    bars = [
        Line((x, wheel.top), (x, y - min(gap, wheel.radius)), pen),
        Line((x, y + min(gap, wheel.radius)), (x, wheel.foot), pen),
    ]
    rims = [Line(*_rim((x, edge), wheel.apex), rim) for edge in (wheel.top, wheel.foot)]
    seat: tuple[Item, ...] = () if hollow else cross_sign(x, y, look)
    if wheel.seat == FREE:
        seat = free_sign(x, y, look)
    elif wheel.seat == SLIDES:
        seat = slides_sign(x, y, look)
    return (*bars, *rims, *seat)


def _rim(at: Point, apex: Point | None) -> tuple[Point, Point]:
    """Return the ends of a rim: level, or on the cone of a bevel wheel."""
    slope = 0.0 if apex is None else atan2(apex[1] - at[1], apex[0] - at[0])
    across, down = cos(slope) * RIM / 2, sin(slope) * RIM / 2
    return (at[0] - across, at[1] - down), (at[0] + across, at[1] + down)


def ghost_sign(wheel: Placed, look: Look) -> tuple[Item, ...]:
    """Return where a sliding wheel comes into mesh, and arrows from where it stands."""
    found: list[Item] = []
    pen = look.pen(0.4, GHOST_DASH)
    for x in wheel.ghosts:
        found.append(Line((x, wheel.top), (x, wheel.foot), pen))
        found += [
            Line((x - RIM / 2, edge), (x + RIM / 2, edge), pen) for edge in (wheel.top, wheel.foot)
        ]
        side = 1 if x > wheel.x else -1
        start, tip, y = wheel.x + side * 4.2, x - side * 0.8, wheel.y + 6.5
        if (tip - start) * side > 2.5:
            found.append(Line((start, y), (tip, y), look.pen(0.35)))
            head = ((tip, y), (tip - side * 1.8, y - 0.8), (tip - side * 1.8, y + 0.8))
            found.append(Polyline(head, None, look.colour, closed=True))
    return tuple(found)


def free_sign(x: float, y: float, look: Look) -> tuple[Item, ...]:
    """Return the strokes beside a shaft of a wheel that is free to turn on it."""
    pen = look.pen(0.6)
    return tuple(Line((x - _STROKE, y + row), (x + _STROKE, y + row), pen) for row in (-_GAP, _GAP))


def slides_sign(x: float, y: float, look: Look) -> tuple[Item, ...]:
    """Return the strokes of a wheel that turns with its shaft and slides on its splines."""
    pen = look.pen(0.45)
    ends = (x - _STROKE, x + _STROKE)
    return (*free_sign(x, y, look), *(Line((e, y - _GAP), (e, y + _GAP), pen) for e in ends))


def cross_sign(x: float, y: float, look: Look) -> tuple[Item, ...]:
    """Return the cross of a wheel that is fixed on its shaft."""
    pen = look.pen(0.5)
    return (
        Line((x - _CROSS, y - _CROSS), (x + _CROSS, y + _CROSS), pen),
        Line((x - _CROSS, y + _CROSS), (x + _CROSS, y - _CROSS), pen),
    )


def _crown_sign(wheel: Placed, look: Look, pen: Pen, rim: Pen) -> tuple[Item, ...]:
    """Return a crown wheel from the side, its axis upright; a half one is cut at its axis."""
    left, right = wheel.x - wheel.radius, wheel.x + (0.0 if wheel.half else wheel.radius)
    y = wheel.y
    ends = (left,) if wheel.half else (left, right)
    return (
        Line((left, y), (right, y), pen),
        *(Line(*_rim((end, y), wheel.apex), rim) for end in ends),
        Line((wheel.x, y - 3 * RIM), (wheel.x, y + RIM), look.pen(0.5, _AXIS_DASH)),
        *cross_sign(wheel.x, y, look),
    )


def _ring_sign(wheel: Placed, pen: Pen, rim: Pen) -> tuple[Item, ...]:
    """Return an annulus: its rim above and below what is inside, joined to its shaft behind."""
    left, right, disc = wheel.x - RIM / 2, wheel.x + RIM / 2, wheel.x + RIM
    return (
        Line((disc, wheel.top), (disc, wheel.foot), pen),
        *(Line((left, y), (right, y), rim) for y in (wheel.top, wheel.foot)),
        *(Line((right, y), (disc, y), pen) for y in (wheel.top, wheel.foot)),
    )


def planets_sign(planets: Planets, look: Look) -> tuple[Item, ...]:
    """Return planets free on the pins of their carrier, and the sun held fast."""
    pen, sun, end = look.pen(0.9), planets.sun, planets.arm
    held = sun.x - RIM
    found: list[Item] = []
    for planet in planets.wheels:
        found += wheel_sign(planet, look, known=True)
        found.append(Line((planet.x + 3.0, planet.y), (end, planet.y), pen))
        found.append(Line((end, planet.y), (end, sun.y), pen))
    found += held_sign(held, sun.y, look)
    return (*found, Line((held, sun.y), (sun.x, sun.y), pen))


def held_sign(x: float, y: float, look: Look) -> tuple[Item, ...]:
    """Return what does not turn: a stroke with the casing hatched to the left of it."""
    return (
        Line((x, y - 3.2), (x, y + 3.2), look.pen(0.6)),
        *(Line((x, y + up), (x - 1.6, y + up + 1.6), look.pen(0.4)) for up in (-3.2, -1.6, 0, 1.6)),
    )


def tie_sign(tie: Tie, look: Look) -> tuple[Item, ...]:
    """Return the broken line between two wheels in mesh that do not touch in the picture."""
    pen = look.pen(0.35, GHOST_DASH) if tie.parted else look.pen(0.5, TIE_DASH)
    return (Polyline(tie.points, pen),)


def mark_sign(x: float, y: float, size: float = TRIANGLE) -> tuple[Item, ...]:
    """Return the triangle of a disagreement, its middle at (x, y), an upright stroke in it."""
    up, low, side = y - size * 0.55, y + size * 0.45, size * 0.6
    return (
        Polyline(((x, up), (x + side, low), (x - side, low)), Pen(0.5, MARK), WHITE, closed=True),
        Line((x, y - size * 0.2), (x, y + size * 0.13), Pen(0.6, MARK)),
        Ellipse(x, y + size * 0.29, 0.32, 0.32, None, MARK),
    )


def arrow_sign(x: float, y: float, look: Look) -> tuple[Item, ...]:
    """Return the head of an arrow to the right, its point at (x, y)."""
    back, side = x - 3.0, 1.5
    points: tuple[Point, ...] = ((x, y), (back, y - side), (back, y + side))
    return (Polyline(points, None, look.colour, closed=True),)


def turns_sign(x: float, y: float, way: int, look: Look) -> tuple[Item, ...]:
    """Return an arrow round a shaft: up in front of it for `way` 1, as the input turns, else down.

    It is what the eye sees of the near side of the shaft.
    """
    steps = [pi * (0.62 + 1.2 * n / 12) for n in range(13)]
    points = [(x + 2.0 * cos(a), y + way * _TURN * sin(a)) for a in steps]
    tip, before = points[-1], points[-3]
    long = hypot(tip[0] - before[0], tip[1] - before[1])
    dx, dy = (tip[0] - before[0]) / long, (tip[1] - before[1]) / long
    head = (
        (tip[0] + 1.6 * dx, tip[1] + 1.6 * dy),
        (tip[0] - 0.9 * dy, tip[1] + 0.9 * dx),
        (tip[0] + 0.9 * dy, tip[1] - 0.9 * dx),
    )
    return (Polyline(tuple(points), look.pen(0.5)), Polyline(head, None, look.colour, closed=True))


def step_sign(x: float, y: float) -> tuple[Item, ...]:
    """Return the ring of a numbered step."""
    return (Ellipse(x, y, 2.5, 2.5, Pen(0.4), WHITE),)


def body(wheel: Placed) -> Rectangle:
    """Return the room that the hatching of a wheel fills."""
    if wheel.level:
        right = wheel.x + (0.0 if wheel.half else wheel.radius)
        left = wheel.x - wheel.radius
        return Rectangle(left, wheel.y - RIM / 4, right - left, RIM / 2, None, WHITE)
    return Rectangle(wheel.x - RIM / 2, wheel.top, RIM, 2 * wheel.radius, None, WHITE)


def hatch_sign(room: Rectangle, kind: int) -> tuple[Item, ...]:
    """Return the hatching of one kind in a rectangle."""
    corners = (
        (room.x, room.y),
        (room.x + room.width, room.y),
        (room.x + room.width, room.y + room.height),
        (room.x, room.y + room.height),
    )
    return tuple(
        line
        for slope, gap in HATCHES[kind % len(HATCHES)]
        for line in hatching(corners, gap, slope, _HATCH)
    )


def swatch(kind: int) -> tuple[Item, ...]:
    """Return a piece of hatching for the legend."""
    room = Rectangle(0.0, -2.2, 8.0, 4.4, Pen(0.3), WHITE)
    return (room, *hatch_sign(room, kind))
