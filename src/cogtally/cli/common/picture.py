"""`--picture FILE` and `--gear GEAR`: a train drawn beside what a command answers.

The drawing is left to `show`.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from cogtally.cli.common.output import now_written
from cogtally.gears.errors import UserError
from cogtally.gears.notation import parse_name

if TYPE_CHECKING:
    from cogtally.show.train import Subject


class Picture:
    """A picture that was asked for: its file, and the gear whose way of power is drawn strong."""

    def __init__(self, path: Path, gear: str | None) -> None:
        self.path = path
        self.gear = gear

    def draw(self, subject: Callable[[str | None], Subject]) -> None:
        """Draw what `subject` gives for a gear into the file, and say so; raises UserError."""
        from cogtally.show.drawing.files import write_drawing
        from cogtally.show.screen import note
        from cogtally.show.train import gear_drawing

        write_drawing(gear_drawing(subject, self.gear), self.path)
        now_written(f"{self.path} is written")
        note(f"Drew the train: {self.path}")


def asked_picture(file: str | None, gear: str | None) -> Picture | None:
    """Return what was asked for; raises UserError for a file that cannot be written."""
    if file is None:
        if gear is not None:
            raise UserError("--gear goes with --picture", mend="write --picture FILE too")
        return None
    from cogtally.show.drawing.files import asked_file

    return Picture(
        asked_file(file, "--picture"), None if gear is None else parse_name(gear, "--gear")
    )
