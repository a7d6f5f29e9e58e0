"""The train of a box in plain characters, small enough for a terminal.

Where all stands is left to `layout`; the full picture to `picture`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator

from cogtally.gears.errors import UserError
from cogtally.gears.ratios import RatioTable
from cogtally.gears.trains import FINAL, wheel_names
from cogtally.show.screen import plain, wrapped
from cogtally.show.train.layout import plan
from cogtally.show.train.plan import COLUMN, Placed, Plan, Shaft
from cogtally.show.train.subject import Subject

#: Characters for a column of the picture, and millimetres of it for a line of text.
ACROSS, A_LINE = 7, 6.0
RIM, HALF_RIM = "-----", 2
SHAFT, BAR, FIXED, FREE, MESH = "=", "|", "#", "o", "+"
#: Beside the picture is the name of a shaft, so wide at most.
NAMES = 13
#: A picture of more lines is no small one.
MOST_LINES = 30

KEY = f"{FIXED} fixed on its shaft, {FREE} free until its gear locks it, --{MESH}-- in mesh"


def table_lines(table: RatioTable, width: int, sliding: Collection[str] = ()) -> list[str]:
    """Return the train of a table as lines of at most `width` columns; none where it has no room.

    None either where there is no gear to draw.
    """
    from cogtally.show.train.picture_of import table_subject

    try:
        return train_lines(table_subject(table, sliding=sliding), width)
    except UserError:
        return []


def train_lines(subject: Subject, width: int) -> list[str]:
    """Return a train as lines of at most `width` columns; none where it has no room."""
    found = plan(subject.train, subject.joints, subject.teeth, subject.order, axle=subject.axle)
    grid = _Grid(found)
    for shaft in found.shafts:
        grid.shaft(shaft)
    for wheel in found.wheels.values():
        grid.wheel(wheel, _below(found, subject, wheel), subject.labels[wheel.name].text)
    for one, other in _meshes(found, subject):
        at = found.contact(one, other)
        if at is not None:
            grid.put(*at, MESH)
    lines = [plain(line).rstrip() for line in (grid.heads(found, subject), *grid.lines())]
    ties = [f"{' and '.join(tie.wheels)} are in mesh beside the picture" for tie in found.ties]
    lines += [line for text in (*ties, KEY) for line in wrapped(text, width)]
    fits = len(lines) <= MOST_LINES and all(len(line) <= width for line in lines)
    return lines if fits else []


def _meshes(found: Plan, subject: Subject) -> Iterator[tuple[str, str]]:
    driver, driven = wheel_names(FINAL, 2)
    for one, other in (*subject.train.meshes, (driver, driven)):
        if one in found.wheels and other in found.wheels:
            yield one, other


def _below(found: Plan, subject: Subject, wheel: Placed) -> bool:
    """Whether the free rim of a wheel, where its teeth stand, is the lower one."""
    for one, other in _meshes(found, subject):
        if wheel.name in (one, other):
            at = found.contact(one, other)
            if at is not None:
                return at[1] < wheel.y
    # Of one that touches nothing it is the rim away from the others of its column.
    others = [w.y for w in found.wheels.values() if w.x == wheel.x and w is not wheel]
    return bool(others) and sum(others) / len(others) < wheel.y


class _Grid:
    """Characters by line and column."""

    def __init__(self, found: Plan) -> None:
        upright = [wheel for wheel in found.wheels.values() if not wheel.level]
        axes = [*(shaft.y for shaft in found.shafts), *(w.y for w in found.wheels.values())]
        self._top = min([*axes, *(wheel.top for wheel in upright)])
        rows = self._row(max([*axes, *(wheel.foot for wheel in upright)])) + 1
        columns = self._column(found.width) + ACROSS
        self._cells = [[" "] * columns for _ in range(rows)]

    def _row(self, y: float) -> int:
        return round((y - self._top) / A_LINE)

    def _column(self, x: float) -> int:
        return NAMES + round(x / COLUMN * ACROSS)

    def put(self, x: float, y: float, text: str) -> None:
        """Write a text with its middle at a place of the plan."""
        row, first = self._row(y), self._column(x) - len(text) // 2
        for offset, character in enumerate(text):
            if 0 <= first + offset < len(self._cells[row]):
                self._cells[row][first + offset] = character

    def shaft(self, shaft: Shaft) -> None:
        """Draw a shaft, its name before it."""
        row = self._row(shaft.y)
        first, last = self._column(shaft.start), self._column(shaft.end)
        for column in range(first, min(last + 1, len(self._cells[row]))):
            self._cells[row][column] = SHAFT
        name = shaft.name[: first - 1] if shaft.name else ""
        start = first - len(name) - 1
        if name and all(c == " " for c in self._cells[row][max(0, start) : first - 1]):
            for offset, character in enumerate(name):
                self._cells[row][start + offset] = character

    def wheel(self, wheel: Placed, below: bool, teeth: str) -> None:
        """Draw a wheel as high as its teeth, and how many at the rim that touches nothing."""
        if wheel.level:
            level = self._cells[self._row(wheel.y)]
            for column in range(self._column(wheel.x - wheel.radius), self._column(wheel.x)):
                level[column] = RIM[0]
            self.put(wheel.x, wheel.y, FIXED)
            self.put(wheel.x - wheel.radius / 2, wheel.y, teeth)
            return
        for row in range(self._row(wheel.top), self._row(wheel.foot) + 1):
            cell = self._cells[row][self._column(wheel.x)]
            if cell in (" ", BAR):
                self._cells[row][self._column(wheel.x)] = BAR
        for y in (wheel.top, wheel.foot):
            self.put(wheel.x, y, RIM)
        self.put(wheel.x, wheel.y, FIXED if wheel.fixed else FREE)
        self.put(wheel.x, wheel.foot if below else wheel.top, f"-{teeth}-")

    def heads(self, found: Plan, subject: Subject) -> str:
        """Return the line of the pairs' names over their columns."""
        line = [" "] * (len(self._cells[0]) + ACROSS)
        for pair, x in found.columns.items():
            name = pair if not pair.startswith("<") else subject.train.direct or ""
            first = max(0, self._column(x) - len(name) // 2)
            line[first : first + len(name)] = list(name)
        return "".join(line)

    def lines(self) -> list[str]:
        """Return all of it as text."""
        return ["".join(row) for row in self._cells]
