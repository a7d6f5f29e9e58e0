"""The words at wheels and over columns of a train's picture, each where it lies on nothing else.

What they say is left to `subject`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from cogtally.gears.trains import FINAL, REVERSE
from cogtally.show.drawing.primitives import (
    INK,
    Box,
    Group,
    Item,
    Line,
    Pen,
    Polyline,
    Text,
    leaves,
)
from cogtally.show.drawing.text import ASCENT, LEADING, extent, extent_of, text_width, wrapped_to
from cogtally.show.train.plan import JOINT, RIM, Placed, Plan
from cogtally.show.train.subject import Label, Subject
from cogtally.show.train.symbols import MARK, POWER, TRIANGLE, mark_sign

#: Heights of letters in millimetres: a page this wide is still read on a telephone.
TEETH, HEAD, SMALL = 5.0, 5.0, 3.6
#: The widest name of a pair that is set in one line.
_WIDEST_HEAD = 20.0
_AIR = 1.0


def label_items(subject: Subject, found: Plan, drawn: Sequence[Item]) -> list[Item]:
    """Return every label where it lies on nothing else, as near to its wheel's outer rim as can be.

    Wheels at the rim of the picture first, for the others have more places to go.
    """
    taken = [box for item in leaves(drawn) for box in _boxes(item)]
    middle = (found.enters[1] + found.height) / 2
    items: list[Item] = []
    for name, wheel in sorted(found.wheels.items(), key=lambda w: -abs(w[1].y - middle)):
        block = _Block(subject.labels[name])
        places = list(_places(wheel, block, above=wheel.y < middle))
        place = next((p for p in places if _is_free(block.box(p), taken)), places[0])
        label = block.items(place)
        taken.append(block.box(place))
        items.append(Group(f"label {name}", label))
    return items


def _boxes(item: Item) -> list[Box]:
    """Return what a drawn thing fills; of lines with corners each part."""
    if not isinstance(item, Polyline):
        return [] if isinstance(item, Group) else [extent(item)]
    if item.pen is not None and item.pen.colour == POWER:
        return []
    ends = zip(item.points, item.points[1:], strict=False)
    return [extent(Line(one, other)) for one, other in ends]


def _is_free(box: Box, taken: Iterable[Box]) -> bool:
    return not any(_meet(box, other) for other in taken)


def _meet(one: Box, other: Box) -> bool:
    return (
        one.left < other.right
        and other.left < one.right
        and one.top < other.bottom
        and other.top < one.bottom
    )


class _Block:
    """A label as a block of one or two lines, its size known before its place."""

    def __init__(self, label: Label) -> None:
        self.label = label
        mark = TRIANGLE * 1.4 if label.marked else 0.0
        first = text_width(label.text, TEETH, bold=True)
        beside = text_width(f" {label.beside}", SMALL) if label.beside else 0.0
        self.mark, self.first = mark, first
        self.line = mark + first + beside
        self.width = max(self.line, text_width(label.below, SMALL) if label.below else 0.0)
        self.height = TEETH * 0.9 + (SMALL * LEADING if label.below else 0.0)

    def box(self, place: tuple[float, float]) -> Box:
        """Return what it fills with its top left corner at a place."""
        x, y = place
        return Box(x, y, x + self.width, y + self.height)

    def items(self, place: tuple[float, float]) -> tuple[Item, ...]:
        """Return its letters."""
        label, (x, y) = self.label, place
        colour = MARK if label.marked else INK
        start = x + (self.width - self.line) / 2
        base = y + ASCENT * TEETH * 0.92
        found: list[Item] = []
        if label.marked:
            found += mark_sign(start + TRIANGLE * 0.6, base - TEETH * 0.33)
        start += self.mark
        found.append(Text(start, base, label.text, TEETH, bold=True, colour=colour))
        if label.beside:
            space = text_width(" ", SMALL)
            found.append(Text(start + self.first + space, base, label.beside, SMALL))
        if label.below:
            low = base + SMALL * LEADING * 0.95
            middle = x + self.width / 2
            found.append(Text(middle, low, label.below, SMALL, "middle", colour=colour))
        return tuple(found)


def _places(wheel: Placed, block: _Block, *, above: bool) -> Iterable[tuple[float, float]]:
    """Yield places for a label, the best first: beyond the outer rim, the inner rim, beside."""
    if wheel.level:
        middle = wheel.x - wheel.radius / 2 - block.width / 2
        yield middle, wheel.y + RIM / 2 + _AIR
        yield middle, wheel.y - RIM / 2 - _AIR - block.height
        return
    centred = wheel.x - block.width / 2
    ends = [(centred, wheel.top - _AIR - block.height), (centred, wheel.foot + _AIR)]
    yield from ends if above else ends[::-1]
    right, left = wheel.x + _AIR + 0.6, wheel.x - _AIR - 0.6 - block.width
    high = (wheel.top + wheel.y) / 2 - block.height / 2
    low = (wheel.foot + wheel.y) / 2 - block.height / 2
    for x in (right, left, wheel.x + RIM / 2 + _AIR, wheel.x - RIM / 2 - _AIR - block.width):
        yield from ((x, high), (x, low)) if above else ((x, low), (x, high))
    for x in (right, left):
        yield from ((x, wheel.y - _AIR * 2.5 - block.height), (x, wheel.y + _AIR * 2.5))
    for step in range(1, 20):
        away = step * block.height
        yield from ((x, y - away if y < wheel.y else y + away) for x, y in ends)


def head_items(subject: Subject, found: Plan, top: float) -> list[Item]:
    """Return the names of the pairs over their columns, and what stands under them."""
    names = {
        pair: (pair, "reverse" if pair == REVERSE else "", subject.heads.get(pair, ""))
        for pair in found.columns
        if pair != JOINT
    }
    if JOINT in found.columns and subject.train.direct is not None:
        names[JOINT] = (subject.train.direct, "direct", "")
    if subject.axle:
        names[FINAL] = (FINAL, "axle", subject.heads.get(FINAL, ""))
    on = set(subject.train.path(subject.gear) or ()) if subject.gear else set()
    items: list[Item] = []
    rows = max(sum(1 for line in lines[1:] if line) for lines in names.values())
    first = top - 4.0 - rows * SMALL * LEADING
    for pair, (name, *others) in names.items():
        x = found.columns.get(pair)
        if x is None:
            x = found.wheels[f"{FINAL}.driver"].x
        group = list(_name(name, x, first))
        for row, line in enumerate(filter(None, others), 1):
            group.append(Text(x, first + 1.0 + row * SMALL * LEADING, line, SMALL, "middle"))
        if pair in on or (pair == JOINT and subject.gear == subject.train.direct):
            box = extent_of(group)
            low = first + 0.3 * HEAD
            group.append(Line((box.left, low), (box.right, low), Pen(0.6)))
        items.append(Group(f"pair {pair}", tuple(group)))
    return items


def _name(name: str, x: float, foot: float) -> Iterator[Item]:
    """Yield a pair's name over its column; one that is too wide in several smaller lines."""
    wide = text_width(name, HEAD, bold=True) > _WIDEST_HEAD
    size = SMALL if wide else HEAD
    lines = wrapped_to(name, _WIDEST_HEAD, size, bold=True, broken=True)
    for row, line in enumerate(reversed(lines)):
        yield Text(x, foot - row * size * LEADING, line, size, "middle", bold=True)
