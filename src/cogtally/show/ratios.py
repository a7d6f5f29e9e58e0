"""A table of ratios on a screen and as JSON, and what is worth a note beside it.

Keys of JSON are a promise within a format number. The arithmetic is left to `gears`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from fractions import Fraction
from typing import Any

from rich.text import Text

from cogtally.gears.notation import Seen, written_count
from cogtally.gears.ratios import Gear, Pair, RatioTable, Wheel
from cogtally.show import screen

#: What stands where nothing can be said.
NOTHING = "-"
#: Beside teeth that are the likeliest of several different counts.
MARK = "*"

RATIO_PLACES, STEP_PLACES, OVERALL_PLACES = 4, 3, 3

_BOX = {
    "layshaft": "layshaft box: a gear runs through input, then its own pair",
    "sleeve": "sleeve box: a gear runs through its own pair, then output",
    "two-shaft": "two-shaft box: a gear is its own pair",
    "axle": "axle: a pinion and its crown wheel",
}


def show_ratios(table: RatioTable, console: screen.Console) -> None:
    """Print the gears, then the pairs, then what is missing or doubtful, then the caution."""
    width = console.width
    parts = [
        screen.text_lines([_heading(table)], width),
        picture_of(table, console),
        *_gear_tables(table, width),
        screen.table_lines(
            ("pair", "teeth", "sum", "hunting", "common factor"), map(_pair, table.pairs), (0, 1)
        ),
        screen.text_lines([*_missing(table), *_doubts(table)], width),
    ]
    screen.print_parts(parts, console)


def picture_of(
    table: RatioTable, console: screen.Console, sliding: Collection[str] = ()
) -> list[Text]:
    """Return the train in plain characters, on a terminal alone."""
    if not screen.on_terminal(console):
        return []
    from cogtally.show import train

    return [Text(line) for line in train.table_lines(table, console.width, sliding)]


def notes(table: RatioTable, seen: Seen) -> list[str]:
    """Return what a person may have meant otherwise, one sentence each."""
    found = []
    tests = [word.text for word in seen.words if word.turn is not None]
    if tests:
        what = "a turn test" if len(tests) == 1 else "turn tests"
        found.append(
            f"ratios works from counts alone and does not use {what}: {screen.written_list(tests)}"
        )
    if not table.gears:
        found.append("no gear is written, only pairs that gears run through")
    elif table.unused:
        runs = f"no gear runs through {screen.written_list(table.unused)} in a box of layout"
        found.append(f"{runs} {table.layout}; --layout and --path change that")
    for gear in table.rising:
        found.append(
            f"{gear.name} is no higher a gear than {gear.step_from}; "
            "a pair is written driver/driven, so one of them may be the wrong way round"
        )
    if table.axle_ratio is not None and table.axle is not None and table.axle_ratio < 1:
        pinion, crown = table.axle.teeth
        found.append(f"the axle {pinion}/{crown} gears up; did you mean {crown}/{pinion}?")
    if table.sums_apart:
        sums = {pair.name: pair.sums[0] for pair in table.pairs}
        told = screen.written_list(f"{name} {sums[name]}" for name in table.sums_apart)
        found.append(f"pairs on the same two shafts have nearly the same sum, these not: {told}")
    return found


def decimal(value: Fraction, places: int) -> str:
    """Return a positive fraction as a decimal of so many places, a half rounded up; exact."""
    scaled = (2 * value.numerator * 10**places + value.denominator) // (2 * value.denominator)
    whole, rest = divmod(scaled, 10**places)
    return f"{whole}.{rest:0{places}d}"


def _heading(table: RatioTable) -> str:
    box = _BOX[table.layout]
    if table.assumed and table.layout == "two-shaft":
        box = f"taken as a {box}, for no input or output pair is written"
    said = [f"{box[0].upper()}{box[1:]}."]
    if table.direct is not None:
        said.append(f"{table.direct} is direct.")
    said += [
        f"{gear} runs through {screen.written_list(path)}." for gear, path in table.paths.items()
    ]
    if table.axle is not None and table.axle_ratio is not None:
        said.append(f"Axle {_teeth(table.axle)}: {decimal(table.axle_ratio, RATIO_PLACES)}.")
    if table.overdrive is not None:
        train, ratio = table.overdrive, table.overdrive.overdrive
        said.append(
            f"Overdrive {train.sun}/{train.annulus}: {ratio} ({decimal(ratio, RATIO_PLACES)}), "
            "shown for every forward gear."
        )
    return " ".join(said)


def _gear_tables(table: RatioTable, width: int) -> list[list[Text]]:
    """Return the table of gears, in two where it would be wider than the screen."""
    if not table.gears:
        return []
    ratios = ("ratio", "decimal", "step")
    behind = ["overall"] * (table.axle is not None)
    if table.overdrive is not None:
        behind += ["overdrive", *(["overdrive overall"] * (table.axle is not None))]
    one = _gear_lines(table.gears, (*ratios, *behind))
    if not behind or all(len(line) <= width for line in one):
        return [one]
    return [_gear_lines(table.gears, ratios), _gear_lines(table.gears, behind)]


def _gear_lines(gears: Iterable[Gear], columns: Sequence[str]) -> list[Text]:
    rows = []
    for gear in gears:
        cells = {
            "ratio": NOTHING if gear.ratio is None else str(gear.ratio),
            "decimal": _decimal(gear.ratio, RATIO_PLACES),
            "step": _decimal(gear.step, STEP_PLACES),
            "overall": _decimal(gear.overall, OVERALL_PLACES),
            "overdrive": _decimal(gear.overdrive, RATIO_PLACES),
            "overdrive overall": _decimal(gear.overdrive_overall, OVERALL_PLACES),
        }
        rows.append((gear.name, *(cells[column] for column in columns)))
    return screen.table_lines(("gear", *columns), rows, (0, 1) if "ratio" in columns else (0,))


def _pair(pair: Pair) -> tuple[str, ...]:
    hunting = NOTHING if pair.hunting is None else "yes" if pair.hunting else "no"
    return (pair.name, _teeth(pair), _each(pair.sums), hunting, _each(pair.factors))


def _decimal(value: Fraction | None, places: int) -> str:
    return NOTHING if value is None else decimal(value, places)


def _each(values: Iterable[int | None]) -> str:
    return ", ".join(NOTHING if value is None else str(value) for value in values)


def _teeth(pair: Pair) -> str:
    return "/".join(
        written_count(wheel.teeth, wheel.is_unsure) + MARK * wheel.is_disputed
        for wheel in pair.wheels
    )


def _missing(table: RatioTable) -> list[str]:
    """Say which gears have no ratio and for want of what, gears of the same want together."""
    wants = screen.grouped((gear.missing, gear.name) for gear in table.gears if gear.missing)
    found = [
        f"No ratio for {screen.written_list(gears)}: {_not_counted(w)}."
        for w, gears in wants.items()
    ]
    if table.axle is not None and table.axle.missing:
        found.append(f"No overall ratio: {_not_counted(table.axle.missing)}.")
    return found


def _not_counted(wheels: Sequence[str]) -> str:
    return f"{screen.written_list(wheels)} {'is' if len(wheels) == 1 else 'are'} not counted"


def _doubts(table: RatioTable) -> list[str]:
    """Say what the marks beside teeth mean."""
    found = [
        f"{MARK} {wheel.name} was counted {_counts(wheel)}; the tables have the likeliest, "
        f"or the lower of two as likely: {wheel.teeth}."
        for wheel in table.disputed
    ]
    if any(wheel.is_unsure for pair in table.pairs for wheel in pair.wheels):
        found.append("u: whoever counted was unsure.")
    return found


def _counts(wheel: Wheel) -> str:
    return screen.written_list(
        written_count(count.teeth, count.unsure) + (f" ({count.times} times)" * (count.times > 1))
        for count in wheel.counts
    )


def ratios_json(table: RatioTable) -> dict[str, Any]:
    """Return the table as plain values; null where a count is missing or there is no such thing.

    `overall` is there where there is an axle, the keys of the overdrive where there is one.
    """
    found: dict[str, Any] = {
        "format": screen.FORMAT,
        "layout": table.layout,
        "direct": table.direct,
    }
    if table.axle is not None:
        found["axle"] = {"pair": table.axle.name, **screen.exact_json(table.axle_ratio)}
    if table.overdrive is not None:
        train = table.overdrive
        found["overdrive"] = {
            **screen.keys_of(train, "sun", "annulus"),
            **screen.exact_json(train.overdrive),
        }
    found["gears"] = [_gear(table, gear) for gear in table.gears]
    found["pairs"] = [
        {
            **screen.keys_of(pair, "pair=name", "teeth", "sums", "hunting"),
            "common_factors": pair.factors,
            "disputed": [wheel.name for wheel in pair.wheels if wheel.is_disputed],
        }
        for pair in table.pairs
    ]
    return found


def _gear(table: RatioTable, gear: Gear) -> dict[str, Any]:
    found: dict[str, Any] = {
        **screen.keys_of(gear, "gear=name", "path"),
        **screen.exact_json(gear.ratio),
        "step_from": gear.step_from,
        **screen.exact_json(gear.step, "step", "step_decimal"),
        "missing": gear.missing,
    }
    if table.axle is not None:
        found |= screen.exact_json(gear.overall, "overall", "overall_decimal")
    if table.overdrive is not None:
        found |= screen.exact_json(gear.overdrive, "overdrive", "overdrive_decimal")
    if table.axle is not None and table.overdrive is not None:
        found |= screen.exact_json(
            gear.overdrive_overall, "overdrive_overall", "overdrive_overall_decimal"
        )
    return found
