"""How the teeth of the wheels of stacked families are spread, summed over the families.

What all the rest weighs around a table comes from `stacked_outside`; the sum is linear in the
likelihood of every number of teeth of a wheel, which is gone back to step by step.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cogtally.evidence.likelihood import SUM_FAR, TEETH_RANGE
from cogtally.evidence.stacked_arms import (
    UNKNOWN_TEETH,
    Question,
    Wheel,
    along,
    arm_stages,
    beside_all,
    mesh_raw,
)
from cogtally.evidence.stacked_ready import Ready
from cogtally.evidence.stacked_shape import Star
from cogtally.evidence.stacked_tables import NEAR, SHIFT, SPAN, WIDTH, Array
from cogtally.gears.notation import MOST_TEETH

_TEETH = np.array(TEETH_RANGE)


class Spreads:
    """Weights by hand and teeth 0…200 of every wheel, added up arm by arm."""

    def __init__(self, ready: Ready, question: Question) -> None:
        self._ready = ready
        self._question = question
        #: Around the sums of unknown teeth against a mate, and around both unknown, by place.
        self._beside: dict[str, Array] = {}
        self._pairs: dict[tuple[str, str], Array] = {}
        self.of: dict[str, Array] = {
            w: np.zeros((2, MOST_TEETH + 1)) for w in ready.block.shape.wheels
        }

    def add(self, star: Star, place: int, around: Array) -> None:
        """Take in what is around the table of one wheel of a hub: [hand, mode, …, family]."""
        block, norms = self._ready.block, self._ready.norms
        chain = (star.hub[place], *star.arms[place])
        free = not any(self._question.counted(w) for w in chain)
        between = self._ready.between.get(chain) if free else None
        stages = arm_stages(block, star, place, self._question, norms, between)
        for axis, name in enumerate(chain, 1):
            raw = stages[len(chain) - axis]
            wheel = Wheel(block, name, self._question.wheels[name])
            if axis == 1 and len(star.hub) > 1:
                around = _before_hub(around, wheel, norms[name])
            else:
                first = block.pieces[name,].first
                around = _before_single(around, axis, wheel, first, norms[name])
            known = np.moveaxis(around * raw, axis, 1)[:, :-1]
            weight = known.sum(axis=tuple(range(2, known.ndim - 1)))
            self._spike(name, block.teeth[name], weight)
        if len(chain) == 1:
            tables = self._question.wheels[chain[0]]
            self.of[chain[0]] += tables.unknown * around[:, -1].sum(axis=-1)[:, None]
        elif len(chain) == 2:
            self._mesh(chain, around)
        else:
            self._idler(chain, around)

    def done(self) -> dict[str, Array]:
        """Return the weights of every wheel, once all arms were taken in."""
        for (left, right), around in self._pairs.items():
            self._both(left, right, around)
            self._both(right, left, around)
        for name, around in self._beside.items():
            tables = self._question.wheels[name]
            table = np.zeros((2, len(self._question.over), SPAN + WIDTH))
            table[:, :, WIDTH:] = around.reshape(2, -1, SPAN)
            slides = np.lib.stride_tricks.sliding_window_view(table, WIDTH, axis=2)
            # Teeth t stand against place t + SHIFT + NEAR − off, off = 0 … WIDTH − 1.
            windows = slides[:, :, SHIFT + NEAR + 1 : SHIFT + NEAR + 2 + MOST_TEETH, ::-1]
            near = np.einsum("hptw,pw->ht", windows, self._question.over)
            far = SUM_FAR * around.sum(axis=1)[:, None]
            self.of[name] += tables.unknown * (near + far)
        return self.of

    def _spike(self, name: str, teeth: Array, weight: Array) -> None:
        for hand in range(2):
            self.of[name][hand] += np.bincount(teeth.ravel(), weight[hand].ravel(), MOST_TEETH + 1)

    def _table(self, name: str, place: Array, weight: Array) -> None:
        size = self._question.wheels[name].beside.shape[1]
        into = self._beside.setdefault(name, np.zeros((2, size)))
        for hand in range(2):
            into[hand] += np.bincount(place.ravel(), weight[hand].ravel(), size)

    def _mesh(self, mesh: Sequence[str], around: Array) -> None:
        block = self._ready.block
        left, right = mesh
        place = block.meshes[left, right].place
        self._table(left, place - block.teeth[right], around[:, -1, :-1])
        self._table(right, place - block.teeth[left], around[:, :-1, -1])
        table = self._question.pairs[left, right]
        into = self._pairs.setdefault((left, right), np.zeros((2, table.shape[1])))
        for hand in range(2):
            into[hand] += np.bincount(place, around[hand, -1, -1], table.shape[1])

    def _both(self, name: str, mate: str, around: Array) -> None:
        beside = self._question.wheels[mate].beside
        unknown = self._question.wheels[name].unknown
        for hand in range(2):
            places = np.flatnonzero(around[hand])
            against = beside[hand % len(beside)][places[:, None] - _TEETH]
            weight = around[hand, places] @ against
            self.of[name][hand, UNKNOWN_TEETH] += (
                unknown[hand % len(unknown), UNKNOWN_TEETH] * weight
            )

    def _idler(self, chain: tuple[str, ...], around: Array) -> None:
        block, question = self._ready.block, self._question
        left, idler, right = chain
        first = mesh_raw(block, (left, idler), question)[:, :, :-1]
        second = mesh_raw(block, (idler, right), question)[:, :-1]
        known = around[:, :, :-1]
        one = np.zeros((2, block.size + 1, block.size + 1, block.share.shape[1]))
        other = one.copy()
        one[:, :, :-1] = (known * second[:, None]).sum(axis=3)
        other[:, :-1] = (known * first[:, :, :, None]).sum(axis=1)
        self._mesh((left, idler), one)
        self._mesh((idler, right), other)
        free = np.ascontiguousarray(around[:, :, -1].transpose(0, 3, 1, 2))
        before = beside_all(block, (left, idler), left, question)
        behind = beside_all(block, (idler, right), right, question)
        weights = question.wheels[idler].unknown[:, None, UNKNOWN_TEETH]
        of_left = np.matmul(free, behind)
        self.of[idler][:, UNKNOWN_TEETH] += weights[:, 0] * (of_left * before).sum(axis=(1, 2))
        of_right = free[..., -1][:, :, None] @ before
        place = block.meshes[left, idler].place[:, None] - _TEETH
        self._table(left, place, of_left[:, :, -1] * weights)
        place = block.meshes[idler, right].place[:, None] - _TEETH
        self._table(right, place, of_right[:, :, 0] * weights)


def _before_hub(around: Array, wheel: Wheel, norm: Array) -> Array:
    """What is around the table before `hub_modes`."""
    size = norm.shape[0]
    known, other, free = around[:, :size], around[:, size : 2 * size], around[:, 2 * size :]
    other = other * along(norm[None], 1, around.ndim)
    listed = wheel.known(known, 1) - other * along(wheel.unknown, 1, around.ndim)
    return np.concatenate([listed, free + other.sum(axis=1, keepdims=True)], axis=1)


def _before_single(around: Array, axis: int, wheel: Wheel, first: Array, norm: Array) -> Array:
    """What is around the table before `single_states`."""
    known, other = np.split(around, [around.shape[axis] - 1], axis=axis)
    other = other * norm
    listed = wheel.known(known, axis) - other * along(wheel.unknown * first, axis, around.ndim)
    return np.concatenate([listed, other], axis=axis)
