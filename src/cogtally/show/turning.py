"""What turns in a box on a screen and as JSON: speeds, turns out, slip, what a noise points at.

Keys of JSON are a promise within a format number. The arithmetic is left to `gears`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from typing import Any

from rich.text import Text

from cogtally.gears.notation import written_count
from cogtally.gears.turning import BEARING, BUSH, MESH, InGear, Noise, Part, Turning
from cogtally.show import screen
from cogtally.show.ratios import NOTHING, decimal, picture_of

SPEED_PLACES, SLIP_PLACES, DEGREE_PLACES, READ_PLACES = 4, 3, 1, 2
LOCKED = "locked"

_KINDS = {MESH: ("mesh", "meshes"), BEARING: ("bearing", "bearings"), BUSH: ("bush", "bushes")}


def show_turning(box: Turning, noise: Noise | None, console: screen.Console) -> None:
    """Print what turns, what comes out in each gear, the slip, then the noise and the caution."""
    width = console.width
    parts = [
        screen.text_lines([_heading(box)], width),
        picture_of(box.table, console, box.joints.sliding),
        *_steady(box, width),
        *_changing(box, width),
        *_gears(box, width),
        *_slips(box, width),
        *([_noise(box, noise, width)] if noise else []),
        screen.text_lines([_missing(box)], width),
    ]
    screen.print_parts(parts, console)


def notes(box: Turning, turn_tests: Sequence[str]) -> list[str]:
    """Return what a person may have meant otherwise, one sentence each."""
    found = []
    if turn_tests:
        found.append(
            f"turning works from counts alone and does not use {screen.written_list(turn_tests)}"
        )
    if box.table.unused:
        found.append(
            f"no gear runs through {screen.written_list(box.table.unused)} in a box of layout "
            f"{box.table.layout}; --layout and --path change that"
        )
    for gear in box.turned_round:
        said = f"{gear} turns the output the same way as the other gears"
        pair = next((p for p in box.table.pairs if p.name == gear and len(p.wheels) == 2), None)
        if pair is not None:
            driver, driven = (written_count(teeth) for teeth in pair.teeth)
            said += (
                f"; was its idler left out? It is written {gear}={driver}/_/{driven} "
                "where nobody counted it"
            )
        found.append(said)
    return found


def _heading(box: Turning) -> str:
    table = box.table
    if table.layout == "axle":
        return "Axle: a pinion and its crown wheel, at right angles."
    named = f"{table.layout} box"
    if table.assumed and table.layout == "two-shaft":
        named = f"taken as a {named}, for no input or output pair is written; the wheels"
    else:
        named = f"{named}, the wheels taken to be"
    on = screen.written_list(dict.fromkeys(free.on for free in box.free))
    said = [f"{named[0].upper()}{named[1:]} in constant mesh."]
    if on:
        said.append(f"A gear's driven wheel runs free on the {on} until its gear locks it.")
    if box.joints.sliding:
        one = len(box.joints.sliding) == 1
        said.append(
            f"{screen.written_list(box.joints.sliding)} {'slides' if one else 'slide'}: the driven "
            "wheel turns with its shaft and is in mesh in its own gear only."
        )
    said.append(f"In neutral the {box.output.name} stands.")
    if table.direct is not None:
        said.append(f"{table.direct} is direct.")
    said += [
        f"{gear} runs through {screen.written_list(path)}." for gear, path in table.paths.items()
    ]
    return " ".join(said)


def _steady(box: Turning, width: int) -> list[list[Text]]:
    """Return the pieces that turn alike in every state, since their wheels never leave the mesh."""
    rows = [
        (piece.name, _signed(piece.speeds[box.states[0]], SPEED_PLACES), _exact(speed))
        for piece in box.pieces
        for speed in [piece.speeds[box.states[0]]]
        if piece.is_steady
    ]
    title = "For one turn of the pinion"
    if box.table.layout != "axle":
        title = "For one turn of the input, in neutral and in every gear alike"
        title += "; minus: the other way round"
    return _titled(f"{title}:", [screen.table_lines(("piece", "turns", "exact"), rows)], width)


def _changing(box: Turning, width: int) -> list[list[Text]]:
    """Return the pieces that turn otherwise in each gear, but for what the gears' table has."""
    shown = {box.output.name, *(p.name for p in box.pieces if p.is_steady or p.at_right_angles)}
    rows = [
        (piece.name, *(_signed(piece.speeds[state], SLIP_PLACES) for state in box.states))
        for piece in box.pieces
        if piece.name not in shown
    ]
    if not rows:
        return []
    tables = screen.tables_lines(("piece", *box.states), rows, width)
    return _titled("And what turns otherwise from gear to gear:", tables, width)


def _gears(box: Turning, width: int) -> list[list[Text]]:
    """Return what comes out in each gear, in two tables where one would be too wide."""
    behind = box.table.axle is not None
    out = ("gear", "turns out", "degrees", *(["at the axle"] if behind else []))
    rest = ("to read", "under load")
    cells = [
        {
            "gear": gear.name,
            "turns out": _exact(gear.turns_out),
            "degrees": NOTHING if gear.degrees is None else decimal(gear.degrees, DEGREE_PLACES),
            "at the axle": _exact(gear.at_wheels),
            "to read": _readable(gear),
            "under load": ", ".join(gear.load) or "no pair",
        }
        for gear in box.gears
    ]

    def lines(columns: Sequence[str]) -> list[Text]:
        left = [i for i, c in enumerate(columns) if c in ("gear", "turns out", *rest)]
        return screen.table_lines(columns, [[row[c] for c in columns] for row in cells], left)

    one = lines((*out, *rest))
    tables = [one] if screen.fits(one, width) else [lines(out), lines(("gear", *rest))]
    return _titled("The output, for one turn of the input:", tables, width)


def _slips(box: Turning, width: int) -> list[list[Text]]:
    found = []
    for on in dict.fromkeys(free.on for free in box.free):
        rows = [
            (
                free.piece,
                *(
                    LOCKED if state == free.gear else _signed(free.slips[state], SLIP_PLACES)
                    for state in box.states
                ),
            )
            for free in box.free
            if free.on == on
        ]
        title = f"How fast each free gear slips on the {on}, in turns for one of the input:"
        found += _titled(title, screen.tables_lines(("piece", *box.states), rows, width), width)
    return found


def _titled(title: str, tables: list[list[Text]], width: int) -> list[list[Text]]:
    first, *others = tables
    return [[*screen.text_lines([title], width), *first], *others]


def _noise(box: Turning, noise: Noise, width: int) -> list[Text]:
    quiet = [state for state in box.states if state not in noise.heard]
    where = f"Noise in {screen.written_list(noise.heard)}"
    said = [f"{where}, none in {screen.written_list(quiet)}." if quiet else f"{where}."]
    if noise.under_load:
        said += _pointed_at("Under load in exactly these gears", noise.under_load)
    if noise.turning:
        said += _pointed_at("Turning in exactly these, with or without load", noise.turning)
    if noise.in_neutral:
        title = "Turning in neutral, without load, and standing once the clutch is down"
        said += _pointed_at(title, noise.in_neutral)
    elif not noise.under_load and not noise.turning:
        said.append("No one part is at work in exactly these gears.")
        if noise.in_part:
            said += _pointed_at("Under load in some of these and in no other", noise.in_part)
    said.append("That is where to look first; it is no proof of what is worn.")
    return screen.text_lines(said, width, hanging=2)


def _pointed_at(title: str, parts: Iterable[Part]) -> list[str]:
    by_kind = screen.grouped((part.kind, part.name) for part in parts)
    told = [f"- {_KINDS[kind][len(own) > 1]}: {', '.join(own)}" for kind, own in by_kind.items()]
    return [f"{title}:", *told]


def _missing(box: Turning) -> str:
    written = [wheel.name for p in box.table.pairs for wheel in p.wheels if wheel.teeth is None]
    needed = [wheel for gear in box.gears for wheel in gear.missing]
    names = list(dict.fromkeys([*needed, *written]))
    if not names:
        return ""
    are = "is" if len(names) == 1 else "are"
    return f"{screen.written_list(names)} {are} not counted; what depends on that has no speed."


def _readable(gear: InGear) -> str:
    if gear.readable is None:
        return NOTHING
    whole, out = gear.readable
    return f"{whole} in, {decimal(out, READ_PLACES)} out"


def _exact(speed: Fraction | None) -> str:
    return NOTHING if speed is None else str(speed)


def _signed(speed: Fraction | None, places: int) -> str:
    if speed is None:
        return NOTHING
    return f"{'-' if speed < 0 else ''}{decimal(abs(speed), places)}"


def turning_json(box: Turning, noise: Noise | None) -> dict[str, Any]:
    """Return what turns as plain values; null where a count is missing.

    A negative number turns the other way than the input; that of a crown wheel has no sign.
    `at_axle` is there where there is an axle behind the box, `noise` where one was asked for.
    """
    found: dict[str, Any] = {
        "format": screen.FORMAT,
        **screen.keys_of(box, "layout=table.layout", "direct=table.direct"),
        "sliding": box.joints.sliding,
        "pieces": [
            {
                **screen.keys_of(piece, "piece=name", "wheels"),
                "way_known": not piece.at_right_angles,
                "turns": _by_state(piece.speeds),
            }
            for piece in box.pieces
        ],
        "gears": [_gear(box, gear) for gear in box.gears],
        "meshes": [
            {
                "wheels": mesh.wheels,
                "in_mesh": [state for state in box.states if mesh.is_in_mesh(state)],
                "under_load": box.loaded(mesh),
            }
            for mesh in box.joints.meshes
        ],
        "free": [
            {**screen.keys_of(free, "piece", "on", "gear"), "slips": _by_state(free.slips)}
            for free in box.free
        ],
    }
    if noise is not None:
        found["noise"] = {
            "heard": noise.heard,
            **{
                name: [_part(box, part) for part in getattr(noise, name)]
                for name in ("under_load", "turning", "in_neutral", "in_part")
            },
        }
    return found


def _gear(box: Turning, gear: InGear) -> dict[str, Any]:
    found: dict[str, Any] = {
        **screen.keys_of(gear, "gear=name", "under_load=load"),
        **screen.exact_json(gear.turns_out, "turns_out"),
        "degrees": None if gear.degrees is None else float(gear.degrees),
        "to_read": None,
        "missing": gear.missing,
    }
    if gear.readable is not None:
        whole, out = gear.readable
        found["to_read"] = {"turns_in": whole, **screen.exact_json(out, "turns_out")}
    if box.table.axle is not None:
        found |= screen.exact_json(gear.at_wheels, "at_axle", "at_axle_decimal")
    return found


def _part(box: Turning, part: Part) -> dict[str, Any]:
    return {
        **screen.keys_of(part, "kind", "name"),
        "turns_in": [state for state in box.states if state in part.turns],
        "under_load_in": [state for state in box.states if state in part.loaded],
    }


def _by_state(speeds: Mapping[str, Fraction | None]) -> list[dict[str, Any]]:
    return [{"gear": state, **screen.exact_json(v, "exact")} for state, v in speeds.items()]
