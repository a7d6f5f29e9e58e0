"""Which families are built alike, so that one sum of arrays serves them all.

A family that stacks falls into stars: a hub piece, and behind each of its wheels nothing, a wheel,
or an idler and a wheel. Its arrays are left to `stacked_block`, all others go the plain way.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from cogtally.catalog.model import Family
from cogtally.evidence.factors import any_clash, may_clash
from cogtally.evidence.prior import connected_wheels

#: More sets, or more sets in common to tell apart, go the plain way.
MOST_BASES = 16
MOST_COMMON = 64
#: Shares of a type among its piece's outside this would cost digits to rounding.
LEAST_SHARE, GREATEST_SHARE = 1e-4, 0.999
#: Tooth sums of one mesh further apart than this go the plain way.
MOST_APART = 24
#: Stacks hold this many base sets at most; a family with fewer is filled up.
SIZES = (1, 2, 3, 4, 5, 6, 8, 10, 12, MOST_BASES)


@dataclass(frozen=True, slots=True)
class Star:
    """A hub piece by its wheels, and for each of them the wheels behind it, the nearest first.

    All pieces behind are of one wheel. A hub of one wheel stands where no piece of several is.
    """

    hub: tuple[str, ...]
    arms: tuple[tuple[str, ...], ...]

    @property
    def meshes(self) -> tuple[tuple[str, str], ...]:
        """Every two wheels in mesh, the nearer to the hub first."""
        return tuple(
            mesh
            for wheel, arm in zip(self.hub, self.arms, strict=True)
            for mesh in zip((wheel, *arm), arm, strict=False)
        )

    @property
    def pieces(self) -> tuple[tuple[str, ...], ...]:
        """The wheels of every piece, the hub first."""
        return (self.hub, *((wheel,) for arm in self.arms for wheel in arm))


@dataclass(frozen=True, slots=True)
class StackShape:
    """The stars of families built alike, with the names of their wheels.

    `paths`: each gear with the pairs that carry it, where turn tests are to be weighed; `printed`:
    gears of which sets print a ratio, though no pair carries them.
    """

    stars: tuple[Star, ...]
    paths: tuple[tuple[str, tuple[str, ...]], ...] = ()
    printed: tuple[str, ...] = ()

    @property
    def wheels(self) -> tuple[str, ...]:
        """Every wheel, star by star."""
        return tuple(w for star in self.stars for piece in star.pieces for w in piece)

    @property
    def names(self) -> Mapping[str, str]:
        """Each name of a wheel to the one that it is kept under: no wheel has two."""
        return {wheel: wheel for wheel in self.wheels}


def shape_of_family(family: Family) -> StackShape | None:
    """Return the shape of a family that stacks, or None."""
    # Other marks and features weigh nothing while none is seen.
    if family.same or (may_clash(family) and any_clash(family)):
        return None
    if any(
        t is None for known in family.counted_sets for teeth in known.pairs.values() for t in teeth
    ):
        return None
    if any(v[-1] - v[0] > MOST_APART for v in family.sums.values() if v):
        return None
    stars = _stars(family)
    return None if stars is None or not _types_fit(family) else StackShape(stars)


def size_for(bases: int) -> int:
    """Return how many base sets the arrays of a family of so many have room for."""
    return next(size for size in SIZES if size >= bases)


def _types_fit(family: Family) -> bool:
    """Tell whether no type is too rare or too common."""
    for types in family.types.values():
        total = sum(kind.weight for kind in types)
        shares = [kind.weight / total for kind in types] if len(types) > 1 else []
        if any(not LEAST_SHARE <= share <= GREATEST_SHARE for share in shares):
            return False
    return True


def _stars(family: Family) -> tuple[Star, ...] | None:
    edges = [] if family.layout == "axle" else [m for m, sums in family.sums.items() if sums]
    mates: dict[str, list[str]] = {}
    for left, right in edges:
        mates.setdefault(left, []).append(right)
        mates.setdefault(right, []).append(left)
    large = {w: p.wheels for p in family.pieces if len(p.wheels) > 1 for w in p.wheels}
    arms: dict[str, tuple[str, ...]] = {}
    alone: list[Star] = []
    for wheels in connected_wheels(family):
        chain = _chain(wheels, mates)
        on_hub = [w for w in wheels if w in large]
        if chain is None or len(chain) > 3 or len(on_hub) > 1:
            return None
        if on_hub and on_hub[0] not in (chain[0], chain[-1]):
            return None
        if on_hub and chain[0] != on_hub[0]:
            chain = chain[::-1]
        if on_hub:
            arms[chain[0]] = chain[1:]
        else:
            alone.append(Star(chain[:1], (chain[1:],)))
    hubs = dict.fromkeys(large.values())
    return (*(Star(hub, tuple(arms[w] for w in hub)) for hub in hubs), *alone)


def _chain(wheels: Sequence[str], mates: Mapping[str, Sequence[str]]) -> tuple[str, ...] | None:
    """The wheels of a mesh component one after the other; None where it branches or closes."""
    if len(wheels) == 1:
        return tuple(wheels)
    ends = [w for w in wheels if len(mates[w]) == 1]
    if len(ends) != 2 or any(len(mates[w]) > 2 for w in wheels):
        return None
    chain = [ends[0]]
    while len(chain) < len(wheels):
        chain.append(next(w for w in mates[chain[-1]] if w not in chain[-2:]))
    return tuple(chain)
