"""What a loose piece can be: the types of a catalog as arrays, and where counts can lie on them.

What was seen, and what all of it comes to, is left to `posterior`. Every wheel of every type is an
index into a list of spreads of teeth, as listed (its teeth, or ρ for a gap) and as changed (ρ
without its teeth); every wheel of a new piece has one of its own. What a count says is worked out
once for each of them.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache, lru_cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from cogtally.catalog.model import Catalog, Family, Piece, PieceType, Teeth
from cogtally.evidence.laws import (
    AS_LISTED_WHEEL,
    HANDS,
    LEAST_TEETH,
    TEETH_RANGE,
    UNCATALOGUED_PRIOR,
    wheel_likelihood,
)
from cogtally.evidence.rho import SIZE, Rho, spread_of
from cogtally.gears.looks import SeenPiece
from cogtally.gears.notation import Count

Reals = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.intp]

#: So many catalogs are kept ready, and of each what so many different counts say.
CATALOGS_KEPT, SPOTS_KEPT = 4, 256
_NONE: Numbers = np.array([], np.intp)


class Spot(NamedTuple):
    """What counts of one place say: of teeth 0…200, of every spread, and of any wheel at all.

    Arrays of (hand, …, spread), for one count to come or several; `pool` of (hand, …).
    """

    by_teeth: Reals
    listed: Reals
    changed: Reals
    new: Reals
    pool: Reals


class Frame(NamedTuple):
    """Where a piece of one length, with such ends, can lie: every fit, on each type that it fits.

    `kinds`, `pieces`: the types, and what they are of, by number, those of one size together;
    `piece` [type]: the place of what it is of, `prior` [type]: that of each of its fits. `kind`
    [fit]: the place of its type; `wheels` [place, fit]: which wheel of the type each place is,
    `spread` its spread; `size` [fit]: how many wheels the type has. `new_piece`, `new`: as `kind`
    and `spread` of each fit on a new piece. `sizes`: of all pieces asked for.
    """

    kinds: Numbers
    pieces: Numbers
    piece: Numbers
    prior: Reals
    kind: Numbers
    wheels: Numbers
    spread: Numbers
    size: Numbers
    new_piece: Numbers
    new: Numbers
    sizes: tuple[int, ...]

    def of_pieces(self, some: npt.NDArray[np.bool_]) -> tuple[Frame, npt.NDArray[np.bool_]]:
        """Return the frame with the fits on some of its pieces alone, and which fits those are."""
        kinds, new = some[self.piece], some[self.new_piece]
        own = kinds[self.kind]
        found = self._replace(
            piece=self.piece[kinds],
            prior=self.prior[kinds],
            kind=self.kind[own],
            spread=self.spread[:, own],
            size=self.size[own],
            new_piece=self.new_piece[new],
            new=self.new[:, new],
        )
        return found, own


def summed(values: Reals, by: Numbers) -> Reals:
    """Return the sums of values, along the last axis, that stand together under one number."""
    starts = np.flatnonzero(np.diff(by, prepend=-1))
    return values if len(starts) == len(by) else np.add.reduceat(values, starts, axis=-1)


class LooseCatalog:
    """One catalog made ready: `kinds` are its types by number, `pieces` what they are of.

    Types alike in teeth stand together; `alike[k]`: the first type with the same teeth of the same
    piece; `piece_of[k]`: what it is of; `weight[k]`: its commonness. `teeth`: of each spread as
    listed, 0 of a gap. `spot`: what the counts of one place say, and the log of their scale.
    `frame`: where what was seen can lie, its counts aside, of a role and a family.
    """

    def __init__(self, catalog: Catalog) -> None:
        self.catalog = catalog
        self.rho = Rho(catalog)
        self.kinds: list[PieceType] = []
        self.pieces: list[tuple[Family, Piece]] = []
        alike: list[int] = []
        piece_of: list[int] = []
        names: dict[str, int] = {}
        # A name of a wheel with its teeth, None of a gap.
        spreads: dict[tuple[int, int | None], int] = {}
        # Of all wheels of all types, one after the other, and where those of a type begin.
        listed: list[int] = []
        firsts: list[int] = []
        # Of each wheel of a new piece: its name, the part of ρ, and what listed teeth have besides.
        new: list[tuple[int, float, int]] = []
        shares: list[tuple[int, float]] = []
        firsts_new: list[int] = []
        for family in catalog.families:
            for piece in family.pieces:
                together: dict[Teeth, list[PieceType]] = {}
                for kind in family.types[piece.name]:
                    together.setdefault(kind.teeth, []).append(kind)
                if not together:
                    continue
                wheels = [names.setdefault(wheel, len(names)) for wheel in piece.wheels]
                kinds = [kind for some in together.values() for kind in some]
                for teeth, some in together.items():
                    alike += [len(alike)] * len(some)
                    firsts += [len(listed)] * len(some)
                    every = zip(wheels, teeth, strict=True)
                    listed += [spreads.setdefault(one, len(spreads)) for one in every]
                firsts_new.append(len(new))
                for place, wheel in enumerate(wheels):
                    known = [(t, k.weight) for k in kinds if (t := k.teeth[place]) is not None]
                    total = sum(weight for _, weight in known)
                    new.append((wheel, 1 - AS_LISTED_WHEEL if known else 1.0, len(shares)))
                    shares += [(t, AS_LISTED_WHEEL * w / total) for t, w in known] or [(0, 0.0)]
                piece_of += [len(self.pieces)] * len(kinds)
                self.kinds += kinds
                self.pieces.append((family, piece))
        self.alike, self.piece_of = np.array(alike, np.intp), np.array(piece_of, np.intp)
        self.weight = np.array([kind.weight for kind in self.kinds])
        self.number_of = {(f.id, piece.name): n for n, (f, piece) in enumerate(self.pieces)}
        self.spot, self.frame = lru_cache(maxsize=SPOTS_KEPT)(self._spot), cache(self._frame)
        self._sizes = np.array([len(piece.wheels) for _, piece in self.pieces], np.intp)
        self._known = {t for pool in self.rho.pools.values() for t in pool}
        self._pool = np.array(spread_of(pool_of_all(catalog)))
        self._firsts, self._firsts_new = np.array(firsts, np.intp), np.array(firsts_new, np.intp)
        self._rho = np.array([self.rho.of(name) for name in names]).reshape(-1, SIZE)
        self._spread_of = np.array(listed, np.intp)
        self._names = np.array([wheel for wheel, _ in spreads], np.intp)
        self.teeth = np.array([teeth or 0 for _, teeth in spreads], np.intp)
        #: What ρ has of the teeth that are excluded.
        self._excluded = np.array(
            [self._rho[w, t - LEAST_TEETH] if t and t in TEETH_RANGE else 0.0 for w, t in spreads]
        )
        self._new_names = np.array([wheel for wheel, _, _ in new], np.intp)
        self._new_own = np.array([part for _, part, _ in new])
        self._new_starts = np.array([first for _, _, first in new], np.intp)
        self._new_teeth = np.array([t for t, _ in shares], np.intp)
        self._new_shares = np.array([share for _, share in shares])

    def _spot(self, counts: tuple[Count, ...]) -> tuple[Spot, Reals]:
        laws = [wheel_likelihood(counts, hand, self._known) for hand in HANDS]
        by_teeth = np.array([law.by_teeth for law in laws])[:, None]
        said = self.said(by_teeth)
        scale = np.array([law.log_scale for law in laws])
        # Where nothing was counted types as common as each other tie exactly.
        return (said if counts else Spot(*map(np.ones_like, said))), scale

    def said(self, by_teeth: Reals) -> Spot:
        """Return the mean over every spread of what is given for teeth 0…200, the last axis."""
        possible = by_teeth[..., TEETH_RANGE.start : TEETH_RANGE.stop]
        drawn = possible @ self._rho.T
        unknown, exact = drawn[..., self._names], by_teeth[..., self.teeth]
        # What is lost in the difference is as nothing beside the weight of the teeth excluded.
        left = np.maximum(unknown - self._excluded * exact, 0.0) / (1 - self._excluded)
        new = drawn[..., self._new_names] * self._new_own
        if len(self._new_starts):
            shares = by_teeth[..., self._new_teeth] * self._new_shares
            new += np.add.reduceat(shares, self._new_starts, axis=-1)
        listed = np.where(self.teeth > 0, exact, unknown)
        return Spot(by_teeth, listed, left, new, possible @ self._pool)

    def _frame(self, seen: SeenPiece, role: str | None, family: str | None) -> Frame:
        asked = np.array(
            [role in (None, p.name) and family in (None, f.id) for f, p in self.pieces], np.bool_
        )
        sizes = list(dict.fromkeys(self._sizes[asked].tolist()))
        ways = {size: [*dict.fromkeys(places(size, seen))] for size in sizes}
        own = [asked & (self._sizes == size) for size in sizes if ways[size]]
        pieces = np.concatenate([_NONE, *map(np.flatnonzero, own)])
        kinds = np.concatenate([_NONE, *(np.flatnonzero(some[self.piece_of]) for some in own)])
        place = np.zeros(len(self.pieces), np.intp)
        place[pieces] = np.arange(len(pieces))
        commonness = float(self.weight[kinds].sum())

        def fits(of: Numbers) -> tuple[Numbers, Numbers, Numbers]:
            """How many each has, of each fit which it is of, and which wheels [place, fit]."""
            every = [ways[size] for size in of.tolist()]
            counts = np.array([len(some) for some in every], np.intp)
            wheels = np.array([way for some in every for way in some], np.intp)
            by_place = wheels.reshape(counts.sum(), len(seen.places)).T
            return counts, np.repeat(np.arange(len(of)), counts), by_place

        count, kind, wheels = fits(self._sizes[self.piece_of[kinds]])
        _, new_piece, new_wheels = fits(self._sizes[pieces])
        at = self._firsts[kinds[kind]] + wheels
        return Frame(
            kinds=kinds,
            pieces=pieces,
            piece=place[self.piece_of[kinds]],
            prior=(1 - UNCATALOGUED_PRIOR) / (commonness or 1.0) / count * self.weight[kinds],
            kind=kind,
            wheels=wheels,
            spread=np.ascontiguousarray(self._spread_of[at]),
            size=self._sizes[self.piece_of[kinds[kind]]],
            new_piece=new_piece,
            new=np.ascontiguousarray(self._firsts_new[pieces[new_piece]] + new_wheels),
            sizes=tuple(sorted(sizes)),
        )


_READY: list[LooseCatalog] = []


def ready_for_pieces(catalog: Catalog) -> LooseCatalog:
    """Return the catalog made ready for loose pieces; the last few are kept."""
    for ready in _READY:
        if ready.catalog is catalog:
            return ready
    ready = LooseCatalog(catalog)
    _READY.append(ready)
    del _READY[:-CATALOGS_KEPT]
    return ready


def places(wheels: int, seen: SeenPiece) -> Iterator[tuple[int, ...]]:
    """Give every way that what was seen fits on a piece: for each place seen, the wheel it is."""
    length, ends = len(seen.places), (seen.open_start, seen.open_end)
    for wanted, step in ((ends, 1), (ends[::-1], -1)):
        for first in range(wheels - length + 1):
            if (first > 0, first + length < wheels) == wanted:
                yield tuple(range(first, first + length))[::step]


def pool_of_all(catalog: Catalog) -> dict[int, float]:
    """Return every count of a catalog by commonness; a wheel with two names is one wheel."""
    pool: dict[int, float] = {}
    for family in catalog.families:
        for known in family.counted_sets:
            for teeth in family.teeth_of(known).values():
                if teeth is not None:
                    pool[teeth] = pool.get(teeth, 0.0) + known.commonness
    return pool
