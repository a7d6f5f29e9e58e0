"""The key of a family on a sheet, as large as its lines allow, and lines for notes below it.

What the key says is left to `key`.
"""

from __future__ import annotations

from collections.abc import Sequence

from cogtally.show.drawing.primitives import GREY, POINT, Box, Item, Line, Pen, Text
from cogtally.show.drawing.text import ASCENT, LEADING, lines_height, paragraph, text_width

WORDS = 8.5 * POINT
#: A key is set no larger, and left out where it would be smaller.
LARGEST_KEY, SMALLEST_KEY = 8 * POINT, 4.5 * POINT
COLUMNS_APART, LINES_APART = 4.0, 8.0
MOST_COLUMNS = 3
#: A space at the head of a line of a key, in ems.
_INDENT = 0.5


def key_items(keys: Sequence[Sequence[str]], box: Box) -> list[Item]:
    """Return the key that can be set largest, and lines to write on in what is left of the box.

    `keys`: the same key as lines of different widths; none where there is no key.
    """
    found = [
        (_key_size(lines, box, columns), columns, lines)
        for lines in keys
        for columns in range(1, MOST_COLUMNS + 1)
    ]
    if not found:
        return _notes(box)
    size, columns, lines = max(found, key=lambda one: (one[0], -one[1]))
    if size < SMALLEST_KEY:
        text = "The key of this family is too long for a sheet: 'cogtally catalog apart'."
        said, y = paragraph(text, box.left, box.right, box.top, WORDS)
        return [*said, *_notes(Box(box.left, y, box.right, box.bottom))]
    items = _set_key(lines, box, size, columns)
    rows = _rows(lines, columns)
    y = box.top + lines_height(rows, size) + COLUMNS_APART
    return [*items, *_notes(Box(box.left, y, box.right, box.bottom))]


def _notes(box: Box) -> list[Item]:
    """Return lines to write on where there is room for two or more."""
    if box.height < 2.5 * LINES_APART:
        return []
    items: list[Item] = [Text(box.left, box.top + ASCENT * WORDS, "Notes", WORDS, bold=True)]
    y = box.top + LINES_APART + WORDS
    while y < box.bottom:
        items.append(Line((box.left, y), (box.right, y), Pen(0.2, GREY)))
        y += LINES_APART
    return items


def _key_size(lines: Sequence[str], box: Box, columns: int) -> float:
    """Return the size at which a key fills its box in so many columns."""
    rows = _rows(lines, columns)
    width = (box.width - (columns - 1) * COLUMNS_APART) / columns
    wide = max(_indent(line) * _INDENT + text_width(line.strip(), 1.0) for line in lines)
    return min(LARGEST_KEY, width / wide, box.height / lines_height(rows, 1.0))


def _set_key(lines: Sequence[str], box: Box, size: float, columns: int) -> list[Item]:
    rows = _rows(lines, columns)
    width = (box.width - (columns - 1) * COLUMNS_APART) / columns
    items: list[Item] = []
    for place, line in enumerate(lines):
        x = box.left + place // rows * (width + COLUMNS_APART) + _indent(line) * _INDENT * size
        y = box.top + ASCENT * size + place % rows * LEADING * size
        items.append(Text(x, y, line.strip(), size, bold=place == 0))
    return items


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip())


def _rows(lines: Sequence[str], columns: int) -> int:
    return -(-len(lines) // columns)
