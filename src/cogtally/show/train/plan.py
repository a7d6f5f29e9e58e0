"""Where the wheels and shafts of a train stand in its picture: the plan, and its measures.

How a plan comes about is left to `layout`, what is drawn by it to `picture`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from cogtally.show.drawing.primitives import Point

#: Millimetres between the two main axes, between columns, and from a shaft's end to its wheels.
AXES_APART, COLUMN, END = 36.0, 22.0, 6.0
#: Width of a wheel at its rim.
RIM = 7.0
FIRST_COLUMN = COLUMN * 0.75
#: Where the two ends of a shaft in two parts come together.
JOINT = "<joint>"


@dataclass(frozen=True, slots=True)
class Placed:
    """A wheel by its kept name: the middle of its bar, and half the height of it.

    `fixed`: it turns with the shaft it stands on. `level`: it is a crown wheel, its bar lies level,
    from `x - radius` to `x + radius`, or to its axis alone where it is `half` drawn. `ring`: its
    teeth are inside.
    """

    name: str
    x: float
    y: float
    radius: float
    fixed: bool
    level: bool = False
    half: bool = False
    ring: bool = False

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

    A short one beside the main axes has no name.
    """

    name: str
    y: float
    start: float
    end: float
    hollow: bool = False


@dataclass(frozen=True, slots=True)
class Tie:
    """Two wheels in mesh that do not touch in the picture, and the corners of a line between."""

    wheels: tuple[str, str]
    points: tuple[Point, ...]


@dataclass(frozen=True)
class Plan:
    """Where all stands. `columns`: pairs, and `JOINT` where there is one, to the middle of theirs.

    The picture reaches from (0, 0) to (`width`, `height`); `enters` and `leaves`: where the power
    comes in and goes out. `planet`: the wheel between sun and annulus, which has no name.
    """

    wheels: Mapping[str, Placed]
    shafts: tuple[Shaft, ...]
    ties: tuple[Tie, ...]
    columns: Mapping[str, float]
    width: float
    height: float
    enters: Point
    leaves: Point
    planet: Placed | None = None

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
