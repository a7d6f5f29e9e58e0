"""Knows how to sum over the unknown teeth of wheels that mesh with each other.

Leaves which wheels those are, and what weighs on them, to `counted`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np


def unknown_log(rho: np.ndarray, logs: np.ndarray) -> float:
    """Return log Σ_t ρ(t)·exp(logs(t))."""
    top = float(logs[rho > 0].max())
    return top + math.log(math.fsum(rho * np.exp(np.minimum(logs - top, 0.0))))


def root_sums(
    root: str, vectors: Mapping[str, np.ndarray], matrices: Mapping[tuple[str, str], np.ndarray]
) -> np.ndarray:
    """Return for every teeth of the root the sum over the teeth of all other wheels."""
    if len(matrices) != len(vectors) - 1:
        return loop_sums(root, vectors, matrices)

    def below(wheel: str, above: str | None) -> np.ndarray:
        vector = vectors[wheel]
        for (a, b), matrix in matrices.items():
            if a == wheel and b != above:
                vector = vector * (matrix @ below(b, wheel))
            elif b == wheel and a != above:
                vector = vector * (matrix.T @ below(a, wheel))
        return vector

    return below(root, None)


def loop_sums(
    root: str, vectors: Mapping[str, np.ndarray], matrices: Mapping[tuple[str, str], np.ndarray]
) -> np.ndarray:
    """Return the same as `root_sums` by one product over all teeth, whatever the meshes are."""
    number = {wheel: i for i, wheel in enumerate(vectors)}
    arguments: list[object] = []
    for wheel, vector in vectors.items():
        arguments += [vector, [number[wheel]]]
    for (a, b), matrix in matrices.items():
        arguments += [matrix, [number[a], number[b]]]
    return np.asarray(np.einsum(*arguments, [number[root]], optimize="greedy"))
