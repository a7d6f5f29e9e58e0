"""The saw-tooth chart as a picture: engine speed over road speed, change by change.

The teeth are left to `gears.road`, the chart in plain characters to `screen`.
"""

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import floor, log10

from cogtally.gears.road import OnTheRoad, Tooth
from cogtally.show import drawing as draw
from cogtally.show.road.screen import LETTERS, called, described, remarks
from cogtally.show.screen import CAUTION, DEMO_CAUTION

WIDTH, MARGIN = 180.0, 8.0
#: The chart itself: its left edge, its height, and the room over it for each car's gears.
LEFT, HEIGHT, ROW = 24.0, 85.0, 5.2
TITLE, WORDS, SMALL = 14 * draw.POINT, 9 * draw.POINT, 8 * draw.POINT
#: About so many marks on an axis, and what their steps may be times a power of ten.
MARKS, STEPS = 7, (1, 2, 5, 10)
#: How the cars' lines are told apart, by dashes as well as by colour.
DASHES: tuple[tuple[float, float] | None, ...] = (
    *(None, (4.0, 1.5), (1.2, 1.2), (7.0, 1.5), (2.5, 2.5), (0.6, 1.8)),
)
COLOURS = ("#003f7d", "#a3361c", "#2f6b1f", "#6a3d9a", "#7a5a00", draw.INK)
STROKE, FALL = 0.7, 0.3


@dataclass(frozen=True, slots=True)
class Scale:
    """Where road and engine speeds stand on the page."""

    top: float
    speed: float
    rpm: float

    def x(self, speed: float) -> float:
        """Return where a road speed stands."""
        return LEFT + speed / self.speed * (WIDTH - MARGIN - LEFT)

    def y(self, rpm: float) -> float:
        """Return where an engine speed stands."""
        return self.top + HEIGHT * (1 - rpm / self.rpm)


def chart_drawing(found: Sequence[OnTheRoad], demo: bool = False) -> draw.Drawing:
    """Return one page with the chart of some cars, each with an engine speed to change up at."""
    common, own = described([one.car for one in found])
    title = "Engine speed over road speed"
    items: list[draw.Item] = []
    lines, y = draw.paragraph(title, MARGIN, WIDTH - MARGIN, MARGIN, TITLE, bold=True)
    items += lines
    if common:
        lines, y = draw.paragraph(common, MARGIN, WIDTH - MARGIN, y + 1.5, WORDS)
        items += lines
    names = [_gear_names(found, index) for index in range(len(found))]
    rows = sum(1 + max((row for row, _ in gears), default=0) for gears in names)
    top = y + 4 + rows * ROW
    scale = Scale(
        top,
        1.03 * max(t.to_speed for one in found for t in one.teeth),
        1.05 * max(t.to_rpm for one in found for t in one.teeth),
    )
    items += _axes(found[0], scale)
    base = y + 4.0
    for index, one in enumerate(found):
        items.append(_curve(one, index, len(found), called(found, index), scale))
        high = 0
        for row, tooth in names[index]:
            high = max(high, row)
            letter = called(found, index)
            at = (scale.x(tooth.to_speed), base + (row + 1) * ROW - 1.4)
            look = draw.Text(*at, _called(tooth, letter), WORDS, "middle", True, COLOURS[index])
            items.append(draw.Group(f"gear {tooth.gear}", (look,)))
        base += (high + 1) * ROW
    items += _told(found, scale, items)
    y = top + HEIGHT + 13
    for index, text in enumerate(own):
        items.append(draw.Line((MARGIN, y + 1.6), (MARGIN + 14, y + 1.6), _pen(index, STROKE)))
        told = f"{LETTERS[index]}: {text}."
        lines, y = draw.paragraph(told, MARGIN + 17, WIDTH - MARGIN, y, WORDS)
        items += lines
        y += 1.2
    small = [*remarks(found), *([DEMO_CAUTION] if demo else []), CAUTION]
    for text in small:
        lines, y = draw.paragraph(text, MARGIN, WIDTH - MARGIN, y + 1.2, SMALL, colour=draw.GREY)
        items += lines
    return draw.Drawing((draw.Page(WIDTH, y + MARGIN, tuple(items)),), title, _about(found))


def _pen(index: int, width: float) -> draw.Pen:
    return draw.Pen(width, COLOURS[index], DASHES[index])


def _gear_names(found: Sequence[OnTheRoad], index: int) -> list[tuple[int, Tooth]]:
    """The gears of a car, each with the row that its name stands in: those too near go higher."""
    teeth = found[index].teeth
    widest = max(t.to_speed for one in found for t in one.teeth)
    scale = Scale(0.0, 1.03 * widest, 1.0)
    ends: list[float] = []
    placed = []
    for tooth in teeth:
        half = draw.text_width(_called(tooth, called(found, index)), WORDS, bold=True) / 2 + 0.8
        middle = scale.x(tooth.to_speed)
        row = next((r for r, end in enumerate(ends) if middle - half > end), len(ends))
        if row == len(ends):
            ends.append(0.0)
        ends[row] = middle + half
        placed.append((row, tooth))
    return placed


def _called(tooth: Tooth, letter: str) -> str:
    return f"{letter} {tooth.gear}".strip()


def _curve(one: OnTheRoad, index: int, cars: int, letter: str, scale: Scale) -> draw.Item:
    """The teeth of one car, and the fall of the engine at each change.

    The first car's lines are the widest and lie undermost, so that a line on another is seen.
    """
    items: list[draw.Item] = []
    width = STROKE + 0.5 * (cars - 1 - index)
    for tooth in one.teeth:
        ends = (
            (scale.x(tooth.from_speed), scale.y(tooth.from_rpm)),
            (scale.x(tooth.to_speed), scale.y(tooth.to_rpm)),
        )
        items.append(draw.Line(*ends, _pen(index, width)))
    for before, after in itertools.pairwise(one.teeth):
        x = scale.x(before.to_speed)
        fall = draw.Pen(FALL, COLOURS[index], (0.8, 0.8))
        items.append(draw.Line((x, scale.y(before.to_rpm)), (x, scale.y(after.from_rpm)), fall))
    return draw.Group(f"car {letter}".strip(), tuple(items))


def _told(found: Sequence[OnTheRoad], scale: Scale, drawn: Sequence[draw.Item]) -> list[draw.Item]:
    """What the band is, the engine speed after each change, and that at a cruising speed.

    Each stands where it lies on no other word, else it is left to the table beside the chart.
    """
    taken = [draw.extent(item) for item in draw.leaves(drawn) if isinstance(item, draw.Text)]
    items: list[draw.Item] = []

    def put(text: str, x: float, y: float, index: int | None, name: str, step: float) -> None:
        colour = draw.INK if index is None else COLOURS[index]
        for place in range(8):
            said = draw.Text(x, y + place * step, text, SMALL, colour=colour)
            box = draw.extent(said)
            free = not any(map(box.meets, taken))
            inside = box.right <= WIDTH - MARGIN / 2 and box.bottom < scale.y(0)
            if free and inside:
                taken.append(box)
                # White under the letters, so that no line crosses them.
                size = box.width, box.height
                back = draw.Rectangle(box.left, box.top, *size, None, draw.WHITE)
                items.append(draw.Group(name, (back, said)))
                return

    for index, one in enumerate(found):
        letter = called(found, index)
        for holding in one.at_speed:
            x = scale.x(holding.speed)
            if index == 0:
                pen = draw.Pen(0.3, draw.GREY, (2.0, 1.0))
                line = draw.Line((x, scale.y(0)), (x, scale.top), pen)
                items.insert(0, draw.Group("cruising", (line,)))
            gear, rpm = min(holding.rpm, key=lambda known: known[1])
            gear = holding.gear or gear
            rpm = dict(holding.rpm)[gear]
            said = f"{letter} {holding.speed:g} {one.asked.unit}: {gear} at {rpm:.0f} rpm".strip()
            put(said, x + 1.0, scale.y(0) - 4.0, index, "cruising", -SMALL * 1.2)
    for index, one in enumerate(found):
        for before, after in itertools.pairwise(one.teeth):
            x, y = scale.x(before.to_speed) + 0.8, scale.y(after.from_rpm) + 3.6
            put(f"{after.from_rpm:.0f}", x, y, index, "after", SMALL * 1.1)
    if found[0].asked.band is not None:
        low, high = found[0].asked.band
        put(f"band {low:.0f} to {high:.0f} rpm", LEFT + 1.5, scale.y(high) + 4.0, None, "band", 4.0)
    return items


def _axes(one: OnTheRoad, scale: Scale) -> Iterator[draw.Item]:
    """The frame, the band to stay in, and the marks of both axes."""
    right, foot = scale.x(scale.speed), scale.y(0)
    if one.asked.band is not None:
        low, high = one.asked.band
        height = scale.y(low) - scale.y(high)
        yield draw.Group(
            "band", (draw.Rectangle(LEFT, scale.y(high), right - LEFT, height, None, "#efefef"),)
        )
    for rpm in _marks(scale.rpm):
        y = scale.y(rpm)
        yield draw.Line((LEFT, y), (right, y), draw.Pen(0.15, draw.PALE))
        yield draw.Text(LEFT - 1.5, y + 0.35 * SMALL, f"{rpm:g}", SMALL, "end")
    for speed in _marks(scale.speed):
        x = scale.x(speed)
        yield draw.Line((x, foot), (x, foot + 1.2), draw.Pen(0.25))
        yield draw.Text(x, foot + 4.6, f"{speed:g}", SMALL, "middle")
    yield draw.Polyline(((LEFT, scale.top), (LEFT, foot), (right, foot)), draw.Pen(0.35))
    yield draw.Text(MARGIN + 3, (scale.top + foot) / 2, "engine, rpm", WORDS, "middle", turned=True)
    yield draw.Text(
        (LEFT + right) / 2, foot + 9.4, f"road speed, {one.asked.unit}", WORDS, "middle"
    )


def _marks(end: float) -> list[float]:
    """Round numbers from 0 to an axis's end."""
    rough = end / MARKS
    power: float = 10 ** floor(log10(rough))
    step = next(s * power for s in STEPS if s * power >= rough)
    return [i * step for i in range(int(end / step) + 1)]


def _about(found: Sequence[OnTheRoad]) -> str:
    parts = []
    for index, one in enumerate(found):
        ends = ", ".join(f"{t.gear} {t.to_speed:.0f}" for t in one.teeth)
        letter = called(found, index)
        at = one.teeth[0].to_rpm
        parts.append(f"{letter}{': ' if letter else ''}at {at:.0f} rpm {ends} {one.asked.unit}.")
    return " ".join(parts)
