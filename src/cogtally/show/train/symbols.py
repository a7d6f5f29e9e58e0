"""The signs of a train's picture: shafts, wheels, how a wheel sits on its shaft, marks.

Where they stand is left to `plan`. They follow the signs for kinematic diagrams of ISO 3952
(from memory): a shaft is a line, a wheel a bar with strokes at its rim, a cross where it is fixed
on its shaft, open strokes where it is free to turn on it.
"""

from __future__ import annotations

from dataclasses import dataclass

from cogtally.show.drawing.primitives import (
    INK,
    WHITE,
    Ellipse,
    Item,
    Line,
    Pen,
    Point,
    Polyline,
    Rectangle,
)
from cogtally.show.train.plan import RIM, Placed, Shaft, Tie

#: What is not under load while one gear is shown, the band of power under what is, and a mark.
FAINT, POWER, MARK = "#8a8a8a", "#8ec8ee", "#a3161c"
BAND = 3.0
#: Half the length of a cross, and of the strokes beside a shaft on which a wheel runs free.
_CROSS, _STROKE, _GAP = 1.5, 2.4, 1.6
DASH = (1.6, 1.1)
TIE_DASH = (2.6, 1.2)
_AXIS_DASH = (4.0, 1.5)
#: How large a triangle that marks a disagreement is.
TRIANGLE = 4.2


@dataclass(frozen=True, slots=True)
class Look:
    """How strongly something is drawn: its colour, and how much wider than usual."""

    colour: str = INK
    weight: float = 1.0

    def pen(self, width: float, dash: tuple[float, float] | None = None) -> Pen:
        """Return a pen of this look."""
        return Pen(width * self.weight, self.colour, dash)


def shaft_sign(shaft: Shaft, look: Look) -> tuple[Item, ...]:
    """Return a shaft as a line, a hollow one as two."""
    rows = (-_GAP, _GAP) if shaft.hollow else (0.0,)
    pen = look.pen(0.6 if shaft.hollow else 0.9)
    return tuple(
        Line((shaft.start, shaft.y + row), (shaft.end, shaft.y + row), pen) for row in rows
    )


def joint_sign(x: float, y: float, look: Look, *, locked: bool) -> tuple[Item, ...]:
    """Return where one shaft ends and another begins in it; filled where a gear locks the two."""
    pen = look.pen(0.6)
    if locked:
        return (Rectangle(x - _STROKE, y - _GAP, 2 * _STROKE, 2 * _GAP, pen, look.colour),)
    return (*free_sign(x, y, look), Line((x - _STROKE, y - _GAP), (x - _STROKE, y + _GAP), pen))


def wheel_sign(
    wheel: Placed, look: Look, *, known: bool, hollow: bool = False, locked: bool = False
) -> tuple[Item, ...]:
    """Return a wheel; dashed where it is not counted, filled at its shaft where a gear locks it.

    `hollow`: it sits on a hollow shaft.
    """
    pen = look.pen(0.7, None if known else DASH)
    rim = look.pen(1.0, None if known else DASH)
    if wheel.level:
        return _crown_sign(wheel, look, pen, rim)
    if wheel.ring:
        return _ring_sign(wheel, pen, rim)
    x, y, half = wheel.x, wheel.y, RIM / 2
    rims = [Line((x - half, edge), (x + half, edge), rim) for edge in (wheel.top, wheel.foot)]
    is_free = not wheel.fixed and not locked
    gap = _GAP if is_free or hollow else 0.0
    bars = [
        Line((x, wheel.top), (x, y - min(gap, wheel.radius)), pen),
        Line((x, y + min(gap, wheel.radius)), (x, wheel.foot), pen),
    ]
    return (*bars, *rims, *_seat(wheel, look, is_free=is_free, hollow=hollow, locked=locked))


def _seat(
    wheel: Placed, look: Look, *, is_free: bool, hollow: bool, locked: bool
) -> tuple[Item, ...]:
    x, y = wheel.x, wheel.y
    if locked:
        return (Rectangle(x - _STROKE, y - _GAP, 2 * _STROKE, 2 * _GAP, None, look.colour),)
    if is_free:
        return free_sign(x, y, look)
    return () if hollow else cross_sign(x, y, look)


def free_sign(x: float, y: float, look: Look) -> tuple[Item, ...]:
    """Return the strokes beside a shaft of a wheel that is free to turn on it."""
    pen = look.pen(0.6)
    return tuple(Line((x - _STROKE, y + row), (x + _STROKE, y + row), pen) for row in (-_GAP, _GAP))


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
    y, half = wheel.y, RIM / 2
    ends = (left,) if wheel.half else (left, right)
    return (
        Line((left, y), (right, y), pen),
        *(Line((end, y - half), (end, y + half), rim) for end in ends),
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


def carrier_sign(planet: Placed, sun: Placed, end: float, look: Look) -> tuple[Item, ...]:
    """Return a planet, the arm that carries it from a shaft's `end`, and the sun held fast."""
    pen = look.pen(0.9)
    held = sun.x - RIM
    strokes = (
        Line((held, sun.y + 1.6 * n), (held - 1.6, sun.y + 1.6 * (n + 1)), look.pen(0.4))
        for n in (-2, -1, 0, 1)
    )
    return (
        *wheel_sign(planet, look, known=True),
        Line((planet.x + 1.5, planet.y), (end, planet.y), pen),
        Line((end, planet.y), (end, sun.y), pen),
        Line((held, sun.y), (sun.x, sun.y), pen),
        Line((held, sun.y - 3.2), (held, sun.y + 3.2), look.pen(0.6)),
        *strokes,
    )


def tie_sign(tie: Tie, look: Look) -> tuple[Item, ...]:
    """Return the broken line between two wheels in mesh that do not touch in the picture."""
    return (Polyline(tie.points, look.pen(0.5, TIE_DASH)),)


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
