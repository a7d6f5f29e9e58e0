"""`cogtally road`: road speed at engine speed in each gear and back.

How things are written and what they come to is left to `gears.road`.
"""

import sys
from collections.abc import Callable
from functools import cache, partial

from cogtally.catalog.model import Catalog
from cogtally.cli import options
from cogtally.cli.known import asked_named
from cogtally.cli.options import argument, option
from cogtally.cli.report import write_picture
from cogtally.gears import road as roads
from cogtally.gears.errors import UserError
from cogtally.show.screen import say_notes, show_or_json

#: What --chart takes beside a file: on the screen even where that is no terminal, or not at all.
SCREEN, NO_CHART = "screen", "none"


def road(
    words: list[str] | None = argument(
        "GEAR…", "Ratios, 3.65 2.25 or 1=3.65 R=3.84; or what was counted: input=17/28 1=14/31."
    ),
    sets: list[str] | None = option(
        "FAMILY/SET", "A catalogued set; again for another beside it.", "--set"
    ),
    axle: list[str] | None = option(
        "PINION/CROWN", "The axle: 9/41, a ratio 4.56, or FAMILY/SET; again for another beside it."
    ),
    tyre: list[str] | None = option(
        "TYRE",
        "165/80R15, 5.60-15, what a wheel rolls in one turn 1960mm, or turns 830/mile or 516/km; "
        "again for another beside it.",
    ),
    overdrive: str | None = option("SUN/ANNULUS", "An overdrive: 24/84, or a ratio 0.78."),
    overdriven: str | None = option("GEARS", "The gears that it is on, 3,4; else the highest."),
    rpm: list[str] | None = option("RPM", "Road speeds at this engine speed. May be given again."),
    speed: list[str] | None = option(
        "SPEED",
        "Engine speeds at this road speed, 80 or 50mph; with --band the gear for it. May be given "
        "again.",
    ),
    band: str | None = option("RPM-RPM", "The engine speeds to stay between, 2200-4800."),
    units: str = option("UNIT", "Of road speeds: km/h or mph.", default="km/h"),
    chart: str | None = option(
        "FILE",
        f"Engine over road speed as a picture: .svg, .png or .pdf. '{SCREEN}': in plain "
        f"characters though no terminal is there; '{NO_CHART}': not on a terminal either.",
    ),
    layout: str | None = options.LAYOUT,
    direct: str | None = options.DIRECT,
    path: list[str] | None = options.PATH,
    catalog: str | None = options.CATALOG,
    demo: bool = options.DEMO,
    force: bool = options.FORCE,
    outlines: bool = options.OUTLINES,
    as_json: bool = options.JSON,
) -> None:
    """Work out road speed at engine speed.

    From ratios, counts or catalogued sets, with an axle and a tyre: speeds, the drop at each
    change up, and the highest gear that keeps the engine in its band.
    """
    unit = roads.parse_unit(units)
    asked = roads.Asked(
        unit,
        _not_too_many([roads.parse_rpm(text) for text in rpm or ()], "--rpm"),
        _not_too_many([roads.parse_speed(text, unit) for text in speed or ()], "--speed"),
        None if band is None else roads.parse_band(band),
    )
    # It is read when it is first asked for.
    known = cache(partial(asked_named, catalog, demo))
    boxes = _written(words or [], layout, direct, path)
    if sets:
        from cogtally.catalog.find import find_set
        from cogtally.show.road import box_of_set

        boxes += [box_of_set(*find_set(known(), text)) for text in sets]
    if not boxes:
        mend = "write ratios, 3.65 2.25 1.44 1, counts, input=17/28 1=14/31, or --set FAMILY/SET"
        raise UserError("no gearbox was written", "cogtally road", mend)
    cars = roads.line_up(
        boxes,
        [_axle(text, known) for text in axle or ()],
        [roads.parse_tyre(text) for text in tyre or ()],
        _overdrive(overdrive, overdriven),
    )
    if (demo or catalog is not None) and not known.cache_info().currsize:
        raise UserError("no set of a catalog was asked for", mend="write --set FAMILY/SET")
    found = [roads.on_the_road(car, asked) for car in cars]
    used = known() if known.cache_info().currsize else None
    if chart not in (None, NO_CHART) and asked.change_at is None:
        mend = "write --band 2200-4800, or --rpm 4800"
        raise UserError("a chart needs the engine speed to change up at", f"--chart {chart}", mend)
    if chart not in (None, NO_CHART, SCREEN):
        from cogtally.show.drawing import asked_file

        place = asked_file(str(chart), "--chart", force=force)
        if not all(one.teeth for one in found):
            raise UserError("no gear with a ratio is there to draw", f"--chart {chart}")
        from cogtally.show.road import chart_drawing

        drawing = chart_drawing(found, used is not None and used.demo)
        write_picture(drawing, place, outlines=outlines)
    from cogtally.show.road import notes, road_json, show_road

    is_demo = used is not None and used.demo
    drawn = chart == SCREEN or (chart is None and sys.stdout.isatty())
    show_or_json(
        as_json,
        lambda: road_json(found, asked, used),
        lambda console: show_road(found, console, demo=is_demo, chart=drawn),
    )
    say_notes(notes(found))


def _written(
    words: list[str], layout: str | None, direct: str | None, path: list[str] | None
) -> list[roads.Box]:
    """Return the box that the words describe, none where nothing was written."""
    described = {"--layout": layout, "--direct": direct, "--path": path}
    if not words or roads.are_ratios(words):
        strange = [option for option, value in described.items() if value]
        if strange:
            raise UserError("this goes with counts", strange[0], "leave it out")
        return [roads.Box("", roads.parse_ratios(words))] if words else []
    from cogtally.cli.ratios import asked_counts, table_of

    seen = asked_counts(words, "cogtally road")
    tests = [word.text for word in seen.words if word.turn is not None]
    if tests:
        raise UserError("a turn test gives no ratio to reckon with", tests[0], "leave it out")
    return [roads.box_of_counts(table_of(seen, layout, direct, path))]


def _axle(text: str, known: Callable[[], Catalog]) -> roads.Axle:
    """Read an axle: counted, a ratio, or a set of the catalog."""
    if any(c.isalpha() for c in text) and "/" in text:
        from cogtally.catalog.find import find_set
        from cogtally.show.road import axle_of_set

        return axle_of_set(*find_set(known(), text))
    return roads.Axle(text.strip(), roads.parse_axle_ratio(text))


def _overdrive(text: str | None, on: str | None) -> roads.Overdrive | None:
    if text is None:
        if on is not None:
            mend = "write --overdrive 24/84 too"
            raise UserError("this goes with --overdrive", f"--overdriven {on}", mend)
        return None
    gears = () if on is None else roads.parse_gears(on, "--overdriven")
    return roads.Overdrive(text.strip(), roads.parse_overdrive_ratio(text), gears)


def _not_too_many(values: list[float], option: str) -> tuple[float, ...]:
    if len(values) > roads.MOST_SPEEDS:
        raise UserError(
            f"{len(values)} speeds were asked for", option, f"{roads.MOST_SPEEDS} at most"
        )
    return tuple(dict.fromkeys(values))
