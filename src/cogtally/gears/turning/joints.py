"""Which wheels of a box turn as one piece, which run free, and what locks them in each gear.

How fast they turn is left to `motion`. No teeth are known here.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

from cogtally.gears.errors import UserError
from cogtally.gears.trains import FINAL, INPUT, OUTPUT, Train, pair_of, wheel_names

#: The two shafts by which a box is driven and drives; no wheel can be called so.
INPUT_SHAFT, OUTPUT_SHAFT = "<input shaft>", "<output shaft>"
SHAFTS = (INPUT_SHAFT, OUTPUT_SHAFT)
LAYGEAR, LAYSHAFT, CROWN = "laygear", "layshaft", "crown wheel"

#: What the two shafts are called in each layout.
_CALLED = {
    "layshaft": ("input shaft", "main shaft"),
    "sleeve": ("main shaft", "output sleeve"),
    "two-shaft": ("input shaft", "output shaft"),
    "axle": ("pinion", CROWN),
}


def named_pieces(
    train: Train,
    paths: Mapping[str, tuple[str, ...]],
    parts: Iterable[tuple[str, ...]],
    frees: Mapping[str, str],
) -> dict[str, tuple[str, ...]]:
    """Name every piece, none like another; the input shaft first, the output shaft last.

    `parts`: what is joined for good in each piece. `frees`: each wheel that a gear locks, to that
    gear.
    """
    order = [INPUT_SHAFT, *train.wheels, f"{FINAL}.driver", OUTPUT_SHAFT, f"{FINAL}.driven"]
    found: dict[str, tuple[str, ...]] = {}

    def rank(own: tuple[str, ...]) -> tuple[bool, int]:
        # Wheels on the output shaft must not put it before the others; an axle behind it comes
        # last.
        return OUTPUT_SHAFT in own or f"{FINAL}.driven" in own, min(map(order.index, own))

    for unsorted in sorted(parts, key=rank):
        own = tuple(sorted(unsorted, key=order.index))
        name = _name(train, paths, own, frees)
        wheels = " + ".join(part for part in own if part not in SHAFTS)
        found[name if name not in found else wheels] = own
    return found


def _name(
    train: Train,
    paths: Mapping[str, tuple[str, ...]],
    parts: tuple[str, ...],
    frees: Mapping[str, str],
) -> str:
    for shaft, name in zip(SHAFTS, _CALLED[train.layout], strict=True):
        if shaft in parts:
            return name
    if f"{INPUT}.driven" in parts:
        return LAYGEAR
    if train.layout == "sleeve" and f"{OUTPUT}.driver" in parts:
        return LAYSHAFT
    if f"{FINAL}.driven" in parts:
        return CROWN
    named = next((frees[part] for part in parts if part in frees), None)
    if named is not None:
        return f"{named}-gear"
    if len(parts) == 1 and parts[0].endswith(".idler"):
        return parts[0].replace(".", "-")
    # Two wheels made in one between the ends of a single path are that gear's idler.
    on = [g for g, path in paths.items() if any(pair_of(p) in path for p in parts)]
    return f"{on[0]}-idler" if len(on) == 1 else " + ".join(parts)


#: The position of the lever in which nothing is locked.
NEUTRAL = "neutral"
MEND = "name a gear that slides into mesh with --sliding, or look at the paths again"


@dataclass(frozen=True, slots=True)
class Mesh:
    """Two wheels in mesh, of one `pair`; `only_in`: the gears it is in mesh in, None for always.

    `at_right_angles`: a pinion and its crown wheel, where no way of turning can be told.
    """

    wheels: tuple[str, str]
    pair: str
    only_in: tuple[str, ...] | None = None
    at_right_angles: bool = False

    def is_in_mesh(self, state: str) -> bool:
        """Whether its wheels are in mesh in a gear or in neutral."""
        return self.only_in is None or state in self.only_in


@dataclass(frozen=True, slots=True)
class Lock:
    """What a gear locks: its `wheel` to whatever `to` turns with (a wheel or a shaft)."""

    wheel: str
    to: str


@dataclass(frozen=True)
class Joints:
    """How a box hangs together.

    `states`: neutral, where there is one, and the gears. `pieces`: names of the pieces to what is
    made or fixed together in each, shafts among it. `locks`: by gear; None in direct. `sliding`:
    gears whose locked wheel sits on its shaft for good and slides into mesh.
    """

    states: tuple[str, ...]
    pieces: Mapping[str, tuple[str, ...]]
    meshes: tuple[Mesh, ...]
    locks: Mapping[str, Lock | None]
    sliding: tuple[str, ...]

    @cached_property
    def piece_of(self) -> Mapping[str, str]:
        """Every wheel and shaft to the name of its piece."""
        return {part: name for name, parts in self.pieces.items() for part in parts}

    def locked(self, state: str) -> tuple[str, str] | None:
        """Return the two pieces that turn as one in a gear, or None in neutral."""
        if state not in self.locks:
            return None
        lock = self.locks[state] or Lock(INPUT_SHAFT, OUTPUT_SHAFT)
        return self.piece_of[lock.wheel], self.piece_of[lock.to]

    def in_mesh(self, state: str) -> tuple[Mesh, ...]:
        """Return what is in mesh in a gear or in neutral."""
        return tuple(mesh for mesh in self.meshes if mesh.is_in_mesh(state))

    def ways(self, start: str, state: str) -> dict[str, int]:
        """Return the pieces that cannot turn without the piece `start` in a gear or in neutral.

        Each to 1 where it turns as that does, -1 the other way, 0 where no way can be told.
        """
        links = [
            (self.piece_of[a], self.piece_of[b], 0 if mesh.at_right_angles else -1)
            for mesh in self.in_mesh(state)
            for a, b in [mesh.wheels]
        ]
        locked = self.locked(state)
        links += [(*locked, 1)] if locked else []
        found, waiting = {start: 1}, [start]
        while waiting:
            here = waiting.pop()
            for one, other, way in links:
                beside = {one: other, other: one}.get(here, here)
                if beside not in found:
                    found[beside] = found[here] * way
                    waiting.append(beside)
        return found


def joints(train: Train, *, axle: bool = False, sliding: Collection[str] = ()) -> Joints:
    """Return how a box of constant mesh hangs together.

    Wheels one behind the other on a path are one piece. A gear locks the last driven wheel of its
    path to the output shaft, or, where several gears share what follows (`output` of a sleeve),
    the driven wheel before that. `axle`: a pair `final` hangs behind the output shaft. `sliding`:
    gears whose driven wheel is in mesh in its own gear only; one wheel at the end of two pairs is
    known to be such. Raises UserError for a gear that is not there and for paths that no such box
    can have.
    """
    gears = train.gears
    if NEUTRAL in (*gears, *train.pairs):
        raise UserError("neutral is no gear and no pair", NEUTRAL, "give it another name")
    for gear in sliding:
        place = f"--sliding {gear}"
        if gear not in gears:
            raise UserError("no such gear is written", place, f"gears are {', '.join(gears)}")
        if train.layout == "axle" or not train.path(gear):
            raise UserError(f"{gear} has no wheel that could slide", place, "leave it out")
    paths = {gear: train.path(gear) or () for gear in gears}
    group = _Group()
    group.join(INPUT_SHAFT, INPUT_SHAFT)
    group.join(OUTPUT_SHAFT, OUTPUT_SHAFT)
    locks = {gear: _fix(train, paths, gear, group) for gear in gears}
    held = {gear: lock for gear, lock in locks.items() if lock is not None}
    slid = _slid(train, paths, held, sliding)
    for gear in slid:
        group.join(held[gear].wheel, held[gear].to)
    meshes = _meshes(train, paths, held, slid)
    if axle:
        driver, driven = wheel_names(FINAL, 2)
        group.join(OUTPUT_SHAFT, driver)
        group.join(driven, driven)
        meshes.append(Mesh((driver, driven), FINAL, at_right_angles=True))
    for mesh in meshes:
        for wheel in mesh.wheels:
            group.join(wheel, wheel)
    if train.layout == "axle":
        if len(gears) > 1 or len(train.pairs) > 1 or set(train.pairs.values()) != {2}:
            raise UserError("an axle is one pair", "turning", "write final=9/41 alone")
        group.join(train.path_wheels(paths[gears[0]])[0][1], OUTPUT_SHAFT)
    states = gears if train.layout == "axle" else (NEUTRAL, *gears)
    frees = {lock.wheel: gear for gear, lock in held.items()}
    pieces = named_pieces(train, paths, group.parts(), frees)
    found = Joints(states, pieces, tuple(meshes), locks, slid)
    one, other = found.piece_of[INPUT_SHAFT], found.piece_of[OUTPUT_SHAFT]
    if NEUTRAL in states and (one == other or other in found.ways(one, NEUTRAL)):
        # The input would turn the output though no gear is in.
        raise UserError("these paths tie the input to the output in neutral", "turning", MEND)
    return found


class _Group:
    """Parts that turn as one, found by joining two at a time; in the order of first mention."""

    def __init__(self) -> None:
        self._of: dict[str, list[str]] = {}

    def join(self, one: str, other: str) -> None:
        left = self._of.setdefault(one, [one])
        right = self._of.setdefault(other, [other])
        if left is not right:
            left += right
            for part in right:
                self._of[part] = left

    def parts(self) -> list[tuple[str, ...]]:
        return [tuple(p) for p in dict.fromkeys(tuple(parts) for parts in self._of.values())]


def _fix(
    train: Train, paths: Mapping[str, tuple[str, ...]], gear: str, group: _Group
) -> Lock | None:
    """Join for good what a gear's path holds together, and return what the gear locks."""
    path = paths[gear]
    if not path:
        return None
    ends = train.path_wheels(path)
    group.join(INPUT_SHAFT, ends[0][0])
    lock = None
    for place, ((_, driven), (driver, _)) in enumerate(itertools.pairwise(ends)):
        group.join(driven, driven)
        group.join(driver, driver)
        if not _is_shared(train, paths, path[place + 1]):
            group.join(driven, driver)
        elif lock is None:
            lock = Lock(driven, driver)
        else:
            raise UserError(f"gear {gear} would need two locks at once", "turning", MEND)
    if lock is None:
        return Lock(ends[-1][1], OUTPUT_SHAFT)
    group.join(ends[-1][1], OUTPUT_SHAFT)
    return lock


def _is_shared(train: Train, paths: Mapping[str, tuple[str, ...]], pair: str) -> bool:
    """Tell whether different pairs lead to this one, so that none of them can be fixed to it."""
    before = {
        first
        for path in paths.values()
        for first, second in itertools.pairwise(path)
        if second == pair
    }
    return len(before) > 1 or (train.layout == "sleeve" and pair == OUTPUT)


def _slid(
    train: Train,
    paths: Mapping[str, tuple[str, ...]],
    locks: Mapping[str, Lock],
    sliding: Collection[str],
) -> tuple[str, ...]:
    """Return the gears that slide: those named, and those whose driven wheels are one wheel.

    One wheel in mesh with two others that turn opposite ways must leave the one to take the other.
    """
    leads: dict[str, set[str]] = {}
    for gear, lock in locks.items():
        into = (p for p in paths[gear] if train.path_wheels([p])[0][1] == lock.wheel)
        leads.setdefault(lock.wheel, set()).update(into)
    wheels = {wheel for wheel, pairs in leads.items() if len(pairs) > 1}
    wheels |= {lock.wheel for gear, lock in locks.items() if gear in sliding}
    return tuple(gear for gear, lock in locks.items() if lock.wheel in wheels)


def _meshes(
    train: Train,
    paths: Mapping[str, tuple[str, ...]],
    locks: Mapping[str, Lock],
    sliding: Collection[str],
) -> list[Mesh]:
    slid: dict[str, list[str]] = {}
    for gear in sliding:
        slid.setdefault(locks[gear].wheel, []).append(gear)
    found = []
    for pair in (p for p in train.pairs if any(p in path for path in paths.values())):
        wheels = [train.canonical(w) for w in wheel_names(pair, train.pairs[pair])]
        right = train.layout == "axle" or pair == FINAL
        for left, other in itertools.pairwise(wheels):
            mine = [g for g in slid.get(other, []) if pair in paths[g]]
            others = [g for g in paths if pair in paths[g] and g not in mine]
            if mine and others:
                why = f"gear {others[0]} runs through its pair too"
                sentence = f"gear {mine[0]} cannot slide, for {why}"
                raise UserError(sentence, "turning", "look at the paths again")
            only_in = tuple(mine) if other == wheels[-1] and mine else None
            found.append(Mesh((left, other), pair, only_in, right))
    return found
