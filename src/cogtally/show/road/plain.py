"""The saw-tooth chart in plain characters: engine speed over road speed, change by change.

The teeth are left to `gears.road`, the chart in a file to `drawing`.
"""

from __future__ import annotations

import itertools

from cogtally.gears.road import OnTheRoad, Tooth

ROWS = 12
#: Columns of an engine speed beside the chart, and the least room for the chart itself.
MARGIN = 6
MARKS_OF_NAMES = "abcdefghijklmnopqrstuvwxyz"
FALL, BAND = ":", "-"


def chart_lines(one: OnTheRoad, width: int) -> list[str]:
    """Return the chart as lines of at most `width` columns; none without an engine speed.

    Each gear is drawn with its own number, or with a letter that is told below.
    """
    teeth = one.teeth
    if not teeth:
        return []
    top_speed, top_rpm = max(t.to_speed for t in teeth), teeth[0].to_rpm
    room = width - MARGIN - 2
    grid = [[" "] * room for _ in range(ROWS)]

    def column(speed: float) -> int:
        return min(room - 1, round(speed / top_speed * (room - 1)))

    def row(rpm: float) -> int:
        return min(ROWS - 1, max(0, ROWS - 1 - round(rpm / top_rpm * (ROWS - 1))))

    low = one.asked.band[0] if one.asked.band else None
    if low is not None:
        grid[row(low)] = [BAND if i % 2 == 0 else " " for i in range(room)]
    marks = _marks(teeth)
    for before, after in itertools.pairwise(teeth):
        for y in range(row(before.to_rpm), row(after.from_rpm) + 1):
            grid[y][column(before.to_speed)] = FALL
    for tooth in teeth:
        for x in range(column(tooth.from_speed), column(tooth.to_speed) + 1):
            share = (x / (room - 1) * top_speed) / tooth.to_speed
            y = row(min(1.0, share) * tooth.to_rpm)
            grid[y][x] = marks[tooth.gear]
    labels = {row(top_rpm): f"{top_rpm:.0f}", ROWS - 1: "0"}
    if low is not None:
        labels.setdefault(row(low), f"{low:.0f}")
    lines = [
        f"{labels.get(y, ''):>{MARGIN}} |{''.join(cells)}".rstrip() for y, cells in enumerate(grid)
    ]
    return [
        f"{'rpm':>{MARGIN}}",
        *lines,
        *_feet(one, room, top_speed),
        *_told(marks),
    ]


def _feet(one: OnTheRoad, room: int, top: float) -> list[str]:
    """The line under the chart, and the road speeds under that."""
    last = f"{top:.0f} {one.asked.unit}"
    scale = "0" + f"{last:>{room - 1}}"
    return [" " * MARGIN + " +" + "-" * room, " " * (MARGIN + 2) + scale]


def _marks(teeth: tuple[Tooth, ...]) -> dict[str, str]:
    letters = iter(MARKS_OF_NAMES)
    return {
        tooth.gear: tooth.gear if len(tooth.gear) == 1 else next(letters, "*") for tooth in teeth
    }


def _told(marks: dict[str, str]) -> list[str]:
    named = [f"{mark}: {gear}" for gear, mark in marks.items() if mark != gear]
    return [" " * (MARGIN + 2) + "; ".join(named)] if named else []
