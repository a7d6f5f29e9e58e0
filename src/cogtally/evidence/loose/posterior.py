"""The posterior of a loose piece, counted along its axis from either end.

How it is typed belongs to `gears.looks`, where its counts can lie to `candidates`. Arrays are
(hand, count to come, fit), or (…, type) and (…, piece).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from itertools import repeat
from math import exp, fsum, inf, log

import numpy as np

from cogtally.catalog.model import Catalog, PieceType
from cogtally.evidence.advice import LEAST_WORTH, count_laws, entropy, left_over
from cogtally.evidence.laws import (
    CHANGED_SHARE,
    GREATEST_TEETH,
    HAND_PRIOR,
    HANDS,
    LOOSE_UNLISTED,
    STEADY,
    UNCATALOGUED_PRIOR,
)
from cogtally.evidence.loose.candidates import (
    Frame,
    Reals,
    Spot,
    ready_for_pieces,
    summed,
)
from cogtally.evidence.loose.groups import LooseGroup, LooseShare, counted_teeth
from cogtally.evidence.rho import EVERY_PIECE, EVERY_WHEEL, own_name
from cogtally.evidence.seen import LOG_DECIMALS, things_seen
from cogtally.gears.looks import SeenPiece

#: Answers that are together rarer than this change no worth by 1e-7 bit, and are left out.
TOO_RARE = 1e-9
#: So many numbers are made at once of counts to come.
NUMBERS_AT_ONCE = 2**22

CHANGED, NEW = LOOSE_UNLISTED * CHANGED_SHARE, LOOSE_UNLISTED * (1 - CHANGED_SHARE)


class LoosePosterior:
    """The exact posterior of a loose piece.

    `role` (a piece name) and `family` (its id) restrict the candidates. All places in a type that
    fit, both ways round, are equally likely. The answers add up to 1 with `uncatalogued`; `steady`:
    probability of a steady hand. `sizes`: how many wheels the pieces that were asked for have,
    rising. Single answers and the worth of another count are only worked out when asked for.
    """

    def __init__(
        self, catalog: Catalog, seen: SeenPiece, role: str | None = None, family: str | None = None
    ) -> None:
        self._ready = ready = ready_for_pieces(catalog)
        self._seen = seen
        uncounted = SeenPiece(((),) * len(seen.places), seen.open_start, seen.open_end)
        self._frame = ready.frame(uncounted, role, family)
        self.sizes = self._frame.sizes
        said = list(map(ready.spot, seen.places))
        self._spots = [spot for spot, _ in said]
        scale = sum([scale for _, scale in said], np.zeros(len(HANDS)))
        #: What was seen beside the counts: of each type, over what is of none.
        self._beside: Reals = np.ones((1, 1, 1))
        self._elsewhere = 1.0
        if seen.marks or seen.features:
            scale = scale + self._look()
        #: The weight of each hand before anything is known of the piece.
        self._hands = (np.array(HAND_PRIOR) * np.exp(scale - scale.max()))[:, None]
        parts = self._weights(self._frame, self._beside, self._spots)
        by_hand = np.concatenate(parts, axis=-1).sum(axis=-1)[:, 0]
        total = by_hand.sum()
        self.steady = float(by_hand[STEADY] / total)
        # The probability of each type of the frame as listed, of each piece of it to be of none.
        self._listed, self._unlisted, none = (part.sum(axis=0)[0] / total for part in parts)
        self._every = np.concatenate([self._listed, self._unlisted])
        self.uncatalogued = float(none[0])

    def _look(self) -> Reals:
        """Weigh all marks and features beside the types; return by hand their log of no type."""
        values = self._ready.rho.values_of
        things = things_seen(
            self._seen, lambda owner, name: values(EVERY_WHEEL if owner else EVERY_PIECE, name)
        )

        def beside(kind: PieceType, wheels: Sequence[int], hand: int) -> float:
            logs: list[float] = []
            for (place, _), thing in things.items():
                owner = kind.piece.wheels[wheels[int(place) - 1]] if place else own_name(kind.piece)
                logs += [thing.log(kind, owner, hand), -thing.unknown[hand]]
            return fsum(logs)

        kinds = [self._ready.kinds[number] for number in self._frame.kinds[self._frame.kind]]
        wheels = self._frame.wheels.T.tolist()
        logs = np.array([[[*map(beside, kinds, wheels, repeat(hand))]] for hand in HANDS])
        with np.errstate(divide="ignore"):
            counts = [
                np.log(spot.listed.take(index, axis=-1))
                for spot, index in zip(self._spots, self._frame.spread, strict=True)
            ]
        top = float(sum(counts, logs).max(initial=0.0))
        self._beside = np.exp(logs - top)
        self._elsewhere = exp(-top)
        return np.array([fsum(thing.unknown[hand] for thing in things.values()) for hand in HANDS])

    def _weights(
        self, frame: Frame, beside: Reals, spots: Sequence[Spot]
    ) -> tuple[Reals, Reals, Reals]:
        """The weight of each type as listed, of each piece to be of none, and of no family.

        By hand and count to come.
        """
        none = self._elsewhere * (UNCATALOGUED_PRIOR if len(frame.kinds) else 1.0) * self._hands
        one, changed, new = np.ones(1), np.zeros(1), np.ones(1)
        for at, spot in enumerate(spots):
            none = none * spot.pool
            here = spot.listed.take(frame.spread[at], axis=-1)
            changed = changed * here + one * spot.changed.take(frame.spread[at], axis=-1)
            one = one * here
            new = new * spot.new.take(frame.new[at], axis=-1)
        # "any alike (a wheel that was not seen, too)"
        changed = (changed + (frame.size - len(spots)) * one) / frame.size
        hands = self._hands[..., None]
        listed = (1 - LOOSE_UNLISTED) * hands * (summed(one * beside, frame.kind) * frame.prior)
        other = NEW * summed(new, frame.new_piece) * summed(frame.prior, frame.piece)
        other += CHANGED * summed(summed(changed, frame.kind) * frame.prior, frame.piece)
        return listed, self._elsewhere * hands * other, none[..., None]

    def answers(self, least: float = 0.0) -> tuple[LooseShare, ...]:
        """Return the answers of at least that probability, falling."""
        found = map(self._share, np.flatnonzero(self._every >= least).tolist())
        return tuple(sorted(found, key=lambda share: -share.probability))

    def _share(self, at: int) -> LooseShare:
        """The answer at a place: the types of the frame, then its pieces, of no listed type."""
        ready, kinds = self._ready, self._frame.kinds
        kind = ready.kinds[kinds[at]] if at < len(kinds) else None
        number = ready.piece_of[kinds[at]] if kind else self._frame.pieces[at - len(kinds)]
        family, piece = ready.pieces[number]
        sets = kind.sets if kind else ()
        return LooseShare(family.id, piece.name, kind, sets, float(self._every[at]))

    def leading(self, most: int | None = None, least: float = 0.0) -> tuple[LooseGroup, ...]:
        """Return the most probable answers, so many, those alike in teeth as one; falling.

        None of less than `least`.
        """
        ready, frame = self._ready, self._frame
        alike = np.concatenate([ready.alike[frame.kinds], len(ready.kinds) + frame.pieces])
        starts = np.append(np.flatnonzero(np.diff(alike, prepend=-1)), len(alike))
        sums = summed(self._every, alike)
        found = np.flatnonzero(sums >= least)
        groups: list[LooseGroup] = []
        for at in found[np.argsort(-sums[found], kind="stable")][:most]:
            levels: dict[float, list[LooseShare]] = {}
            for share in map(self._share, range(starts[at], starts[at + 1])):
                levels.setdefault(self._level(share), []).append(share)
            groups += map(self._group, levels.values())
        groups = [group for group in groups if group.probability >= least]
        return tuple(sorted(groups, key=lambda group: -group.probability)[:most])

    def _level(self, share: LooseShare) -> float:
        """How likely the looks are under a type, beside others alike in teeth, as a log."""
        if share.kind is None or not (self._seen.marks or self._seen.features):
            return 0.0
        each = share.probability / share.kind.weight
        return round(log(each), LOG_DECIMALS) if each > 0 else -inf

    def _group(self, shares: list[LooseShare]) -> LooseGroup:
        shares.sort(key=lambda share: -share.probability)
        number = self._ready.number_of[shares[0].family, shares[0].piece]
        probability = sum(share.probability for share in shares)
        return LooseGroup(self._seen, *self._ready.pieces[number], tuple(shares), probability)

    def of_piece(self, family: str, piece: str) -> float:
        """Return the probability that it is that piece of that family, listed or not."""
        number = self._ready.number_of[family, piece]
        return float(self._by_piece[self._frame.pieces == number].sum())

    @property
    def _by_piece(self) -> Reals:
        """The probability of each piece of the frame, listed or not."""
        found: Reals = self._unlisted + summed(self._listed, self._frame.piece)
        return found

    @property
    def nearest(self) -> LooseGroup | None:
        """The type with the fewest teeth off the counts in all, the commonest of such."""
        frame = self._frame
        away = np.zeros(len(frame.kind), np.intp)
        for spread, counts in zip(frame.spread, self._seen.places, strict=True):
            counted, teeth = counted_teeth(counts), self._ready.teeth[spread]
            if counted is not None:
                away += np.where(teeth > 0, np.abs(teeth - counted), 0)
        order = np.lexsort((-frame.prior[frame.kind], away))
        return self._group([self._share(frame.kind[order[0]])]) if order.size else None

    @cached_property
    def worth(self) -> tuple[float, ...]:
        """The bits that one more count of each place is expected to bring.

        Every type, and every piece unlisted, is an answer of its own. Counts 4…200 are weighted by
        their predictive probability and divided by the total of it.
        """
        rising = np.sort(np.append(self._by_piece, 1.0))
        least = rising[np.searchsorted(np.cumsum(rising), TOO_RARE)]
        frame, own = self._frame.of_pieces(self._by_piece >= least)
        beside = np.broadcast_to(self._beside, (*self._beside.shape[:2], len(own)))[..., own]

        def answers(spots: Sequence[Spot]) -> Reals:
            """Return the weight of every answer, the last axis, by count to come."""
            parts = self._weights(frame, beside, spots)
            return np.concatenate([part.sum(axis=0) for part in parts], axis=-1)

        now = entropy(answers(self._spots)[0])
        most = int(self._ready.teeth.max(initial=GREATEST_TEETH))
        laws = np.ascontiguousarray(count_laws(most).swapaxes(1, 2))
        found = []
        for place, seen in enumerate(self._spots):
            widest = max(len(frame.kind), *(said.shape[-1] for said in seen))
            step = max(NUMBERS_AT_ONCE // widest, 1)
            mass = left = 0.0
            for first in range(0, laws.shape[1], step):
                to_come = self._ready.said(seen.by_teeth * laws[:, first : first + step])
                weights = answers([*self._spots[:place], to_come, *self._spots[place + 1 :]])
                mass += float(weights.sum())
                left += left_over(weights.T)
            fall = now - left / mass
            found.append(fall if fall >= LEAST_WORTH else 0.0)
        return tuple(found)
