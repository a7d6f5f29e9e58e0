"""How much room a text takes, and text that is wrapped or made smaller until it fits.

The fonts are left to `paper`; nothing is ever cut.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence
from typing import Literal

from cogtally.show.drawing.primitives import (
    INK,
    POINT,
    Anchor,
    Box,
    Ellipse,
    Item,
    Leaf,
    Line,
    Rectangle,
    Text,
    leaves,
)

#: How far letters reach above and below the baseline, and lines stand apart, in ems.
ASCENT, DESCENT, LEADING = 0.78, 0.24, 1.22
#: Words stay whole down to this size; where even that is too large they are broken.
LEAST_SIZE = 6 * POINT
_SMALLER = 0.96

Upright = Literal["top", "middle", "bottom"]


def text_width(text: str, size: float, bold: bool = False) -> float:
    """Return how wide one line of text is, in millimetres, by the metrics of its font."""
    from cogtally.show.drawing.paper import width_of

    return width_of(text, bold) * size


def extent(item: Leaf) -> Box:
    """Return the rectangle that an item fills, half the width of its pen around it."""
    if isinstance(item, Text):
        return _text_extent(item)
    edge = item.pen.width / 2 if item.pen else 0.0
    if isinstance(item, Rectangle):
        found = Box(item.x, item.y, item.x + item.width, item.y + item.height)
    elif isinstance(item, Ellipse):
        x, y = item.x, item.y
        found = Box(x - item.across, y - item.down, x + item.across, y + item.down)
    else:
        points = (item.start, item.end) if isinstance(item, Line) else item.points
        xs, ys = [x for x, _ in points], [y for _, y in points]
        found = Box(min(xs), min(ys), max(xs), max(ys))
    return Box(found.left - edge, found.top - edge, found.right + edge, found.bottom + edge)


def extent_of(items: Iterable[Item]) -> Box:
    """Return the rectangle that several items fill; at least one is needed."""
    boxes = [extent(item) for item in leaves(items)]
    return Box(
        min(b.left for b in boxes),
        min(b.top for b in boxes),
        max(b.right for b in boxes),
        max(b.bottom for b in boxes),
    )


def text_box(
    text: str,
    box: Box,
    size: float,
    *,
    anchor: Anchor = "start",
    upright: Upright = "top",
    bold: bool = False,
    colour: str = INK,
    most_lines: int | None = None,
) -> tuple[Text, ...]:
    """Return lines of text that stand inside a box: wrapped, and smaller where they have to be.

    `size` is the largest size. A line break in the text is kept. Nothing is cut: a text that is
    far too long comes out small, its words broken as a last resort.
    """
    whole = size
    while True:
        for broken in (False, True) if whole <= min(LEAST_SIZE, size) else (False,):
            lines = wrapped_to(text, box.width, whole, bold=bold, broken=broken)
            fits = most_lines is None or len(lines) <= most_lines
            wide = max(text_width(line, whole, bold) for line in lines)
            if fits and wide <= box.width and lines_height(len(lines), whole) <= box.height:
                return _set_lines(lines, box, whole, anchor, upright, bold, colour)
        whole *= _SMALLER


def paragraph(
    text: str,
    left: float,
    right: float,
    top: float,
    size: float,
    *,
    bold: bool = False,
    colour: str = INK,
) -> tuple[tuple[Text, ...], float]:
    """Return a text as lines between two edges from `top` on, and where they end."""
    lines = wrapped_to(text, right - left, size, bold=bold, broken=True)
    found = tuple(
        Text(left, top + (ASCENT + n * LEADING) * size, line, size, bold=bold, colour=colour)
        for n, line in enumerate(lines)
    )
    return found, top + lines_height(len(lines), size)


def lines_height(count: int, size: float) -> float:
    """Return how high so many lines of text stand, from the top of the first to the last foot."""
    return (ASCENT + DESCENT + (count - 1) * LEADING) * size


def wrapped_to(
    text: str, width: float, size: float, *, bold: bool = False, broken: bool = False
) -> list[str]:
    """Return a text as lines of at most `width`; a word that is wider stands alone.

    `broken`: such a word is broken where it has to be.
    """
    found: list[str] = []
    for paragraph in text.splitlines() or [""]:
        line = ""
        for word in paragraph.split():
            parts = _parts(word, width, size, bold) if broken else [word]
            for place, part in enumerate(parts):
                together = f"{line} {part}" if line and not place else part
                if line and (place or text_width(together, size, bold) > width):
                    found.append(line)
                    line = part
                else:
                    line = together
        found.append(line)
    return found


def _parts(word: str, width: float, size: float, bold: bool) -> list[str]:
    """Break a word into parts that fit, no mark taken from its letter."""
    letters: list[str] = []
    for c in word:
        if letters and unicodedata.category(c).startswith("M"):
            letters[-1] += c
        else:
            letters.append(c)
    parts = [""]
    for letter in letters:
        if parts[-1] and text_width(parts[-1] + letter, size, bold) > width:
            parts.append("")
        parts[-1] += letter
    return parts


def _set_lines(
    lines: Sequence[str],
    box: Box,
    size: float,
    anchor: Anchor,
    upright: Upright,
    bold: bool,
    colour: str,
) -> tuple[Text, ...]:
    x = {"start": box.left, "middle": (box.left + box.right) / 2, "end": box.right}[anchor]
    spare = box.height - lines_height(len(lines), size)
    top = box.top + {"top": 0.0, "middle": spare / 2, "bottom": spare}[upright]
    first = top + ASCENT * size
    return tuple(
        Text(x, first + n * LEADING * size, line, size, anchor, bold, colour)
        for n, line in enumerate(lines)
        if line
    )


def _text_extent(item: Text) -> Box:
    width = text_width(item.text, item.size, item.bold)
    start = {"start": 0.0, "middle": width / 2, "end": width}[item.anchor]
    above, below = ASCENT * item.size, DESCENT * item.size
    if item.turned:
        low = item.y + start
        return Box(item.x - above, low - width, item.x + below, low)
    left = item.x - start
    return Box(left, item.y - above, left + width, item.y + below)
