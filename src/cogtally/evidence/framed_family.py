"""One family with all that no count changes, in arrays: what its pieces weigh, what is asked of it.

Which wheels were counted is left to `framed_pattern`; what wheels weigh comes from `framed_arms`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cogtally.evidence.framed_arms import (
    EPS,
    HANDS,
    Arm,
    Array,
    LongArm,
    ShortArms,
    arms_of,
)
from cogtally.evidence.framed_rows import Rows
from cogtally.evidence.stacked_shape import StackShape


class Frame:
    """A family that falls into stars of `shape`, nothing seen.

    `own[wheel][base]`: the teeth of the base set; `matched[base]`: the weight of the base set
    itself; `free[arm]`: its table, [state, mode] complex.
    """

    def __init__(self, rows: Rows, shape: StackShape) -> None:
        prior = rows.prior
        self.rows = rows
        self.shape = shape
        self.teeth, self.arms = arms_of(prior, shape)
        self.hubs = tuple(prior.location[star.hub[0]][0] for star in shape.stars)
        self.free = tuple(_free(arm, self) for arm in self.arms)
        self._short: dict[tuple[int, ...], ShortArms] = {}
        self._long: dict[int, LongArm] = {}
        self.own: dict[str, Array] = {}
        for wheel, (piece, place) in prior.location.items():
            states = prior.states[piece]
            self.own[wheel] = np.array([states[own[piece]].modes[place] for own, _ in prior.bases])
        self.matched = rows.drawn.copy()
        for component in prior.components:
            for left, right, factors in component.edges:
                ends = component.wheels[left], component.wheels[right]
                self.matched *= np.array(factors)[self.own[ends[0]] + self.own[ends[1]]]

    def short_arms(self, numbers: Sequence[int]) -> ShortArms | None:
        """Return some arms with at most one wheel behind, by number; None where there is none."""
        key = tuple(numbers)
        if key and key not in self._short:
            self._short[key] = ShortArms([self.arms[n] for n in key], self.teeth)
        return self._short.get(key)

    def long_arm(self, number: int) -> LongArm:
        """Return an arm with two wheels behind."""
        if number not in self._long:
            self._long[number] = LongArm(self.arms[number], self.teeth)
        return self._long[number]

    def behind(self, piece: int, masks: Array) -> Array:
        """Return what the states of a piece of one wheel weigh in each row under each base set.

        `masks[row, state]` to [row · base, state].
        """
        weights = self.rows.of_states[piece]
        ordered = np.concatenate([weights[:, -1:], weights[:, :-1]], axis=1)
        return _columns(masks, ordered)

    def on_hub(self, star: int, masks: Array) -> Array:
        """Return what is counted of each mode of a hub: [row · base, mode], complex.

        The real part of its product with a mode, known + i · EPS · changed, is what counts.
        """
        piece = self.hubs[star]
        weights, types = self.rows.of_states[piece], self.rows.types(piece)
        wheels = len(self.shape.stars[star].hub)
        found = np.zeros((len(masks) * len(weights), self.arms[0].modes.shape[1]), dtype=complex)
        found[:, :types] = _columns(masks[:, 1:], weights[:, :types])
        found[:, types] = _columns(masks[:, :1], weights[:, -1:])[:, 0]
        if wheels > 1:
            changed = _columns(masks[:, :1], weights[:, types:-1:wheels])
            found[:, :types] -= 1j / EPS * changed
        return found


def _columns(masks: Array, weights: Array) -> Array:
    found: Array = masks[:, None] * weights
    return found.reshape(-1, found.shape[2])


def _free(arm: Arm, frame: Frame) -> Array:
    """The table of an arm with nothing counted: [state, mode], complex."""
    ones = np.ones((HANDS, len(frame.teeth.every)))
    if len(arm.wheels) > 2:
        table = LongArm(arm, frame.teeth).table(ones, ones, ones)
    else:
        table = ShortArms([arm], frame.teeth).tables(ones[None], ones[None])[0]
    found: Array = table[0].view(complex)
    return found
