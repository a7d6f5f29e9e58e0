"""What a stack wants to know of one family, read straight from the teeth of its sets.

Which arrangements stack is left to `stacked_shape`, the arrays to `stacked_block`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from operator import itemgetter

from cogtally.catalog.model import Family, RatioSet
from cogtally.evidence.stacked_shape import (
    GREATEST_SHARE,
    LEAST_SHARE,
    MOST_APART,
    MOST_BASES,
    MOST_COMMON,
    StackShape,
    shape_of_family,
)
from cogtally.evidence.stacked_terms import InCommon, Kinds, in_common
from cogtally.gears.trains import wheel_names

#: The base sets of one family, as indexes of its counted sets.
Members = tuple[tuple[int, ...], ...]


@dataclass(frozen=True, slots=True)
class Laid:
    """A family that stacks. `weights`: commonness of each base set.

    `teeth[base]`: of the wheels in the order of the shape; `kinds`: for each piece in that order;
    `sums`: for each mesh of the shape, all tooth sums, rising.
    """

    family: Family
    shape: StackShape
    members: Members
    weights: tuple[float, ...]
    teeth: tuple[tuple[int, ...], ...]
    kinds: tuple[Kinds, ...]
    sums: tuple[tuple[int, ...], ...]
    common: InCommon


@dataclass(frozen=True, slots=True)
class _Plan:
    """How the families of one arrangement are read."""

    shape: StackShape
    pairs: Mapping[str, int]
    #: The teeth as written, pair by pair, to the order of the shape.
    ordered: Callable[[Sequence[int]], tuple[int, ...]]
    pieces: tuple[slice, ...]
    meshes: tuple[tuple[int, int], ...]
    #: The only piece of several wheels that is a hub, by its number; None where there are others.
    hub: int | None


class Layer:
    """Reads the families of a catalog, and keeps what many of them have alike."""

    def __init__(self) -> None:
        self._plans: dict[object, _Plan | None] = {}
        self._common: dict[tuple[int | None, tuple[Kinds, ...]], InCommon | None] = {}
        self._members: dict[Members, Members] = {}

    def laid(self, family: Family) -> Laid | None:
        """Return a family as its stack takes it; None where it does not stack."""
        known = family.counted_sets
        if not known or family.same:
            return None
        plan = self._plan(family)
        if plan is None:
            return None
        rows = [_row(plan, one) for one in known]
        read = [row for row in rows if row is not None]
        if len(read) < len(rows):
            return None
        keys: list[object] = [*read]
        if any(one.marks or one.features for one in known):
            if shape_of_family(family) is None:
                return None
            keys = [*zip(*family.type_index.values(), strict=True)]
        found: dict[object, list[int]] = {}
        for index, key in enumerate(keys):
            found.setdefault(key, []).append(index)
        if len(found) > MOST_BASES:
            return None
        members = tuple(map(tuple, found.values()))
        weights = tuple([sum([known[m].commonness for m in group]) for group in members])
        teeth = tuple([read[group[0]] for group in members])
        kinds = _kinds(family, plan, members, teeth)
        sums = tuple([tuple(sorted({row[a] + row[b] for row in teeth})) for a, b in plan.meshes])
        if any(each[-1] - each[0] > MOST_APART for each in sums) or not _fit(kinds, weights):
            return None
        common = self._in_common(plan, kinds)
        if common is None:
            return None
        members = self._members.setdefault(members, members)
        return Laid(family, plan.shape, members, weights, teeth, kinds, sums, common)

    def _plan(self, family: Family) -> _Plan | None:
        pairs = {pair: len(teeth) for pair, teeth in family.counted_sets[0].pairs.items()}
        key = (
            family.layout,
            family.direct,
            tuple(pairs.items()),
            tuple(family.paths.items()),
            tuple((name, tuple(wheels)) for name, wheels in family.given_pieces.items()),
            frozenset(gear for known in family.counted_sets for gear in known.ratios),
        )
        if key not in self._plans:
            bare = Family(
                family.id,
                family.layout,
                sets=tuple([RatioSet("", pairs=one.pairs) for one in family.counted_sets[:1]]),
                direct=family.direct,
                paths=family.paths,
                given_pieces=family.given_pieces,
            )
            shape = shape_of_family(bare)
            if shape is not None:
                paths = {gear: bare.train.path(gear) or () for gear in sorted(bare.train.gears)}
                printed = {gear for known in family.counted_sets for gear in known.ratios}
                more = tuple(sorted(printed - paths.keys()))
                shape = replace(shape, paths=tuple(paths.items()), printed=more)
            # Every name of a wheel is one of the shape's.
            fits = shape is not None and len(shape.wheels) == sum(pairs.values())
            self._plans[key] = _plan_of(shape, pairs) if shape is not None and fits else None
        return self._plans[key]

    def _in_common(self, plan: _Plan, kinds: tuple[Kinds, ...]) -> InCommon | None:
        """What base sets can have in common; None where it is too much."""
        key = (plan.hub, kinds)
        if key not in self._common:
            self._common[key] = in_common(kinds, plan.hub, MOST_COMMON)
        return self._common[key]


def _plan_of(shape: StackShape, pairs: Mapping[str, int]) -> _Plan:
    written = [wheel for pair, size in pairs.items() for wheel in wheel_names(pair, size)]
    place = {wheel: i for i, wheel in enumerate(shape.wheels)}
    pieces: list[slice] = []
    large, start = [], 0
    for star in shape.stars:
        for piece in star.pieces:
            if len(piece) > 1:
                large.append(len(pieces))
            pieces.append(slice(start, start + len(piece)))
            start += len(piece)
    return _Plan(
        shape,
        pairs,
        itemgetter(*[written.index(wheel) for wheel in shape.wheels]),
        tuple(pieces),
        tuple((place[a], place[b]) for star in shape.stars for a, b in star.meshes),
        large[0] if len(large) == 1 else None,
    )


def _row(plan: _Plan, known: RatioSet) -> tuple[int, ...] | None:
    """The teeth of a set in the order of the shape; None where any is unknown."""
    given = known.pairs
    flat: list[int | None] = []
    for pair, size in plan.pairs.items():
        teeth = given.get(pair, ())
        if len(teeth) != size:
            return None
        flat += teeth
    counted = [count for count in flat if count is not None]
    return plan.ordered(counted) if len(counted) == len(flat) else None


def _kinds(
    family: Family, plan: _Plan, members: Members, teeth: Sequence[tuple[int, ...]]
) -> tuple[Kinds, ...]:
    if any(one.marks or one.features for one in family.counted_sets):
        index = {piece.wheels: family.type_index[piece.name] for piece in family.pieces}
        columns: list[list[object]] = [
            [index[piece][group[0]] for group in members]
            for star in plan.shape.stars
            for piece in star.pieces
        ]
    else:
        columns = [[row[piece] for row in teeth] for piece in plan.pieces]
    found = []
    for column in columns:
        first: dict[object, int] = {}
        found.append(tuple([first.setdefault(kind, i) for i, kind in enumerate(column)]))
    return tuple(found)


def _fit(kinds: Sequence[Kinds], weights: Sequence[float]) -> bool:
    """Tell whether no type is too rare or too common among its piece's."""
    total = sum(weights)
    for kind in set(kinds):
        shares = [0.0] * len(kind)
        for number, weight in zip(kind, weights, strict=True):
            shares[number] += weight
        present = [share for share in shares if share]
        if len(present) > 1 and not (
            LEAST_SHARE * total <= min(present) and max(present) <= GREATEST_SHARE * total
        ):
            return False
    return True
