"""What the signs of a train's picture mean, of those that occur in it.

The signs are left to `symbols`.
"""

from __future__ import annotations

from collections.abc import Iterator

from cogtally.show.drawing.primitives import INK, Group, Item, Line, Pen, Text, placed
from cogtally.show.drawing.text import extent_of, text_width
from cogtally.show.train.labels import SMALL
from cogtally.show.train.plan import Plan
from cogtally.show.train.subject import Subject
from cogtally.show.train.symbols import (
    BAND,
    DASH,
    POWER,
    TIE_DASH,
    TRIANGLE,
    Look,
    cross_sign,
    free_sign,
    mark_sign,
)

_ROW = 7.0


def key_items(
    subject: Subject, found: Plan, left: float, right: float, top: float
) -> tuple[list[Item], float]:
    """Return what the signs mean in rows between two edges, and where the rows end."""
    x, y = left, top
    items: list[Item] = []
    for name, signs, words in _meanings(subject, found):
        box = extent_of(signs)
        room = box.width + 2.0
        size = SMALL * min(1.0, (right - left - room) / text_width(words, SMALL))
        width = room + text_width(words, size)
        if x > left and x + width > right:
            x, y = left, y + _ROW
        base = y + 4.0
        text = Text(x + room, base, words, size)
        items.append(Group(f"key {name}", (*placed(signs, x - box.left, base - 1.2), text)))
        x += width + 6.0
    return items, y + (_ROW + 1.0 if items else 0.0)


def _meanings(subject: Subject, found: Plan) -> Iterator[tuple[str, tuple[Item, ...], str]]:
    wheels = found.wheels.values()
    look = Look()
    shaft = Line((0.0, 0.0), (8.0, 0.0), look.pen(0.9))
    if any(w.fixed for w in wheels):
        yield "fixed", (shaft, *cross_sign(4.0, 0.0, look)), "fixed on its shaft"
    if any(not w.fixed for w in wheels):
        yield "free", (shaft, *free_sign(4.0, 0.0, look)), "runs free until its gear locks it"
    if subject.gear is not None:
        band = Line((0.0, 0.0), (8.0, 0.0), Pen(BAND, POWER))
        yield "power", (band, shaft), f"under load in gear {subject.gear}"
    if found.ties:
        tie = Line((0.0, 0.0), (10.0, 0.0), Pen(0.5, INK, TIE_DASH))
        yield "mesh", (tie,), "in mesh beside the drawing plane"
    if any(not label.known for label in subject.labels.values()):
        rim = Line((0.0, 0.0), (8.0, 0.0), Pen(1.0, INK, DASH))
        yield "uncounted", (rim,), "dashed: not counted"
    if any(label.beside for label in subject.labels.values()) and subject.listed:
        yield "listed", (Text(0.0, 1.2, "(21)", SMALL),), f"as in {subject.listed}"
    if any(label.marked for label in subject.labels.values()):
        yield "differs", mark_sign(TRIANGLE * 0.6, 0.0), "does not agree"
