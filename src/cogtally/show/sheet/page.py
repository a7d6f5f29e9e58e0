"""A sheet to fill in with oily hands, on one page: the train, boxes for counts, lines to write on.

What it asks for is left to `subject`, the train's picture to `picture`.
"""

from __future__ import annotations

from collections.abc import Sequence

from cogtally.show.drawing.primitives import (
    GREY,
    PAGES,
    POINT,
    Box,
    Drawing,
    Group,
    Item,
    Line,
    Page,
    Pen,
    Rectangle,
    Text,
    placed,
)
from cogtally.show.drawing.text import (
    ASCENT,
    LEADING,
    paragraph,
    text_box,
    text_width,
)
from cogtally.show.screen import CAUTIONS, DEMO_CAUTION
from cogtally.show.sheet.key import WORDS, key_items
from cogtally.show.sheet.subject import Sheet
from cogtally.show.train import train_picture

MARGIN, GUTTER = 10.0, 4.0
TITLE, SMALL, FIELD = 16 * POINT, 7.5 * POINT, 9.5 * POINT
#: Heights of a row to write in: what a hand needs, and what it gets where there are many.
ROOMY_ROW, NARROW_ROW = 8.0, 5.0
#: What the train's picture gets of the page, where the rows leave it, and what it gets at least.
PICTURE_WIDTH, PICTURE_HEIGHT = 124.0, 88.0
LEAST_PICTURE = 45.0
_RULE, _FRAME = Pen(0.2, GREY), Pen(0.3)
_INSIDE, _BETWEEN = 1.0, 0.8
#: What the words on how to count get of the height beside the picture, at least.
_HOW_HEIGHT = 37.0
#: The share of a cell with words in it that is left to write in.
_TO_WRITE_IN = 0.45

CHALK = (
    "Chalk the tooth that you start at, and the casing or bench beside it.",
    "Turn by hand and count each tooth that passes the mark, until the chalked one is back. "
    "It is counted once, not twice.",
    "Wipe the chalk off, start at another tooth, and write the second count in the box 'again' "
    "without looking at the first.",
    "A wheel that was not counted: leave its box empty. Not sure: write u behind the number.",
)


def sheet_drawing(sheet: Sheet, paper: str = "a4") -> Drawing:
    """Return a sheet as one page; `paper` is one of PAGES."""
    width, height = PAGES[paper]
    page = _Layout(sheet, Box(MARGIN, MARGIN, width - MARGIN, height - MARGIN))
    about = f"A sheet to count in: {sheet.title}. {sheet.order}"
    title = f"Count sheet: {sheet.title}"
    return Drawing((Page(width, height, tuple(page.items())),), title, about)


class _Layout:
    """The parts of a sheet from top to bottom; what has rows shares what the words leave."""

    def __init__(self, sheet: Sheet, page: Box) -> None:
        self.sheet, self.page = sheet, page
        self.middle = (page.left + page.right) / 2

    def items(self) -> list[Item]:
        """Return all that stands on the page."""
        page, sheet = self.page, self.sheet
        head, top = self._head()
        foot, bottom = self._foot()
        table_rows = (len(sheet.wheels) + 1) // 2 + 1
        low_rows = len(sheet.pieces) + 1
        room = bottom - top - 2 * GUTTER
        rows = table_rows + low_rows
        row = min(ROOMY_ROW, (room - PICTURE_HEIGHT) / rows)
        row = max(row, min(NARROW_ROW, (room - LEAST_PICTURE) / rows))
        table_top = top + min(PICTURE_HEIGHT, room - rows * row) + GUTTER
        low_top = table_top + table_rows * row + GUTTER
        right = page.left + PICTURE_WIDTH + GUTTER
        train_box = Box(page.left, top, page.left + PICTURE_WIDTH, table_top - GUTTER)
        side = Box(right, top, page.right, table_top - GUTTER)
        left = Box(page.left, low_top, self.middle - GUTTER / 2, bottom)
        key = Box(self.middle + GUTTER / 2, low_top, page.right, bottom)
        return [
            Group("head", tuple(head)),
            Group("train", self._train(train_box)),
            Group("turns", tuple(self._side(side, row))),
            Group("counts", tuple(self._counts(table_top, row))),
            Group("pieces", tuple(self._pieces(left, row))),
            Group("key", tuple(key_items(sheet.keys, key))),
            Group("foot", tuple(foot)),
        ]

    def _head(self) -> tuple[list[Item], float]:
        """Return the title, lines for whose box it is, the note, and where they end."""
        page, sheet = self.page, self.sheet
        split = page.left + (page.right - page.left) * 0.58
        title = Box(page.left, page.top, split - GUTTER, page.top + 8.0)
        items: list[Item] = [*text_box(sheet.title, title, TITLE, bold=True, most_lines=2)]
        x, base = split, page.top + 5.5
        for field, share in (("box", 0.4), ("by", 0.3), ("date", 0.3)):
            end = x + (page.right - split) * share
            items += _blank_line(field, x, min(end - 2.0, page.right), base)
            x = end
        notes, y = _paragraphs([sheet.note, sheet.order], page, page.top + 9.5)
        return [*items, *notes], y + 1.0

    def _foot(self) -> tuple[list[Item], float]:
        """Return what to type and the cautions, at the foot of the page, and where they begin."""
        demo = [DEMO_CAUTION] if self.sheet.demo else []
        words = f"Then type: {self.sheet.words}"
        items, y = _paragraphs([words, *demo, *CAUTIONS], self.page, 0.0, SMALL)
        top = self.page.bottom - y
        return list(placed(items, 0.0, top)), top - GUTTER

    def _train(self, box: Box) -> tuple[Item, ...]:
        picture = train_picture(self.sheet.picture)
        scale = min(box.width / picture.box.width, box.height / picture.box.height, 1.0)
        x = box.left + (box.width - picture.box.width * scale) / 2 - picture.box.left * scale
        y = box.top + (box.height - picture.box.height * scale) / 2 - picture.box.top * scale
        return placed(picture.items, x, y, scale)

    def _side(self, box: Box, row: float) -> list[Item]:
        """Return the turn tests, and below them how to count."""
        turns = self.sheet.turns
        height = min(row, (box.height - _HOW_HEIGHT) / (len(turns) + 1))
        y = box.top
        widths = _shares(box.width, (0.2, 0.24, 0.28, 0.28))
        items: list[Item] = []
        rows = [
            (turn.gear, "" if turn.turns is None else str(turn.turns), "", "") for turn in turns
        ]
        for cells in [("gear", "turns in", "out", "again"), *rows] if rows else []:
            items += _cells(box.left, y, height, widths, cells, head=not items)
            y += height
        y += 1.5 if rows else 0.0
        rest = Box(box.left, y + WORDS * LEADING, box.right, box.bottom)
        title = Text(box.left, y + ASCENT * WORDS, "How to count", WORDS, bold=True)
        steps = (f"{number}. {step}" for number, step in enumerate(CHALK, 1))
        return [*items, title, *text_box("\n".join(steps), rest, WORDS)]

    def _counts(self, top: float, row: float) -> list[Item]:
        """Return a box for each wheel with one beside it for a recount, in two halves."""
        wheels = self.sheet.wheels
        half = (len(wheels) + 1) // 2
        width = (self.page.right - self.page.left - GUTTER) / 2
        widths = _shares(width, (0.08, 0.28, 0.28, 0.18, 0.18))
        items: list[Item] = []
        for x, rows in ((self.page.left, wheels[:half]), (self.middle + 2.0, wheels[half:])):
            if rows:
                heads = ("no.", "wheel", "piece", "count", "again")
                items += _cells(x, top, row, widths, heads, head=True)
            for place, wheel in enumerate(rows, 1):
                cells = (str(wheel.number), wheel.wheel, wheel.piece, "", "")
                signs = _cells(x, top + place * row, row, widths, cells, strong=(0,))
                items.append(Group(f"count {wheel.wheel}", tuple(signs)))
        return items

    def _pieces(self, box: Box, row: float) -> list[Item]:
        """Return a line for each piece: what is stamped on it, what else can be looked at."""
        widths = _shares(box.width, (0.24, 0.28, 0.48))
        heads = ("piece", "marks on it", "what else: write the value")
        items = _cells(box.left, box.top, row, widths, heads, head=True)
        for place, piece in enumerate(self.sheet.pieces, 1):
            cells = (piece.piece, "", "")
            y = box.top + place * row
            items += _cells(box.left, y, row, widths, cells)
            asked = Box(
                box.right - widths[2] + _INSIDE,
                y + 0.3,
                box.right - _INSIDE - widths[2] * _TO_WRITE_IN,
                y + row - 0.3,
            )
            items += text_box(piece.features, asked, SMALL, upright="middle", colour=GREY)
        return items


def _shares(width: float, shares: Sequence[float]) -> list[float]:
    return [width * share for share in shares]


def _cells(
    x: float,
    y: float,
    height: float,
    widths: Sequence[float],
    texts: Sequence[str],
    *,
    head: bool = False,
    strong: Sequence[int] = (),
) -> list[Item]:
    """Return a row of cells with their texts; those of a head have no frame."""
    items: list[Item] = []
    for place, (width, text) in enumerate(zip(widths, texts, strict=True)):
        if not head:
            items.append(Rectangle(x, y, width, height, _FRAME))
        box = Box(x + _INSIDE, y + 0.4, x + width - _INSIDE, y + height - 0.4)
        items += text_box(
            text,
            box,
            SMALL if head else FIELD,
            upright="bottom" if head else "middle",
            bold=head or place in strong,
            most_lines=2,
        )
        x += width
    return items


def _blank_line(field: str, start: float, end: float, base: float) -> list[Item]:
    """Return a word and a line to write on after it."""
    after = start + text_width(field, WORDS) + 1.0
    return [Text(start, base, field, WORDS), Line((after, base + 0.6), (end, base + 0.6), _RULE)]


def _paragraphs(
    texts: Sequence[str], page: Box, y: float, size: float = WORDS
) -> tuple[list[Item], float]:
    """Return texts one below the other, as wide as the page from `y` on, and where they end."""
    items: list[Item] = []
    for text in filter(None, texts):
        lines, y = paragraph(text, page.left, page.right, y, size)
        items += lines
        y += _BETWEEN
    return items, y
