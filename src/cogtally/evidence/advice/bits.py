"""Entropies, in bits: what an answer that is not sure yet can still bring.

Whatever may be counted or looked at next, this is the one way to work out its worth.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cogtally.evidence.engine import Array

#: "printed as 0 below 1e-9"
LEAST_WORTH = 1e-9


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
