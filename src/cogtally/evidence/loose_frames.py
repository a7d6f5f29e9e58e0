"""A catalog made ready for loose pieces: types alike in teeth, and where counts can lie on them.

What the counts say is left to `loose`, how many places are weighed at once to `loose_arrays`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from cogtally.catalog.model import Catalog, Family, Piece, PieceType, Teeth
from cogtally.evidence.likelihood import (
    HASTY,
    STEADY,
    TEETH_RANGE,
    UNCATALOGUED_PRIOR,
    wheel_likelihood,
)
from cogtally.evidence.rho import Rho, spread_of
from cogtally.gears.looks import SeenPiece
from cogtally.gears.notation import MOST_TEETH, Count

HANDS = (STEADY, HASTY)
#: One number for each hand.
Pair = tuple[float, float]
#: A wheel of a type as one number: its teeth, or from here on a gap, by the name of the wheel.
FIRST_GAP = MOST_TEETH + 1
#: So many catalogs, and different counts of one, are kept ready.
KEPT, COUNTS_KEPT = 4, 1024


@dataclass(frozen=True, slots=True)
class Alike:
    """The types of one piece of one family that are alike in teeth; `weight`: their commonness."""

    family: Family
    piece: Piece
    teeth: Teeth
    kinds: tuple[PieceType, ...]
    weight: float

    @property
    def sets(self) -> tuple[str, ...]:
        """The sets that carry them, in the order of the catalog."""
        carriers = {c for kind in self.kinds for c in kind.carriers}
        return tuple(self.family.counted_sets[c].id for c in sorted(carriers))


class Place:
    """What the counts of one place say: the likelihood of every code with each hand.

    Scaled as `wheel_likelihood` does; `pool` is that of a wheel of which nothing is known.
    """

    __slots__ = ("array", "by_code", "log_scale", "pool")

    def __init__(
        self, by_code: tuple[list[float], list[float]], pool: Pair, log_scale: Pair
    ) -> None:
        self.by_code = by_code
        self.pool = pool
        self.log_scale = log_scale
        #: The same as one array, once somebody asked for it.
        self.array: Any = None


class Frame:
    """Every stretch of wheels on which a piece of one length and with such ends can be seen.

    `groups` are the candidates; `windows` are the different stretches, as codes; `weights[w]` the
    prior of all groups there. `spots[g]` are (window, prior) of one group, `there[w]` are
    (prior, group) of one window, falling. `ways[g]` are (wheels, window), one for each way that
    the group fits, `priors[g]` the prior of each for one type, by its commonness. `most_spots`:
    the windows of the group with most. `of_piece`: the groups by family and piece.
    """

    def __init__(self, catalog: LooseCatalog, seen: SeenPiece, role: str | None) -> None:
        fits: dict[int, list[tuple[int, ...]]] = {}
        self.groups: list[Alike] = []
        for group in catalog.groups:
            size = len(group.teeth)
            if size not in fits:
                fits[size] = list(places(size, seen))
            if fits[size] and role in (None, group.piece.name):
                self.groups.append(group)
        commonness = sum(group.weight for group in self.groups)
        numbers: dict[tuple[int, ...], int] = {}
        self.weights: list[float] = []
        self.ways: list[tuple[tuple[tuple[int, ...], int], ...]] = []
        self.priors: list[float] = []
        self.spots: list[tuple[tuple[int, float], ...]] = []
        self.there: list[list[tuple[float, int]]] = []
        self.of_piece: dict[tuple[str, str], list[int]] = {}
        for number, group in enumerate(self.groups):
            codes = catalog.codes(group)
            fitting = fits[len(codes)]
            windows = [
                numbers.setdefault(tuple([codes[i] for i in wheels]), len(numbers))
                for wheels in fitting
            ]
            each = (1 - UNCATALOGUED_PRIOR) / commonness / len(fitting)
            spots: dict[int, float] = {}
            for window in windows:
                spots[window] = spots.get(window, 0.0) + each * group.weight
            self.ways.append(tuple(zip(fitting, windows, strict=True)))
            self.priors.append(each)
            self.of_piece.setdefault((group.family.id, group.piece.name), []).append(number)
            self.spots.append(tuple(spots.items()))
            for window, prior in spots.items():
                if window == len(self.weights):
                    self.weights.append(0.0)
                    self.there.append([])
                self.weights[window] += prior
                self.there[window].append((prior, number))
        self.windows = list(numbers)
        self.most_spots = max(map(len, self.spots), default=0)
        for members in self.there:
            members.sort(key=lambda member: -member[0])
        #: The same made ready for arrays, once somebody asked for it.
        self.stack: Any = None


class LooseCatalog:
    """One catalog: its types alike in teeth, ρ, and what was worked out for earlier questions."""

    def __init__(self, catalog: Catalog) -> None:
        self.catalog = catalog
        self.rho = Rho(catalog)
        self.pool = _pool_of_all(catalog)
        self.groups = list(_alike(catalog))
        self._known = sorted({*TEETH_RANGE, *(t for p in self.rho.pools.values() for t in p)})
        self._gaps: dict[str, int] = {}
        for group in self.groups:
            for wheel, teeth in zip(group.piece.wheels, group.teeth, strict=True):
                if teeth is None:
                    self._gaps.setdefault(wheel, FIRST_GAP + len(self._gaps))
        self._most_wheels = max((len(group.teeth) for group in self.groups), default=0)
        self._frames: dict[object, Frame] = {}
        self._places: dict[object, Place] = {}

    def codes(self, group: Alike) -> list[int]:
        """Return the wheels of a group as codes, in the order of its piece."""
        return [
            self._gaps[wheel] if teeth is None else teeth
            for wheel, teeth in zip(group.piece.wheels, group.teeth, strict=True)
        ]

    def frame(self, seen: SeenPiece, role: str | None) -> Frame:
        """Return where a piece of this length, with these ends and this role, can lie."""
        # Any two lengths that no piece has are alike: nothing fits.
        length = min(len(seen.places), self._most_wheels + 1)
        key = length, seen.open_start, seen.open_end, role
        found = self._frames.get(key)
        if found is None:
            found = self._frames[key] = Frame(self, seen, role)
        return found

    def place(self, counts: Sequence[Count]) -> Place | None:
        """Return what the counts of one place say; None where nothing was counted."""
        if not counts:
            return None
        key = tuple([(c.teeth, c.unsure, c.times) for c in counts])
        found = self._places.get(key)
        if found is None:
            if len(self._places) >= COUNTS_KEPT:
                self._places.clear()
            found = self._places[key] = self._place(counts)
        return found

    def _place(self, counts: Sequence[Count]) -> Place:
        laws = [wheel_likelihood(counts, hand, self._known) for hand in HANDS]
        by_code, pool = [], []
        for law in laws:
            over = law.by_teeth[TEETH_RANGE.start : TEETH_RANGE.stop]
            gaps = [_mean(self.rho.of(wheel), over) for wheel in self._gaps]
            by_code.append([*law.by_teeth, *gaps])
            pool.append(_mean(self.pool, over))
        return Place(
            (by_code[STEADY], by_code[HASTY]),
            (pool[STEADY], pool[HASTY]),
            (laws[STEADY].log_scale, laws[HASTY].log_scale),
        )


_READY: list[LooseCatalog] = []


def ready_for_pieces(catalog: Catalog) -> LooseCatalog:
    """Return the catalog made ready for loose pieces; the last few are kept."""
    for ready in _READY:
        if ready.catalog is catalog:
            return ready
    ready = LooseCatalog(catalog)
    _READY.append(ready)
    del _READY[:-KEPT]
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


def _alike(catalog: Catalog) -> Iterator[Alike]:
    """Each piece's types taken together by their teeth, in the order of the catalog."""
    for family in catalog.families:
        for piece in family.pieces:
            together: dict[Teeth, list[PieceType]] = {}
            for kind in family.types[piece.name]:
                together.setdefault(kind.teeth, []).append(kind)
            for teeth, kinds in together.items():
                weight = sum(kind.weight for kind in kinds)
                yield Alike(family, piece, teeth, tuple(kinds), weight)


def _pool_of_all(catalog: Catalog) -> list[float]:
    """ρ over all wheels of the catalog together; a wheel with two names is one wheel."""
    pool: dict[int, float] = {}
    for family in catalog.families:
        for known in family.counted_sets:
            for teeth in family.teeth_of(known).values():
                if teeth is not None:
                    pool[teeth] = pool.get(teeth, 0.0) + known.commonness
    return spread_of(pool)


def _mean(spread: Iterable[float], law: Iterable[float]) -> float:
    return sum([s * p for s, p in zip(spread, law, strict=True)])
