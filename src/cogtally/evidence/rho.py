"""What is taken of what nobody knows: ρ of teeth, and the values that a catalog has of a feature.

Which wheels have unknown teeth is left to the engine, the law of what is seen of a value to `laws`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache, cached_property
from typing import Any

from cogtally.catalog.model import Catalog, Family, Piece, PieceType
from cogtally.evidence.laws import (
    GREATEST_TEETH,
    LEAST_TEETH,
    RHO_NEAR,
    RHO_SPREAD,
    RHO_UNIFORM,
    TEETH_RANGE,
)
from cogtally.gears.looks import HAND, HELIX, Value, known_value

#: Teeth 5…99 as a vector: index 0 is LEAST_TEETH.
SIZE = GREATEST_TEETH - LEAST_TEETH + 1
UNIFORM = [1 / SIZE] * SIZE


@cache
def _spread(teeth: int) -> list[float]:
    """One catalogued count spread over 5…99 as 0.7^|t−t₀|, adding up to 1."""
    weights = [RHO_SPREAD ** abs(t - teeth) for t in TEETH_RANGE]
    total = sum(weights)
    return [w / total for w in weights]


#: Wheel name to catalogued count to summed commonness.
Pools = Mapping[str, Mapping[int, float]]
#: Values with their weights.
Pool = Mapping[Value, float]
#: What stands for all wheels, and all pieces, whatever their name.
EVERY_WHEEL, EVERY_PIECE = "every wheel", "every piece"


class Rho:
    """ρ of every wheel name of one catalog, worked out when first asked for.

    `pools`: how often the catalog has which teeth, by wheel name.
    """

    def __init__(self, catalog: Catalog, pools: Pools | None = None) -> None:
        """Of a catalog; `pools`: where it is known already how often that has which teeth."""
        self._catalog = catalog
        self.pools = _pools_of(catalog) if pools is None else pools
        self._of: dict[str, list[float]] = {}
        #: The log of what counts are worth whose teeth are drawn from ρ, as `SeenBox` keeps it.
        self.drawn: dict[object, float] = {}

    def of(self, name: str) -> list[float]:
        """Return ρ of a wheel of this name over 5…99; uniform where the catalog has none."""
        found = self._of.get(name)
        if found is None:
            found = self._of[name] = spread_of(self.pools.get(name, {}))
        return found

    def values_of(self, name: str, feature: str) -> Pool:
        """Return the values that a feature of wheels or pieces of this name has in the catalog."""
        return self._values.get((name, feature), {})

    @cached_property
    def _values(self) -> Mapping[tuple[str, str], Pool]:
        """The values of each feature by the name of wheels and pieces, and of all of them.

        Each type counts once, by its commonness. A wheel with two names counts under both; a piece
        of one wheel and that wheel are the same thing.
        """
        pools: dict[tuple[str, str], dict[Value, float]] = {}
        for family in self._catalog.families:
            if not any(known.features for known in family.counted_sets):
                continue
            names = family.train.names.items()
            for kind in (kind for kinds in family.types.values() for kind in kinds):
                for owner, feature, value in known_features(kind):
                    of = [name for name, kept in names if kept == owner]
                    if of:
                        of.append(EVERY_WHEEL)
                    if owner == own_name(kind.piece):
                        of += [kind.piece.name, EVERY_PIECE]
                    for name in of:
                        _add(pools.setdefault((name, feature), {}), value, kind.weight)
        return pools


def _pools_of(catalog: Catalog) -> Pools:
    """Every count of the catalog by wheel name; a wheel with two names stands under both."""
    pools: dict[str, dict[int, float]] = {}
    for family in catalog.families:
        for known, teeth in zip(family.counted_sets, family.counted_teeth, strict=True):
            for name, wheel in family.train.names.items():
                count = teeth.get(wheel)
                if count is not None:
                    _add(pools.setdefault(name, {}), count, known.commonness)
    return pools


def spread_of(pool: Mapping[int, float]) -> list[float]:
    """Return ρ over 5…99 from catalogued counts with their weights."""
    if not pool:
        return UNIFORM
    total = sum(pool.values())
    near = [0.0] * SIZE
    for teeth, weight in pool.items():
        share = weight / total
        near = [n + share * s for n, s in zip(near, _spread(teeth), strict=True)]
    return [RHO_UNIFORM / SIZE + RHO_NEAR * n for n in near]


def owner_in(family: Family, owner: str) -> tuple[Piece, str] | None:
    """Return the piece of a family that `owner` is or is on, and what its features are kept under.

    A wheel by its kept name; a piece of one wheel is that wheel. None where the family has none.
    """
    wheel = family.train.names.get(owner, "")
    of_name = (piece for piece in family.pieces if piece.name == owner)
    piece = family.piece_of.get(wheel) or next(of_name, None)
    return None if piece is None else (piece, wheel or own_name(piece))


def own_name(piece: Piece) -> str:
    """Return what a piece's own features are kept under: its only wheel, else its name."""
    return piece.wheels[0] if len(piece.wheels) == 1 else piece.name


def known_features(kind: PieceType) -> Iterator[tuple[str, str, Value]]:
    """Give (owner, feature, value) of all that is known of a type, each once.

    What is given of a piece of one wheel is given of that wheel; what the catalog has of the wheel
    itself goes before it.
    """
    given: dict[tuple[str, str], Value] = {}
    for owner, feature, value in sorted(kind.features, key=lambda f: f[0] == kind.piece.name):
        known = known_value(feature, value)
        if known is not None:
            at = own_name(kind.piece) if owner == kind.piece.name else owner
            given.setdefault((at, feature), known)
    for (owner, feature), value in given.items():
        yield owner, feature, value


def value_in(kind: PieceType, owner: str, feature: str) -> Value | None:
    """Return the value of a feature in a type, `owner` as `owner_in` gives it; None: unknown."""
    return next((v for o, f, v in known_features(kind) if (o, f) == (owner, feature)), None)


def _add(pool: dict[Any, float], value: Value, weight: float) -> None:
    pool[value] = pool.get(value, 0.0) + weight


def may_clash(family: Family) -> bool:
    """Tell whether hands or angles are known of a family at all, and whether they have to agree.

    The two wheels of an axle are a hypoid pair: their angles differ.
    """
    return family.layout != "axle" and any(
        HAND in features or HELIX in features
        for known in family.counted_sets
        for features in known.features.values()
    )
