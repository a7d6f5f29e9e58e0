"""What turns in a box as JSON: exact fractions as text beside their decimals.

Names of keys are a promise within a format number; the arithmetic is left to `gears`.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from cogtally.gears.turning import InGear, Noise, Part, Turning

FORMAT = 1


def turning_json(box: Turning, noise: Noise | None) -> dict[str, Any]:
    """Return what turns as plain values; null where a count is missing.

    A negative number turns the other way than the input; that of a crown wheel has no sign.
    `at_axle` is there where there is an axle behind the box, `noise` where one was asked for.
    """
    found: dict[str, Any] = {
        "format": FORMAT,
        "layout": box.table.layout,
        "direct": box.table.direct,
        "sliding": list(box.joints.sliding),
        "pieces": [
            {
                "piece": piece.name,
                "wheels": list(piece.wheels),
                "way_known": not piece.at_right_angles,
                "turns": _by_state(piece.speeds),
            }
            for piece in box.pieces
        ],
        "gears": [_gear(box, gear) for gear in box.gears],
        "meshes": [
            {
                "wheels": list(mesh.wheels),
                "in_mesh": [state for state in box.states if mesh.is_in_mesh(state)],
                "under_load": list(box.loaded(mesh)),
            }
            for mesh in box.joints.meshes
        ],
        "free": [
            {
                "piece": free.piece,
                "on": free.on,
                "gear": free.gear,
                "slips": _by_state(free.slips),
            }
            for free in box.free
        ],
    }
    if noise is not None:
        found["noise"] = {
            "heard": list(noise.heard),
            "under_load": [_part(box, part) for part in noise.under_load],
            "turning": [_part(box, part) for part in noise.turning],
            "in_neutral": [_part(box, part) for part in noise.in_neutral],
            "in_part": [_part(box, part) for part in noise.in_part],
        }
    return found


def _gear(box: Turning, gear: InGear) -> dict[str, Any]:
    found: dict[str, Any] = {
        "gear": gear.name,
        "under_load": list(gear.load),
        **_both("turns_out", "decimal", gear.turns_out),
        "degrees": None if gear.degrees is None else float(gear.degrees),
        "to_read": None,
        "missing": list(gear.missing),
    }
    if gear.readable is not None:
        whole, out = gear.readable
        found["to_read"] = {"turns_in": whole, **_both("turns_out", "decimal", out)}
    if box.table.axle is not None:
        found |= _both("at_axle", "at_axle_decimal", gear.at_wheels)
    return found


def _part(box: Turning, part: Part) -> dict[str, Any]:
    return {
        "kind": part.kind,
        "name": part.name,
        "turns_in": [state for state in box.states if state in part.turns],
        "under_load_in": [state for state in box.states if state in part.loaded],
    }


def _by_state(speeds: Mapping[str, Fraction | None]) -> list[dict[str, Any]]:
    return [{"gear": state, **_both("exact", "decimal", v)} for state, v in speeds.items()]


def _both(exact: str, rounded: str, value: Fraction | None) -> dict[str, Any]:
    if value is None:
        return {exact: None, rounded: None}
    return {exact: str(value), rounded: float(value)}
