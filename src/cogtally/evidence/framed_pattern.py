"""One family as it is asked when certain wheels were counted, whatever the counts: its sums.

What no count changes comes from `framed_family`; the shares of pieces are left to `framed_pieces`,
the counts, and what the sums mean, to `framed`.

The sum over a star is one product over its arms for all columns of `framed_rows`, and a weighted
sum over what its hub can be.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cogtally.evidence.family_view import FamilyView
from cogtally.evidence.framed_arms import HANDS, Array, joint_weights
from cogtally.evidence.framed_family import Frame
from cogtally.evidence.so_far import so_far_groups


@dataclass(frozen=True, slots=True, eq=False)
class PatternSums:
    """What a family adds up to under one question, by hand.

    `values[hand, …]`: the whole, all with any set in common, each so-far group; `matched[hand,
    base]`. `short`, `long`: tables of the counted arms; `messages[arm, hand, column, mode]`: those
    summed over the wheels behind; `products[star, hand, column, mode]`: over the arms of a star;
    `stars[star, hand, column]`: over its hub too, None where the family is one star.
    """

    values: Array
    matched: Array
    short: Array | None
    long: tuple[Array, ...]
    messages: Array
    products: Array
    stars: Array | None


class Pattern:
    """A family with some wheels counted.

    `groups`: the so-far groups; `wheels`: whose laws are asked, None for what was
    not counted; `numbers`: the counted arms; `behind[arm]`: what the states behind every arm of
    the family weigh, [column, state].
    """

    def __init__(self, frame: Frame, view: FamilyView) -> None:
        self.frame = frame
        self.view = view
        prior = frame.rows.prior
        self.bases = frame.rows.bases
        self.groups = so_far_groups(prior.family, prior, view)
        masks = [
            frame.rows.masks(piece, [allowed.get(piece) for _, allowed in self.groups])
            for piece in range(len(prior.pieces))
        ]
        rows = len(masks[0]) * self.bases
        singles = {p: frame.behind(p, masks[p]) for arm in frame.arms for p in arm.pieces}
        self.behind = [joint_weights(singles, arm, rows) for arm in frame.arms]
        self.numbers = tuple(
            n for n, arm in enumerate(frame.arms) if not view.wheels.keys().isdisjoint(arm.wheels)
        )
        self._set_arms()
        self._set_stars(masks)

    def _set_arms(self) -> None:
        frame = self.frame
        arms = [frame.arms[n] for n in self.numbers]
        self.short = [i for i, arm in enumerate(arms) if len(arm.wheels) < 3]
        self.long = [i for i, arm in enumerate(arms) if len(arm.wheels) == 3]
        self._short = frame.short_arms([self.numbers[i] for i in self.short])
        self._long = [frame.long_arm(self.numbers[i]) for i in self.long]
        wheels: list[str | None] = [arms[i].wheels[0] for i in self.short]
        wheels += [arms[i].wheels[1] if arms[i].pieces else None for i in self.short]
        wheels += [wheel for i in self.long for wheel in arms[i].wheels]
        self.wheels = tuple(w if w in self.view.wheels else None for w in wheels)
        nowhere = np.zeros(self.bases, dtype=np.intp)
        own = np.array(
            [nowhere if w is None else frame.teeth.place[frame.own[w]] for w in self.wheels]
        )
        rows = np.arange(len(own) * HANDS).reshape(len(own), HANDS, 1) * len(frame.teeth.every)
        self._own = rows + own[:, None]
        states = 0 if self._short is None else self._short.states
        self.behind_short = np.zeros((len(self.short), 1, len(self.behind[0]), states))
        for row, i in enumerate(self.short):
            weights = self.behind[self.numbers[i]]
            self.behind_short[row, 0, :, : weights.shape[1]] = weights

    def _set_stars(self, masks: Sequence[Array]) -> None:
        """How the products of the stars' arms are weighed, and what their sums count towards."""
        frame = self.frame
        #: For each star what is counted of each mode of its hub, with all arms not counted.
        self.weights: list[Array] = []
        for star, piece in enumerate(frame.hubs):
            found = frame.on_hub(star, masks[piece])
            for number, arm in enumerate(frame.arms):
                if arm.star == star and number not in self.numbers:
                    found *= self.behind[number] @ frame.free[number]
            self.weights.append(found)
        stars = [frame.arms[n].star for n in self.numbers]
        self.stars = sorted(set(stars))
        self.starts = [stars.index(star) for star in self.stars]
        into = frame.rows.into(len(self.groups))
        self._into = into.reshape(-1, into.shape[2])
        for star, weights in enumerate(self.weights):
            if star not in self.stars:
                self._into *= weights.real.sum(axis=1)[:, None]
        counted = np.array([np.conj(self.weights[star]) for star in self.stars])
        self._of_modes = counted.view(float)[:, None]
        if len(frame.hubs) == 1:
            self._into = (self._of_modes[0, 0, :, :, None] * self._into[:, None]).reshape(
                -1, into.shape[2]
            )

    def sums(self, laws: Array) -> PatternSums:
        """Return the sums under the laws of `wheels`, by hand and teeth of the frame."""
        tables: Array | None = None
        short = len(self.short)
        if self._short is not None:
            tables = self._short.tables(laws[:short], laws[short : 2 * short])
            messages = self.behind_short @ tables
        longs: list[Array] = []
        if self._long:
            modes = self._of_modes.shape[-1]
            every = np.empty((len(self.numbers), HANDS, len(self.behind[0]), modes))
            if tables is not None:
                every[self.short] = messages
            for row, (i, arm) in enumerate(zip(self.long, self._long, strict=True)):
                longs.append(arm.table(*laws[2 * short + 3 * row :][:3]))
                np.matmul(self.behind[self.numbers[i]], longs[-1], out=every[i])
            messages = every
        complexes = messages.view(complex)
        if len(self.frame.hubs) == 1:
            products = np.multiply.reduce(complexes, axis=0, keepdims=True)
            values = products.view(float).reshape(HANDS, -1) @ self._into
            stars = None
        else:
            products = np.multiply.reduceat(complexes, self.starts, axis=0)
            stars = np.add.reduce(products.view(float) * self._of_modes, axis=-1)
            values = np.multiply.reduce(stars, axis=0) @ self._into
        matched = np.multiply.reduce(laws.reshape(-1).take(self._own), axis=0) * self.frame.matched
        return PatternSums(values, matched, tables, tuple(longs), complexes, products, stars)
