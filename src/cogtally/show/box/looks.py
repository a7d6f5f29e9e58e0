"""Marks and features that were looked at, as a table beside what is listed.

What is listed, and what differs, is left to the evidence.
"""

from __future__ import annotations

from collections.abc import Sequence

from rich.text import Text

from cogtally.evidence.look_views import LookLine
from cogtally.gears.looks import feature_name, value_text
from cogtally.gears.words import ReadMark
from cogtally.show.screen.console import MARKED, STRONG, plain, wrapped

GAP = "  "
DIFFERS = "differs"


def look_table(lines: Sequence[LookLine], beside: str, width: int) -> list[Text]:
    """Return a line for each thing looked at, what was seen, what is listed, and what differs."""
    rows = [look_row(line) for line in lines]
    head = ("looked at", "seen", beside)
    widths = [max(len(row[i]) for row in [head, *rows]) for i in range(2)]
    before = sum(widths) + 2 * len(GAP)
    room = max(width - before, len(beside))
    found = [Text(_cells(head, widths) + beside, style=STRONG)]
    for line, row in zip(lines, rows, strict=True):
        text = f"{row[2]}{GAP}{DIFFERS}" if line.differs else row[2]
        first, *more = wrapped(text, room)
        shown = Text(_cells(row, widths) + first)
        if line.differs:
            shown.stylize(MARKED)
        found += [shown, *(Text(" " * before + part) for part in more)]
    return found


def look_row(line: LookLine) -> tuple[str, str, str]:
    """Return the cells of a line: what was looked at, what was seen, what is listed."""
    return _what(line), _seen(line), plain(" or ".join(line.listed)) or "_"


def _cells(row: Sequence[str], widths: Sequence[int]) -> str:
    return "".join(cell.ljust(width) + GAP for cell, width in zip(row[:2], widths, strict=True))


def _what(line: LookLine) -> str:
    look = line.look
    if isinstance(look, ReadMark):
        return f"mark of {plain(look.piece)}" if look.piece else "mark"
    name = feature_name(look.feature)
    if look.owner.isdigit():
        return f"{name}, place {look.owner}"
    return f"{name} of {plain(look.owner)}" if look.owner else name


def _seen(line: LookLine) -> str:
    look = line.look
    if isinstance(look, ReadMark):
        return plain(look.text.partition(":")[2].strip() if look.piece else look.text)
    times = f" x{look.times}" if look.times > 1 else ""
    return f"{value_text(look.feature, look.value)}{', unsure' if look.unsure else ''}{times}"
