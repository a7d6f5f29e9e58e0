"""How much a sum over stacked families changes with each number in the tables of their wheels.

A sum is linear in every table, so this is what all the rest weighs around one entry of it. From it
`stacked_spread` works out how the teeth of one wheel are spread. [hand, …] throughout.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from cogtally.evidence.likelihood import CHANGED_SHARE, UNLISTED
from cogtally.evidence.stacked_block import Block, PieceArrays
from cogtally.evidence.stacked_rows import RowPlaces, common_messages, common_rows
from cogtally.evidence.stacked_shape import StackShape
from cogtally.evidence.stacked_sums import hub_of, messages_of, over_hub
from cogtally.evidence.stacked_tables import Array

_CHANGED, _OTHER = UNLISTED * CHANGED_SHARE, UNLISTED * (1 - CHANGED_SHARE)

#: The tables of each star, as `star_tables` gives them; what is around them has the same shape.
Tables = Sequence[Sequence[Array]]


def around_all(block: Block, tables: Tables, weights: Array) -> list[list[Array]]:
    """Return what is around each table in the sum over all of `weights[hand, base, family]`."""
    shape = block.shape
    messages = [messages_of(block, star, tables[i]) for i, star in enumerate(shape.stars)]
    values = [over_hub(hub_of(block, s), m) for s, m in zip(shape.stars, messages, strict=True)]
    found = []
    for number, star in enumerate(shape.stars):
        outer = _others(values, number, weights)
        hub = hub_of(block, star)
        own = np.eye(block.size)[:, :, None] * hub.extra
        listed = outer[:, None] * (hub.share[:, None] * hub.spread + own)
        outs = _around_messages(messages[number], listed, outer, hub.share, len(star.hub))
        found.append(
            [_around_table(block, arm, out) for arm, out in zip(star.arms, outs, strict=True)]
        )
    return found


def around_star(block: Block, tables: Tables, weights: Array, number: int) -> Array:
    """Return what is around one star in the sum over all: [hand, base, family]."""
    for other, star in enumerate(block.shape.stars):
        if other != number:
            messages = messages_of(block, star, tables[other])
            weights = weights * over_hub(hub_of(block, star), messages)
    return weights


def around_common(block: Block, tables: Tables, weights: Array) -> list[list[Array]]:
    """Return what is around each table in the sum of all that has any set in common."""
    rows = block.rows
    places = RowPlaces(block, rows.family, rows.base)
    shape: StackShape = block.shape
    weights = weights[:, :, rows.family] * rows.sign
    messages = [
        common_messages(places, rows.listed, star, tables[i]) for i, star in enumerate(shape.stars)
    ]
    values = [
        common_rows(places, rows.listed, star, each)
        for star, each in zip(shape.stars, messages, strict=True)
    ]
    share = block.share[:, rows.family]
    found = []
    for number, star in enumerate(shape.stars):
        outer = _others(values, number, weights)
        own = np.arange(block.size)[:, None] == rows.base
        weight = places.weight(star.hub) * rows.listed[star.hub]
        listed = (outer * weight)[:, None] * own[:, None]
        outs = _around_messages(messages[number], listed, outer, share, len(star.hub))
        found.append(
            [
                _scattered(places, rows.listed, arm, out)
                for arm, out in zip(star.arms, outs, strict=True)
            ]
        )
    return found


def _others(values: Sequence[Array], number: int, weights: Array) -> Array:
    for other, value in enumerate(values):
        if other != number:
            weights = weights * value
    return weights


def _around_messages(
    messages: Sequence[Array], listed: Array, outer: Array, share: Array, wheels: int
) -> list[Array]:
    """What is around each message of a star.

    `listed[hand, set, base, …]`: what is around the product of all at the teeth of a set's type;
    `outer`: what is around the star.
    """
    size = share.shape[0]
    if wheels == 1:
        out = np.concatenate([listed, (UNLISTED * outer)[:, None]], axis=1)
        return [out.sum(axis=2, keepdims=True) if messages[0].shape[2] == 1 else out]
    changed = outer[:, None] * (share[:, None] * (_CHANGED / wheels))
    other = outer * _OTHER
    ones = np.ones((1, 1, 1, 1))
    before = [(ones, ones * 0, ones[:, 0])]
    for each in messages[:-1]:
        before.append(_with(before[-1], each, size))
    after = (ones, ones * 0, ones[:, 0])
    found: list[Array] = []
    for each, ahead in zip(reversed(messages), reversed(before), strict=True):
        known = ahead[0] * after[0]
        one = ahead[1] * after[0] + ahead[0] * after[1]
        parts = [
            listed * known + changed * one,
            changed * known,
            (other * ahead[2] * after[2])[:, None],
        ]
        out = np.concatenate(parts, axis=1)
        found.append(out.sum(axis=2, keepdims=True) if each.shape[2] == 1 else out)
        after = _with(after, each, size)
    return found[::-1]


def _with(so_far: tuple[Array, Array, Array], each: Array, size: int) -> tuple[Array, Array, Array]:
    known, other, free = each[:, :size], each[:, size : 2 * size], each[:, -1]
    product, one, rest = so_far
    return product * known, one * known + product * other, rest * free


def _around_table(block: Block, arm: Sequence[str], out: Array) -> Array:
    """What is around a table, from what is around its message [hand, mode, base, family]."""
    if not arm:
        return out[:, :, 0]
    piece = block.pieces[arm[0],]
    if len(arm) == 1:
        return _around_piece(out, piece, block.share)
    own = np.eye(block.size)[:, :, None] * piece.extra
    listed = out[:, :, None] * (block.share[:, None] * piece.spread + own)
    both = np.concatenate([listed, UNLISTED * out[:, :, None]], axis=2)
    return _around_piece(both, block.pieces[arm[1],], block.share)


def _around_piece(out: Array, piece: PieceArrays, share: Array) -> Array:
    """From [hand, …, base, family] to [hand, …, state, family]."""
    drawn = (out * piece.spread).sum(axis=-2, keepdims=True) * share
    rest = UNLISTED * out.sum(axis=-2, keepdims=True)
    return np.concatenate([drawn + out * piece.extra, rest], axis=-2)


def _scattered(
    places: RowPlaces, listed: Mapping[tuple[str, ...], Array], arm: Sequence[str], out: Array
) -> Array:
    """From what is around the messages of rows to what is around the table of their families."""
    size, count = places.block.share.shape
    hands, modes = out.shape[:2]
    states = (size + 1) ** len(arm)
    found = np.zeros((hands, modes, states * count))
    for weight, index in places.cells(listed, arm):
        value = (out * weight).sum(axis=2)
        for hand in range(hands):
            for mode in range(modes):
                found[hand, mode] += np.bincount(index, value[hand, mode], states * count)
    return found.reshape(hands, modes, *[size + 1] * len(arm), count)
