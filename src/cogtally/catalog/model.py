"""Families, ratio sets, pieces and their types: what a catalog knows, frozen.

Whether what somebody wrote meets the rules belongs to `check`; files belong to `files`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any, NamedTuple, Protocol

from cogtally.gears import trains

FeatureValue = str | int | float
Teeth = tuple[int | None, ...]

#: What the wheels of a pair are called where each is a piece of its own.
_ENDS = {
    "axle": {"driver": "pinion", "idler": "idler", "driven": "crown"},
    trains.OVERDRIVE: {"driver": "sun", "idler": "planet", "driven": "annulus"},
}


@dataclass(frozen=True)
class RatioSet:
    """One catalogued way to fill a family: teeth for its wheels, or printed ratios, or both.

    `pairs`: teeth of each pair, driver first, None where nobody counted yet. `ratios`: printed
    ratios as text, for the decimals written carry the rounding. `marks`: piece to what is stamped
    or cast on it. `features`: wheel or piece to feature to value. `typed`: pairs as somebody wrote
    them, where that is not the usual way; two sets that differ in nothing else are the same.
    """

    id: str
    name: str = ""
    pairs: Mapping[str, Teeth] = field(default_factory=dict)
    ratios: Mapping[str, str] = field(default_factory=dict)
    commonness: float = 1.0
    source: str = ""
    aliases: tuple[str, ...] = ()
    marks: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    features: Mapping[str, Mapping[str, FeatureValue]] = field(default_factory=dict)
    typed: Mapping[str, str] = field(default_factory=dict, compare=False, repr=False)

    @cached_property
    def is_counted(self) -> bool:
        """Whether any wheel has a count; a set without one is known by printed ratios only."""
        return any(t is not None for teeth in self.pairs.values() for t in teeth)

    @property
    def title(self) -> str:
        """The name to show; the id where there is no name."""
        return self.name or self.id


@dataclass(frozen=True)
class Piece:
    """A part that you can hold: one or more wheels made together, in order along the axis."""

    name: str
    wheels: tuple[str, ...]


@dataclass(frozen=True)
class PieceType:
    """What a piece is in one or more sets of its family.

    `teeth` in the order of the piece's wheels (None: a gap), `marks` and `features` filled in from
    the family's other sets where those agree (None: unknown). `carriers`: indexes into the
    family's `counted_sets`, `sets`: their ids; `weight`: their summed commonness.
    """

    piece: Piece
    teeth: Teeth
    marks: tuple[str, ...] | None
    features: tuple[tuple[str, str, FeatureValue | None], ...]
    carriers: tuple[int, ...]
    sets: tuple[str, ...]
    weight: float


@dataclass(frozen=True)
class Family:
    """One casing: the same shafts, the same pieces, the same centre distance.

    `given_pieces` are the pieces as written; `pieces` are all of them, defaults included.
    """

    id: str
    layout: str
    name: str = ""
    sets: tuple[RatioSet, ...] = ()
    direct: str | None = None
    aliases: tuple[str, ...] = ()
    centre_distance_mm: float | None = None
    note: str = ""
    given_pieces: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    same: Mapping[str, str] = field(default_factory=dict)
    paths: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    @property
    def title(self) -> str:
        """The name to show; the id where there is no name."""
        return self.name or self.id

    @cached_property
    def counted_sets(self) -> tuple[RatioSet, ...]:
        """The sets with any counted wheel, in written order."""
        return tuple(s for s in self.sets if s.is_counted)

    @cached_property
    def ratio_only_sets(self) -> tuple[RatioSet, ...]:
        """The sets known by printed ratios only, in written order."""
        return tuple(s for s in self.sets if not s.is_counted)

    @cached_property
    def train(self) -> trains.Train:
        """The arrangement of the family's pairs, as its counted sets name them.

        In a family of ratio-only sets alone: the pairs that the printed gears need, and R.
        """
        pairs: dict[str, int] = {}
        if self.counted_sets:
            pairs = {pair: len(teeth) for pair, teeth in self.counted_sets[0].pairs.items()}
        else:
            for known in self.ratio_only_sets:
                for gear in known.ratios:
                    pairs.update(dict.fromkeys(self.path_of(gear), 2))
            if self.layout not in trains.NO_SUMS:
                pairs.setdefault(trains.REVERSE, 2)
        return _train(
            self.layout,
            tuple(pairs.items()),
            self.direct,
            tuple(self.paths.items()),
            tuple(self.same.items()),
        )

    def path_of(self, gear: str) -> tuple[str, ...]:
        """Return the path that `gear` would have in this family, whether or not a set has it."""
        if gear in self.paths:
            return self.paths[gear]
        if gear == self.direct:
            return ()
        return trains.Train(self.layout, {}).rule_path(gear)

    @cached_property
    def pieces(self) -> tuple[Piece, ...]:
        """Every piece, in order: the default pieces less the wheels named, then the given ones."""
        train = self.train
        return _pieces(
            self.layout,
            tuple(train.pairs.items()),
            tuple(self.paths.items()),
            tuple(self.same.items()),
            tuple(self.given_pieces.items()),
        )

    @cached_property
    def piece_of(self) -> Mapping[str, Piece]:
        """Each wheel, by its kept name, to the piece that it stands on."""
        return {w: piece for piece in self.pieces for w in piece.wheels}

    def teeth_of(self, known: RatioSet) -> Mapping[str, int | None]:
        """Return the teeth of every wheel of a counted set, by kept names; None for a gap."""
        teeth: dict[str, int | None] = {}
        kept = self.train.canonical if self.same else str
        for pair, counts in known.pairs.items():
            for name, count in zip(trains.wheel_names(pair, len(counts)), counts, strict=True):
                wheel = kept(name)
                if teeth.get(wheel) is None:
                    teeth[wheel] = count
        return teeth

    @cached_property
    def counted_teeth(self) -> tuple[Mapping[str, int | None], ...]:
        """The teeth of every wheel of each counted set, by kept names."""
        return tuple([self.teeth_of(known) for known in self.counted_sets])

    @cached_property
    def types(self) -> Mapping[str, tuple[PieceType, ...]]:
        """The types of each piece, by its name, in the order of the sets that first carry them."""
        # Most families have none, and all are asked for in a cold answer.
        has_features = any(known.features for known in self.counted_sets)
        features = [_features(self, s) for s in self.counted_sets] if has_features else []
        keys = sorted({key for given in features for key in given})
        return {
            piece.name: _types_of(
                self,
                piece,
                [tuple([t.get(w) for w in piece.wheels]) for t in self.counted_teeth],
                [key for key in keys if key[0] in (piece.name, *piece.wheels)],
                features,
            )
            for piece in self.pieces
        }

    @cached_property
    def type_index(self) -> Mapping[str, tuple[int, ...]]:
        """For each piece, the index of the type that each counted set has there."""
        found: dict[str, tuple[int, ...]] = {}
        for name, types in self.types.items():
            index = {c: k for k, kind in enumerate(types) for c in kind.carriers}
            found[name] = tuple(index[s] for s in range(len(self.counted_sets)))
        return found

    @cached_property
    def sums(self) -> Mapping[tuple[str, str], tuple[int, ...]]:
        """For each mesh, every tooth sum that a set gives, rising; empty where no set gives one."""
        found: dict[tuple[str, str], tuple[int, ...]] = {}
        for left, right in self.train.meshes:
            ends = [(teeth.get(left), teeth.get(right)) for teeth in self.counted_teeth]
            sums = {a + b for a, b in ends if a is not None and b is not None}
            found[left, right] = tuple(sorted(sums))
        return found


class Named(Protocol):
    """What families and sets have in common."""

    @property
    def id(self) -> str:
        """What it is known by."""

    @property
    def name(self) -> str:
        """What it is called, if anything."""

    @property
    def aliases(self) -> tuple[str, ...]:
        """What else it is called."""


class Origin(NamedTuple):
    """The book that a catalog was read from, and what tells that state of it from others."""

    book: Path
    state: list[int]


@dataclass(frozen=True)
class Catalog:
    """All families that are known, with the name to say where they came from.

    `demo`: the invented catalog, from which no real box may be named. `origin`: of a whole book.
    """

    families: tuple[Family, ...]
    name: str = ""
    demo: bool = False
    origin: Origin | None = field(default=None, compare=False)

    @cached_property
    def by_id(self) -> Mapping[str, Family]:
        """Each family by its id."""
        return {family.id: family for family in self.families}

    @cached_property
    def names(self) -> Sequence[Named]:
        """What all families are called, in their order."""
        return self.families

    @property
    def set_names(self) -> Iterable[tuple[str, Sequence[Named]]]:
        """What the sets of each family are called, by its id, in their order."""
        return ((family.id, family.sets) for family in self.families)

    @cached_property
    def pair_names(self) -> frozenset[str]:
        """What pairs and gears are called in any family."""
        return frozenset(
            name
            for family in self.families
            for name in (
                *family.train.pairs,
                *family.train.gears,
                *(gear for known in family.sets for gear in known.ratios),
            )
        )

    @cached_property
    def set_count(self) -> int:
        """How many sets there are in all."""
        return sum(len(family.sets) for family in self.families)


#: Families built alike share one arrangement: so many of each are kept.
_KEPT = 1024
Items = tuple[tuple[str, tuple[str, ...]], ...]


@lru_cache(maxsize=_KEPT)
def _train(
    layout: str,
    pairs: tuple[tuple[str, int], ...],
    direct: str | None,
    paths: Items,
    same: tuple[tuple[str, str], ...],
) -> trains.Train:
    """The arrangement of pairs."""
    return trains.Train(layout, dict(pairs), direct, dict(paths), dict(same))


@lru_cache(maxsize=_KEPT)
def _pieces(
    layout: str,
    pairs: tuple[tuple[str, int], ...],
    paths: Items,
    same: tuple[tuple[str, str], ...],
    given_pieces: Items,
) -> tuple[Piece, ...]:
    """The pieces of a casing: the default ones less the wheels named, then the given ones."""
    kept = trains.Train(layout, dict(pairs), None, dict(paths), dict(same)).canonical
    given = {name: tuple(dict.fromkeys(kept(w) for w in wheels)) for name, wheels in given_pieces}
    named = {w for wheels in given.values() for w in wheels}
    found: dict[str, tuple[str, ...]] = {}
    placed: set[str] = set()
    for name, wheels in _default_pieces(layout, dict(pairs), bool(paths)).items():
        if name in given:
            found[name] = given[name]
            continue
        own = tuple(
            dict.fromkeys(w for w in map(kept, wheels) if w not in named and w not in placed)
        )
        placed.update(own)
        if own:
            found[name] = own
    found.update({name: wheels for name, wheels in given.items() if name not in found})
    return tuple(Piece(name, wheels) for name, wheels in found.items())


def _default_pieces(
    layout: str, pairs: Mapping[str, int], has_paths: bool
) -> dict[str, tuple[str, ...]]:
    """The layout's pieces; none where the family has to give them itself."""
    if has_paths or layout == "sleeve":
        return {}
    if layout in _ENDS or layout == "two-shaft":
        ends = _ENDS.get(layout, {})
        return {
            f"{p}-{ends.get(r, r)}": (f"{p}.{r}",)
            for p, n in pairs.items()
            for r in trains.roles(n)
        }
    gears = [p for p in pairs if p != trains.INPUT]
    forward = sorted((p for p in gears if p.isdigit()), key=int, reverse=True)
    others = [p for p in gears if not p.isdigit() and p != trains.REVERSE]
    last = [trains.REVERSE] if trains.REVERSE in pairs else []
    lay = (f"{trains.INPUT}.driven", *(f"{p}.driver" for p in [*forward, *others, *last]))
    found = (
        {"input-shaft": (f"{trains.INPUT}.driver",), "laygear": lay}
        if trains.INPUT in pairs
        else {"laygear": lay[1:]}
    )
    for pair in gears:
        if pairs[pair] == 3:
            found[f"{pair}-idler"] = (f"{pair}.idler",)
        found[f"{pair}-gear"] = (f"{pair}.driven",)
    return found


def _types_of(
    family: Family,
    piece: Piece,
    teeth: list[Teeth],
    keys: Sequence[tuple[str, str]],
    given: Sequence[Mapping[tuple[str, str], FeatureValue]],
) -> tuple[PieceType, ...]:
    """Group the counted sets by what this piece is in them: teeth, marks and features."""
    if not any(known.marks or known.features for known in family.counted_sets):
        alike: dict[Teeth, list[int]] = {}
        for index, counts in enumerate(teeth):
            alike.setdefault(counts, []).append(index)
        return tuple([_type(family, piece, c, None, (), m) for c, m in alike.items()])
    given_marks = [known.marks.get(piece.name) or None for known in family.counted_sets]
    marks = _filled(given_marks, teeth, frozenset)
    features = [_filled([g.get(key) for g in given], teeth, lambda value: value) for key in keys]
    grouped: dict[object, list[int]] = {}
    for index, counts in enumerate(teeth):
        mark = marks[index]
        key = (
            counts,
            None if mark is None else frozenset(mark),
            tuple(column[index] for column in features),
        )
        grouped.setdefault(key, []).append(index)
    return tuple(
        _type(
            family,
            piece,
            teeth[members[0]],
            marks[members[0]],
            tuple(
                (owner, feature, column[members[0]])
                for (owner, feature), column in zip(keys, features, strict=True)
            ),
            members,
        )
        for members in grouped.values()
    )


def _type(
    family: Family,
    piece: Piece,
    teeth: Teeth,
    marks: tuple[str, ...] | None,
    features: tuple[tuple[str, str, FeatureValue | None], ...],
    members: Sequence[int],
) -> PieceType:
    sets = [family.counted_sets[m] for m in members]
    ids, weight = tuple([known.id for known in sets]), sum([known.commonness for known in sets])
    return PieceType(piece, teeth, marks, features, tuple(members), ids, weight)


def _features(family: Family, known: RatioSet) -> dict[tuple[str, str], FeatureValue]:
    # By the kept name of a wheel, or the name of a piece.
    kept = family.train.canonical
    return {
        (kept(owner) if "." in owner else owner, feature): value
        for owner, features in known.features.items()
        for feature, value in features.items()
    }


def _filled(values: list[Any], teeth: list[Teeth], alike: Callable[[Any], object]) -> list[Any]:
    """Fill what a set does not give from the sets with the same teeth, where those agree."""
    given: dict[Teeth, list[Any]] = {}
    for value, counts in zip(values, teeth, strict=True):
        if value is not None:
            given.setdefault(counts, []).append(value)
    agreed = {
        counts: others[0] for counts, others in given.items() if len(set(map(alike, others))) == 1
    }
    return [
        agreed.get(counts) if value is None else value
        for value, counts in zip(values, teeth, strict=True)
    ]


def written_pair(teeth: Teeth) -> str:
    """Return the teeth of a pair as they are written: `12/_/28`."""
    return "/".join("_" if count is None else str(count) for count in teeth)


def written_number(value: float) -> str:
    """Return a number as it is written: without a point where it is whole."""
    whole = value == int(value) and abs(value) < 10**15
    return str(int(value)) if whole else repr(value)


def gear_ratios(family: Family, known: RatioSet) -> Mapping[str, Fraction | None]:
    """Return turns in for one turn out of every gear of the family; None where a wheel is a gap.

    Of an overdrive that is the ratio of its pair with the sun held.
    """
    return family.train.ratios(family.teeth_of(known))


def family_table(family: Family) -> dict[str, Any]:
    """Return what is said of a family itself by the keys of files, in their order; no sets."""
    return {
        "id": family.id,
        "name": family.name,
        "aliases": family.aliases,
        "layout": family.layout,
        "direct": family.direct,
        "centre_distance_mm": family.centre_distance_mm,
        "note": family.note,
        "pieces": family.given_pieces,
        "same": family.same,
        "paths": family.paths,
    }


def set_table(known: RatioSet) -> dict[str, Any]:
    """Return what is said of a set by the keys of files, in their order."""
    return {
        "id": known.id,
        "name": known.name,
        "aliases": known.aliases,
        "commonness": known.commonness,
        "source": known.source,
        "pairs": {pair: written_pair(teeth) for pair, teeth in known.pairs.items()},
        "ratios": known.ratios,
        "marks": known.marks,
        "features": {owner: dict(given) for owner, given in known.features.items()},
    }
