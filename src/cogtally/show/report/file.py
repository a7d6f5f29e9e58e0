"""A report as a file on the disk: HTML or PDF by the end of its name.

What stands in it is left to `report`, how it looks to `html` and `pdf`.
"""

from __future__ import annotations

from pathlib import Path

from cogtally.show.drawing import Drawing
from cogtally.show.report.content import Report
from cogtally.store import write_whole

PDF = ".pdf"


def write_page(report: Report, place: Path, picture: Drawing | None = None) -> None:
    """Write a report to `place`, a PDF where that ends so, else HTML; raise UserError.

    A file of that name is written over, but only by a whole one.
    """
    if place.suffix.lower() == PDF:
        from cogtally.show.drawing.paper import pdf_bytes
        from cogtally.show.report.pdf import report_drawing

        write_whole({place: pdf_bytes(report_drawing(report, picture))})
        return
    from cogtally.show.drawing import svg_text
    from cogtally.show.report.html import report_html

    svg = None if picture is None else svg_text(picture, inline=True)
    write_whole({place: report_html(report, svg).encode("utf-8")})
