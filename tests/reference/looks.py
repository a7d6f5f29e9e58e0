"""Knows the laws of marks and features, and how what was looked at is written.

Leaves what a type has to `layout`, and every sum over what may be true to the enumerating modules.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from .laws import HANDS, SLIP, UNSURE_Q, log_sum
from .layout import Family, PieceType

COUNTED = {"splines", "dog_teeth", "bolts"}
SIZED = {"bore_mm": 0.05, "od_mm": 0.05, "width_mm": 0.05, "length_mm": 0.05, "helix_deg": 0.5}
KINDS = {"hand": ["left", "right", "straight", "double"], "spline_form": ["straight", "involute"]}
CLASH = 0.001

#: A value that a type has.
Value = str | int | float


@dataclass(frozen=True, slots=True)
class Mark:
    """A reading of a mark on a piece (empty: the loose piece)."""

    piece: str
    reading: str


@dataclass(frozen=True, slots=True)
class Feature:
    """A feature looked at, of a wheel, a piece, or (loose) of a place or of the piece itself."""

    owner: str
    key: str
    value: Value
    unsure: bool
    times: int


@dataclass(frozen=True, slots=True)
class Looks:
    """All that was looked at on one box or piece."""

    marks: tuple[Mark, ...] = ()
    features: tuple[Feature, ...] = ()


def letters(text: str, also: str = "") -> str:
    """Return the letters and digits of a mark, small, in compatibility form."""
    small = unicodedata.normalize("NFKC", text).casefold()
    return "".join(c for c in small if c.isalnum() or c in also)


def read_looks(marks: Iterable[str], features: Iterable[str], *, loose: bool = False) -> Looks:
    """Return what was looked at, from how it is written."""
    read_marks = []
    for text in marks:
        piece, _, reading = ("", "", text) if loose else text.partition(":")
        read_marks.append(Mark(piece, letters(reading, "?*")))
    read_features = []
    for text in features:
        left, _, typed = text.partition("=")
        owner, _, key = left.rpartition(".")
        if key in KINDS:
            read_features.append(Feature(owner, key, typed, False, 1))
            continue
        match = re.fullmatch(r"([0-9.]+)(u?)(?:x([0-9]+))?", typed)
        assert match is not None, typed
        value = int(match[1]) if key in COUNTED else float(match[1])
        read_features.append(Feature(owner, key, value, bool(match[2]), int(match[3] or 1)))
    return Looks(tuple(read_marks), tuple(read_features))


# -- marks -----------------------------------------------------------------------------------


@cache
def edits(reading: str, mark: str) -> int:
    """Return the fewest characters wrong, left out or added, every way tried."""
    if not reading:
        return len(mark)
    if reading[0] == "*":
        return min(edits(reading[1:], mark[i:]) for i in range(len(mark) + 1))
    best = 1 + edits(reading[1:], mark)
    if mark:
        same = reading[0] in ("?", mark[0])
        best = min(best, (not same) + edits(reading[1:], mark[1:]), 1 + edits(reading, mark[1:]))
    return best


def legible(reading: str) -> int:
    """Return how many characters were read."""
    return len(reading.replace("?", "").replace("*", ""))


def unknown_mark_log(reading: str) -> float:
    """Return the logarithm of a reading where no mark is known."""
    return -legible(reading) * math.log(36)


def mark_log(reading: str, marks: Sequence[str] | None) -> float:
    """Return the logarithm of a reading on a piece with these marks, None where not known."""
    known = [letters(mark) for mark in marks or [] if letters(mark)]
    if not known:
        return unknown_mark_log(reading)
    n = legible(reading)
    e = min([n, *(edits(reading, mark) for mark in known)])
    return math.log(0.95 * 0.92 ** (n - e) * (0.08 / 36) ** e + 0.05 * 36.0**-n)


# -- features --------------------------------------------------------------------------------


def usable(key: str, value: object) -> Value | None:
    """Return a catalogued value if it is one that can be looked at, else None."""
    if key in KINDS:
        return value if value in KINDS[key] else None  # type: ignore[return-value]
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    if key in COUNTED:
        return int(value) if value == int(value) and 1 <= value <= 200 else None
    if key in SIZED:
        return float(value) if 0 < value <= (90 if key == "helix_deg" else 10_000) else None
    return None


def _normal(x: np.ndarray | float, sd: float) -> np.ndarray:
    return np.exp(-np.square(x) / (2 * sd * sd)) / (sd * math.sqrt(2 * math.pi))


#: Simpson's rule over the wear, 0 to eight times its spread.
_WORN = np.linspace(0.0, 1.6, 8001)
_WEIGHTS = np.where(np.arange(8001) % 2 == 1, 4.0, 2.0)
_WEIGHTS[0] = _WEIGHTS[-1] = 1.0
_WEIGHTS *= 1.6 / 8000 / 3


def worn(off: float, sd: float) -> float:
    """Return the density of a reading `off` the value after wear, by integration."""
    return float((_WEIGHTS * 2 * _normal(_WORN, 0.2) * _normal(off + _WORN, sd)).sum())


def _once(seen: Feature, value: Value, hand: str) -> float:
    if seen.key in KINDS:
        others = len(KINDS[seen.key]) - 1
        return 0.98 if seen.value == value else 0.02 / others
    assert not isinstance(seen.value, str)
    assert not isinstance(value, str)
    if seen.key in COUNTED:
        q = UNSURE_Q if seen.unsure else HANDS[hand][1]
        d = abs(seen.value - value)
        return (1 - SLIP) * (1 - q) / (1 + q) * q**d + SLIP / 197
    sd = max(SIZED[seen.key], 0.002 * value) * (4 if seen.unsure else 1)
    off = seen.value - value
    sized = float(_normal(off, sd))
    if seen.key == "od_mm":
        sized = 0.8 * sized + 0.2 * worn(off, sd)
    flat = 1 / (1.5 * value)
    if not value / 2 <= seen.value <= 2 * value:
        flat *= 0.001
    return 0.995 * sized + 0.005 * flat


def known_log(group: Sequence[Feature], value: Value, hand: str) -> float:
    """Return the logarithm of all of a group of looks at one thing that has this value."""
    return math.fsum(seen.times * math.log(_once(seen, value, hand)) for seen in group)


def unknown_log(group: Sequence[Feature], pool: Sequence[tuple[Value, float]], hand: str) -> float:
    """Return the logarithm of the mean over what the catalog has; 0 where it has none."""
    if not pool:
        return 0.0
    logs = [math.log(weight) + known_log(group, value, hand) for value, weight in pool]
    return log_sum(logs) - math.log(math.fsum(weight for _, weight in pool))


# -- what types have -------------------------------------------------------------------------


def marks_of(kind: PieceType) -> list[str] | None:
    """Return the marks of a type, None where they are not known."""
    found = kind.described.get("marks")
    return found if isinstance(found, list) else None


def value_of(family: Family, piece: str, kind: PieceType, owner: str, key: str) -> Value | None:
    """Return what a type has; a piece of one wheel and that wheel are the same thing."""
    wheels = family.pieces[piece]
    owners = [owner]
    if len(wheels) == 1 and owner in (piece, wheels[0]):
        owners = [wheels[0], piece]
    for one in owners:
        value = usable(key, kind.described.get((one, key)))
        if value is not None:
            return value
    return None


def own_owner(family: Family, piece: str) -> str:
    """Return what the features of a piece itself go by."""
    wheels = family.pieces[piece]
    return wheels[0] if len(wheels) == 1 else piece


def _everything(families: Iterable[Family]) -> Iterator[tuple[Family, str, PieceType]]:
    for family in families:
        for piece, kinds in family.types.items():
            for kind in kinds:
                yield family, piece, kind


def pool_named(families: Iterable[Family], name: str, key: str) -> list[tuple[Value, float]]:
    """Return (value, weight) of every type that has a wheel or piece of this name."""
    pool = []
    for family, piece, kind in _everything(families):
        owner = located(family, name)
        if owner is not None and owner[0] == piece:
            value = value_of(family, piece, kind, owner[1], key)
            if value is not None:
                pool.append((value, kind.weight))
    return pool


def pool_loose(families: Iterable[Family], key: str, wheel: bool) -> list[tuple[Value, float]]:
    """Return (value, weight) of every piece itself, or of every wheel, that has it."""
    pool = []
    for family, piece, kind in _everything(families):
        owners = family.pieces[piece] if wheel else [own_owner(family, piece)]
        for owner in owners:
            value = value_of(family, piece, kind, owner, key)
            if value is not None:
                pool.append((value, kind.weight))
    return pool


def located(family: Family, name: str) -> tuple[str, str] | None:
    """Return (piece, what its features go by) of a wheel or a piece by name, if there is one."""
    if name in family.pieces:
        return name, own_owner(family, name)
    if "." not in name or name not in family.wheel_names():
        return None
    wheel = family.wheel(name)
    piece = next(p for p, wheels in family.pieces.items() if wheel in wheels)
    return piece, wheel


def tied(features: Iterable[Feature]) -> Mapping[tuple[str, str], list[Feature]]:
    """Return looks at one and the same thing together."""
    found: dict[tuple[str, str], list[Feature]] = {}
    for feature in features:
        found.setdefault((feature.owner, feature.key), []).append(feature)
    return found


def nowhere_log(families: Sequence[Family], looks: Looks, hand: str) -> float:
    """Return the logarithm of all that was looked at where nothing is known of any of it."""
    total = math.fsum(unknown_mark_log(mark.reading) for mark in looks.marks)
    for (owner, key), group in tied(looks.features).items():
        total += unknown_log(group, pool_named(families, owner, key), hand)
    return total


def piece_look_logs(
    families: Sequence[Family], family: Family, looks: Looks, hand: str
) -> tuple[float, dict[str, list[float]]]:
    """Return what is of no piece of a family, and by piece a logarithm for each type, then None."""
    offset = 0.0
    by_piece: dict[str, list[float]] = {}

    def row(piece: str) -> list[float]:
        return by_piece.setdefault(piece, [0.0] * (len(family.types[piece]) + 1))

    for mark in looks.marks:
        if mark.piece not in family.pieces:
            offset += unknown_mark_log(mark.reading)
            continue
        logs = row(mark.piece)
        for number, kind in enumerate(family.types[mark.piece]):
            logs[number] += mark_log(mark.reading, marks_of(kind))
        logs[-1] += unknown_mark_log(mark.reading)
    for (owner, key), group in tied(looks.features).items():
        unknown = unknown_log(group, pool_named(families, owner, key), hand)
        there = located(family, owner)
        if there is None:
            offset += unknown
            continue
        piece, own = there
        logs = row(piece)
        for number, kind in enumerate(family.types[piece]):
            value = value_of(family, piece, kind, own, key)
            logs[number] += unknown if value is None else known_log(group, value, hand)
        logs[-1] += unknown
    return offset, by_piece


def cannot_run(family: Family, one: tuple[str, PieceType], other: tuple[str, PieceType]) -> bool:
    """Tell whether two wheels, each with its type, cannot run in mesh."""
    hands, angles = [], []
    for wheel, kind in (one, other):
        piece = next(p for p, wheels in family.pieces.items() if wheel in wheels)
        hand = value_of(family, piece, kind, wheel, "hand")
        angle = value_of(family, piece, kind, wheel, "helix_deg")
        hands.append(hand)
        angles.append(0.0 if angle is None and hand == "straight" else angle)
    runs = [["left", "right"], ["right", "left"], ["straight"] * 2, ["double"] * 2]
    if None not in hands and hands not in runs:
        return True
    a, b = angles
    return isinstance(a, float) and isinstance(b, float) and abs(a - b) > 1
