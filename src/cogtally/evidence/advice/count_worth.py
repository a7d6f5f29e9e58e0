"""How many bits a look is expected to bring, and a count: from its joint with the answer.

Whatever may be counted or looked at next, the fall of an entropy is worked out here. What goes into
the joint of a box is left to `joints`.
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
#: Answers rarer than this are taken together; it changes no worth by 1e-8 bit.
TOO_RARE = 1e-12


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


def expected_fall(weights: Array, outcomes: Array) -> float:
    """Return the expected fall of the entropy of the answer, in bits; 0 below LEAST_WORTH.

    `weights` [answer] are those that all have now, `outcomes` [answer, outcome] those beside
    everything that may come out. Outcomes are weighted by their predictive probability and divided
    by the total of it.
    """
    worth = entropy(weights) - left_over(outcomes) / float(outcomes.sum())
    return worth if worth >= LEAST_WORTH else 0.0


@cache
def count_laws() -> Array:
    """Return the probability of one plain count: [hand, teeth 0…200, count 4…200]."""
    off = np.abs(np.subtract.outer(np.arange(TEETH), np.arange(FEWEST_TEETH, TEETH)))
    return np.array([np.array([count_law(o, q) for o in range(TEETH)])[off] for q in Q_OF_HAND])


class TeethJoint:
    """The joint of the answer with the teeth of one wheel, gathered some answers at a time.

    How teeth are spread goes by number: 0…200 are the teeth themselves, then come rows of [hand,
    teeth 0…200], the first of them `drawn`, from ρ. Weights are [answer, hand].
    """

    def __init__(self, drawn: Array) -> None:
        self._spreads: list[Array] = [drawn[None]]
        self._numbers: list[Array] = []
        self._weights: list[Array] = []

    def add(self, weights: Array, numbers: Array | int = TEETH) -> None:
        """Add answers whose teeth are spread as the numbers say; as drawn where none are given."""
        self._weights.append(weights)
        self._numbers.append(np.broadcast_to(np.asarray(numbers, np.intp), len(weights)))

    def add_spread(self, joint: Array) -> None:
        """Add answers, each spread in its own way: [answer, hand, teeth 0…200]."""
        weights = joint.sum(axis=2)
        first = TEETH + sum(map(len, self._spreads))
        self._spreads.append(joint / np.where(weights > 0, weights, 1.0)[..., None])
        self.add(weights, np.arange(first, first + len(weights)))

    def worth(self) -> float:
        """Return the bits that one more plain count of the wheel is expected to bring."""
        spreads = np.matmul(np.concatenate(self._spreads).swapaxes(0, 1), count_laws())
        # [hand, number, count]
        counts = np.concatenate([count_laws(), spreads], axis=1)
        numbers, weights = np.concatenate(self._numbers), np.concatenate(self._weights)
        whole = weights.sum(axis=1)
        rare = whole <= TOO_RARE * whole.sum()
        outcomes = np.zeros((1 + len(whole[~rare]), counts.shape[2]))
        for hand, law in enumerate(counts):
            of_rare = np.bincount(numbers[rare], weights[rare, hand], len(law))
            outcomes[0] += np.einsum("n,nc->c", of_rare, law)
            outcomes[1:] += weights[~rare, hand, None] * law[numbers[~rare]]
        return expected_fall(np.append(whole[rare].sum(), whole[~rare]), outcomes)
