"""The page about one box for a customer's file: what stands on it, as HTML and as PDF.

Leaves what is true of the box to the evidence, and the drawing of its train to the room of trains.
"""

from __future__ import annotations

from cogtally.show.report.content import Report, report_of
from cogtally.show.report.page import (
    report_drawing,
    report_html,
    write_report,
)

__all__ = [
    "Report",
    "report_drawing",
    "report_html",
    "report_of",
    "write_report",
]
