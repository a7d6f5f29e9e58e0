"""The posterior of a loose piece, counted along its axis from either end.

How its counts are typed belongs to `gears.loose_words`, where they can lie to `candidates`, marks
and features to `looks`. Arrays are (hand, way, type) or (hand, way, piece) of one block.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from math import exp, inf, log
from typing import Any

import numpy as np

from cogtally.catalog.model import Catalog
from cogtally.evidence.laws import (
    CHANGED_SHARE,
    HAND_PRIOR,
    LOOSE_UNLISTED,
    Q_OF_HAND,
    STEADY,
    UNCATALOGUED_PRIOR,
    count_law,
)
from cogtally.evidence.loose.candidates import (
    HANDS,
    TEETH,
    Block,
    LooseCatalog,
    Numbers,
    Reals,
    Spot,
    ready_for_pieces,
)
from cogtally.evidence.loose.groups import LooseGroup, LooseShare, counted_teeth
from cogtally.gears.looks import SeenPiece
from cogtally.gears.notation import FEWEST_TEETH, MOST_TEETH

#: "printed as 0 below 1e-9"
LEAST_WORTH = 1e-9
#: Answers that are together rarer than this change no worth by 1e-7 bit, and are left out.
TOO_RARE = 1e-9
#: So many numbers are made at once of counts to come.
NUMBERS_AT_ONCE = 2**22
#: Types under which logs of what was seen agree so far are not parted by it.
LOG_DECIMALS = 9

CHANGED, NEW = LOOSE_UNLISTED * CHANGED_SHARE, LOOSE_UNLISTED * (1 - CHANGED_SHARE)


@dataclass(frozen=True)
class LoosePosterior:
    """The exact posterior of a loose piece.

    The answers add up to 1 with `uncatalogued`; `steady`: probability of a steady hand. Single
    answers and the worth of another count are only worked out when they are asked for.
    """

    uncatalogued: float
    steady: float
    _weighed: _Weighed = field(repr=False, compare=False)

    @cached_property
    def answers(self) -> tuple[LooseShare, ...]:
        """Every answer, falling."""
        return self.listed(0.0)

    def listed(self, least: float) -> tuple[LooseShare, ...]:
        """Return the answers of at least that probability, falling."""
        w = self._weighed
        found = [w.of_kind(at) for at in np.flatnonzero(w.listed >= least).tolist()]
        found += [w.of_unlisted(at) for at in np.flatnonzero(w.unlisted >= least).tolist()]
        return tuple(sorted(found, key=lambda share: -share.probability))

    def leading(self, most: int | None = None, least: float = 0.0) -> tuple[LooseGroup, ...]:
        """Return the most probable answers, so many, those alike in teeth as one; falling.

        None of less than `least`.
        """
        return self._weighed.leading(most, least)

    def of_piece(self, family: str, piece: str) -> float:
        """Return the probability that it is that piece of that family, listed or not."""
        return self._weighed.of_piece(family, piece)

    @cached_property
    def worth(self) -> tuple[float, ...]:
        """The bits that one more count of each place is expected to bring."""
        return tuple(map(self._weighed.worth, range(len(self._weighed.spots))))

    @property
    def sizes(self) -> tuple[int, ...]:
        """How many wheels the catalogued pieces (of what was asked for) have, rising."""
        return self._weighed.sizes

    @property
    def nearest(self) -> LooseGroup | None:
        """The type with the fewest teeth off the counts in all, the commonest of such."""
        return self._weighed.nearest()


def loose_posterior(
    catalog: Catalog, seen: SeenPiece, role: str | None = None, family: str | None = None
) -> LoosePosterior:
    """Return the exact posterior of a loose piece.

    `role` (a piece name) and `family` (its id) restrict the candidates. All places in a type that
    fit, both ways round, are equally likely.
    """
    weighed = _Weighed(ready_for_pieces(catalog), seen, role, family)
    return LoosePosterior(weighed.uncatalogued, weighed.steady, weighed)


class _Weighed:
    """The weight of everything that one piece can be.

    `listed`, `unlisted`: the probability of each type of the frame as listed, and of each piece of
    it to be of none.
    """

    def __init__(
        self, ready: LooseCatalog, seen: SeenPiece, role: str | None, family: str | None
    ) -> None:
        self.ready = ready
        self.seen = seen
        self.asked = role, family
        self.spots = [
            ready.spot(tuple([(c.teeth, c.unsure, c.times) for c in counts])) if counts else None
            for counts in seen.places
        ]
        self._frame = ready.frame(seen, role, family)
        self._blocks = self._frame.blocks
        products = [_products(block, self.spots) for block in self._blocks]
        scales = sum([spot.log_scale for spot in self.spots if spot], np.zeros(len(HANDS)))
        #: What was seen beside the counts: of each type, and of what is of none.
        self._beside: list[Reals | float] = [1.0] * len(self._blocks)
        self._elsewhere = 1.0
        if seen.marks or seen.features:
            from cogtally.evidence.loose.looks import Looks

            looks = Looks(ready, seen)
            scales = scales + looks.log_elsewhere
            logs = [looks.log_beside(block) for block in self._blocks]
            top = max([0.0, *map(_greatest, logs, [one for one, _, _ in products])])
            self._beside = [np.exp(log - top) for log in logs]
            self._elsewhere = exp(-top)
        #: The weight of each hand before anything is known of the piece.
        self._hands = np.array(HAND_PRIOR) * np.exp(scales - scales.max())
        self._weigh(products)

    def _weigh(self, products: Sequence[_Products]) -> None:
        unknown = self._of_none(self.spots)
        by_hand = unknown.copy()
        listed, unlisted = [], []
        for block, (one, changed, new), beside in zip(
            self._blocks, products, self._beside, strict=True
        ):
            own = (1 - LOOSE_UNLISTED) * (one * beside).sum(axis=1) * block.prior
            other = NEW * new.sum(axis=1) * _by_piece(block, block.prior)
            other += CHANGED * _by_piece(block, changed.sum(axis=1) * block.prior)
            other *= self._elsewhere
            by_hand += self._hands * (own.sum(axis=1) + other.sum(axis=1))
            listed.append(self._hands @ own)
            unlisted.append(self._hands @ other)
        total = float(by_hand.sum())
        self.uncatalogued = float(unknown.sum()) / total
        self.steady = float(by_hand[STEADY]) / total
        self.listed = np.concatenate([[], *listed]) / total
        self.unlisted = np.concatenate([[], *unlisted]) / total

    def _of_none(self, spots: Sequence[Spot | None]) -> Reals:
        """The weight of a piece of no family with each hand, by the counts of these places."""
        prior = UNCATALOGUED_PRIOR if self._blocks else 1.0
        weight: Reals = self._elsewhere * prior * self._hands
        for spot in spots:
            if spot is not None:
                weight = weight * spot.pool
        return weight

    def of_kind(self, at: int) -> LooseShare:
        """Return the answer that is a type as listed, by its place in the frame."""
        number = self._frame.kinds[at]
        kind, of = self.ready.kinds[number], self.ready.pieces[self.ready.piece_of[number]]
        probability = float(self.listed[at])
        return LooseShare(of.family.id, of.piece.name, kind, self.ready.sets[number], probability)

    def of_unlisted(self, at: int) -> LooseShare:
        """Return the answer that is no listed type of a piece, by its place in the frame."""
        of = self.ready.pieces[self._frame.pieces[at]]
        return LooseShare(of.family.id, of.piece.name, None, (), float(self.unlisted[at]))

    def leading(self, most: int | None, least: float) -> tuple[LooseGroup, ...]:
        """Return the most probable answers, those alike in teeth as one, falling."""
        starts = self._frame.alike
        sums = np.add.reduceat(self.listed, starts[:-1]) if len(self.listed) else self.listed
        every = np.concatenate([sums, self.unlisted])
        found = np.flatnonzero(every >= least)
        found = found[np.argsort(-every[found], kind="stable")][:most]
        groups: list[LooseGroup] = []
        for at in found.tolist():
            if at < len(sums):
                groups += self._alike([self.of_kind(k) for k in range(starts[at], starts[at + 1])])
            else:
                groups.append(self._group([self.of_unlisted(at - len(sums))]))
        groups = [group for group in groups if group.probability >= least]
        return tuple(sorted(groups, key=lambda group: -group.probability)[:most])

    def _alike(self, shares: Sequence[LooseShare]) -> Iterator[LooseGroup]:
        """Types alike in teeth by how likely what else was seen is under them."""
        levels: dict[float, list[LooseShare]] = {}
        for share in shares:
            level = _level(share) if self.seen.marks or self.seen.features else 0.0
            levels.setdefault(level, []).append(share)
        return map(self._group, levels.values())

    def _group(self, shares: list[LooseShare]) -> LooseGroup:
        shares.sort(key=lambda share: -share.probability)
        family = self.ready.catalog.by_id[shares[0].family]
        probability = sum(share.probability for share in shares)
        return LooseGroup(self.seen, family, shares[0].piece, tuple(shares), probability)

    def of_piece(self, family: str, piece: str) -> float:
        """Return the probability of one piece of one family, listed or not."""
        number = self.ready.number_of[family, piece]
        listed = self.listed[self.ready.piece_of[self._frame.kinds] == number]
        return float(listed.sum() + self.unlisted[self._frame.pieces == number].sum())

    def nearest(self) -> LooseGroup | None:
        """Return the type with the fewest teeth off the counts in all, the commonest of such."""
        found = []
        first = 0
        for block in self._blocks:
            away = np.zeros(block.listed.shape[1:], np.intp)
            for index, counts in zip(block.listed, self.seen.places, strict=True):
                counted = counted_teeth(counts)
                if counted is not None:
                    away += np.where(index < TEETH, np.abs(index - counted), 0)
            least = away.min(axis=0)
            at = int(np.lexsort((-block.prior, least))[0])
            found.append((int(least[at]), -float(block.prior[at]), first + at))
            first += len(block.kinds)
        return self._group([self.of_kind(min(found)[2])]) if found else None

    @property
    def sizes(self) -> tuple[int, ...]:
        """How many wheels the pieces that were asked for have, rising."""
        role, family = self.asked
        return tuple(
            sorted(
                {
                    len(of.piece.wheels)
                    for of in self.ready.pieces
                    if role in (None, of.piece.name) and family in (None, of.family.id)
                }
            )
        )

    def worth(self, place: int) -> float:
        """Return the expected fall of the entropy of the answer, in bits, from a count of a place.

        Every type, and every piece unlisted, is an answer of its own. Counts 4…200 are weighted by
        their predictive probability and divided by the total of it.
        """
        shares = np.concatenate([self.listed, self.unlisted])
        least = _least_kept(shares)
        now = _entropy(np.append(shares[shares >= least], self.uncatalogued))
        spots = [*self.spots[:place], None, *self.spots[place + 1 :]]
        weighed = [_products(block, spots) for block in self._blocks]
        mass = fall = 0.0
        for to_come in _to_come(self.ready, self.spots[place]):
            columns = [np.einsum("h,hc->c", self._of_none(spots), to_come.pool)[None]]
            first = [0, 0]
            for block, beside, products in zip(self._blocks, self._beside, weighed, strict=True):
                listed, unlisted = (
                    np.flatnonzero(of[at : at + len(some)] >= least)
                    for of, at, some in zip(
                        (self.listed, self.unlisted),
                        first,
                        (block.kinds, block.pieces),
                        strict=True,
                    )
                )
                first = [first[0] + len(block.kinds), first[1] + len(block.pieces)]
                columns += self._columns(block, place, beside, products, to_come, listed, unlisted)
            found = np.concatenate(columns)
            chance = found.sum(axis=0)
            mass += float(chance.sum())
            fall += float((chance * (now - _entropy(found))).sum())
        worth = fall / mass
        return worth if worth >= LEAST_WORTH else 0.0

    def _columns(
        self,
        block: Block,
        place: int,
        beside: Reals | float,
        products: _Products,
        to_come: _ToCome,
        listed: Numbers,
        unlisted: Numbers,
    ) -> Iterator[Reals]:
        """The weight of every count to come, a row for each of some answers."""
        one, changed, new = products
        hands = self._hands[:, None, None]
        # A place left out was taken for one that may be changed with nothing to say of it.
        elsewhere = np.maximum(changed - one / block.size, 0.0)
        own = (1 - LOOSE_UNLISTED) * hands * beside * one * block.prior
        yield _predicted(own[..., listed], to_come.listed, block.listed[place][:, listed])
        prior = NEW * self._elsewhere * _by_piece(block, block.prior)
        rows = _predicted(
            (hands * new * prior)[..., unlisted], to_come.new, block.new[place][:, unlisted]
        )
        ends = np.append(block.starts[1:], len(block.kinds))
        prior = CHANGED * self._elsewhere * block.prior
        for row, piece in enumerate(unlisted.tolist()):
            some = slice(block.starts[piece], ends[piece])
            for weight, law, index in (
                (elsewhere, to_come.listed, block.listed),
                (one / block.size, to_come.changed, block.changed),
            ):
                part = (hands * weight * prior)[..., some]
                rows[row] += _predicted(part, law, index[place][:, some]).sum(axis=0)
        yield rows


#: By hand, way and type the likelihood of the counts as listed and with a wheel changed; by hand,
#: way and piece that of a new piece.
_Products = tuple[Reals, Reals, Reals]


@dataclass(frozen=True, slots=True)
class _ToCome:
    """The likelihood of what was counted of a place and of each of some counts to come.

    Arrays of (hand, count, spread), `pool` of (hand, count).
    """

    listed: Reals
    changed: Reals
    new: Reals
    pool: Reals


def _products(block: Block, spots: Sequence[Spot | None]) -> _Products:
    by_kind = len(HANDS), len(block.ways), len(block.kinds)
    one, changed = np.ones(by_kind), np.zeros(by_kind)
    new = np.ones((len(HANDS), len(block.ways), len(block.pieces)))
    for at, spot in enumerate(spots):
        if spot is None:
            changed += one
            continue
        here = spot.listed.take(block.listed[at], axis=1)
        changed *= here
        changed += one * spot.changed.take(block.changed[at], axis=1)
        one *= here
        new *= spot.new.take(block.new[at], axis=1)
    # "any alike (a wheel that was not seen, too)"
    changed += (block.size - len(spots)) * one
    changed /= block.size
    return one, changed, new


def _to_come(ready: LooseCatalog, spot: Spot | None) -> Iterator[_ToCome]:
    """Take the counts to come some at a time, so that they take little memory."""
    seen = np.ones((len(HANDS), TEETH)) if spot is None else spot.by_teeth
    step = max(NUMBERS_AT_ONCE // ready.spreads, 1)
    for first in range(FEWEST_TEETH, MOST_TEETH + 1, step):
        laws = _LAWS[:, first : min(first + step, MOST_TEETH + 1)]
        said = ready.said((laws * seen[:, None]).reshape(-1, TEETH))
        shape = laws.shape[:2]
        yield _ToCome(
            said.listed.reshape(*shape, -1),
            said.changed.reshape(*shape, -1),
            said.new.reshape(*shape, -1),
            said.pool.reshape(shape),
        )


def _laws() -> Reals:
    """The probability of one plain count 0…200 by hand, count and teeth 0…200."""
    off = np.abs(np.subtract.outer(np.arange(TEETH), np.arange(TEETH)))
    return np.array([np.array([count_law(o, q) for o in range(TEETH)])[off] for q in Q_OF_HAND])


_LAWS = _laws()


def _predicted(weight: Reals, law: Reals, index: Numbers) -> Reals:
    """Return by answer and count: weights by hand, way and answer, spreads by way and answer."""
    found: Reals = np.einsum("hwa,hcwa->ac", weight, law[:, :, index])
    return found


def _by_piece(block: Block, values: Reals) -> Reals:
    found: Reals = np.add.reduceat(values, block.starts, axis=-1)
    return found


def _greatest(log: Reals, one: Reals) -> float:
    with np.errstate(divide="ignore"):
        return float((log + np.log(one)).max())


def _level(share: LooseShare) -> float:
    """How likely all that was seen is under a type, beside others alike in teeth, as a log."""
    assert share.kind is not None
    each = share.probability / share.kind.weight
    return round(log(each), LOG_DECIMALS) if each > 0 else -inf


def _least_kept(shares: Reals) -> float:
    """The least share that is not left out."""
    rising = np.sort(shares)
    left_out = int(np.searchsorted(np.cumsum(rising), TOO_RARE))
    return float(rising[left_out]) if left_out < len(rising) else 1.0


def _entropy(weights: Reals) -> Any:
    """The entropy in bits of each column of weights that need not add up to 1."""
    shares = weights / weights.sum(axis=0)
    return -(shares * np.log2(np.where(shares > 0, shares, 1.0))).sum(axis=0)
