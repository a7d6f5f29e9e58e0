"""What `road` shows, and its JSON: gears on the road, changes, the gear for a speed, a chart.

A catalogued set comes in as a box or an axle here. The numbers are left to `gears.road`.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from rich.text import Text

from cogtally.catalog.model import Catalog, Family, RatioSet, gear_ratios, written_pair
from cogtally.gears.errors import UserError
from cogtally.gears.printed import parse_ratio
from cogtally.gears.road import ROLLING_TOLERANCE, Asked, Axle, Box, Car, OnTheRoad
from cogtally.gears.trains import FINAL
from cogtally.show import screen
from cogtally.show.ratios import OVERALL_PLACES, RATIO_PLACES, STEP_PLACES, decimal

AXLE = "axle"


def box_of_set(family: Family, known: RatioSet) -> Box:
    """Return a set's gears by counted teeth, else by printed ratios; UserError for an axle."""
    name = f"{family.id}/{known.id}"
    if family.layout == AXLE:
        mend = f"an axle stands behind a box: write --axle {name}"
        raise UserError("this set is an axle, not a box", f"--set {name}", mend)
    ratios, printed = _ratios(family, known)
    own = None
    if FINAL not in family.train.paths and FINAL in ratios:
        own = _axle(known, ratios.pop(FINAL))
    gears = {gear: ratio for gear, ratio in ratios.items() if ratio is not None}
    return Box(
        name=name,
        title=known.name,
        gears=tuple(gears.items()),
        printed=tuple(gear for gear in gears if gear in printed),
        missing=tuple(
            (gear, _not_counted(family, known, gear)) for gear in ratios if gear not in gears
        ),
        final=own,
    )


def axle_of_set(family: Family, known: RatioSet) -> Axle:
    """Return an axle out of the catalog; raise UserError where the set has no final drive."""
    name = f"{family.id}/{known.id}"
    ratios, _ = _ratios(family, known)
    found = _axle(known, ratios.get(FINAL), f"{name} ")
    if found is None:
        mend = f"a box stands before an axle: write --set {name}"
        if family.layout == AXLE:
            mend = "count its pinion and crown wheel"
        raise UserError("this set has no known final drive", f"--axle {name}", mend)
    return found


def _ratios(family: Family, known: RatioSet) -> tuple[dict[str, Fraction | None], frozenset[str]]:
    """Return the ratio of every gear and final drive, and the gears that were only printed."""
    found = dict(gear_ratios(family, known)) if known.is_counted else {}
    printed = {
        gear: parse_ratio(text).value for gear, text in known.ratios.items() if not found.get(gear)
    }
    if family.direct is not None:
        found.setdefault(family.direct, Fraction(1))
        printed.pop(family.direct, None)
    return {**found, **printed}, frozenset(printed)


def _axle(known: RatioSet, ratio: Fraction | None, before: str = "") -> Axle | None:
    if ratio is None:
        return None
    counted = written_pair(known.pairs.get(FINAL, ()))
    return Axle(before + (counted or known.ratios[FINAL]), ratio)


def _not_counted(family: Family, known: RatioSet, gear: str) -> tuple[str, ...]:
    teeth = family.teeth_of(known)
    wheels = (wheel for pair in family.train.gear_wheels.get(gear, ()) for wheel in pair)
    return tuple(dict.fromkeys(wheel for wheel in wheels if teeth.get(wheel) is None))


LETTERS = "ABCDEF"
AXLE_PLACES = 4


def described(cars: Sequence[Car]) -> tuple[str, list[str]]:
    """Return what all cars have in common, as one sentence, and what each has of its own.

    A car alone has nothing of its own. Letters are not among the words.
    """
    parts = [_parts(car) for car in cars]
    same = [all(one[i] == parts[0][i] for one in parts) for i in range(len(parts[0]))]
    common = ", ".join(
        text for text, is_same in zip(parts[0], same, strict=True) if is_same and text
    )
    if len(cars) == 1:
        return (f"T{common[1:]}." if common.startswith("the") else f"{common}."), []
    own = [
        ", ".join(text for text, shared in zip(one, same, strict=True) if not shared and text)
        for one in parts
    ]
    every = "Both" if len(cars) == 2 else "All"
    return (f"{every}: {common}." if common else ""), own


def called(found: Sequence[OnTheRoad], index: int) -> str:
    """Return the letter of a car among several; empty where it is alone."""
    return LETTERS[index] if len(found) > 1 else ""


def remarks(found: Sequence[OnTheRoad]) -> list[str]:
    """Return what must be said of the numbers: of which rule they are, and what is missing."""
    said: list[tuple[str, str]] = []
    for index, one in enumerate(found):
        box, tyre, letter = one.car.box, one.car.tyre, called(found, index)
        for gear, wheels in box.missing:
            want = f": {screen.written_list(wheels)} not counted" if wheels else ""
            said.append((f"No ratio for {gear}{want}; it is left out.", letter))
        if box.printed:
            printed = screen.written_list(box.printed)
            said.append((f"By printed ratios, not by counts: {printed}.", letter))
        if tyre.rule is not None:
            true = f"take it as true within {100 * ROLLING_TOLERANCE:g} % either way, with make, "
            rule = f"{tyre.rule}; {true}load, pressure and wear"
            said.append((f"{screen.plain(tyre.text)}: {rule}.", ""))
        if tyre.note is not None:
            said.append((f"{screen.plain(tyre.text)}: {tyre.note}.", ""))
    return _once(said)


def notes(found: Sequence[OnTheRoad]) -> list[str]:
    """Return what a person may have meant otherwise, one sentence each."""
    said: list[tuple[str, str]] = []
    for index, one in enumerate(found):
        box, axle = one.car.box, one.car.axle
        if box.assumed:
            taken = f"so the box was taken as a {box.assumed} one"
            said.append((f"no input or output pair is written, {taken}", ""))
        for low, high in box.rising:
            text = f"{high} is no higher a gear than {low}; were they written right?"
            said.append((text, called(found, index)))
        if axle.ratio < 1:
            axle_text = screen.plain(axle.text)
            said.append((f"the axle {axle_text} gears up; is it the wrong way round?", ""))
        if box.final is not None and box.final.ratio != axle.ratio:
            own = f"{box.name or 'the box'} has a final drive of its own, {box.final.text}"
            said.append((f"{screen.plain(own)}; not used here", ""))
    return _once(said)


def _once(said: Sequence[tuple[str, str]]) -> list[str]:
    """Return sentences, each once, with the letters of the cars that it is true of before it."""
    return [
        f"{screen.written_list(letters)}: {text}" if any(letters) else text
        for text, letters in screen.grouped(said).items()
    ]


def _parts(car: Car) -> tuple[str, ...]:
    box = car.box
    name = "the box as written"
    if box.name:
        name = screen.plain(box.name) + (f" ({screen.plain(box.title)})" if box.title else "")
    axle = decimal(car.axle.ratio, AXLE_PLACES)
    written = screen.plain(car.axle.text)
    overdrive = ""
    if car.overdrive is not None:
        ratio = decimal(car.overdrive.ratio, AXLE_PLACES)
        told = screen.plain(car.overdrive.text)
        figure = told if told == ratio else f"{told} ({ratio})"
        overdrive = f"overdrive {figure} on {screen.written_list(car.overdrive.on)}"
    # What was written of a tyre says nothing more where that was what it rolls.
    rolled = car.tyre.rule is None and "/" not in car.tyre.text
    tyre = "" if rolled else f"{screen.plain(car.tyre.text)}, "
    return (
        name,
        f"axle {written}" + ("" if "/" not in written else f" ({axle})"),
        overdrive,
        f"tyre {tyre}{car.tyre.rolled_mm:.0f} mm in a turn",
    )


NOTHING = "-"
#: Before an engine speed that a change leaves below the band.
MARK = "*"

#: A column of one car: its head, and a cell for each row's name.
Column = tuple[str, Mapping[str, str]]


def show_road(
    found: Sequence[OnTheRoad], console: screen.Console, *, demo: bool = False, chart: bool = False
) -> None:
    """Print the cars, their gears, their changes, what the speeds come to, then the caution."""
    width = console.width
    # Behind several boxes one axle tells nothing apart.
    one_axle = len(found) > 1 and len({one.car.axle.ratio for one in found}) == 1
    gears = _merged([[row.gear for row in one.rows] for one in found])
    parts = [
        _heading(found, width),
        *_tables("gear", [_of_car(one, overall=not one_axle) for one in found], gears, width),
        *_changes(found, width),
        *([_chart(found, width)] if chart else []),
        screen.text_lines([*_holding(found), *remarks(found)], width),
    ]
    screen.print_parts(parts, console, demo=demo)


def _heading(found: Sequence[OnTheRoad], width: int) -> list[Text]:
    common, own = described([one.car for one in found])
    lines = screen.text_lines([common], width)
    for index, text in enumerate(own):
        lines += screen.text_lines([f"{called(found, index)}  {text}"], width, hanging=3)
    return lines


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
        columns.append((f"{unit} at {rpm:g} rpm", {gear: f"{v:.1f}" for gear, v in speeds}))
    if one.asked.band is not None:
        low, high = one.asked.band
        spans = {b.gear: f"{b.slowest:.1f}-{b.fastest:.1f}" for b in one.bands}
        columns.append((f"{unit} in {low:g}-{high:g} rpm", spans))
    for at in one.at_speed:
        head = f"rpm at {at.speed:.4g} {unit}"
        columns.append((head, {gear: f"{rpm:.0f}" for gear, rpm in at.rpm}))
    return columns


def _changes(found: Sequence[OnTheRoad], width: int) -> list[list[Text]]:
    at = found[0].asked.change_at
    if at is None or not any(one.changes for one in found):
        return []
    names = _merged([[_change_name(c.lower, c.upper) for c in one.changes] for one in found])
    tables = _tables("change", [_change_columns(one) for one in found], names, width)
    tables[0].insert(0, Text(f"Changed up at {at:g} rpm", style=screen.STRONG))
    if any(one.gaps for one in found):
        tables[-1].append(Text(f"{MARK} below the band"))
    return tables


def _change_columns(one: OnTheRoad) -> list[Column]:
    named = {_change_name(c.lower, c.upper): c for c in one.changes}
    speeds = {tooth.gear: tooth.to_speed for tooth in one.teeth}
    after = {name: MARK * (c.lower in one.gaps) + f"{c.after:.0f}" for name, c in named.items()}
    return [
        (one.asked.unit, {name: f"{speeds[c.lower]:.1f}" for name, c in named.items()}),
        ("rpm after", after),
        ("drop", {name: f"{c.drop:.0f}" for name, c in named.items()}),
    ]


def _tables(
    first: str, columns: Sequence[Sequence[Column]], names: Sequence[str], width: int
) -> list[list[Text]]:
    """Return the columns of all cars beside each other, in as many tables as the width asks for.

    What is the same for every car stands once, without a letter.
    """
    same: list[Column] = []
    blocks: list[list[str]] = []
    by_head = [dict(of_car) for of_car in columns]
    for head in _merged([list(of_car) for of_car in by_head]):
        # A column that a car lacks is empty.
        beside = [of_car.get(head, {}) for of_car in by_head]
        if len({tuple(cells.items()) for cells in beside}) == 1:
            same.append((head, beside[0]))
        else:
            room = width - max(map(len, [first, *names])) - 2 * len(screen.GAP)
            blocks += _blocks(head, beside, names, room)
    heads = [first, *(head for head, _ in same)]
    rows = [[name, *(cells.get(name, NOTHING) for _, cells in same)] for name in names]
    found = screen.tables_lines(heads, rows, width) if same else []
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
    each = max(len(cell) for column in columns for cell in column) + len(screen.GAP)
    fit = max(1, (room + len(screen.GAP)) // each)
    found = []
    for start in range(0, len(columns), fit):
        beside = columns[start : start + fit]
        widths = [max(map(len, column)) for column in beside]
        lines = [
            screen.GAP.join(cell.rjust(wide) for cell, wide in zip(row, widths, strict=True))
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
        if not tables or len(tables[-1][0]) + len(screen.GAP) * 2 + len(block[0]) > width:
            tables.append([name.ljust(edge) for name in first])
        tables[-1] = [
            line + screen.GAP * 2 + more for line, more in zip(tables[-1], block, strict=True)
        ]
    return [
        [Text(line.rstrip(), style=screen.STRONG if i < 2 else "") for i, line in enumerate(table)]
        for table in tables
    ]


def _chart(found: Sequence[OnTheRoad], width: int) -> list[Text]:
    if found[0].asked.change_at is None:
        return []

    lines: list[Text] = []
    for index, one in enumerate(found):
        car = called(found, index)
        lines += [Text()] * bool(lines) + ([Text(car, style=screen.STRONG)] if car else [])
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
            turning = f"{dict(at.rpm)[at.gear]:.0f}"
            said.append(f"{place} {speed} the highest gear in {span} is {at.gear}: {turning} rpm.")
    return said


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
    letters = iter(MARKS_OF_NAMES)
    marks = {t.gear: t.gear if len(t.gear) == 1 else next(letters, "*") for t in teeth}
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
    edge = " " * (MARGIN + 2)
    last = f"{top_speed:.0f} {one.asked.unit}"
    lines += [" " * MARGIN + " +" + "-" * room, f"{edge}0{last:>{room - 1}}"]
    named = [f"{mark}: {gear}" for gear, mark in marks.items() if mark != gear]
    return [f"{'rpm':>{MARGIN}}", *lines, *([edge + "; ".join(named)] if named else [])]


def road_json(found: Sequence[OnTheRoad], asked: Asked, catalog: Catalog | None) -> dict[str, Any]:
    """Return all cars as plain lists, texts and numbers, in full double precision."""
    band = None if asked.band is None else {"low": asked.band[0], "high": asked.band[1]}
    document: dict[str, Any] = {"format": screen.FORMAT, "units": asked.unit, "band": band}
    if catalog is not None:
        document["catalog"] = screen.catalog_json(catalog)
    return {**document, "cars": [_car_json(one) for one in found]}


def _car_json(one: OnTheRoad) -> dict[str, Any]:
    car, overdrive = one.car, one.car.overdrive
    return {
        "box": {
            "name": car.box.name or None,
            "printed": list(car.box.printed),
            "missing": [
                {"gear": gear, "not_counted": list(wheels)} for gear, wheels in car.box.missing
            ],
        },
        "axle": {"text": car.axle.text, **screen.exact_json(car.axle.ratio)},
        "overdrive": overdrive
        and {
            "text": overdrive.text,
            **screen.exact_json(overdrive.ratio),
            "on": list(overdrive.on),
        },
        "tyre": {
            **screen.keys_of(car.tyre, "text", "rolled_mm", "outside_mm"),
            **screen.keys_of(car.tyre, "turns_per_km", "turns_per_mile", "rule"),
            "height_estimated": car.tyre.estimated,
            "tolerance": None if car.tyre.rule is None else ROLLING_TOLERANCE,
        },
        "gears": _gears_json(one),
        "changes": [
            {
                "from": change.lower,
                "to": change.upper,
                **screen.keys_of(change, "rpm", "after", "drop"),
                **screen.exact_json(change.keeps, "keeps", "keeps_decimal"),
            }
            for change in one.changes
        ],
        "at_speed": [
            {"speed": at.speed, "highest_gear": at.gear, "rpm": dict(at.rpm)} for at in one.at_speed
        ],
    }


def _gears_json(one: OnTheRoad) -> list[dict[str, Any]]:
    bands = {band.gear: band for band in one.bands}
    found = []
    for row in one.rows:
        band = bands.get(row.gear)
        found.append(
            {
                "gear": row.gear,
                **screen.exact_json(row.ratio),
                **screen.exact_json(row.overall, "overall", "overall_decimal"),
                "step_from": row.step_from,
                **screen.exact_json(row.step, "step", "step_decimal"),
                "speed_per_1000_rpm": row.per_1000,
                "at_rpm": [
                    {"rpm": rpm, "speed": dict(speeds)[row.gear]} for rpm, speeds in one.at_rpm
                ],
                "band": band and screen.keys_of(band, "slowest", "fastest", "overlap"),
            }
        )
    return found
