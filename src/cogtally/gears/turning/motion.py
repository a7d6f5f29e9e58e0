"""What turns in a box of constant mesh, how fast and which way, and what a noise in a gear says.

What is joined to what is left to `joints`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from cogtally.gears.errors import UserError
from cogtally.gears.ratios import RatioTable
from cogtally.gears.trains import FINAL, LAYSHAFT, REVERSE, SHARED, pair_of
from cogtally.gears.turning.joints import (
    INPUT_SHAFT,
    MEND,
    NEUTRAL,
    OUTPUT_SHAFT,
    SHAFTS,
    Joints,
    Mesh,
    joints,
)

DEGREES_A_TURN = 360


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece and its `wheels`; `speeds`: its turns for one of the input, by state.

    Negative: it turns the other way than the input. None where a count is missing, or where
    nothing turns or holds it. `at_right_angles`: a crown wheel, whose way is not told (its
    speeds have no sign).
    """

    name: str
    wheels: tuple[str, ...]
    speeds: Mapping[str, Fraction | None]
    at_right_angles: bool = False

    @property
    def is_steady(self) -> bool:
        """Whether it turns alike in neutral and in every gear."""
        return len(set(self.speeds.values())) == 1


@dataclass(frozen=True, slots=True)
class InGear:
    """What one gear does: `turns_out` of the output for one turn of the input, with its sign.

    None where one of the `missing` wheels is not counted. `load`: the pairs that carry load, in
    order; none in direct. `at_wheels`: turns of the crown wheel of an axle behind, no sign.
    """

    name: str
    load: tuple[str, ...]
    missing: tuple[str, ...]
    turns_out: Fraction | None
    at_wheels: Fraction | None = None

    @property
    def degrees(self) -> Fraction | None:
        """Turn of the output for one turn of the input in degrees, without its sign."""
        return None if self.turns_out is None else abs(self.turns_out) * DEGREES_A_TURN

    @property
    def readable(self) -> tuple[int, Fraction] | None:
        """Fewest whole turns in that give one turn out or more, and the turns out that they give.

        A mark on the output is read best about where it comes round.
        """
        if not self.turns_out:
            return None
        whole = ceil(1 / abs(self.turns_out))
        return whole, whole * abs(self.turns_out)


@dataclass(frozen=True, slots=True)
class FreeGear:
    """A piece that runs free `on` another until `gear` locks it; how fast it `slips` there.

    Slip: its speed less that of what it runs on, in turns for one of the input, by state; 0 where
    it is locked. None where a count is missing.
    """

    piece: str
    on: str
    gear: str
    slips: Mapping[str, Fraction | None]


@dataclass(frozen=True, slots=True)
class Turning:
    """All that can be said of what turns. `joints`: how the box hangs together.

    `states`: neutral (an axle has none), then the gears. In neutral the output stands.
    """

    table: RatioTable
    joints: Joints
    pieces: tuple[Piece, ...]
    gears: tuple[InGear, ...]
    free: tuple[FreeGear, ...]

    @property
    def states(self) -> tuple[str, ...]:
        """Neutral, where there is one, and the gears."""
        return self.joints.states

    @property
    def output(self) -> Piece:
        """The piece that the box drives with."""
        name = self.joints.piece_of[OUTPUT_SHAFT]
        return next(piece for piece in self.pieces if piece.name == name)

    def loaded(self, mesh: Mesh) -> tuple[str, ...]:
        """Return the gears in which a mesh carries load."""
        behind = self.table.axle is not None and mesh.pair == self.table.axle.name
        return tuple(gear.name for gear in self.gears if behind or mesh.pair in gear.load)

    @property
    def turned_round(self) -> tuple[str, ...]:
        """Reverse gears that turn the output the same way as a forward gear does."""
        ways = {gear.name: gear.turns_out > 0 for gear in self.gears if gear.turns_out}
        forward = {way for name, way in ways.items() if name != REVERSE}
        if self.output.at_right_angles or len(forward) != 1:
            return ()
        return (REVERSE,) if ways.get(REVERSE) in forward else ()


def turning(table: RatioTable, sliding: Collection[str] = ()) -> Turning:
    """Return what turns in the box of a table of ratios; `sliding` as in `joints`.

    Raises UserError where no gear is written, for a sliding gear that is not there, and for paths
    that no box of constant mesh can have.
    """
    behind, train = table.axle, table.train
    if not train.gears:
        mend = "write the gears' pairs too, for example 1=14/31"
        raise UserError("no gear is written, only pairs that gears run through", "turning", mend)
    found = joints(train, axle=behind is not None, sliding=sliding)
    teeth = {wheel.name: wheel.teeth for pair in table.pairs for wheel in pair.wheels}
    speeds = {state: speeds_in(found, state, teeth) for state in found.states}
    crossed = {w for m in found.meshes if m.at_right_angles for w in m.wheels[1:]}
    pieces = tuple(
        Piece(
            name,
            tuple(part for part in parts if part not in SHAFTS),
            {state: speeds[state].get(name) for state in found.states},
            bool(crossed.intersection(parts)),
        )
        for name, parts in found.pieces.items()
    )
    output = found.piece_of[OUTPUT_SHAFT]
    crown = found.piece_of.get(f"{FINAL}.driven") if behind else None
    gears = []
    for gear in table.gears:
        own = speeds[gear.name]
        crown_speed = own.get(crown) if crown else None
        at_wheels = None if crown_speed is None else abs(crown_speed)
        gears.append(InGear(gear.name, gear.path, gear.missing, own.get(output), at_wheels))
    return Turning(table, found, pieces, tuple(gears), tuple(_free(found, speeds)))


def speeds_in(
    box: Joints, state: str, teeth: Mapping[str, int | None]
) -> dict[str, Fraction | None]:
    """Return the turns of every piece for one turn of the input, in a gear or in neutral.

    At every mesh teeth times speed are equal and opposite; in neutral the output stands. What
    cannot be told is left out. Raises UserError where a piece would have to turn at two speeds.
    """
    links: dict[str, list[tuple[str, Fraction]]] = {}

    def link(one: str, other: str, factor: Fraction) -> None:
        links.setdefault(one, []).append((other, factor))
        links.setdefault(other, []).append((one, 1 / factor))

    for first, last, factor in _factors(box.in_mesh(state), teeth):
        link(box.piece_of[first], box.piece_of[last], factor)
    locked = box.locked(state)
    if locked:
        link(*locked, Fraction(1))
    known = {box.piece_of[INPUT_SHAFT]: Fraction(1)}
    if state == NEUTRAL:
        known[box.piece_of[OUTPUT_SHAFT]] = Fraction(0)
    waiting = list(known)
    while waiting:
        here = waiting.pop()
        for other, factor in links.get(here, ()):
            speed = known[here] * factor
            if other not in known:
                known[other] = speed
                waiting.append(other)
            elif known[other] != speed:
                sentence = f"in {state} the {other} would have to turn at two speeds"
                raise UserError(sentence, "turning", MEND)
    return dict(known)


def _factors(
    meshes: Iterable[Mesh], teeth: Mapping[str, int | None]
) -> list[tuple[str, str, Fraction]]:
    """Return each two wheels of which one gives the other's speed, and the factor it does so by.

    The ends of a pair with an idler are among them, since an idler's teeth do not matter.
    """
    found = []
    last: Mesh | None = None
    for mesh in meshes:
        sign = 1 if mesh.at_right_angles else -1
        driver, driven = (teeth.get(wheel) for wheel in mesh.wheels)
        if driver and driven:
            found.append((*mesh.wheels, sign * Fraction(driver, driven)))
        if last and last.pair == mesh.pair and last.wheels[1] == mesh.wheels[0]:
            first = teeth.get(last.wheels[0])
            if first and driven and pair_of(last.wheels[0]) == pair_of(mesh.wheels[1]):
                found.append((last.wheels[0], mesh.wheels[1], Fraction(first, driven)))
        last = mesh
    return found


def _free(box: Joints, speeds: Mapping[str, Mapping[str, Fraction | None]]) -> Iterable[FreeGear]:
    for gear, lock in box.locks.items():
        if lock is None or gear in box.sliding:
            continue
        piece, on = box.piece_of[lock.wheel], box.piece_of[lock.to]
        if piece == on:
            continue
        slips: dict[str, Fraction | None] = {}
        for state in box.states:
            own, under = speeds[state].get(piece), speeds[state].get(on)
            slips[state] = None if own is None or under is None else own - under
            if state == gear:
                slips[state] = Fraction(0)
        yield FreeGear(piece, on, gear, slips)


MESH, BEARING, BUSH = "mesh", "bearing", "bush"


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
            mend = f"use {', '.join(box.states)}"
            raise UserError("no such gear is written", f"--noise {state}", mend)
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
    driven = {state: hung.ways(start, state) for state in box.states}
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
    # In the layouts with a shared pair the output's shaft runs in or round the input's.
    if box.table.layout in SHARED:
        inner, outer = (end, start) if box.table.layout == LAYSHAFT else (start, end)
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
