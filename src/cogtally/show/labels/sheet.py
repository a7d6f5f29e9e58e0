"""Sheets of labels and rolls: where each label stands on its page, in millimetres.

What stands on a label is left to `labels`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from cogtally.gears.errors import UserError, shown
from cogtally.show.drawing import PAGES, Box

#: A label has to have room for a code that a telephone reads, and a word beside it.
LEAST_SHORT, LEAST_LONG = 12.0, 20.0
#: Millimetres between the edge of the page and the labels, where nothing else is said.
MARGIN = 8.0
MOST_ROWS, MOST_SIDE = 100, 2000.0
_TWO = re.compile(r"([0-9]{1,4}(?:\.[0-9]{1,3})?)(?:[x×]([0-9]{1,4}(?:\.[0-9]{1,3})?))?", re.ASCII)


@dataclass(frozen=True, slots=True)
class Sheet:
    """A page of `rows` by `columns` labels, all alike.

    `margin` is (above and below, left and right), `gap` (between rows, between columns).
    """

    width: float
    height: float
    rows: int = 1
    columns: int = 1
    margin: tuple[float, float] = (0.0, 0.0)
    gap: tuple[float, float] = (0.0, 0.0)

    @property
    def label(self) -> tuple[float, float]:
        """How wide and how high each label is."""
        across = self.width - 2 * self.margin[1] - (self.columns - 1) * self.gap[1]
        down = self.height - 2 * self.margin[0] - (self.rows - 1) * self.gap[0]
        return across / self.columns, down / self.rows

    def place(self, number: int) -> tuple[int, Box]:
        """Return the page, from 0, and the edges of label `number`, from 0, row by row."""
        page, rest = divmod(number, self.rows * self.columns)
        row, column = divmod(rest, self.columns)
        wide, high = self.label
        left = self.margin[1] + column * (wide + self.gap[1])
        top = self.margin[0] + row * (high + self.gap[0])
        return page, Box(left, top, left + wide, top + high)


def asked_sheet(
    grid: str | None, size: str | None, page: str, margin: str | None, gap: str | None
) -> Sheet:
    """Return the sheet that options tell of: a `grid` on a `page`, or one label of a `size`.

    Raises UserError for what cannot be read, and for labels too small to be read.
    """
    if (grid is None) == (size is None):
        mend = "write --grid 8x3 for a sheet, or --size 60x30 for a roll"
        both = "labels are on a sheet or on a roll" if grid else "say what the labels are on"
        raise UserError(both, "cogtally stock label", mend)
    if size is not None:
        if margin is not None or gap is not None:
            raise UserError("--margin and --gap go with --grid", mend="leave them out")
        wide, high = _sides("--size", size, "60x30")
        return _whole(Sheet(wide, high), f"--size {shown(size)}")
    rows, columns = _sides("--grid", grid or "", "8x3")
    if not (rows.is_integer() and columns.is_integer() and max(rows, columns) <= MOST_ROWS):
        raise UserError(
            f"rows and columns are whole numbers up to {MOST_ROWS}", f"--grid {shown(grid or '')}"
        )
    wide, high = PAGES.get(page.lower()) or _sides("--page", page, "a4, letter or 210x297")
    around = (MARGIN, MARGIN) if margin is None else _pair("--margin", margin, "13x5")
    between = (0.0, 0.0) if gap is None else _pair("--gap", gap, "0x2.5")
    sheet = Sheet(wide, high, int(rows), int(columns), around, between)
    return _whole(sheet, f"--grid {shown(grid or '')}")


def _whole(sheet: Sheet, place: str) -> Sheet:
    short, long = sorted(sheet.label)
    if short < LEAST_SHORT or long < LEAST_LONG:
        wide, high = (f"{max(side, 0.0):.0f}" for side in sheet.label)
        mend = f"a label needs {LEAST_LONG:.0f} by {LEAST_SHORT:.0f} mm"
        raise UserError(f"the labels come out as {wide} by {high} mm", place, mend)
    return sheet


def _sides(option: str, text: str, example: str) -> tuple[float, float]:
    found = _read(text)
    if found is None or len(found) != 2 or not all(0 < side <= MOST_SIDE for side in found):
        raise UserError("this is no size", f"{option} {shown(text)}", f"write {option} {example}")
    return found[0], found[1]


def _pair(option: str, text: str, example: str) -> tuple[float, float]:
    found = _read(text)
    if found is None:
        mend = f"write millimetres, up and down first, then across: {option} {example}"
        raise UserError("this is no length", f"{option} {shown(text)}", mend)
    return found[0], found[-1]


def _read(text: str) -> Sequence[float] | None:
    found = _TWO.fullmatch(text.strip().lower())
    return None if found is None else [float(part) for part in found.groups() if part is not None]
