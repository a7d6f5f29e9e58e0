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
#: An error so large that a count is no more than a slip.
_SLIPPED = 10_000


@cache
def _law() -> tuple[Array, Array, Array]:
    """The law of a plain count by hand: q, the chance of no error, and that of any slip."""
    q = [Q_OF_HAND[hand] for hand in HANDS]
    slip = np.array([count_law(_SLIPPED, each) for each in q])
    return np.array(q), np.array([count_law(0, each) for each in q]) - slip, slip


def _counts_of(spread: Array) -> Array:
    """Return how one plain count 4…200 is spread, where teeth are: [answer, hand, count].

    `spread` [answer, hand, teeth 0…200]. The law falls by q with every tooth, so that what comes
    from fewer teeth is q times what came to the count below; likewise from more.
    """
    q, exact, slip = _law()
    by_teeth = np.moveaxis(spread, 2, 0)
    below, above = np.empty(by_teeth.shape), np.empty(by_teeth.shape)
    so_far = np.zeros(by_teeth.shape[1:])
    for teeth in range(TEETH):
        so_far = by_teeth[teeth] + q * so_far
        below[teeth] = so_far
    so_far = np.zeros(by_teeth.shape[1:])
    for teeth in reversed(range(TEETH)):
        above[teeth] = so_far = q * so_far
        so_far = by_teeth[teeth] + so_far
    found = exact * (below + above) + slip * by_teeth.sum(axis=0)
    return np.asarray(np.moveaxis(found, 0, 2)[:, :, FEWEST_TEETH:])


@cache
def _counts_of_teeth() -> Array:
    """How one plain count 4…200 is spread by teeth 0…200: [teeth, hand, count]."""
    return _counts_of(np.repeat(np.eye(TEETH)[:, None], len(HANDS), axis=1))


def expected_fall(joint: TeethJoint) -> float:
    """Return the expected fall of the entropy of the answer, in bits, from one more plain count.

    Counts 4…200 are weighted by their predictive probability and divided by the total predictive
    mass. 0 below LEAST_WORTH.
    """
    weights = joint.known.weights, joint.elsewhere, joint.spread.sum(axis=2)
    whole = [each.sum(axis=1) for each in weights]
    least = TOO_RARE * sum(float(each.sum()) for each in whole)
    known, elsewhere, spread = (each > least for each in whole)
    # How the teeth of all rare answers are spread together: [hand, teeth].
    rare = joint.spread[~spread].sum(axis=0)
    rare += joint.elsewhere[~elsewhere].sum(axis=0)[:, None] * joint.drawn
    for hand in HANDS:
        rare[hand] += np.bincount(joint.known.teeth[~known], weights[0][~known, hand], TEETH)
    spreads = _counts_of(np.concatenate([joint.drawn[None], rare[None], joint.spread[spread]]))
    of_known = weights[0][known, :, None] * _counts_of_teeth()[joint.known.teeth[known]]
    shares = np.concatenate(
        [
            of_known.sum(axis=1),
            joint.elsewhere[elsewhere] @ spreads[0],
            spreads[1:].sum(axis=1),
        ]
    )
    common = [each[which] for each, which in zip(whole, (known, elsewhere, spread), strict=True)]
    now = entropy(np.append(np.concatenate(common), rare.sum()))
    chance = shares.sum(axis=0)
    after = (x_log_x(chance) - x_log_x(shares).sum(axis=0)).sum()
    mass = float(chance.sum())
    worth = (now * mass - float(after)) / mass
    return worth if worth >= LEAST_WORTH else 0.0
