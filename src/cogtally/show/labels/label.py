"""Labels on paper: the texts of an item beside a code of its number, as large as they fit.

What a label says is left to the shelf, where it stands on its page to `sheet`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import groupby

from cogtally.shelf.stock import PIECE, Label
from cogtally.show.drawing import (
    ASCENT,
    INK,
    LEADING,
    POINT,
    Box,
    Drawing,
    Group,
    Item,
    Page,
    Rectangle,
    Text,
    lines_height,
    text_width,
    wrapped_to,
)
from cogtally.show.labels.sheet import Sheet
from cogtally.show.ratios import decimal
from cogtally.show.screen import in_words, plain

#: Sizes where there is room: the number, the name, all else.
NUMBER, NAME, REST = 16 * POINT, 10 * POINT, 8.5 * POINT
#: Text under this is told of: few can read it.
SMALL = 5 * POINT
#: Millimetres inside the edges of a label, and between the code and the text.
INSIDE, BESIDE = 1.5, 1.2
#: A code's side: at most, and what it may take of the label's longer side.
MOST_CODE, CODE_SHARE = 20.0, 0.36
#: Empty modules that ISO/IEC 18004 asks for around a code (from memory).
QUIET = 4
RATIO_PLACES = 3
#: Words stay whole down to this share of the sizes; below it they are broken.
_WHOLE_WORDS, _SMALLER, _LEAST_SHARE = 0.55, 0.95, 0.02
_BETWEEN = 0.25
#: The parts of a word, each with the hyphen behind it.
_HYPHENED = re.compile(r"[^-]*-|[^-]+")


def labels_drawing(labels: Sequence[Label], sheet: Sheet, start: int = 1) -> Drawing:
    """Return the pages of some labels; the first stands on place `start` of its sheet, from 1."""
    placed = [(*sheet.place(start - 1 + n), label) for n, label in enumerate(labels)]
    pages = tuple(
        Page(
            sheet.width,
            sheet.height,
            tuple(
                Group(f"item {label.number}", tuple(label_items(label, box)), label.name)
                for _, box, label in some
            ),
        )
        for _, some in groupby(placed, key=lambda one: one[0])
    )
    return Drawing(pages, "Labels", f"{len(labels)} labels of items of the stock")


def label_items(label: Label, box: Box) -> Iterator[Item]:
    """Yield what stands on one label: the code, beside it or below it the texts."""
    inner = Box(box.left + INSIDE, box.top + INSIDE, box.right - INSIDE, box.bottom - INSIDE)
    short, long = sorted((inner.width, inner.height))
    side = min(short, long * CODE_SHARE, MOST_CODE)
    yield from _code(label.number, inner.left, inner.top, side)
    if inner.width >= inner.height:
        room = Box(inner.left + side + BESIDE, inner.top, inner.right, inner.bottom)
    else:
        room = Box(inner.left, inner.top + side + BESIDE, inner.right, inner.bottom)
    yield from _texts(lines_of(label), room)


def lines_of(label: Label) -> list[tuple[str, float, bool]]:
    """Return the texts of a label, the first the number: each with its size and weight."""
    found = [(f"{label.number}", NUMBER, True), (plain(label.name), NAME, True)]
    found.append((sure_text(label), REST, False))
    if label.counted:
        found.append((f"counted {plain(label.counted)}", REST, False))
    if label.ratios:
        found.append((_ratio_text(label), REST, False))
    for text in (label.place, label.price):
        if text:
            found.append((plain(text), REST, bool(text == label.price)))
    return found


def sure_text(label: Label) -> str:
    """Return how sure the name is: `certain`, `possible, count 3.driven to be sure`."""
    word = in_words(label.probability)
    if not label.count:
        return word
    what = label.count
    if label.kind == PIECE:
        what = f"place {what}" if label.has_places else "it"
    return f"{word}, count {what}{' again' if label.again else ''} to be sure"


def small_labels(drawing: Drawing) -> list[str]:
    """Return the names of the labels that have text smaller than SMALL."""
    return [
        item.name
        for page in drawing.pages
        for item in page.items
        if isinstance(item, Group)
        and any(isinstance(one, Text) and one.size < SMALL for one in item.items)
    ]


def _ratio_text(label: Label) -> str:
    if len(label.ratios) == 1:
        return f"ratio {decimal(label.ratios[0][1], RATIO_PLACES)}"
    told = " ".join(f"{plain(gear)}={decimal(r, RATIO_PLACES)}" for gear, r in label.ratios)
    return f"ratios {told}"


def _texts(lines: Sequence[tuple[str, float, bool]], room: Box) -> Iterator[Text]:
    """Yield texts below each other, all made smaller alike until they fit."""
    share = 1.0
    while True:
        broken = share <= _WHOLE_WORDS
        set_out = [
            (_wrapped(text, room.width, size * share, bold, broken), size * share, bold)
            for text, size, bold in lines
        ]
        high = sum(lines_height(len(some), size) for some, size, _ in set_out)
        high += sum(_BETWEEN * size for _, size, _ in set_out[1:])
        wide = max(text_width(line, size, bold) for some, size, bold in set_out for line in some)
        if (high <= room.height and wide <= room.width) or share < _LEAST_SHARE:
            break
        share *= _SMALLER
    top = room.top
    for number, (some, size, bold) in enumerate(set_out):
        top += _BETWEEN * size if number else 0.0
        for n, line in enumerate(some):
            if line:
                base = top + (ASCENT + n * LEADING) * size
                yield Text(room.left, base, line, size, bold=bold)
        top += lines_height(len(some), size)


def _wrapped(text: str, width: float, size: float, bold: bool, broken: bool) -> list[str]:
    """Wrap a text; a word that is too wide goes on behind a hyphen of its own, as teeth do."""
    words = []
    for word in text.split():
        chunk = ""
        for part in _HYPHENED.findall(word):
            if chunk and text_width(chunk + part, size, bold) > width:
                words.append(chunk)
                chunk = ""
            chunk += part
        words.append(chunk)
    return wrapped_to(" ".join(words), width, size, bold=bold, broken=broken)


def _code(number: int, left: float, top: float, side: float) -> Iterator[Rectangle]:
    """Yield the dark modules of a code, those in a row together, the quiet zone within `side`."""
    rows = _modules(number)
    one = side / (len(rows) + 2 * QUIET)
    for y, row in enumerate(rows, QUIET):
        x = QUIET
        for dark, some in groupby(row):
            length = len(list(some))
            if dark:
                yield Rectangle(
                    left + x * one, top + y * one, length * one, one, pen=None, fill=INK
                )
            x += length


@lru_cache(maxsize=1024)
def _modules(number: int) -> tuple[tuple[bool, ...], ...]:
    import segno

    code = segno.make(str(number), error="m", micro=False)
    return tuple(tuple(bool(module) for module in row) for row in code.matrix)
