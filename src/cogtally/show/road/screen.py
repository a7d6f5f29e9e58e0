"""The screen of `road`: gears on the road, changes, and the gear for a speed.

The numbers are left to `gears.road_cars`, the chart to `plain`, the JSON to `json`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from rich.text import Text

from cogtally.gears.road import OnTheRoad
from cogtally.show.ratios import OVERALL_PLACES, RATIO_PLACES, STEP_PLACES, decimal
from cogtally.show.road.names import LETTERS, called, described, remarks
from cogtally.show.screen import CAUTION, DEMO_CAUTION, DIM, GAP, STRONG, tables_lines, wrapped

if TYPE_CHECKING:
    from rich.console import Console

NOTHING = "-"
#: Before an engine speed that a change leaves below the band.
MARK = "*"

#: A column of one car: its head, and a cell for each row's name.
Column = tuple[str, Mapping[str, str]]


def show_road(
    found: Sequence[OnTheRoad], console: Console, *, demo: bool = False, chart: bool = False
) -> None:
    """Print the cars, their gears, their changes, what the speeds come to, then the caution."""
    width = console.width
    parts = [
        _heading(found, width),
        *_tables("gear", _gear_columns(found), _gears(found), width),
        *_changes(found, width),
        *([_chart(found, width)] if chart else []),
        _lines([*_holding(found), *remarks(found)], width),
        _lines([DEMO_CAUTION] if demo else [], width, DIM) + _lines([CAUTION], width, DIM),
    ]
    lines = [line for part in parts if part for line in (*part, Text())]
    console.print(Text("\n").join(lines[:-1]), overflow="fold")


def speed_text(speed: float) -> str:
    """Return a road speed as a person reads it."""
    return f"{speed:.1f}"


def rpm_text(rpm: float) -> str:
    """Return an engine speed as a person reads it."""
    return f"{rpm:.0f}"


def _heading(found: Sequence[OnTheRoad], width: int) -> list[Text]:
    common, own = described([one.car for one in found])
    lines = _lines([common] if common else [], width)
    for index, text in enumerate(own):
        lines += [Text(line) for line in wrapped(f"{called(found, index)}  {text}", width, 3)]
    return lines


def _gear_columns(found: Sequence[OnTheRoad]) -> list[list[Column]]:
    """Return each car's columns; behind several boxes one axle tells nothing apart."""
    one_axle = len(found) > 1 and len({one.car.axle.ratio for one in found}) == 1
    return [_of_car(one, overall=not one_axle) for one in found]


def _of_car(one: OnTheRoad, overall: bool) -> list[Column]:
    unit, rows = one.asked.unit, one.rows
    steps = {row.gear: decimal(row.step, STEP_PLACES) for row in rows if row.step is not None}
    columns: list[Column] = [
        ("ratio", {row.gear: decimal(row.ratio, RATIO_PLACES) for row in rows}),
        *(
            [("overall", {row.gear: decimal(row.overall, OVERALL_PLACES) for row in rows})]
            if overall
            else []
        ),
        ("step", steps),
        (f"{unit} per 1000 rpm", {row.gear: f"{row.per_1000:.2f}" for row in rows}),
    ]
    for rpm, speeds in one.at_rpm:
        columns.append((f"{unit} at {rpm:g} rpm", {gear: speed_text(v) for gear, v in speeds}))
    if one.asked.band is not None:
        low, high = one.asked.band
        spans = {b.gear: f"{speed_text(b.slowest)}-{speed_text(b.fastest)}" for b in one.bands}
        columns.append((f"{unit} in {low:g}-{high:g} rpm", spans))
    for at in one.at_speed:
        head = f"rpm at {at.speed:.4g} {unit}"
        columns.append((head, {gear: rpm_text(rpm) for gear, rpm in at.rpm}))
    return columns


def _changes(found: Sequence[OnTheRoad], width: int) -> list[list[Text]]:
    at = found[0].asked.change_at
    if at is None or not any(one.changes for one in found):
        return []
    names = _merged([[_change_name(c.lower, c.upper) for c in one.changes] for one in found])
    tables = _tables("change", [_change_columns(one) for one in found], names, width)
    tables[0].insert(0, Text(f"Changed up at {at:g} rpm", style=STRONG))
    if any(one.gaps for one in found):
        tables[-1].append(Text(f"{MARK} below the band"))
    return tables


def _change_columns(one: OnTheRoad) -> list[Column]:
    named = {_change_name(c.lower, c.upper): c for c in one.changes}
    speeds = {tooth.gear: tooth.to_speed for tooth in one.teeth}
    after = {name: MARK * (c.lower in one.gaps) + rpm_text(c.after) for name, c in named.items()}
    return [
        (one.asked.unit, {name: speed_text(speeds[c.lower]) for name, c in named.items()}),
        ("rpm after", after),
        ("drop", {name: rpm_text(c.drop) for name, c in named.items()}),
    ]


def _tables(
    first: str, columns: Sequence[Sequence[Column]], names: Sequence[str], width: int
) -> list[list[Text]]:
    """Return the columns of all cars beside each other, in as many tables as the width asks for.

    What is the same for every car stands once, without a letter.
    """
    same: list[Column] = []
    blocks: list[list[str]] = []
    for beside in _beside(columns):
        head, cells = beside[0]
        if len({tuple(of_car.items()) for _, of_car in beside}) == 1:
            same.append((head, cells))
        else:
            room = width - max(map(len, [first, *names])) - 2 * len(GAP)
            blocks += _blocks(head, [of_car for _, of_car in beside], names, room)
    heads = [first, *(head for head, _ in same)]
    rows = [[name, *(cells.get(name, NOTHING) for _, cells in same)] for name in names]
    found = tables_lines(heads, rows, width) if same else []
    return found + _side_by_side(["", first, *names], blocks, width)


def _blocks(
    head: str, cells: Sequence[Mapping[str, str]], names: Sequence[str], room: int
) -> list[list[str]]:
    """Return what several cars have under one head: the head, their letters, a line a name.

    Cars for whom there is no room beside the others stand in a block of their own.
    """
    columns = [
        [letter, *(of_car.get(name, NOTHING) for name in names)]
        for letter, of_car in zip(LETTERS, cells, strict=False)
    ]
    each = max(len(cell) for column in columns for cell in column) + len(GAP)
    fit = max(1, (room + len(GAP)) // each)
    found = []
    for start in range(0, len(columns), fit):
        beside = columns[start : start + fit]
        widths = [max(map(len, column)) for column in beside]
        lines = [
            GAP.join(cell.rjust(wide) for cell, wide in zip(row, widths, strict=True))
            for row in zip(*beside, strict=True)
        ]
        wide = max(len(head), len(lines[0]))
        found.append([head.rjust(wide), *(line.rjust(wide) for line in lines)])
    return found


def _side_by_side(
    first: Sequence[str], blocks: Sequence[Sequence[str]], width: int
) -> list[list[Text]]:
    """Return blocks of equal height in tables of at most `width`, each with the first column."""
    edge = max(map(len, first))
    tables: list[list[str]] = []
    for block in blocks:
        if not tables or len(tables[-1][0]) + len(GAP) * 2 + len(block[0]) > width:
            tables.append([name.ljust(edge) for name in first])
        tables[-1] = [line + GAP * 2 + more for line, more in zip(tables[-1], block, strict=True)]
    return [
        [Text(line.rstrip(), style=STRONG if i < 2 else "") for i, line in enumerate(table)]
        for table in tables
    ]


def _beside(columns: Sequence[Sequence[Column]]) -> list[list[Column]]:
    """Return the columns of the cars grouped by their heads; one that a car lacks is empty."""
    heads = _merged([[head for head, _ in of_car] for of_car in columns])
    by_head = [dict(of_car) for of_car in columns]
    return [[(head, of_car.get(head, {})) for of_car in by_head] for head in heads]


def _chart(found: Sequence[OnTheRoad], width: int) -> list[Text]:
    if found[0].asked.change_at is None:
        return []
    from cogtally.show.road.plain import chart_lines

    lines: list[Text] = []
    for index, one in enumerate(found):
        car = called(found, index)
        lines += [Text()] * bool(lines) + ([Text(car, style=STRONG)] if car else [])
        lines += [Text(line) for line in chart_lines(one, width)]
    return lines


def _holding(found: Sequence[OnTheRoad]) -> list[str]:
    """Say for each road speed which gear holds the band, cars of the same answer together."""
    band = found[0].asked.band
    if band is None:
        return []
    said = []
    for index, one in enumerate(found):
        car = called(found, index)
        for at in one.at_speed:
            place = f"{car}: at" if car else "At"
            speed = f"{at.speed:.4g} {one.asked.unit}"
            span = f"{band[0]:g}-{band[1]:g} rpm"
            if at.gear is None:
                said.append(f"{place} {speed} no gear holds {span}.")
                continue
            turning = rpm_text(dict(at.rpm)[at.gear])
            said.append(f"{place} {speed} the highest gear in {span} is {at.gear}: {turning} rpm.")
    return said


def _gears(found: Sequence[OnTheRoad]) -> list[str]:
    return _merged([[row.gear for row in one.rows] for one in found])


def _merged(lists: Sequence[Sequence[str]]) -> list[str]:
    """Return every name once; one that the first list lacks stands behind its neighbour."""
    merged: list[str] = []
    for names in lists:
        place = 0
        for name in names:
            if name in merged:
                place = merged.index(name) + 1
            else:
                merged.insert(place, name)
                place += 1
    return merged


def _change_name(lower: str, upper: str) -> str:
    return f"{lower} to {upper}"


def _lines(texts: Iterable[str], width: int, style: str = "") -> list[Text]:
    return [Text(line, style=style) for text in texts for line in wrapped(text, width)]
