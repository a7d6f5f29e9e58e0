"""What a loose piece can be: the types of a catalog as arrays, and where counts can lie on them.

What was seen, and what all of it comes to, is left to `posterior`. Every wheel of every type is an
index into three lists of spreads of teeth: as listed (its teeth, or ρ for a gap), as changed (ρ
without its teeth), and as of a new piece. What a count says is worked out once for each of them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from cogtally.catalog.model import Catalog, Family, Piece, PieceType, Teeth
from cogtally.evidence.laws import (
    AS_LISTED_WHEEL,
    HASTY,
    LEAST_TEETH,
    STEADY,
    TEETH_RANGE,
    UNCATALOGUED_PRIOR,
    wheel_likelihood,
)
from cogtally.evidence.rho import Rho, spread_of
from cogtally.gears.looks import SeenPiece
from cogtally.gears.notation import MOST_TEETH, Count

Reals = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.intp]

HANDS = (STEADY, HASTY)
#: Spreads of teeth are over 0…200.
TEETH = MOST_TEETH + 1
#: So many catalogs are kept ready.
CATALOGS_KEPT = 4
#: So many numbers are kept of what counts say, 64 MB.
NUMBERS_KEPT = 2**23
_NONE: Numbers = np.array([], np.intp)
_UNSCALED: Reals = np.zeros(len(HANDS))
_UNKNOWN = slice(TEETH_RANGE.start, TEETH_RANGE.stop)


@dataclass(frozen=True, slots=True)
class OfPiece:
    """One piece of one family, and which types of the catalog are of it: `first`…`end`−1.

    Types alike in teeth stand together.
    """

    family: Family
    piece: Piece
    first: int
    end: int


@dataclass(frozen=True, slots=True)
class Spot:
    """What the counts of one place say of every spread, an array of (hand, spread) for each list.

    Scaled as `wheel_likelihood` does, by `log_scale` of each hand. `by_teeth`: of teeth 0…200;
    `pool`: of a wheel of which nothing is known.
    """

    by_teeth: Reals
    listed: Reals
    changed: Reals
    new: Reals
    pool: Reals
    log_scale: Reals


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


@dataclass(frozen=True, slots=True)
class Frame:
    """Where a piece of one length, with such ends, can lie: a block for each size of piece.

    `kinds`, `pieces`: those of all blocks; `alike`: the first of `kinds` of each that is other than
    the one before it in teeth, and the end.
    """

    blocks: tuple[Block, ...]
    kinds: Numbers
    pieces: Numbers
    alike: Numbers


class LooseCatalog:
    """One catalog made ready: `kinds` are its types by number, `pieces` what they are of.

    `sets[k]`: the sets that carry a type; `alike[k]`: the first type with the same teeth of the
    same piece; `piece_of[k]`: what it is of.
    """

    def __init__(self, catalog: Catalog) -> None:
        self.catalog = catalog
        self.rho = Rho(catalog)
        self.kinds: list[PieceType] = []
        self.sets: list[tuple[str, ...]] = []
        self.pieces: list[OfPiece] = []
        alike: list[int] = []
        for family, piece, kinds in _types(catalog):
            first = len(self.kinds)
            self.pieces.append(OfPiece(family, piece, first, first + len(kinds)))
            names = [known.id for known in family.counted_sets]
            for kind in kinds:
                self.sets.append(tuple([names[c] for c in kind.carriers]))
                same = (
                    bool(alike) and len(self.kinds) > first and kind.teeth == self.kinds[-1].teeth
                )
                alike.append(alike[-1] if same else len(self.kinds))
                self.kinds.append(kind)
        self.alike = np.array(alike, np.intp)
        self.weight = np.array([kind.weight for kind in self.kinds])
        self.piece_of = np.repeat(
            np.arange(len(self.pieces)), [of.end - of.first for of in self.pieces]
        )
        self.number_of = {
            (of.family.id, of.piece.name): number for number, of in enumerate(self.pieces)
        }
        self._longest = max((len(of.piece.wheels) for of in self.pieces), default=0)
        self.pool = spread_of(pool_of_all(catalog))
        self._index()
        known = {t for p in self.rho.pools.values() for t in p}
        self._known = sorted({*TEETH_RANGE, *known})
        #: How many spreads there are.
        self.spreads = TEETH + len(self._gap_names) + len(self._excluded) + len(self._new_teeth)
        kept = max(NUMBERS_KEPT // (len(HANDS) * self.spreads), 1)
        self.spot = lru_cache(maxsize=kept)(self._spot)
        self._frames: dict[object, Frame] = {}

    def _index(self) -> None:
        """Number the spreads of every wheel of every type, and of every wheel of a new piece."""
        names = {
            w: i
            for i, w in enumerate(dict.fromkeys(w for of in self.pieces for w in of.piece.wheels))
        }
        rho = np.array([self.rho.of(name) for name in names]).reshape(len(names), len(TEETH_RANGE))
        gaps: dict[int, int] = {}
        changed: dict[tuple[int, int | None], int] = {}
        self._listed_of: list[list[int]] = []
        self._changed_of: list[list[int]] = []
        self._new_of: list[list[int]] = []
        shares: list[tuple[int, float]] = []
        starts: list[int] = []
        new_names: list[int] = []
        own: list[float] = []
        for of in self.pieces:
            wheels = [names[wheel] for wheel in of.piece.wheels]
            for kind in self.kinds[of.first : of.end]:
                self._listed_of.append(
                    [
                        TEETH + gaps.setdefault(w, len(gaps)) if t is None else t
                        for w, t in zip(wheels, kind.teeth, strict=True)
                    ]
                )
                self._changed_of.append(
                    [
                        changed.setdefault(key, len(changed))
                        for key in zip(wheels, kind.teeth, strict=True)
                    ]
                )
            self._new_of.append(list(range(len(starts), len(starts) + len(wheels))))
            for place, wheel in enumerate(wheels):
                counted = _counted(self.kinds[of.first : of.end], place)
                starts.append(len(shares))
                new_names.append(wheel)
                own.append(1 - AS_LISTED_WHEEL if counted else 1.0)
                shares += [(t, AS_LISTED_WHEEL * s) for t, s in counted.items()] or [(0, 0.0)]
        self._rho = rho
        self._gap_names = np.array(list(gaps), np.intp)
        self._changed_names = np.array([w for w, _ in changed], np.intp)
        self._changed_teeth = np.array([t or 0 for _, t in changed], np.intp)
        #: What ρ has of the teeth that are excluded.
        self._excluded = np.array(
            [float(rho[w][t - LEAST_TEETH]) if t and t in TEETH_RANGE else 0.0 for w, t in changed]
        )
        self._new_teeth = np.array([t for t, _ in shares], np.intp)
        self._new_shares = np.array([s for _, s in shares])
        self._new_starts = np.array(starts, np.intp)
        self._new_names = np.array(new_names, np.intp)
        self._new_own = np.array(own)

    def _spot(self, counts: tuple[tuple[int, bool, int], ...]) -> Spot:
        """What the counts of one place say: (teeth, unsure, times) of each."""
        found = [Count("", *count) for count in counts]
        laws = [wheel_likelihood(found, hand, self._known) for hand in HANDS]
        by_teeth = np.array([law.by_teeth for law in laws])
        return self.said(by_teeth, np.array([law.log_scale for law in laws]))

    def said(self, by_teeth: Reals, log_scale: Reals = _UNSCALED) -> Spot:
        """Return the mean over every spread of what each row gives for teeth 0…200."""
        unknown = by_teeth[:, _UNKNOWN]
        drawn = np.einsum("ct,nt->cn", unknown, self._rho)
        listed = np.concatenate([by_teeth, drawn[:, self._gap_names]], axis=1)
        # What is lost in the difference is as nothing beside the weight of the teeth excluded.
        excluded = self._excluded * by_teeth[:, self._changed_teeth]
        changed = np.maximum(drawn[:, self._changed_names] - excluded, 0.0) / (1 - self._excluded)
        new = drawn[:, self._new_names] * self._new_own
        if len(self._new_starts):
            shares = by_teeth[:, self._new_teeth] * self._new_shares
            new += np.add.reduceat(shares, self._new_starts, axis=1)
        return Spot(by_teeth, listed, changed, new, unknown @ np.array(self.pool), log_scale)

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
        kinds = {
            size: np.concatenate(
                [np.arange(self.pieces[n].first, self.pieces[n].end) for n in by_size[size]]
            )
            for size in fitting
        }
        commonness = sum(float(self.weight[found].sum()) for found in kinds.values())
        blocks = tuple(
            self._block(size, fitting[size], kinds[size], np.array(by_size[size]), commonness)
            for size in fitting
        )
        every = np.concatenate([_NONE, *(block.kinds for block in blocks)])
        pieces = np.concatenate([_NONE, *(block.pieces for block in blocks)])
        alike = np.flatnonzero(np.diff(self.alike[every], prepend=-1))
        return Frame(blocks, every, pieces, np.append(alike, len(every)))

    def _block(
        self,
        size: int,
        ways: tuple[tuple[int, ...], ...],
        kinds: Numbers,
        pieces: Numbers,
        commonness: float,
    ) -> Block:
        at = np.array(ways).T
        lengths = [self.pieces[n].end - self.pieces[n].first for n in pieces]

        def laid(index: list[list[int]], members: Numbers) -> Numbers:
            wheels = np.array([index[member] for member in members], np.intp)
            return np.ascontiguousarray(wheels.T[at])

        return Block(
            size=size,
            ways=ways,
            kinds=kinds,
            prior=(1 - UNCATALOGUED_PRIOR) / commonness / len(ways) * self.weight[kinds],
            pieces=pieces,
            starts=np.concatenate([[0], np.cumsum(lengths)[:-1]]).astype(np.intp),
            listed=laid(self._listed_of, kinds),
            changed=laid(self._changed_of, kinds),
            new=laid(self._new_of, pieces),
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


def _types(catalog: Catalog) -> Iterator[tuple[Family, Piece, list[PieceType]]]:
    """Each piece with its types, those alike in teeth side by side, in the order of the catalog."""
    for family in catalog.families:
        for piece in family.pieces:
            together: dict[Teeth, list[PieceType]] = {}
            for kind in family.types[piece.name]:
                together.setdefault(kind.teeth, []).append(kind)
            if together:
                yield family, piece, [kind for kinds in together.values() for kind in kinds]


def _counted(kinds: Sequence[PieceType], place: int) -> dict[int, float]:
    """The teeth that a family's sets have at a place of a piece, by share of their commonness."""
    found: dict[int, float] = {}
    for kind in kinds:
        teeth = kind.teeth[place]
        if teeth is not None:
            found[teeth] = found.get(teeth, 0.0) + kind.weight
    total = sum(found.values())
    return {teeth: weight / total for teeth, weight in found.items()}


def pool_of_all(catalog: Catalog) -> dict[int, float]:
    """Return every count of a catalog by commonness; a wheel with two names is one wheel."""
    pool: dict[int, float] = {}
    for family in catalog.families:
        for known in family.counted_sets:
            for teeth in family.teeth_of(known).values():
                if teeth is not None:
                    pool[teeth] = pool.get(teeth, 0.0) + known.commonness
    return pool
