"""`identify --report FILE`: a page about one box for the customer's file.

What stands on the page is left to `show.report`.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from cogtally.cli.output import now_written
from cogtally.cli.places import asked_book
from cogtally.gears.errors import UserError

if TYPE_CHECKING:
    from cogtally.evidence.reading import Answer
    from cogtally.show.box import Shelf
    from cogtally.show.drawing import Drawing

HTML, PDF = (".html", ".htm"), ".pdf"
OPTION = "--report"


def may_report(path: str, demo: bool, *, force: bool = False) -> Path:
    """Return where a report is to be written; raise UserError where none can be."""
    if demo:
        mend = "leave --demo out: a report is for a box that was really counted"
        raise UserError("no report is made from the invented demo catalog", OPTION, mend)
    from cogtally.show.drawing import asked_file

    return asked_file(path, OPTION, (*HTML, PDF), force=force)


def _pictures(answer: Answer) -> tuple[Drawing | None, Drawing | None]:
    """The train of the box, and the same for a telephone; none where no gear was counted."""
    from cogtally.show.train import answer_subject, bare_drawing, narrow_drawing

    try:
        subject = answer_subject(answer)
    except UserError:
        return None, None
    return bare_drawing(subject), narrow_drawing(subject)


def asked_shelf(answer: Answer, catalog: str | None) -> Shelf | None:
    """Return what is for sale for each change that makes a box whole; None without a stock."""
    from cogtally.shelf.stock import pieces_for_sale, read_items

    try:
        items = read_items(asked_book(catalog))
    except UserError:
        # Files have no stock, and what is wrong with a book was told when it was read.
        return None
    return {
        change: pieces_for_sale(items, remedy.family, change.piece, change.into)
        for remedy in answer.remedies
        for change in remedy.changes
    }


def make_report(
    answer: Answer, place: Path, shelf: Shelf | None, people: Mapping[str, str | None]
) -> None:
    """Write the report of an answer; `people`: who it is for. Raise UserError where that fails."""
    from cogtally.shelf.session.record import digest_of
    from cogtally.show.report import report_of, write_report
    from cogtally.show.screen import note

    report = report_of(answer, date.today(), digest_of(answer.catalog), shelf, people)
    write_report(report, place, *_pictures(answer))
    now_written(f"{place} is written")
    note(f"Report written: {place}")
