"""What one wheel with unknown teeth weighs beside mates of every size, as tables to look up.

The tables serve all families that have a wheel of the name; whose teeth are looked up, and how the
values go together, is left to `stacked_arms`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from cogtally.evidence.likelihood import (
    GREATEST_TEETH,
    HIGHEST_SUM,
    LEAST_TEETH,
    SUM_FAR,
)
from cogtally.evidence.prior import sum_factors
from cogtally.evidence.stacked_shape import MOST_APART
from cogtally.gears.notation import MOST_TEETH

Array = np.ndarray[Any, np.dtype[Any]]

#: A tooth sum that counts as near is at most this far below the least known one.
NEAR = 2
#: Near sums from the lowest on, for the widest profile.
WIDTH = MOST_APART + 2 * NEAR + 1
#: The lowest known sum less a mate's teeth, as a place in a table.
SHIFT = MOST_TEETH
SPAN = SHIFT + HIGHEST_SUM + 1


def picked(values: Array, at: Array | slice) -> Array:
    """Return values of some families, which stand on the last axis."""
    found: Array = values[..., at] if isinstance(at, slice) else values.take(at, axis=-1)
    return found


class Profiles:
    """The near tooth sums of meshes, told apart by how they lie above the lowest known one."""

    def __init__(self) -> None:
        self._numbers: dict[tuple[int, ...], int] = {}
        self._over: list[Array] = []

    def number(self, sums: Sequence[int]) -> int:
        """Return the number of the profile of a mesh with these known sums, rising."""
        key = tuple(value - sums[0] for value in sums)
        found = self._numbers.get(key)
        if found is None:
            found = self._numbers[key] = len(self._over)
            factors = sum_factors([NEAR + value for value in key])
            self._over.append(np.array(factors[:WIDTH]) - SUM_FAR)
        return found

    @property
    def over(self) -> Array:
        """By profile and sum less (lowest − NEAR): the factor less that of a far sum."""
        return np.array(self._over).reshape(-1, WIDTH)


class WheelTables:
    """One wheel name under one question: `[hand, teeth]`, one hand where nothing was counted.

    `law`: likelihood of the counts by teeth 0…200, None where not counted; `unknown`: that times ρ;
    `whole`: its sum. `beside[hand, profile · SPAN + lowest − mate's teeth + SHIFT]`: the sum over
    unknown teeth against a mate.
    """

    def __init__(self, rho: Sequence[float], law: Array | None, over: Array) -> None:
        self.law = law
        spread = np.zeros((1, MOST_TEETH + 1))
        spread[0, LEAST_TEETH : GREATEST_TEETH + 1] = rho
        self.unknown: Array = spread if law is None else spread * law
        self.whole: Array = self.unknown.sum(axis=1)
        # Place x + WIDTH of `wide` is teeth x; a window begins NEAR below the lowest sum less u.
        wide = np.zeros((self.unknown.shape[0], SPAN + 2 * WIDTH))
        start = SHIFT + NEAR
        wide[:, start : start + MOST_TEETH + 1] = self.unknown
        windows = np.lib.stride_tricks.sliding_window_view(
            wide[:, : SPAN + WIDTH - 1], WIDTH, axis=1
        )
        near = windows @ over.T
        self.beside: Array = np.ascontiguousarray(
            (SUM_FAR * self.whole[:, None, None] + near).transpose(0, 2, 1)
        ).reshape(self.unknown.shape[0], -1)


def both_unknown(one: WheelTables, other: WheelTables, over: Array) -> Array:
    """Return the sum over both wheels' unknown teeth, by hand and place of the mesh."""
    hands = max(one.unknown.shape[0], other.unknown.shape[0])
    found = np.zeros((hands, len(over), SPAN))
    for hand in range(hands):
        a, b = one.unknown[hand % len(one.unknown)], other.unknown[hand % len(other.unknown)]
        sums = np.zeros(HIGHEST_SUM + 1 + 2 * WIDTH)
        sums[NEAR : NEAR + HIGHEST_SUM + 1] = np.convolve(a, b)
        windows = np.lib.stride_tricks.sliding_window_view(sums, WIDTH)[: HIGHEST_SUM + 1]
        found[hand, :, SHIFT:] = (windows @ over.T).T + SUM_FAR * a.sum() * b.sum()
    return found.reshape(hands, -1)


def laws_of(seen: Sequence[Mapping[str, Sequence[float]]], wheel: str) -> Array | None:
    """Return the likelihoods of one wheel by hand and teeth, None where it was not counted."""
    return np.array([hand[wheel] for hand in seen]) if wheel in seen[0] else None
