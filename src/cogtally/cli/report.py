"""`identify --report FILE`: a page about one box for the customer's file.

What stands on the page is left to `show.report`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from cogtally.cli.known import asked_book
from cogtally.cli.output import now_written
from cogtally.gears.errors import UserError
from cogtally.gears.notation import parse_name
from cogtally.show.screen import note, plain

if TYPE_CHECKING:
    from cogtally.evidence.reading import Answer
    from cogtally.show.box import Shelf
    from cogtally.show.drawing import Drawing
    from cogtally.show.train import Subject


HTML, PDF = (".html", ".htm"), ".pdf"
OPTION = "--report"


def may_report(path: str, demo: bool, *, force: bool = False) -> Path:
    """Return where a report is to be written; raise UserError where none can be."""
    if demo:
        mend = "leave --demo out: a report is for a box that was really counted"
        raise UserError("no report is made from the invented demo catalog", OPTION, mend)
    from cogtally.show.drawing import asked_file

    return asked_file(path, OPTION, (*HTML, PDF), force=force)


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
    from cogtally.shelf.session import digest_of
    from cogtally.show.report import report_of, write_report
    from cogtally.show.train import answer_subject, narrow_drawing, train_drawing

    report = report_of(answer, date.today(), digest_of(answer.catalog), shelf, people)
    # The train of the box, and the same for a telephone; none where no gear was counted.
    whole = narrow = None
    with suppress(UserError):
        subject = answer_subject(answer)
        whole, narrow = train_drawing(subject, bare=True), narrow_drawing(subject)
    write_report(report, place, whole, narrow)
    now_written(f"{place} is written")
    note(f"Report written: {place}")


@dataclass(frozen=True)
class Picture:
    """A picture that was asked for: its file, and the gear whose way of power is drawn strong."""

    path: Path
    gear: str | None = None
    outlines: bool = False

    def draw(self, subject: Callable[[str | None], Subject]) -> None:
        """Draw what `subject` gives for a gear into the file, and say so; raises UserError."""
        from cogtally.show.train import gear_drawing

        self.write(gear_drawing(subject, self.gear), "Drew the train")

    def write(self, drawing: Drawing, said: str) -> None:
        """Write any drawing into the file, and say so; raises UserError."""
        write_picture(drawing, self.path, outlines=self.outlines)
        note(f"{said}: {self.path}")


def write_picture(drawing: Drawing, path: Path, *, outlines: bool = False) -> None:
    """Write a drawing, and say on standard error what of it this machine cannot set."""
    from cogtally.show.drawing import PDF, SVG, missing_letters, write_drawing

    write_drawing(drawing, path, outlines=outlines)
    now_written(f"{path} is written")
    ending = path.suffix.lower()
    missing = missing_letters(drawing) if ending != SVG or outlines else ""
    if missing:
        note(
            f"Note: no font on this machine has {plain(missing)}; empty squares stand there. "
            "Install a font that has them, and write it again with --force."
        )
    if len(drawing.pages) > 1 and ending != PDF:
        note("Note: this is the first page alone; a .pdf has all pages.")


def asked_picture(
    file: str | None, gear: str | None, *, force: bool = False, outlines: bool = False
) -> Picture | None:
    """Return what was asked for; raises UserError for a file that cannot be written."""
    if file is None:
        for given, option in ((gear is not None, "--gear"), (outlines, "--outlines")):
            if given:
                raise UserError(f"{option} goes with --picture", mend="write --picture FILE too")
        return None
    from cogtally.show.drawing import asked_file

    path = asked_file(file, "--picture", force=force)
    return Picture(path, None if gear is None else parse_name(gear, "--gear"), outlines)
