"""What a drawing is made of: lines, shapes and text in millimetres on pages, frozen.

How much room a text takes is left to `text`, how a file comes of it to `files`.
All places are (x, y) from the top left corner of the page, y downward.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import cos, hypot, radians, sin
from typing import Any, Literal

Point = tuple[float, float]
Anchor = Literal["start", "middle", "end"]

#: One typographic point in millimetres: text of 9 point has `size=9 * POINT`.
POINT = 25.4 / 72
INK, GREY, PALE, WHITE = "#000000", "#595959", "#d9d9d9", "#ffffff"


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle that something fills, by its edges."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        """From the left to the right edge."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """From the top to the bottom edge."""
        return self.bottom - self.top

    def meets(self, other: Box) -> bool:
        """Tell whether it lies over another."""
        across = self.left < other.right and other.left < self.right
        return across and self.top < other.bottom and other.top < self.bottom


@dataclass(frozen=True, slots=True)
class Pen:
    """A stroke: its width, its colour as `#rrggbb`, and dash and gap lengths, none for a line."""

    width: float = 0.25
    colour: str = INK
    dash: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line."""

    start: Point
    end: Point
    pen: Pen = Pen()


@dataclass(frozen=True, slots=True)
class Polyline:
    """Lines from point to point; `closed`: back to the first. `fill`: a colour, empty for none."""

    points: tuple[Point, ...]
    pen: Pen | None = Pen()
    fill: str = ""
    closed: bool = False


@dataclass(frozen=True, slots=True)
class Rectangle:
    """A rectangle by its top left corner; `radius` of its corners."""

    x: float
    y: float
    width: float
    height: float
    pen: Pen | None = Pen()
    fill: str = ""
    radius: float = 0.0


@dataclass(frozen=True, slots=True)
class Ellipse:
    """An ellipse by its middle and its two half widths; a circle where these are alike."""

    x: float
    y: float
    across: float
    down: float
    pen: Pen | None = Pen()
    fill: str = ""


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text: (x, y) is on its baseline, at its start, middle or end by `anchor`.

    `size` is the height of the font's em. `turned`: it reads upward, turned a quarter to the left
    about (x, y).
    """

    x: float
    y: float
    text: str
    size: float = 9 * POINT
    anchor: Anchor = "start"
    bold: bool = False
    colour: str = INK
    turned: bool = False


@dataclass(frozen=True, slots=True)
class Group:
    """Items that belong together, under a name; `about` says it in words to who cannot see it."""

    name: str
    items: tuple[Item, ...]
    about: str = ""


Leaf = Line | Polyline | Rectangle | Ellipse | Text
Item = Leaf | Group


@dataclass(frozen=True, slots=True)
class Page:
    """One page: its size, and its items from the undermost to the topmost."""

    width: float
    height: float
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class Drawing:
    """Pages under a title; `about` says in words what is drawn."""

    pages: tuple[Page, ...]
    title: str
    about: str = ""


#: What grows with an item, beside its places and its pen.
_LENGTHS = ("size", "across", "down", "width", "height", "radius")
#: Page sizes by name, upright: ISO 216 A4 and ANSI/ASME Y14.1 A (from memory).
PAGES = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}


def leaves(items: Iterable[Item]) -> Iterator[Leaf]:
    """Yield every item that is no group, in the order of drawing."""
    for item in items:
        if isinstance(item, Group):
            yield from leaves(item.items)
        else:
            yield item


def placed(items: Iterable[Item], x: float, y: float, scale: float = 1.0) -> tuple[Item, ...]:
    """Return items made `scale` times as large about (0, 0), then moved by (x, y).

    Everything grows alike: pens and text too.
    """

    def at(point: Point) -> Point:
        return x + point[0] * scale, y + point[1] * scale

    def moved(item: Item) -> Item:
        if isinstance(item, Group):
            return replace(item, items=placed(item.items, x, y, scale))
        grown: dict[str, Any] = {
            name: getattr(item, name) * scale for name in _LENGTHS if hasattr(item, name)
        }
        if not isinstance(item, Text) and item.pen is not None:
            dash = item.pen.dash and (item.pen.dash[0] * scale, item.pen.dash[1] * scale)
            grown["pen"] = replace(item.pen, width=item.pen.width * scale, dash=dash)
        if isinstance(item, Line):
            return replace(item, start=at(item.start), end=at(item.end), **grown)
        if isinstance(item, Polyline):
            return replace(item, points=tuple(map(at, item.points)), **grown)
        own_x, own_y = at((item.x, item.y))
        return replace(item, x=own_x, y=own_y, **grown)

    return tuple(map(moved, items))


def hatching(corners: Sequence[Point], gap: float, degrees: float, pen: Pen) -> tuple[Line, ...]:
    """Return parallel lines that fill a convex shape, `gap` apart, `degrees` from level.

    In print without colour one hatching is told from another by its slope and its gap.
    """
    level, down = cos(radians(degrees)), -sin(radians(degrees))
    heights = [x * -down + y * level for x, y in corners]
    found = []
    height = (min(heights) // gap + 1) * gap
    while height < max(heights):
        ends = sorted(_cuts(corners, heights, height), key=lambda p: p[0] * level + p[1] * down)
        if len(ends) > 1 and hypot(ends[-1][0] - ends[0][0], ends[-1][1] - ends[0][1]) > 0:
            found.append(Line(ends[0], ends[-1], pen))
        height += gap
    return tuple(found)


def _cuts(corners: Sequence[Point], heights: Sequence[float], height: float) -> Iterator[Point]:
    """Yield where the edges of a shape cross one height."""
    for place, (one, low) in enumerate(zip(corners, heights, strict=True)):
        other, high = corners[place - 1], heights[place - 1]
        if (low < height) != (high < height):
            share = (height - low) / (high - low)
            yield one[0] + share * (other[0] - one[0]), one[1] + share * (other[1] - one[1])
