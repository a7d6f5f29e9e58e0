"""What the wheels of one star weigh, for every combination of what is known of them.

A table has an axis for what is known of the hub's wheel, one for each wheel behind it, and the
family last; how tables are summed under each base set is left to `stacked_sums`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from cogtally.evidence.likelihood import GREATEST_TEETH, LEAST_TEETH, SUM_FAR, TEETH_RANGE
from cogtally.evidence.stacked_block import Block
from cogtally.evidence.stacked_shape import StackShape, Star
from cogtally.evidence.stacked_tables import NEAR, SHIFT, WIDTH, Array, WheelTables, both_unknown

#: Teeth 8…80 of a table by teeth.
UNKNOWN_TEETH = slice(LEAST_TEETH, GREATEST_TEETH + 1)
_TEETH = np.array(TEETH_RANGE)


@dataclass(frozen=True, slots=True)
class Question:
    """The tables of every wheel of a shape, and of every mesh with both wheels unknown."""

    wheels: Mapping[str, WheelTables]
    pairs: Mapping[tuple[str, str], Array]
    over: Array

    def counted(self, wheel: str) -> bool:
        """Tell whether a wheel was counted."""
        return self.wheels[wheel].law is not None


def question_of(shape: StackShape, wheels: Mapping[str, WheelTables], over: Array) -> Question:
    """Return the question that these tables of wheels make."""
    meshes = [mesh for star in shape.stars for mesh in star.meshes]
    pairs = {(a, b): both_unknown(wheels[a], wheels[b], over) for a, b in meshes}
    return Question(wheels, pairs, over)


class Wheel:
    """One wheel of a block: likelihood and ρ at the teeth of each base set's type."""

    def __init__(self, block: Block, wheel: str, tables: WheelTables) -> None:
        self._teeth = block.teeth[wheel]
        self._tables = tables
        self.whole = tables.whole

    @cached_property
    def law(self) -> Array | None:
        """The likelihood of the counts: [hand, base, family]; None where it was not counted."""
        law = self._tables.law
        found: Array | None = None if law is None else law.take(self._teeth, axis=1)
        return found

    @cached_property
    def unknown(self) -> Array:
        """That times ρ, likewise."""
        found: Array = self._tables.unknown.take(self._teeth, axis=1)
        return found

    def known(self, values: Array, axis: int) -> Array:
        """Return values by set, along `axis` from behind the hand, times the counts' likelihood."""
        if self.law is None:
            return values
        return values * along(self.law, axis, values.ndim)


def along(values: Array, axis: int, axes: int) -> Array:
    """Return [hand, set, family] for a table of so many axes, its sets along one of them."""
    hands, sets, families = values.shape
    return values.reshape(hands, *[1] * (axis - 1), sets, *[1] * (axes - axis - 2), families)


def single_states(raw: Array, axis: int, wheel: Wheel, first: Array, norm: Array) -> Array:
    """Turn an axis of set … set, unknown into the states of a piece of one wheel.

    Unknown teeth exclude those of every set; what is subtracted belongs to a state of more weight.
    """
    known, free = np.split(raw, [raw.shape[axis] - 1], axis=axis)
    excluded = along(wheel.unknown * first, axis, raw.ndim)
    listed = (known * excluded).sum(axis=axis, keepdims=True)
    other = np.maximum(free - listed, 0.0) * norm
    return _joined([wheel.known(known, axis), other], axis)


def hub_modes(raw: Array, wheel: Wheel, norm: Array) -> Array:
    """Turn the first axis of set … set, unknown into what can be known of one wheel of a hub.

    The teeth of each set; unknown other than those of each set; unknown.
    """
    known, free = raw[:, :-1], raw[:, -1:]
    other = np.maximum(free - known * along(wheel.unknown, 1, raw.ndim), 0.0)
    other *= along(norm[None], 1, raw.ndim)
    return _joined([wheel.known(known, 1), other, free], 1)


def _joined(parts: list[Array], axis: int) -> Array:
    hands = max(part.shape[0] for part in parts)
    return np.concatenate(
        [np.broadcast_to(p, (hands, *p.shape[1:])) if p.shape[0] < hands else p for p in parts],
        axis=axis,
    )


def norms_of(block: Block, star: Star, rho: Mapping[str, WheelTables]) -> dict[str, Array]:
    """Return for each wheel what ρ without excluded teeth is divided by, inverted.

    By set and family for a wheel of a hub of several; by family for others.
    """
    found = {}
    for piece in star.pieces:
        for wheel in piece:
            at = rho[wheel].unknown[0].take(block.teeth[wheel])
            if len(piece) > 1:
                found[wheel] = 1 / (1 - at)
            else:
                found[wheel] = 1 / (1 - (at * block.pieces[piece].first).sum(axis=0))
    return found


def arm_table(
    block: Block,
    star: Star,
    place: int,
    question: Question,
    norms: Mapping[str, Array],
    between: Array | None = None,
) -> Array:
    """Return the table of one wheel of the hub and the wheels behind it: [hand, mode, …, family].

    `between`: what `through_idler` gives where there is an idler.
    """
    return arm_stages(block, star, place, question, norms, between)[-1]


def arm_stages(
    block: Block,
    star: Star,
    place: int,
    question: Question,
    norms: Mapping[str, Array],
    between: Array | None = None,
) -> list[Array]:
    """Return the table after each step: first by teeth alone, then wheel by wheel, the hub last.

    The wheel farthest from the hub comes first.
    """
    chain = (star.hub[place], *star.arms[place])
    wheels = {w: Wheel(block, w, question.wheels[w]) for w in chain}
    found = [_raw(block, chain, question, between)]
    for axis, name in reversed(list(enumerate(chain, 1))):
        if axis == 1 and len(star.hub) > 1:
            found.append(hub_modes(found[-1], wheels[name], norms[name]))
        else:
            first = block.pieces[name,].first
            found.append(single_states(found[-1], axis, wheels[name], first, norms[name]))
    return found


def _raw(block: Block, chain: tuple[str, ...], question: Question, between: Array | None) -> Array:
    """The sums with each wheel at the teeth of a set, the counts left out, or unknown."""
    if len(chain) == 1:
        whole = question.wheels[chain[0]].whole
        size, count = block.share.shape
        free = np.broadcast_to(whole[:, None, None], (len(whole), 1, count))
        return _joined([np.ones((1, size, count)), free], 1)
    first = mesh_raw(block, chain[:2], question)
    if len(chain) == 2:
        return first
    second = mesh_raw(block, chain[1:], question)
    size = block.size
    known = first[:, :, :size, None] * second[:, None, :size]
    rest = through_idler(block, chain, question) if between is None else between
    return _joined([known, rest[:, :, None]], 2)


def mesh_raw(block: Block, mesh: tuple[str, ...], question: Question) -> Array:
    """One mesh: [hand, nearer wheel, farther wheel, family], each by set and last unknown."""
    left, right = mesh
    arrays = block.meshes[left, right]
    one, other = question.wheels[left], question.wheels[right]
    hands = max(one.unknown.shape[0], other.unknown.shape[0])
    size, count = block.share.shape
    found = np.empty((hands, size + 1, size + 1, count))
    found[:, :size, :size] = arrays.factor
    found[:, size, :size] = one.beside.take(arrays.place - block.teeth[right], axis=1)
    found[:, :size, size] = other.beside.take(arrays.place - block.teeth[left], axis=1)
    found[:, size, size] = question.pairs[left, right].take(arrays.place, axis=1)
    return found


def through_idler(block: Block, chain: tuple[str, ...], question: Question) -> Array:
    """Sum over all teeth of an idler: [hand, wheel before, wheel behind, family], last unknown."""
    left, idler, right = chain
    before = beside_all(block, (left, idler), left, question)
    behind = beside_all(block, (idler, right), right, question)
    weights = question.wheels[idler].unknown[:, UNKNOWN_TEETH]
    found = np.matmul(before * weights[:, None, None], behind.swapaxes(2, 3))
    return np.ascontiguousarray(found.transpose(0, 2, 3, 1))


def beside_all(block: Block, mesh: tuple[str, str], wheel: str, question: Question) -> Array:
    """One end of a mesh by set and last unknown, against 8…80 teeth: [hand, family, end, teeth]."""
    place = block.meshes[mesh].place
    tables = question.wheels[wheel]
    span = tables.beside.shape[1] // len(question.over)
    number, lowest = place // span, place % span - SHIFT
    off = block.teeth[wheel].T[:, :, None] + _TEETH - lowest[:, None, None] + NEAR
    padded = np.pad(question.over, ((0, 0), (0, 1)))
    off = np.where((off >= 0) & (off < WIDTH), off, WIDTH)
    known = SUM_FAR + padded[number[:, None, None], off]
    free = tables.beside.take(place[:, None] - _TEETH, axis=1)[:, :, None]
    return _joined([known[None], free], 2)
