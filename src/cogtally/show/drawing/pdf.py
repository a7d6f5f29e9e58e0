"""A drawing as a PDF, its fonts within, and a page of it as PNG.

What is drawn is left to `drawing`, the fonts to `fonts`.
"""

from __future__ import annotations

import io
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from cogtally.show.drawing.primitives import (
    Drawing,
    Ellipse,
    Leaf,
    Line,
    Pen,
    Polyline,
    Text,
    leaves,
)
from cogtally.show.drawing.text import text_width
from cogtally.show.screen import plain

if TYPE_CHECKING:
    from cogtally.show.drawing.fonts import Paper

#: The way in which cells of the library put text: the baseline so many ems below the middle.
_CELL_BASELINE = 0.3
_DOTS_PER_INCH = 200
#: The same drawing makes the same file, whenever it is made.
_MADE = datetime(2000, 1, 1, tzinfo=UTC)


def pdf_bytes(drawing: Drawing) -> bytes:
    """Return a PDF of all pages."""
    from cogtally.show.drawing.fonts import Paper

    paper = Paper()
    paper.set_title(plain(drawing.title))
    paper.set_subject(plain(drawing.about))
    paper.set_lang("en")
    paper.set_creation_date(_MADE)
    for page in drawing.pages:
        paper.add_page(format=(page.width, page.height))
        for item in leaves(page.items):
            _draw(paper, item)
    return bytes(paper.output())


def png_bytes(drawing: Drawing, page: int = 0, dots_per_inch: int = _DOTS_PER_INCH) -> bytes:
    """Return one page as PNG."""
    import pypdfium2  # type: ignore[import-untyped]

    document = pypdfium2.PdfDocument(pdf_bytes(drawing))
    picture = document[page].render(scale=dots_per_inch / 72).to_pil()
    found = io.BytesIO()
    picture.save(found, "PNG", dpi=(dots_per_inch, dots_per_inch))
    document.close()
    return found.getvalue()


def _draw(paper: Paper, item: Leaf) -> None:
    if isinstance(item, Text):
        _write(paper, item)
        return
    style = _style(paper, item.pen, "" if isinstance(item, Line) else item.fill)
    if not style:
        return
    if isinstance(item, Line):
        paper.line(*item.start, *item.end)
    elif isinstance(item, Polyline):
        paper.polyline(list(item.points), polygon=item.closed, style=style)
    elif isinstance(item, Ellipse):
        x, y = item.x - item.across, item.y - item.down
        paper.ellipse(x, y, 2 * item.across, 2 * item.down, style=style)
    else:
        rounded = item.radius > 0
        paper.rect(
            item.x,
            item.y,
            item.width,
            item.height,
            style=style,
            round_corners=rounded,
            corner_radius=item.radius,
        )


def _style(paper: Paper, pen: Pen | None, fill: str) -> str:
    """Set pen and fill; D, F or DF, empty where there is nothing to be seen."""
    if pen is not None:
        paper.set_draw_color(pen.colour)
        paper.set_line_width(pen.width)
        paper.set_dash_pattern(*(pen.dash or (0, 0)))
    if fill:
        paper.set_fill_color(fill)
    return ("D" if pen is not None else "") + ("F" if fill else "")


def _write(paper: Paper, item: Text) -> None:
    text = paper.drawable(item.text)
    paper.set_font(style="B" if item.bold else "", size=item.size * paper.k)
    paper.set_text_color(item.colour)
    width = text_width(item.text, item.size, item.bold)
    start = item.x - {"start": 0.0, "middle": width / 2, "end": width}[item.anchor]
    with paper.rotation(90 if item.turned else 0, item.x, item.y):
        paper.set_xy(start, item.y - _CELL_BASELINE * item.size)
        paper.cell(width, 0, text)
