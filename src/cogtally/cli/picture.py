"""`--picture FILE`, `--gear GEAR`, `--outlines`, `--force`: what is drawn beside an answer.

The drawing is left to `show`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from cogtally.cli.output import now_written
from cogtally.gears.errors import UserError
from cogtally.gears.notation import parse_name

if TYPE_CHECKING:
    from cogtally.show.drawing import Drawing
    from cogtally.show.train import Subject


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
        from cogtally.show.screen import note

        write_picture(drawing, self.path, outlines=self.outlines)
        note(f"{said}: {self.path}")


def write_picture(drawing: Drawing, path: Path, *, outlines: bool = False) -> None:
    """Write a drawing, and say on standard error what of it this machine cannot set."""
    from cogtally.show.drawing import PDF, SVG, write_drawing
    from cogtally.show.drawing.paper import missing_letters
    from cogtally.show.screen import note, plain

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
