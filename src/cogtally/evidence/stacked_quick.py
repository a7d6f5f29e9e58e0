"""The tables of the wheels of a star as sums over all that can be need them, and no more.

They say what those of `stacked_arms` say, but leave a changed wheel of a hub to `stacked_sums` and
what is behind a listed idler as a product. What they add up to is left to `stacked_sums` and
`stacked_rows`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from cogtally.evidence.stacked_arms import (
    Question,
    Wheel,
    along,
    single_states,
    through_idler,
)
from cogtally.evidence.stacked_block import Block
from cogtally.evidence.stacked_shape import Star
from cogtally.evidence.stacked_tables import Array


@dataclass(frozen=True, slots=True)
class Chain:
    """The table of a wheel of a hub with an idler and a wheel behind it, each by set or unlisted.

    `near[hand, mode, idler, family]` times `far[hand, idler, wheel, family]` for a listed idler;
    `strange[hand, mode, wheel, family]` for an unlisted one.
    """

    near: Array
    far: Array
    strange: Array

    @property
    def dense(self) -> Array:
        """The table in full: [hand, mode, idler, wheel, family]."""
        listed = self.near[:, :, :, None] * self.far[:, None]
        return np.concatenate([listed, self.strange[:, :, None]], axis=2)


#: [hand, mode, …, family]; mode: the teeth of each set, divided by the norm of a wheel of a hub of
#: several; the last unknown. Behind it each wheel by set, the last unlisted.
QuickTable = Array | Chain


def quick_tables(
    block: Block,
    star: Star,
    question: Question,
    norms: Mapping[str, Array],
    idlers: Mapping[tuple[str, ...], Array],
) -> list[QuickTable]:
    """Return the table of each wheel of a star's hub with the wheels behind it.

    `norms`: see `norms_of`; `idlers`: what `through_idler` gives where nothing is counted.
    """
    return [_table(block, star, place, question, norms, idlers) for place in range(len(star.hub))]


def _table(
    block: Block,
    star: Star,
    place: int,
    question: Question,
    norms: Mapping[str, Array],
    idlers: Mapping[tuple[str, ...], Array],
) -> QuickTable:
    chain = (star.hub[place], *star.arms[place])
    hub = _Hub(block, star, chain[0], question, norms)
    hands = max(question.wheels[wheel].unknown.shape[0] for wheel in chain)
    if len(chain) == 1:
        return hub.known(_alone(block, chain[0], question, hands))
    if len(chain) == 2:
        return hub.known(_mesh(block, chain, question, norms, hands))
    hub_wheel, idler, last = chain
    near = np.empty((hands, block.size + 1, block.size, block.share.shape[1]))
    mesh = block.meshes[hub_wheel, idler]
    near[:, :-1] = mesh.factor
    beside = question.wheels[hub_wheel].beside
    near[:, -1] = beside.take(mesh.place - block.teeth[idler], axis=1)
    far = _mesh(block, (idler, last), question, norms, hands)[:, :-1]
    free = not any(map(question.counted, chain))
    known = idlers.get(chain) if free else None
    rest = through_idler(block, chain, question) if known is None else known
    wheel = Wheel(block, last, question.wheels[last])
    rest = single_states(rest, 2, wheel, block.pieces[last,].first, norms[last])
    between_wheel = Wheel(block, idler, question.wheels[idler])
    excluded = between_wheel.unknown * block.pieces[idler,].first
    strange = np.empty((hands, *rest.shape[1:]))
    strange[...] = rest
    for number in range(block.size):
        known = near[:, :, number] * excluded[:, None, number]
        strange -= known[:, :, None] * far[:, None, number]
    np.maximum(strange, 0.0, out=strange)
    strange *= norms[idler]
    if between_wheel.law is not None:
        near *= between_wheel.law[:, None]
    return Chain(hub.known(near), far, hub.known(strange))


class _Hub:
    """What is known of a wheel of the hub of a star."""

    def __init__(
        self, block: Block, star: Star, name: str, question: Question, norms: Mapping[str, Array]
    ) -> None:
        self._wheel = Wheel(block, name, question.wheels[name])
        self._norm = norms[name]
        self._first = None if len(star.hub) > 1 else block.pieces[star.hub].first

    def known(self, raw: Array) -> Array:
        """Turn the first axis of set … set, unknown of an array of all hands into modes."""
        if self._first is not None:
            return single_states(raw, 1, self._wheel, self._first, self._norm)
        law = self._wheel.law
        known: Array = 1 / self._norm[None] if law is None else law / self._norm
        raw[:, :-1] *= along(known, 1, raw.ndim)
        return raw


def _alone(block: Block, wheel: str, question: Question, hands: int) -> Array:
    """A wheel with nothing behind it: [hand, teeth of each set or unknown, family]."""
    size, count = block.share.shape
    found = np.ones((hands, size + 1, count))
    found[:, size] = question.wheels[wheel].whole[:, None]
    return found


def _mesh(
    block: Block, mesh: tuple[str, ...], question: Question, norms: Mapping[str, Array], hands: int
) -> Array:
    """A wheel with one behind it, the latter by state: [hand, wheel, wheel behind, family]."""
    left, right = mesh
    arrays, size = block.meshes[left, right], block.size
    behind = Wheel(block, right, question.wheels[right])
    excluded = behind.unknown * block.pieces[right,].first
    found = np.empty((hands, size + 1, size + 1, block.share.shape[1]))
    factor = arrays.factor
    found[:, :size, :size] = factor
    beside = question.wheels[left].beside.take(arrays.place - block.teeth[right], axis=1)
    found[:, size, :size] = beside
    free = question.wheels[right].beside.take(arrays.place - block.teeth[left], axis=1)
    free = free - np.einsum("krf,hrf->hkf", factor, excluded)
    found[:, :size, size] = free
    both = question.pairs[left, right].take(arrays.place, axis=1)
    found[:, size, size] = both - (beside * excluded).sum(axis=1)
    rest = found[:, :, size]
    np.maximum(rest, 0.0, out=rest)
    rest *= norms[right]
    if behind.law is not None:
        found[:, :, :size] *= behind.law[:, None]
    return found
