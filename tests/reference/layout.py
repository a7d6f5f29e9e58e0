"""Knows what a family of the catalog is made of: wheels, pieces, types, gears, paths, meshes, sets.

Leaves every probability to the enumerating modules and the check of a catalog to nobody: it
trusts what it is given.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

import numpy as np

from .laws import FIRST, PLACES, Doc, Rho

#: The order of the wheels in a written pair, by how many there are.
PARTS = {2: ("driver", "driven"), 3: ("driver", "idler", "driven")}


@dataclass(slots=True)
class PieceType:
    """A piece as at least one set has it: teeth along the axis, None for a gap.

    `described`: its "marks", and its features by (wheel or piece, feature), as far as known.
    """

    teeth: tuple[int | None, ...]
    sets: list[str]
    weight: float
    described: dict[object, object] = field(default_factory=dict)


@dataclass(slots=True)
class CountedSet:
    """A set with counted wheels: teeth by wheel, and its type of every piece by number."""

    id: str
    commonness: float
    teeth: dict[str, int | None]
    types: dict[str, int]


@dataclass(slots=True)
class PrintedSet:
    """A set known by printed ratios only: the two ends by gear, in the order written."""

    id: str
    commonness: float
    ends: dict[str, tuple[Fraction, Fraction]]


@dataclass(slots=True)
class Family:
    """One family with all that follows from its document."""

    id: str
    layout: str
    direct: str | None
    same: dict[str, str]
    spelled: dict[str, list[str]]
    pairs: dict[str, tuple[str, ...]]
    gears: dict[str, list[str]]
    pieces: dict[str, list[str]]
    meshes: dict[tuple[str, str], set[int]]
    counted: list[CountedSet]
    printed: list[PrintedSet]
    types: dict[str, list[PieceType]]

    def wheel(self, name: str) -> str:
        """Return the one name of a wheel that may have two."""
        while name in self.same:
            name = self.same[name]
        return name

    def wheel_names(self) -> dict[str, str]:
        """Return every name of every wheel of the counted sets, with its one name."""
        names = (f"{pair}.{part}" for pair, parts in self.pairs.items() for part in parts)
        return {name: self.wheel(name) for name in names}

    def path(self, gear: str) -> list[str]:
        """Return the pairs that a gear runs through, whether or not the family has them."""
        return _path(self.layout, self.direct, self.spelled, gear)


def _path(
    layout: str, direct: str | None, spelled: Mapping[str, list[str]], gear: str
) -> list[str]:
    if gear in spelled:
        return list(spelled[gear])
    if gear == direct:
        return []
    return {"layshaft": ["input", gear], "sleeve": [gear, "output"]}.get(layout, [gear])


def read_pair(text: str) -> list[int | None]:
    """Return the teeth of a catalogued pair, None for a gap."""
    return [None if part.strip() == "_" else int(part) for part in text.split("/")]


def _is_counted(entry: Mapping[str, Any]) -> bool:
    return any(t is not None for text in entry.get("pairs", {}).values() for t in read_pair(text))


def ends_of(text: str) -> tuple[Fraction, Fraction]:
    """Return the two ends that a printed ratio's decimals leave open, both in."""
    half = Fraction(1, 2 * 10 ** len(text.partition(".")[2]))
    return Fraction(text) - half, Fraction(text) + half


def _gears(
    layout: str, pairs: Iterable[str], direct: str | None, spelled: Mapping[str, list[str]]
) -> dict[str, list[str]]:
    # reading: a pair that stands in another gear's spelled-out path and has no number for a name
    # is no gear, unless it has a spelled-out path of its own.
    inside = {pair for gear, path in spelled.items() for pair in path if pair != gear}
    names = [
        pair
        for pair in pairs
        if pair not in ("input", "output")
        and (pair not in inside or pair in spelled or pair.isdigit())
    ]
    names += [gear for gear in spelled if gear not in names]
    if direct is not None and direct not in names:
        names.append(direct)
    return {gear: _path(layout, direct, spelled, gear) for gear in names}


def _default_pieces(layout: str, pairs: Mapping[str, tuple[str, ...]]) -> dict[str, list[str]]:
    pieces: dict[str, list[str]] = {}
    if layout == "layshaft":
        forward = sorted((p for p in pairs if p.isdigit()), key=int, reverse=True)
        others = [p for p in pairs if not p.isdigit() and p not in ("input", "R")]
        last = [p for p in ("R",) if p in pairs]
        pieces["input-shaft"] = ["input.driver"] if "input" in pairs else []
        lay = ["input.driven"] if "input" in pairs else []
        pieces["laygear"] = lay + [f"{p}.driver" for p in forward + others + last]
        for pair in pairs:
            if pair != "input":
                pieces[f"{pair}-gear"] = [f"{pair}.driven"]
    elif layout == "axle":
        for pair in pairs:
            pieces[f"{pair}-pinion"] = [f"{pair}.driver"]
            pieces[f"{pair}-crown"] = [f"{pair}.driven"]
    elif layout == "two-shaft":
        for pair in pairs:
            pieces[f"{pair}-driver"] = [f"{pair}.driver"]
            pieces[f"{pair}-driven"] = [f"{pair}.driven"]
    if layout != "sleeve":
        for pair, parts in pairs.items():
            if len(parts) == 3:
                pieces[f"{pair}-idler"] = [f"{pair}.idler"]
    return pieces


def _pieces(family: Family, given: Mapping[str, Sequence[str]]) -> dict[str, list[str]]:
    taken: set[str] = set()

    def listed_once(names: Iterable[str]) -> list[str]:
        kept = []
        for wheel in map(family.wheel, names):
            if wheel not in taken:
                taken.add(wheel)
                kept.append(wheel)
        return kept

    own = {name: listed_once(wheels) for name, wheels in given.items()}
    for name, wheels in _default_pieces(family.layout, family.pairs).items():
        if name not in own:
            left = listed_once(wheels)
            if left:
                own[name] = left
    return own


def _features(family: Family, entry: Mapping[str, Any], piece: str) -> dict[object, object]:
    """Return what a set itself gives of a piece: its marks and the features of it and its wheels.

    reading: the marks of a piece are one thing, compared without regard to their order.
    """
    given: dict[object, object] = {}
    if entry.get("marks", {}).get(piece):
        given["marks"] = sorted(entry["marks"][piece])
    for place, values in entry.get("features", {}).items():
        if place == piece or ("." in place and family.wheel(place) in family.pieces[piece]):
            for key, value in values.items():
                given[place if place == piece else family.wheel(place), key] = value
    return given


#: What a set does not say of a piece, and the sets with the same teeth do not agree on.
UNKNOWN_VALUE = ("unknown",)


def _sort_types(family: Family, entries: Sequence[Mapping[str, Any]]) -> None:
    for piece, wheels in family.pieces.items():
        teeth = [tuple(one.teeth[wheel] for wheel in wheels) for one in family.counted]
        given = [_features(family, entry, piece) for entry in entries]
        types: list[PieceType] = []
        described: list[dict[object, object]] = []
        for i, one in enumerate(family.counted):
            # reading: a gap equals a gap and no number; what is unknown likewise.
            alike = [j for j in range(len(entries)) if teeth[j] == teeth[i]]
            # reading: only what some set with the same teeth gives can be filled in or unknown.
            filled = dict(given[i])
            for key in [key for j in alike for key in given[j] if key not in given[i]]:
                values = [given[j][key] for j in alike if key in given[j]]
                agreed = all(value == values[0] for value in values)
                filled[key] = values[0] if agreed else UNKNOWN_VALUE
            found = None
            for number, kind in enumerate(types):
                if kind.teeth == teeth[i] and described[number] == filled:
                    found = number
            if found is None:
                found = len(types)
                types.append(PieceType(teeth[i], [], 0.0, filled))
                described.append(filled)
            types[found].sets.append(one.id)
            types[found].weight += one.commonness
            one.types[piece] = found
        family.types[piece] = types


def build_family(doc: Doc) -> Family:
    """Return the family that a document describes."""
    head = doc["family"]
    entries = [entry for entry in doc.get("set", []) if _is_counted(entry)]
    printed = [entry for entry in doc.get("set", []) if not _is_counted(entry)]
    pairs = (
        {pair: PARTS[len(read_pair(text))] for pair, text in entries[0]["pairs"].items()}
        if entries
        else {}
    )
    direct, spelled = head.get("direct"), dict(head.get("paths", {}))
    family = Family(
        head["id"], head["layout"], direct, dict(head.get("same", {})), spelled, pairs,
        _gears(head["layout"], pairs, direct, spelled) if entries else {},
        {}, {}, [], [], {},
    )  # fmt: skip
    if entries:
        family.pieces = _pieces(family, head.get("pieces", {}))
    for entry in entries:
        teeth: dict[str, int | None] = {}
        for pair, text in entry["pairs"].items():
            for part, number in zip(pairs[pair], read_pair(text), strict=True):
                wheel = family.wheel(f"{pair}.{part}")
                teeth[wheel] = number if number is not None else teeth.get(wheel)
        family.counted.append(CountedSet(entry["id"], float(entry.get("commonness", 1)), teeth, {}))
    for entry in printed:
        ends = {gear: ends_of(text) for gear, text in entry["ratios"].items()}
        family.printed.append(PrintedSet(entry["id"], float(entry.get("commonness", 1)), ends))
    _sort_types(family, entries)
    if family.layout != "axle":
        for pair, parts in pairs.items():
            for one, other in itertools.pairwise(parts):
                mesh = (family.wheel(f"{pair}.{one}"), family.wheel(f"{pair}.{other}"))
                sums = family.meshes.setdefault(mesh, set())
                for each in family.counted:
                    a, b = each.teeth[mesh[0]], each.teeth[mesh[1]]
                    if a is not None and b is not None:
                        sums.add(a + b)
        family.meshes = {mesh: sums for mesh, sums in family.meshes.items() if sums}
    return family


def catalogued(families: Iterable[Family]) -> Iterator[tuple[str, str, int, float]]:
    """Yield (name, wheel, teeth, commonness) of every counted wheel under each of its names."""
    for family in families:
        for name, wheel in family.wheel_names().items():
            for one in family.counted:
                teeth = one.teeth[wheel]
                if teeth is not None:
                    yield name, f"{family.id} {wheel}", teeth, one.commonness


def law_with_listed(family: Family, wheel: str, rho: Rho, share: float) -> np.ndarray:
    """Return the law over 4…200 of a wheel that with `share` is as some counted set has it."""
    listed = np.zeros(PLACES)
    for one in family.counted:
        teeth = one.teeth.get(wheel)
        if teeth is not None:
            listed[teeth - FIRST] += one.commonness
    law = rho.of(wheel)
    return share * listed / listed.sum() + (1 - share) * law if listed.any() else law


def build_rho(families: Sequence[Family]) -> Rho:
    """Return the distributions of unknown teeth that a whole catalog gives."""
    every = list(catalogued(families))
    # reading: of the wheels of the catalog together, a wheel with two names is one wheel.
    first_names: dict[str, str] = {}
    for name, wheel, _, _ in every:
        first_names.setdefault(wheel, name)
    return Rho(
        ((name, teeth, weight) for name, _, teeth, weight in every),
        ((n, teeth, weight) for n, w, teeth, weight in every if first_names[w] == n),
    )
