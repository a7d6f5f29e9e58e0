"""Entropies, in bits: what an answer that is not sure yet can still bring."""

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
    known = known[known > 0]
    total = float(known.sum())
    return 0.0 if total <= 0 else -float(x_log_x(known / total).sum())
