"""The report as one HTML page that needs nothing beside it: no script, no network, no other file.

What stands on it is left to `report`, the train's picture to whoever draws it.
"""

from __future__ import annotations

from pathlib import Path

from cogtally.show.report.content import Report

TEMPLATE = "report.html.j2"


def report_html(report: Report, picture: str | None = None) -> str:
    """Return the page; `picture` is an inline SVG of our own making, which says what it shows.

    Every text of the report is escaped.
    """
    from jinja2 import Environment, FileSystemLoader, StrictUndefined
    from markupsafe import Markup

    rooms = Environment(
        loader=FileSystemLoader(Path(__file__).parent / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    svg = None if picture is None else Markup(picture)
    return rooms.get_template(TEMPLATE).render(report=report, picture=svg)
