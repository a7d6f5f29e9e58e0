"""What a noise that is heard in some gears and not in others can come from.

How the box turns is left to `turning`. A part that needs load to be heard is heard wherever it
carries load; one that does not, wherever it turns (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from cogtally.gears.errors import UserError
from cogtally.gears.trains import pair_of
from cogtally.gears.turning.joints import NEUTRAL
from cogtally.gears.turning.motion import Turning
from cogtally.gears.turning.names import INPUT_SHAFT, OUTPUT_SHAFT

MESH, BEARING, BUSH = "mesh", "bearing", "bush"
#: Layouts in which the output's shaft runs in or round the input's.
_COAXIAL = ("layshaft", "sleeve")


@dataclass(frozen=True, slots=True)
class Part:
    """A mesh, a bearing or a bush: the states in which it turns, and those of them under load.

    A bearing between two pieces turns where these turn at different speeds. `name`: of a mesh its
    two wheels, of a bearing or bush what runs in it.
    """

    kind: str
    name: str
    turns: frozenset[str]
    loaded: frozenset[str]


@dataclass(frozen=True, slots=True)
class Noise:
    """Where a noise was heard, and the parts that this points at.

    `under_load`: those that carry load in exactly these gears. `turning`: those that turn in
    exactly these, with or without load. `in_neutral`: where neutral alone was heard, what turns
    in neutral. `in_part`: where no part is at work in exactly these, those that carry load in some
    of them and in no other.
    """

    heard: tuple[str, ...]
    under_load: tuple[Part, ...]
    turning: tuple[Part, ...]
    in_neutral: tuple[Part, ...]
    in_part: tuple[Part, ...]


def noise(box: Turning, heard: Iterable[str]) -> Noise:
    """Return what a noise heard in exactly these gears (or neutral) can come from.

    Raises UserError for a gear that the box does not have.
    """
    named = tuple(dict.fromkeys(heard))
    for state in named:
        if state not in box.states:
            raise UserError(
                "no such gear is written", f"--noise {state}", f"use {', '.join(box.states)}"
            )
    wanted = frozenset(named)
    all_parts = parts(box)
    under_load = tuple(p for p in all_parts if p.loaded == wanted)
    turning = tuple(p for p in all_parts if p.turns == wanted and p not in under_load)
    neutral = wanted == {NEUTRAL}
    return Noise(
        tuple(state for state in box.states if state in wanted),
        under_load,
        turning,
        tuple(p for p in all_parts if neutral and NEUTRAL in p.turns and p not in turning),
        ()
        if under_load or turning or neutral
        else tuple(p for p in all_parts if p.loaded and p.loaded < wanted),
    )


def parts(box: Turning) -> tuple[Part, ...]:
    """Return every mesh, bearing and bush that can be heard, meshes first."""
    hung = box.joints
    start, end = hung.piece_of[INPUT_SHAFT], hung.piece_of[OUTPUT_SHAFT]
    driven = {state: hung.reached(start, state) for state in box.states}
    turns = {
        piece.name: frozenset(s for s in box.states if piece.name in driven[s])
        for piece in box.pieces
    }
    under_load = frozenset(gear.name for gear in box.gears if gear.load)
    found = []
    for mesh in hung.meshes:
        turning = turns[hung.piece_of[mesh.wheels[0]]]
        there = frozenset(state for state in turning if mesh.is_in_mesh(state))
        found.append(Part(MESH, " and ".join(mesh.wheels), there, frozenset(box.loaded(mesh))))
    frees = {free.piece for free in box.free}
    for piece in box.pieces:
        if piece.name in frees:
            continue
        loaded = under_load
        if piece.name not in (start, end):
            own = {pair_of(wheel) for wheel in piece.wheels}
            meshes = [m for m in hung.meshes if own & {pair_of(w) for w in m.wheels}]
            touching = [m for m in meshes if set(m.wheels) & set(piece.wheels)]
            loaded = frozenset(gear for mesh in touching for gear in box.loaded(mesh))
        found.append(Part(BEARING, piece.name, turns[piece.name], loaded))
    if box.table.layout in _COAXIAL:
        inner, outer = (end, start) if box.table.layout == "layshaft" else (start, end)
        apart = frozenset(s for s in box.states if hung.locked(s) != (start, end))
        found.append(Part(BEARING, f"{inner} in {outer}", apart, under_load & apart))
    for free in box.free:
        slipping = frozenset(
            s
            for s in box.states
            if s != free.gear and free.slips[s] != 0 and turns[free.piece] | turns[free.on] >= {s}
        )
        found.append(Part(BUSH, f"{free.piece} on {free.on}", slipping, frozenset()))
    return tuple(found)
