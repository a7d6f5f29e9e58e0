"""How many bits one more count is expected to bring, from a joint of answer, teeth and hand.

Where the joint comes from is left to `joints`.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from cogtally.evidence.advice.bits import LEAST_WORTH, entropy, x_log_x
from cogtally.evidence.advice.joints import TEETH, TeethJoint
from cogtally.evidence.engine import HANDS, Array
from cogtally.evidence.laws import Q_OF_HAND, count_law
from cogtally.gears.notation import FEWEST_TEETH

#: Answers rarer than this are taken together; it changes no worth by 1e-8 bit.
TOO_RARE = 1e-12


@cache
def _laws() -> Array:
    """The probability of one plain count 4…200 by hand and teeth 0…200: [hand, teeth, count]."""
    by_off = np.array([[count_law(off, Q_OF_HAND[hand]) for off in range(TEETH)] for hand in HANDS])
    off = np.abs(np.arange(TEETH)[:, None] - np.arange(FEWEST_TEETH, TEETH))
    found: Array = by_off[:, off]
    return found


def expected_fall(joint: TeethJoint) -> float:
    """Return the expected fall of the entropy of the answer, in bits, from one more plain count.

    Counts 4…200 are weighted by their predictive probability and divided by the total predictive
    mass. 0 below LEAST_WORTH.
    """
    laws = _laws()
    rare = np.zeros(laws.shape[2])
    rows: list[Array] = []
    least = TOO_RARE * (joint.known.weights.sum() + joint.spread.sum() + joint.elsewhere.sum())
    drawn = np.einsum("ht,htc->hc", joint.drawn, laws)
    weights: list[Array] = []
    for mine, of_answers in (
        (joint.known.weights, lambda w, at: _known(joint.known.teeth[at], w, laws)),
        (joint.elsewhere, lambda w, at: w @ drawn),
        (joint.spread.sum(axis=2), lambda w, at: _spread(joint.spread[at], laws)),
    ):
        whole = mine.sum(axis=1)
        common = whole > least
        rows.append(of_answers(mine[common], common))
        weights.append(whole[common])
        if not common.all():
            rare += of_answers(mine[~common], ~common).sum(axis=0)
            weights.append(whole[~common].sum(keepdims=True))
            rows.append(np.zeros((0, laws.shape[2])))
    now = entropy(np.concatenate(weights).tolist())
    shares = np.concatenate([*rows, rare[None]])
    chance = shares.sum(axis=0)
    after = (x_log_x(chance) - x_log_x(shares).sum(axis=0)).sum()
    mass = float(chance.sum())
    worth = (now * mass - float(after)) / mass
    return worth if worth >= LEAST_WORTH else 0.0


def _spread(spread: Array, laws: Array) -> Array:
    found: Array = spread.reshape(len(spread), -1) @ laws.reshape(-1, laws.shape[2])
    return found


def _known(teeth: Array, weights: Array, laws: Array) -> Array:
    found: Array = sum(weights[:, hand, None] * laws[hand][teeth] for hand in HANDS)
    return found
