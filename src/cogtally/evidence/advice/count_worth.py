"""How many bits a count or a look is expected to bring, from its joint with the answer.

What goes into the joint of a box is left to `joints`, to `look_worth` that of a look.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np

from cogtally.evidence.engine import Array
from cogtally.evidence.laws import Q_OF_HAND, count_law
from cogtally.gears.notation import FEWEST_TEETH, MOST_TEETH

#: "printed as 0 below 1e-9"
LEAST_WORTH = 1e-9
#: Teeth 0…200.
TEETH = MOST_TEETH + 1
#: A count so many teeth off is a slip, but for 1e-10 of it.
SLIPS_FROM = 13
#: Answers rarer than this are taken together where they are spread alike: a count tells so little
#: between them, by the hand alone, that it changes no worth by 1e-7 bit.
RARE = 1e-9


def x_log_x(values: Array) -> Array:
    """Return x·log₂x; 0 of 0."""
    found: Array = values * np.log2(np.where(values > 0, values, 1.0))
    return found


def entropy(weights: Sequence[float] | Array) -> float:
    """Return the entropy in bits of weights that need not add up to 1."""
    known = np.asarray(weights)
    total = float(known.sum())
    return 0.0 if total <= 0 else -float(x_log_x(known / total).sum())


def left_over(outcomes: Array) -> float:
    """Return the entropy that an answer keeps, summed over what comes out: [answer, outcome]."""
    return float((x_log_x(outcomes.sum(axis=0)) - x_log_x(outcomes).sum(axis=0)).sum())


@cache
def count_laws(most: int) -> Array:
    """Return the probability of one plain count: [hand, teeth 0…200, count].

    Counts 4, 5, …; at last, as one, all that only slips reach from wheels of `most` teeth or fewer.
    """
    off = np.abs(np.subtract.outer(np.arange(TEETH), np.arange(FEWEST_TEETH, TEETH)))
    law = np.array([np.array([count_law(o, q) for o in range(TEETH)])[off] for q in Q_OF_HAND])
    near = most + SLIPS_FROM - FEWEST_TEETH
    return np.append(law[..., :near], law[..., near:].sum(axis=2, keepdims=True), axis=2)


class Joint:
    """The joint of the answer with what a thing is, gathered some answers at a time.

    `laws` [hand, state, outcome] say how likely a look finds what of each state that the thing can
    have; `unknown` [hand, state] is how its states are spread where nothing is known of it.
    """

    def __init__(self, laws: Array, unknown: Array) -> None:
        self._laws = laws
        self._unknown = unknown
        self._spreads: list[Array] = [np.zeros((0, *unknown.shape))]
        self._states: list[Array] = []
        self._weights: list[Array] = []

    def add(self, weights: Array, states: Array | None = None) -> None:
        """Add answers of these states, or of which nothing is known; weights are [answer, hand]."""
        if states is None:
            states = np.full(len(weights), self._unknown.shape[1])
        self._states.append(states)
        self._weights.append(weights)

    def add_spread(self, joint: Array) -> None:
        """Add answers, each spread in its own way: [answer, hand, state]."""
        self._spreads.append(joint)

    def worth(self) -> float:
        """Return the expected fall of the entropy of the answer, in bits; 0 below LEAST_WORTH.

        Outcomes are weighted by their predictive probability and divided by the total of it.
        """
        spread = np.concatenate(self._spreads)
        states, weights = np.concatenate(self._states), np.concatenate(self._weights)
        shares = weights.sum(axis=1) / (weights.sum() + spread.sum())
        unknown = self._unknown.shape[1]
        rare = shares <= RARE
        of_rare = np.array(
            [np.bincount(states[rare], each, unknown + 1) for each in weights[rare].T]
        )
        (alike,) = np.nonzero(of_rare.any(axis=0))
        states = np.append(states[~rare], alike)
        weights = np.append(weights[~rare], of_rare[:, alike].T, axis=0)
        known = states < unknown
        spread = np.concatenate([spread, weights[~known][..., None] * self._unknown])
        states, weights = states[known], weights[known]
        (some,) = np.nonzero(spread.any(axis=(0, 1)))
        laws = self._laws[:, some].reshape(-1, self._laws.shape[2])
        of_spread = spread[..., some].reshape(len(spread), -1) @ laws
        of_state = sum(
            w[:, None] * law[states] for w, law in zip(weights.T, self._laws, strict=True)
        )
        outcomes = np.concatenate([of_spread, of_state])
        now = entropy(np.append(spread.sum(axis=(1, 2)), weights.sum(axis=1)))
        bits = now - left_over(outcomes) / float(outcomes.sum())
        return bits if bits >= LEAST_WORTH else 0.0
