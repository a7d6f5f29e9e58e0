"""A report as a file on the disk: HTML or PDF by the end of its name.

What stands in it is left to `report`, how it looks to `html` and `pdf`.
"""

from __future__ import annotations

from pathlib import Path

from cogtally.show.drawing.files import write_whole
from cogtally.show.drawing.primitives import Drawing
from cogtally.show.report.content import Report

PDF = ".pdf"


def write_page(report: Report, place: Path, picture: Drawing | None = None) -> None:
    """Write a report to `place`, a PDF where that ends so, else HTML; raise UserError.

    A file of that name is written over, but only by a whole one.
    """
    if place.suffix.lower() == PDF:
        from cogtally.show.drawing.pdf import pdf_bytes
        from cogtally.show.report.pdf import report_drawing

        write_whole(pdf_bytes(report_drawing(report, picture)), place)
        return
    from cogtally.show.drawing.svg import svg_text
    from cogtally.show.report.html import report_html

    svg = None if picture is None else svg_text(picture, inline=True)
    write_whole(report_html(report, svg).encode("utf-8"), place)
