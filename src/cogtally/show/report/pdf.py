"""The report as pages of A4: the same words and tables as the HTML page, set in millimetres.

What stands in it is left to `report`, files and fonts to the drawing layer.
"""

from __future__ import annotations

from collections.abc import Sequence

from cogtally.show.drawing import (
    GREY,
    INK,
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
    extent_of,
    lines_height,
    paragraph,
    placed,
    text_box,
    text_width,
    wrapped_to,
)
from cogtally.show.report.content import Report, Table

WIDTH, HEIGHT = PAGES["a4"]
MARGIN = 14.0
TITLE, ANSWER, HEAD, WORDS, SMALL = (n * POINT for n in (16, 12, 11, 9, 8))
#: Between columns, between lines of a table, and round the answer.
GAP, LEADING, PADDING = 3.0, 1.3, 2.5
#: A column is no narrower, where it has to be wrapped.
LEAST_COLUMN = 18.0
#: The picture of the train is no higher, so that the answer stays on one page with its pairs.
PICTURE = 78.0


def report_drawing(report: Report, picture: Drawing | None = None) -> Drawing:
    """Return the report as pages; `picture` is the train as a page of its own size."""
    flow = _Flow()
    flow.text(report.title, TITLE, bold=True)
    flow.framed(report.headline)
    for text in report.sentences:
        flow.text(text, WORDS)
    if report.remedies:
        flow.together("What makes it whole", report.remedies)
    if picture is not None:
        flow.heading("The train", PICTURE / 2)
        flow.picture(picture.pages[0])
    if report.pairs is not None:
        flow.heading("Pairs")
        flow.table(report.pairs)
    if report.looks is not None:
        flow.table(report.looks)
    if report.checked is not None:
        flow.heading("Wheel by wheel")
        flow.table(report.checked)
    flow.heading("As it was written down")
    flow.text("   ".join(report.seen) or "Nothing was counted or turned.", WORDS)
    flow.heading("Not counted")
    flow.text(report.not_counted, WORDS)
    if report.next:
        flow.text(report.next, WORDS)
    if report.rivals is not None:
        flow.heading("What else it may be")
        flow.table(report.rivals)
    if report.account is not None:
        flow.heading("The account")
        flow.table(report.account)
    flow.heading("How this was made")
    for name, value in report.facts:
        flow.text(f"{name}: {value}", WORDS)
    flow.together("Cautions", report.cautions)
    return Drawing(flow.pages(), report.title, report.headline)


class _Flow:
    """Things set one under the other, from page to page."""

    def __init__(self) -> None:
        self._pages: list[list[Item]] = [[]]
        self._y = MARGIN

    def pages(self) -> tuple[Page, ...]:
        """Return all pages, each with its number where there are several."""
        found = []
        for number, items in enumerate(self._pages, 1):
            if len(self._pages) > 1:
                foot = f"{number} of {len(self._pages)}"
                box = Box(MARGIN, HEIGHT - MARGIN + 3, WIDTH - MARGIN, HEIGHT - MARGIN + 8)
                items = [*items, *text_box(foot, box, SMALL, anchor="end", colour=GREY)]
            found.append(Page(WIDTH, HEIGHT, tuple(items)))
        return tuple(found)

    def _room(self, height: float) -> None:
        """Go on to the next page where so much is not left on this one."""
        if self._y + height > HEIGHT - MARGIN and self._pages[-1]:
            self._pages.append([])
            self._y = MARGIN

    def text(self, text: str, size: float, *, bold: bool = False, colour: str = INK) -> None:
        """Set a paragraph."""
        lines = wrapped_to(text, WIDTH - 2 * MARGIN, size, bold=bold, broken=True)
        self._room(lines_height(len(lines), size))
        items, end = paragraph(
            text, MARGIN, WIDTH - MARGIN, self._y, size, bold=bold, colour=colour
        )
        self._pages[-1] += items
        self._y = end + 0.35 * size

    def heading(self, text: str, more: float = 16.0) -> None:
        """Set a heading, never alone at the foot of a page: `more` has room below it."""
        self._room(2 * HEAD + more)
        self._y += 0.7 * HEAD
        self.text(text, HEAD, bold=True)

    def framed(self, text: str) -> None:
        """Set the answer in a frame."""
        left, right = MARGIN + PADDING, WIDTH - MARGIN - PADDING
        top = self._y + 1
        items, end = paragraph(text, left, right, top + PADDING, ANSWER, bold=True)
        height = end + PADDING - top
        frame = Rectangle(MARGIN, top, WIDTH - 2 * MARGIN, height, Pen(0.6))
        self._pages[-1].append(Group("answer", (frame, *items)))
        self._y = top + height + 2

    def picture(self, page: Page) -> None:
        """Set a picture, as large as it fits."""
        box = extent_of(page.items)
        scale = min((WIDTH - 2 * MARGIN) / box.width, PICTURE / box.height, 1.0)
        self._room(box.height * scale)
        x = MARGIN - box.left * scale
        self._pages[-1].append(
            Group("train", placed(page.items, x, self._y - box.top * scale, scale))
        )
        self._y += box.height * scale + 2

    def together(self, heading: str, texts: Sequence[str]) -> None:
        """Set a heading and its paragraphs on one page."""
        lines = [wrapped_to(text, WIDTH - 2 * MARGIN, WORDS, broken=True) for text in texts]
        self.heading(
            heading, sum(lines_height(len(found), WORDS) + 0.35 * WORDS for found in lines)
        )
        for text in texts:
            self.text(text, WORDS)

    def table(self, table: Table) -> None:
        """Set a table, its head again on every page that it goes on to."""
        self._room(3 * HEAD)
        self.text(table.caption, WORDS, bold=True)
        widths = _widths([table.head, *table.rows])
        self._row(table.head, widths, bold=True, rule=0.5)
        for row in table.rows:
            height = self._height(row, widths)
            if self._y + height > HEIGHT - MARGIN:
                self._room(HEIGHT)
                self._row(table.head, widths, bold=True, rule=0.5)
            self._row(row, widths)
        if table.note:
            self.text(table.note, WORDS)
        self._y += 1

    def _height(self, row: Sequence[str], widths: Sequence[float]) -> float:
        cells = [wrapped_to(c, w, SMALL, broken=True) for c, w in zip(row, widths, strict=True)]
        return max(lines_height(len(lines), SMALL) for lines in cells) + LEADING

    def _row(
        self, row: Sequence[str], widths: Sequence[float], *, bold: bool = False, rule: float = 0.15
    ) -> None:
        x, end = MARGIN, self._y
        for number, (cell, width) in enumerate(zip(row, widths, strict=True)):
            strong = bold or number == 0
            if cell:
                items, foot = paragraph(cell, x, x + width, self._y, SMALL, bold=strong)
                self._pages[-1] += items
                end = max(end, foot)
            x += width + GAP
        end = max(end, self._y + lines_height(1, SMALL)) + LEADING / 2
        self._pages[-1].append(Line((MARGIN, end), (WIDTH - MARGIN, end), Pen(rule)))
        self._y = end + LEADING / 2


def _widths(rows: Sequence[Sequence[str]]) -> list[float]:
    """Return the width of each column: what its cells need, the widest cut to what is left."""
    needed = [
        max(text_width(row[i], SMALL, bold=i == 0 or row is rows[0]) for row in rows) + 0.5
        for i in range(len(rows[0]))
    ]
    room = WIDTH - 2 * MARGIN - GAP * (len(needed) - 1)
    while sum(needed) > room:
        widest = max(range(len(needed)), key=needed.__getitem__)
        others = sum(needed) - needed[widest]
        second = max((w for i, w in enumerate(needed) if i != widest), default=0.0)
        cut = max(room - others, min(second, needed[widest]) * 0.9, LEAST_COLUMN)
        if cut >= needed[widest]:
            break
        needed[widest] = cut
    return needed
