"""What a loose piece can be: the types of a catalog as arrays, and where counts can lie on them.

What was seen, and what all of it comes to, is left to `posterior`. Every wheel of every type is an
index into three lists of spreads of teeth: as listed (its teeth, or ρ for a gap), as changed (ρ
without its teeth), and as of a new piece. What a count says is worked out once for each of them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
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
from cogtally.evidence.rho import Rho, spread_of
from cogtally.gears.looks import SeenPiece
from cogtally.gears.notation import MOST_TEETH, Count

Reals = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.intp]

#: Spreads of teeth are over 0…200.
TEETH = MOST_TEETH + 1
#: So many catalogs are kept ready.
CATALOGS_KEPT = 4
#: So many numbers are kept of what counts say, 64 MB.
NUMBERS_KEPT = 2**23
_NONE: Numbers = np.array([], np.intp)


@dataclass(frozen=True, slots=True)
class OfPiece:
    """One piece of one family, and which types of the catalog are of it: `first`…`end`−1.

    Types alike in teeth stand together.
    """

    family: Family
    piece: Piece
    first: int
    end: int


class Spot(NamedTuple):
    """What counts of one place say: of teeth 0…200, of every spread, and of any wheel at all.

    Arrays of (hand, …, spread), for one count to come or several; `pool` of (hand, …).
    """

    by_teeth: Reals
    listed: Reals
    changed: Reals
    new: Reals
    pool: Reals


@dataclass(frozen=True, slots=True)
class Block:
    """Types of pieces of one size, and every way in which what was seen fits on them.

    `kinds`, `prior`: the types by number, and the prior of each way of each. `pieces`: those that
    they are of, by number; `starts`: the first of `kinds` of each. `ways[w]` are the wheels of the
    places; `listed`, `changed` (place, way, type) and `new` (place, way, piece) their spreads.
    """

    size: int
    ways: tuple[tuple[int, ...], ...]
    kinds: Numbers
    prior: Reals
    pieces: Numbers
    starts: Numbers
    listed: Numbers
    changed: Numbers
    new: Numbers

    def by_piece(self, of_kinds: Reals) -> Reals:
        """Return the sum over the types of each piece; the types are the last axis."""
        found: Reals = np.add.reduceat(of_kinds, self.starts, axis=-1)
        return found

    def of_pieces(self, some: npt.NDArray[np.bool_]) -> tuple[Block, npt.NDArray[np.bool_]]:
        """Return the block of some of its pieces, and which of its types are theirs."""
        lengths = np.diff(self.starts, append=len(self.kinds))
        own = np.repeat(some, lengths)
        only = Block(
            self.size,
            self.ways,
            self.kinds[own],
            self.prior[own],
            self.pieces[some],
            np.cumsum(lengths[some]) - lengths[some],
            self.listed[..., own],
            self.changed[..., own],
            self.new[..., some],
        )
        return only, own


@dataclass(frozen=True, slots=True)
class Frame:
    """Where a piece of one length, with such ends, can lie: a block for each size of piece.

    `kinds`, `pieces`: those of all blocks; `alike`: the first of `kinds` of each that is other than
    the one before it in teeth, and the end. `sizes`: of all pieces that were asked for.
    """

    blocks: tuple[Block, ...]
    kinds: Numbers
    pieces: Numbers
    alike: Numbers
    sizes: tuple[int, ...]


class LooseCatalog:
    """One catalog made ready: `kinds` are its types by number, `pieces` what they are of.

    `alike[k]`: the first type with the same teeth of the same piece; `piece_of[k]`: what it is of.
    `spreads`: how many spreads there are.
    """

    def __init__(self, catalog: Catalog) -> None:
        self.catalog = catalog
        self.rho = Rho(catalog)
        self.kinds: list[PieceType] = []
        self.pieces: list[OfPiece] = []
        alike: list[int] = []
        for family in catalog.families:
            for piece in family.pieces:
                first = len(self.kinds)
                together: dict[Teeth, list[PieceType]] = {}
                for kind in family.types[piece.name]:
                    together.setdefault(kind.teeth, []).append(kind)
                for kinds in together.values():
                    alike += [len(self.kinds)] * len(kinds)
                    self.kinds += kinds
                if together:
                    self.pieces.append(OfPiece(family, piece, first, len(self.kinds)))
        self.alike = np.array(alike, np.intp)
        self.weight = np.array([kind.weight for kind in self.kinds])
        self.piece_of = np.repeat(
            np.arange(len(self.pieces)), [of.end - of.first for of in self.pieces]
        )
        self.number_of = {(of.family.id, of.piece.name): n for n, of in enumerate(self.pieces)}
        self._longest = max((len(of.piece.wheels) for of in self.pieces), default=0)
        self._pool = np.array(spread_of(pool_of_all(catalog)))
        self._index()
        self._known = {t for pool in self.rho.pools.values() for t in pool}
        self.spreads = TEETH + len(self._gap_names) + len(self._excluded) + len(self._new_starts)
        kept = max(NUMBERS_KEPT // (len(HANDS) * self.spreads), 1)
        self.spot = lru_cache(maxsize=kept)(self._spot)
        self._frames: dict[object, Frame] = {}

    def _index(self) -> None:
        """Number the spreads of every wheel of every type, and of every wheel of a new piece."""
        names: dict[str, int] = {}
        gaps: dict[int, int] = {}
        changed: dict[tuple[int, int | None], int] = {}
        self._listed_of: list[list[int]] = []
        self._changed_of: list[list[int]] = []
        self._new_of: list[list[int]] = []
        # Of each wheel of a new piece: its name, the part of ρ, and what listed teeth have besides.
        new: list[tuple[int, float, int]] = []
        shares: list[tuple[int, float]] = []
        for of in self.pieces:
            wheels = [names.setdefault(wheel, len(names)) for wheel in of.piece.wheels]
            kinds = self.kinds[of.first : of.end]
            for kind in kinds:
                own = list(zip(wheels, kind.teeth, strict=True))
                self._listed_of.append(
                    [TEETH + gaps.setdefault(w, len(gaps)) if t is None else t for w, t in own]
                )
                self._changed_of.append([changed.setdefault(one, len(changed)) for one in own])
            self._new_of.append(list(range(len(new), len(new) + len(wheels))))
            for place, wheel in enumerate(wheels):
                known = [(t, k.weight) for k in kinds if (t := k.teeth[place]) is not None]
                total = sum(weight for _, weight in known)
                new.append((wheel, 1 - AS_LISTED_WHEEL if known else 1.0, len(shares)))
                shares += [(t, AS_LISTED_WHEEL * w / total) for t, w in known] or [(0, 0.0)]
        rho = np.array([self.rho.of(name) for name in names]).reshape(len(names), len(TEETH_RANGE))
        self._rho = rho
        self._gap_names = np.array(list(gaps), np.intp)
        self._changed_names = np.array([w for w, _ in changed], np.intp)
        self._changed_teeth = np.array([t or 0 for _, t in changed], np.intp)
        #: What ρ has of the teeth that are excluded.
        self._excluded = np.array(
            [float(rho[w][t - LEAST_TEETH]) if t and t in TEETH_RANGE else 0.0 for w, t in changed]
        )
        self._new_names = np.array([wheel for wheel, _, _ in new], np.intp)
        self._new_own = np.array([part for _, part, _ in new])
        self._new_starts = np.array([first for _, _, first in new], np.intp)
        self._new_teeth = np.array([t for t, _ in shares], np.intp)
        self._new_shares = np.array([share for _, share in shares])

    def _spot(self, counts: tuple[tuple[int, bool, int], ...]) -> tuple[Spot, Reals]:
        """What the counts of one place say, (teeth, unsure, times) of each, and the log scale."""
        found = [Count("", *count) for count in counts]
        laws = [wheel_likelihood(found, hand, self._known) for hand in HANDS]
        by_teeth = np.array([law.by_teeth for law in laws])[:, None]
        said = self.said(by_teeth)
        scale = np.array([law.log_scale for law in laws])
        return (said if counts else Spot(*map(np.ones_like, said))), scale

    def said(self, by_teeth: Reals) -> Spot:
        """Return the mean over every spread of what is given for teeth 0…200, the last axis."""
        unknown = by_teeth[..., TEETH_RANGE.start : TEETH_RANGE.stop]
        drawn = unknown @ self._rho.T
        listed = np.concatenate([by_teeth, drawn[..., self._gap_names]], axis=-1)
        # What is lost in the difference is as nothing beside the weight of the teeth excluded.
        excluded = self._excluded * by_teeth[..., self._changed_teeth]
        left = np.maximum(drawn[..., self._changed_names] - excluded, 0.0)
        new = drawn[..., self._new_names] * self._new_own
        if len(self._new_starts):
            shares = by_teeth[..., self._new_teeth] * self._new_shares
            new += np.add.reduceat(shares, self._new_starts, axis=-1)
        return Spot(by_teeth, listed, left / (1 - self._excluded), new, unknown @ self._pool)

    def frame(self, seen: SeenPiece, role: str | None, family: str | None) -> Frame:
        """Return where a piece of this length, with these ends, can lie."""
        # Any two lengths that no piece has are alike: nothing fits.
        length = min(len(seen.places), 1 + self._longest)
        key = length, seen.open_start, seen.open_end, role, family
        found = self._frames.get(key)
        if found is None:
            found = self._frames[key] = self._frame(seen, role, family)
        return found

    def _frame(self, seen: SeenPiece, role: str | None, family: str | None) -> Frame:
        by_size: dict[int, list[int]] = {}
        for number, of in enumerate(self.pieces):
            if role in (None, of.piece.name) and family in (None, of.family.id):
                by_size.setdefault(len(of.piece.wheels), []).append(number)
        fitting = {
            size: ways for size in by_size if (ways := tuple(dict.fromkeys(places(size, seen))))
        }
        size_of = np.zeros(len(self.pieces), np.intp)
        for size in fitting:
            size_of[by_size[size]] = size
        kinds = {size: np.flatnonzero(size_of[self.piece_of] == size) for size in fitting}
        commonness = sum(float(self.weight[found].sum()) for found in kinds.values())
        blocks = tuple(
            self._block(ways, kinds[size], np.array(by_size[size]), commonness)
            for size, ways in fitting.items()
        )
        every = np.concatenate([_NONE, *kinds.values()])
        pieces = np.concatenate([_NONE, *(block.pieces for block in blocks)])
        alike = np.flatnonzero(np.diff(self.alike[every], prepend=-1))
        sizes = tuple(sorted(by_size))
        return Frame(blocks, every, pieces, np.append(alike, len(every)), sizes)

    def _block(
        self,
        ways: tuple[tuple[int, ...], ...],
        kinds: Numbers,
        pieces: Numbers,
        commonness: float,
    ) -> Block:
        def of_places(index: list[list[int]], members: Numbers) -> Numbers:
            wheels = np.array([index[member] for member in members], np.intp)
            return np.ascontiguousarray(wheels.T[np.array(ways).T])

        return Block(
            size=len(self.pieces[pieces[0]].piece.wheels),
            ways=ways,
            kinds=kinds,
            prior=(1 - UNCATALOGUED_PRIOR) / commonness / len(ways) * self.weight[kinds],
            pieces=pieces,
            starts=np.searchsorted(self.piece_of[kinds], pieces),
            listed=of_places(self._listed_of, kinds),
            changed=of_places(self._changed_of, kinds),
            new=of_places(self._new_of, pieces),
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
    length = len(seen.places)
    for backwards in (False, True):
        before, behind = seen.open_start, seen.open_end
        if backwards:
            before, behind = behind, before
        for first in range(wheels - length + 1):
            if (first > 0) == before and (first + length < wheels) == behind:
                place = tuple(range(first, first + length))
                yield place[::-1] if backwards else place


def pool_of_all(catalog: Catalog) -> dict[int, float]:
    """Return every count of a catalog by commonness; a wheel with two names is one wheel."""
    pool: dict[int, float] = {}
    for family in catalog.families:
        for known in family.counted_sets:
            for teeth in family.teeth_of(known).values():
                if teeth is not None:
                    pool[teeth] = pool.get(teeth, 0.0) + known.commonness
    return pool
