"""The train of a box in plain characters, small enough for a terminal.

Where all stands is left to `plan`; the full picture to `picture`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import TYPE_CHECKING

from cogtally.gears.errors import UserError
from cogtally.gears.ratios import RatioTable
from cogtally.gears.trains import FINAL, wheel_names
from cogtally.show.screen import plain, wrapped
from cogtally.show.train.places import COLUMN, FREE, JOINT, SLIDES, Placed, Plan, Shaft
from cogtally.show.train.plan import Label, Subject
from cogtally.show.train.subject import answer_subject, table_subject

if TYPE_CHECKING:
    from cogtally.evidence.reading import Answer

#: Columns for a column of the picture, from roomy to narrow, and millimetres of it for a line.
ACROSS, A_LINE = (7, 6, 5), (6.0, 8.0, 10.0)
RIM, SHAFT, BAR, MESH, MARK = "-----", "=", "|", "+", "!"
#: In mesh in its own gear only.
PARTED = ":"
ON_SHAFT, ON_SLEEVE, LOOSE, SLIDING, HUB = "#", "@", "o", "s", "H"
#: Beside the picture is the name of a shaft, so wide at most.
NAMES = 13
#: A picture of more lines is no small one.
MOST_LINES = 30

#: What the signs mean, of those that occur.
MEANS = {
    ON_SHAFT: "fixed on its shaft",
    ON_SLEEVE: "fixed on the sleeve round the shaft",
    LOOSE: "free until its gear locks it",
    SLIDING: "slides on its shaft",
    HUB: "sleeve on its hub",
}


def table_lines(table: RatioTable, width: int, sliding: Collection[str] = ()) -> list[str]:
    """Return the train of a table as lines of at most `width` columns; none where none is drawn."""
    try:
        return train_lines(table_subject(table, sliding=sliding), width)
    except UserError:
        return []


def answer_lines(answer: Answer, width: int) -> list[str]:
    """Return the train of a box with what disagrees marked; none where none is drawn."""
    try:
        return train_lines(answer_subject(answer), width)
    except UserError:
        return []


def train_lines(subject: Subject, width: int) -> list[str]:
    """Return a train as lines of at most `width` columns.

    One that does not fit is drawn narrower or lower; of one that does not fit even so it is said
    why, and its pairs stand one after the other.
    """
    found = subject.plan(slid=False)
    for names in (NAMES, 0):
        for across in ACROSS:
            for a_line in A_LINE:
                lines = _drawn(subject, found, width, names, across, a_line)
                if len(lines) <= MOST_LINES and all(len(line) <= width for line in lines):
                    return lines
    return _in_a_row(subject, found, width)


def _drawn(
    subject: Subject, found: Plan, width: int, names: int, across: int, a_line: float
) -> list[str]:
    grid = _Grid(found, names, across, a_line)
    signs: set[str] = set()
    for shaft in found.shafts:
        grid.shaft(shaft)
    hollow = {shaft.y: shaft.start for shaft in found.shafts if shaft.hollow}
    for sleeve in found.sleeves:
        grid.put(sleeve.x, sleeve.y, HUB)
        signs.add(HUB)
    for wheel in found.wheels.values():
        sign = {FREE: LOOSE, SLIDES: SLIDING}.get(wheel.seat, ON_SHAFT)
        if wheel.y in hollow and wheel.x >= hollow[wheel.y]:
            sign = ON_SLEEVE
        signs.add(sign)
        below = _below(found, subject, wheel)
        grid.wheel(wheel, sign, below, _count(subject.labels[wheel.name]))
    for one, other in _meshes(found, subject):
        at = found.contact(one, other)
        if at is not None:
            grid.put(*at, PARTED if _only_in(subject, one, other) else MESH)
    lines = [plain(line).rstrip() for line in (grid.heads(found, subject), *grid.lines())]
    told = []
    for tie in found.ties:
        only = _only_in(subject, *tie.wheels)
        when = f", in {' and '.join(only)} only" if only else ""
        told.append(f"{' and '.join(tie.wheels)} are in mesh beside the picture{when}")
    if not names:
        named = ", ".join(shaft.name for shaft in found.shafts if shaft.name)
        told.append(f"Drawn narrow, to fit {width} columns; shafts: {named}")
    told.append(_key(subject, signs))
    return [*lines, *(line for text in told for line in wrapped(text, width))]


def _key(subject: Subject, signs: Collection[str]) -> str:
    parts = [f"{sign} {means}" for sign, means in MEANS.items() if sign in signs]
    parts.append(f"--{MESH}-- in mesh")
    if subject.joints.sliding:
        parts.append(f"--{PARTED}-- in mesh in its own gear only")
    labels = subject.labels.values()
    if any(label.marked for label in labels):
        parts.append(f"-22-{MARK} does not agree")
    if not all(label.known for label in labels):
        parts.append("-?- not counted")
    return ", ".join(parts)


def _in_a_row(subject: Subject, found: Plan, width: int) -> list[str]:
    """Return why a train is not drawn, and its pairs along the axis with their counts."""
    high = len(_drawn(subject, found, 10_000, 0, ACROSS[-1], A_LINE[-1])) > MOST_LINES
    why = "high for a small picture" if high else f"wide to draw in {width} columns"
    text = f"The train is too {why}; its pairs in their order along the axis:"
    lines = wrapped(text, width)
    for pair in found.columns:
        if pair == JOINT:
            if subject.train.direct is not None:
                lines.append(f"  {subject.train.direct}  direct")
            continue
        names = wheel_names(pair, subject.train.pairs[pair])
        labels = [subject.labels[subject.train.canonical(w)] for w in names]
        counts = f" {MESH} ".join(f"-{_count(label)}" for label in labels)
        lines += wrapped(f"  {plain(pair)}  {counts}", width, 4)
    return lines


def _count(label: Label) -> str:
    return f"{label.text}-{MARK}" if label.marked else f"{label.text}-"


def _meshes(found: Plan, subject: Subject) -> Iterator[tuple[str, str]]:
    driver, driven = wheel_names(FINAL, 2)
    for one, other in (*subject.train.meshes, (driver, driven)):
        if one in found.wheels and other in found.wheels:
            yield one, other


def _only_in(subject: Subject, one: str, other: str) -> tuple[str, ...]:
    """Return the gears that two wheels are in mesh in, none for always."""
    found = (m.only_in for m in subject.joints.meshes if set(m.wheels) == {one, other})
    return next(found, None) or ()


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

    def __init__(self, found: Plan, names: int, across: int, a_line: float) -> None:
        self._names, self._across, self._a_line = names, across, a_line
        upright = [wheel for wheel in found.wheels.values() if not wheel.level]
        axes = [*(shaft.y for shaft in found.shafts), *(w.y for w in found.wheels.values())]
        self._top = min([*axes, *(wheel.top for wheel in upright)])
        rows = self._row(max([*axes, *(wheel.foot for wheel in upright)])) + 1
        columns = self._column(found.width) + across
        self._cells = [[" "] * columns for _ in range(rows)]

    def _row(self, y: float) -> int:
        return round((y - self._top) / self._a_line)

    def _column(self, x: float) -> int:
        return self._names + round(x / COLUMN * self._across)

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
        name = shaft.name[: first - 1] if shaft.name and self._names else ""
        start = first - len(name) - 1
        if name and all(c == " " for c in self._cells[row][max(0, start) : first - 1]):
            for offset, character in enumerate(name):
                self._cells[row][start + offset] = character

    def wheel(self, wheel: Placed, sign: str, below: bool, teeth: str) -> None:
        """Draw a wheel as high as its teeth, and how many at the rim that touches nothing."""
        if wheel.level:
            level = self._cells[self._row(wheel.y)]
            for column in range(self._column(wheel.x - wheel.radius), self._column(wheel.x)):
                level[column] = RIM[0]
            self.put(wheel.x, wheel.y, sign)
            self.put(wheel.x - wheel.radius / 2, wheel.y, f"-{teeth}")
            return
        for row in range(self._row(wheel.top), self._row(wheel.foot) + 1):
            cell = self._cells[row][self._column(wheel.x)]
            if cell in (" ", BAR):
                self._cells[row][self._column(wheel.x)] = BAR
        for y in (wheel.top, wheel.foot):
            self.put(wheel.x, y, RIM[: self._across - 2])
        self.put(wheel.x, wheel.y, sign)
        self.put(wheel.x, wheel.foot if below else wheel.top, f"-{teeth}")

    def heads(self, found: Plan, subject: Subject) -> str:
        """Return the line of the pairs' names over their columns."""
        line = [" "] * (len(self._cells[0]) + self._across)
        for pair, x in found.columns.items():
            name = (subject.train.direct or "") if pair == JOINT else pair
            first = max(0, self._column(x) - len(name) // 2)
            line[first : first + len(name)] = list(name)
        return "".join(line)

    def lines(self) -> list[str]:
        """Return all of it as text."""
        return ["".join(row) for row in self._cells]
