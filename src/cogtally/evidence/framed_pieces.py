"""What every state of every piece of one family weighs, whatever the others are, in arrays.

The sums come from `framed_pattern`; what the shares mean is left to `framed`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cogtally.evidence.framed_arms import HANDS, Array
from cogtally.evidence.framed_pattern import Pattern, PatternSums


class PieceStates:
    """The states of all pieces under one pattern: those of a piece unlisted first, then its types.

    What stands around an arm is the product of all others of its star. Pieces behind arms with
    nothing counted, and hubs, are read off the products of the counted arms.
    """

    def __init__(self, pattern: Pattern) -> None:
        self._pattern = pattern
        frame, bases = pattern.frame, pattern.bases
        arms = frame.arms
        free = [n for n in range(len(arms)) if n not in pattern.numbers]
        self._messages = {n: pattern.behind[n][:bases] @ frame.free[n] for n in free}
        alone = {
            star: weights[:bases].real.sum(axis=1)
            for star, weights in enumerate(pattern.weights)
            if star not in pattern.stars
        }
        #: For each piece where its states stand among all that are worked out.
        places: dict[int, range] = {}
        count = 0

        def placed(piece: int, states: int) -> None:
            nonlocal count
            places[piece] = range(count, count + states)
            count += states

        def around(star: int) -> Array:
            found: Array = frame.rows.weights.copy()
            for other, value in alone.items():
                if other != star:
                    found *= value
            return found.reshape(-1, 1)

        self._read: list[Array] = []
        for star in (*pattern.stars, *alone):
            read = [self._hub(star) * around(star)]
            placed(frame.hubs[star], len(read[0]))
            for number in free:
                if arms[number].star == star:
                    for piece, states in self._behind(star, number):
                        read.append(states * around(star))
                        placed(piece, len(states))
            rows = np.concatenate(read)
            if star in alone:
                self._read.append(rows.real.sum(axis=2).T)
            else:
                self._read.append(np.conj(rows).view(float).reshape(len(rows), -1).T)
        self._around = np.array(
            [
                (pattern.weights[arms[n].star][:bases] * around(arms[n].star))[None]
                for n in pattern.numbers
            ]
        )
        self._own_short = np.ascontiguousarray(pattern.behind_short[:, :, :bases])
        for i in pattern.short:
            pieces = arms[pattern.numbers[i]].pieces
            states = self._own_short.shape[3]
            if pieces:
                places[pieces[0]] = range(count, count + states)
            count += states
        for i in pattern.long:
            for piece in arms[pattern.numbers[i]].pieces:
                placed(piece, 1 + frame.rows.types(piece))
        ends = (*pattern.starts[1:], len(pattern.numbers))
        #: How many counted arms each star has.
        self._arms = np.subtract(ends, pattern.starts)
        self._several = [
            (start, end) for start, end in zip(pattern.starts, ends, strict=True) if end - start > 1
        ]
        #: Piece by piece: its types in their order, then what is unlisted.
        self._order = np.array(
            [
                places[piece][state]
                for piece in range(len(frame.rows.prior.pieces))
                for state in (*range(1, 1 + frame.rows.types(piece)), 0)
            ]
        )

    def _hub(self, star: int) -> Array:
        """What is counted of each mode where the hub is in each state: [state, base, mode]."""
        pattern = self._pattern
        frame, bases = pattern.frame, pattern.bases
        states = np.eye(1 + frame.rows.types(frame.hubs[star]))
        found: Array = frame.on_hub(star, states).reshape(len(states), bases, -1)
        found *= self._others(star, None)
        return found

    def _others(self, star: int, without: int | None) -> Array | float:
        """The product of the arms of a star with nothing counted, one aside: [base, mode]."""
        found: Array | float = 1.0
        for number, message in self._messages.items():
            if number != without and self._pattern.frame.arms[number].star == star:
                found = found * message
        return found

    def _behind(self, star: int, number: int) -> list[tuple[int, Array]]:
        """The same for each state of the pieces behind an arm with nothing counted."""
        pattern = self._pattern
        frame, bases = pattern.frame, pattern.bases
        pieces = frame.arms[number].pieces
        hub = np.ones((1, 1 + frame.rows.types(frame.hubs[star])))
        weights = frame.on_hub(star, hub) * self._others(star, number)
        behind = pattern.behind[number][:bases].T[:, :, None]
        joint = behind * frame.free[number][:, None] * weights
        sizes = [1 + frame.rows.types(piece) for piece in pieces]
        if len(pieces) < 2:
            return [(piece, joint[:size]) for piece, size in zip(pieces, sizes, strict=True)]
        both = joint.reshape(*sizes, *joint.shape[1:])
        return [(pieces[0], both.sum(axis=1)), (pieces[1], both.sum(axis=0))]

    def shares(self, sums: PatternSums, by_hand: Sequence[float]) -> list[float]:
        """Return the share of every state, given what the sums of each hand weigh.

        Piece by piece: its types in their order, then what is unlisted.
        """
        pattern = self._pattern
        bases = pattern.bases
        hands = np.array(by_hand)
        products = sums.products[:, :, :bases]
        messages = sums.messages[:, :, :bases]
        around = self._around
        if sums.stars is None:
            around = around * (rests(messages) if len(messages) > 1 else np.ones((HANDS, 1, 1)))
        else:
            rest = rests(sums.stars[:, :, :bases])[..., None]
            products = products * rest
            around = around * rest.repeat(self._arms, axis=0)
            for start, end in self._several:
                around[start:end] *= rests(messages[start:end])
        found = []
        flat = np.ascontiguousarray(products).view(float).reshape(len(products), len(hands), -1)
        for of_star, read in zip(hands @ flat, self._read, strict=False):
            found.append(of_star @ read)
        if sums.stars is not None and len(self._read) > len(found):
            every = hands @ np.multiply.reduce(sums.stars[:, :, :bases], axis=0)
            found += [every @ read for read in self._read[len(found) :]]
        weights = np.conj(around).view(float)
        if sums.short is not None:
            mine = weights[pattern.short] if pattern.long else weights
            states = mine @ sums.short.swapaxes(2, 3)
            states *= self._own_short
            found.append((hands @ np.add.reduce(states, axis=2)).reshape(-1))
        for i, table in zip(pattern.long, sums.long, strict=True):
            number = pattern.numbers[i]
            joint = (weights[i] @ table.swapaxes(1, 2)) * pattern.behind[number][:bases]
            first = pattern.frame.arms[number].pieces[0]
            both = (hands @ joint.sum(axis=1)).reshape(1 + pattern.frame.rows.types(first), -1)
            found += [both.sum(axis=1), both.sum(axis=0)]
        shares: list[float] = np.concatenate(found).take(self._order).tolist()
        return shares


def rests(values: Array) -> Array:
    """Return for each along the first axis the product of all others."""
    if len(values) == 2:
        return values[::-1]
    before, after = np.empty_like(values), np.empty_like(values)
    before[0] = after[-1] = 1.0
    if len(values) > 1:
        np.multiply.accumulate(values[:-1], axis=0, out=before[1:])
        np.multiply.accumulate(values[:0:-1], axis=0, out=after[-2::-1])
        before *= after
    return before
