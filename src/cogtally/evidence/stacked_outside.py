"""How much a sum over stacked families changes with each number in the tables of their wheels.

A sum is linear in every table, so this is what all the rest weighs around one entry of it; the
tables are told apart by all that can be known of the hub's wheel. From it `stacked_spread` works
out how the teeth of one wheel are spread. [hand, …] throughout.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce

import numpy as np

from cogtally.evidence.likelihood import UNLISTED
from cogtally.evidence.stacked_block import Block, PieceArrays
from cogtally.evidence.stacked_rows import (
    Codes,
    RowPlaces,
    Weights,
    cells_of,
    in_rows,
    parted,
    weight_in,
)
from cogtally.evidence.stacked_sums import CHANGED, OTHER, messages_of
from cogtally.evidence.stacked_tables import Array
from cogtally.evidence.stacked_terms import LISTED_ONLY

#: The tables of each star, as `star_tables` gives them; what is around them has the same shape.
Tables = Sequence[Sequence[Array]]


def around_all(block: Block, tables: Tables, weights: Array) -> list[list[Array]]:
    """Return what is around each table in the sum over all of `weights[hand, base, family]`."""
    shape = block.shape
    messages, listed, values = [], [], []
    for star, each in zip(shape.stars, tables, strict=True):
        piece = block.pieces[star.hub]
        own = np.eye(block.size)[:, :, None] * piece.extra
        messages.append([one.every for one in messages_of(block, star, each)])
        listed.append(block.share[:, None] * piece.spread + own)
        values.append(_star(messages[-1], listed[-1], 1.0, block.share))
    found = []
    for number, star in enumerate(shape.stars):
        outer = _others(values, number, weights)
        outs = _around_messages(
            messages[number], outer[:, None] * listed[number], outer, block.share
        )
        found.append(
            [_around_table(block, arm, out) for arm, out in zip(star.arms, outs, strict=True)]
        )
    return found


def around_star(block: Block, tables: Tables, weights: Array, number: int) -> Array:
    """Return what is around one star in the sum over all: [hand, base, family]."""
    for other, star in enumerate(block.shape.stars):
        if other != number:
            messages = [each.every for each in messages_of(block, star, tables[other])]
            piece = block.pieces[star.hub]
            own = np.eye(block.size)[:, :, None] * piece.extra
            listed = block.share[:, None] * piece.spread + own
            weights = weights * _star(messages, listed, 1.0, block.share)
    return weights


def around_common(block: Block, tables: Tables, weights: Array) -> list[list[Array]]:
    """Return what is around each table in the sum of all that has any set in common."""
    of_types = Weights(block)
    parts = [
        _around_rows(of_types, places, codes, tables, weights[:, :, places.family] * sign)
        for places, codes, sign in parted(block)
    ]
    return [
        [reduce(np.add, each) for each in zip(*s, strict=True)] for s in zip(*parts, strict=True)
    ]


def _around_rows(
    of_types: Weights, places: RowPlaces, codes: Codes, tables: Tables, weights: Array
) -> list[list[Array]]:
    """What is around each table in the sum of some rows, of `weights[hand, base, row]`."""
    block, shape = places.block, places.block.shape
    share = block.share[:, places.family]
    own = np.arange(block.size)[:, None] == places.base
    messages, listed, strange, values = [], [], [], []
    for star, each in zip(shape.stars, tables, strict=True):
        code = codes[star.hub]
        messages.append(
            [
                in_rows(places, table, cells_of(of_types, places, codes, arm)).every()
                for arm, table in zip(star.arms, each, strict=True)
            ]
        )
        listed.append(weight_in(of_types, places, star.hub, code) * own[:, None])
        strange.append((code != LISTED_ONLY).astype(float))
        values.append(_star(messages[-1], listed[-1], strange[-1], share))
    found = []
    for number, star in enumerate(shape.stars):
        outer = _others(values, number, weights)
        outs = _around_messages(
            messages[number], outer[:, None] * listed[number], outer * strange[number], share
        )
        found.append(
            [
                _scattered(of_types, places, codes, arm, out)
                for arm, out in zip(star.arms, outs, strict=True)
            ]
        )
    return found


def _star(messages: Sequence[Array], listed: Array, strange: Array | float, share: Array) -> Array:
    """Sum a star: `listed[set, base, …]` weighs each type of the hub, `strange` all unlisted."""
    size = share.shape[0]
    if len(messages) == 1:
        found: Array = (listed * messages[0][:, :size]).sum(axis=1)
        found += UNLISTED * strange * messages[0][:, size]
        return found
    known, changed = products(messages, size)
    found = (listed * known).sum(axis=1)
    found += strange * unlisted(share, changed, messages)
    return found


def products(messages: Sequence[Array], size: int) -> tuple[Array, Array]:
    """Return the product of all messages, and the sum of those with one of them changed."""
    listed, changed = messages[0][:, :size], messages[0][:, size : 2 * size]
    for other in messages[1:]:
        known = other[:, :size]
        changed = changed * known + listed * other[:, size : 2 * size]
        listed = listed * known
    return listed, changed


def unlisted(share: Array, changed: Array, messages: Sequence[Array]) -> Array:
    """Sum over the unlisted states of a hub of several wheels: [hand, base, …]."""
    other = messages[0][:, -1]
    for each in messages[1:]:
        other = other * each[:, -1]
    found: Array = np.einsum("hksf,kf->hsf", changed, share) * (CHANGED / len(messages))
    found += OTHER * other
    return found


def _others(values: Sequence[Array], number: int, weights: Array) -> Array:
    for other, value in enumerate(values):
        if other != number:
            weights = weights * value
    return weights


def _around_messages(
    messages: Sequence[Array], listed: Array, outer: Array, share: Array
) -> list[Array]:
    """What is around each message of a star.

    `listed[hand, set, base, …]`: what is around the product of all at the teeth of a set's type;
    `outer[hand, base, …]`: what is around all that is unlisted.
    """
    size, wheels = share.shape[0], len(messages)
    if wheels == 1:
        out = np.concatenate([listed, (UNLISTED * outer)[:, None]], axis=1)
        return [out.sum(axis=2, keepdims=True) if messages[0].shape[2] == 1 else out]
    changed = outer[:, None] * (share[:, None] * (CHANGED / wheels))
    other = outer * OTHER
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
    of_types: Weights, places: RowPlaces, codes: Codes, arm: Sequence[str], out: Array
) -> Array:
    """From what is around the messages of rows to what is around the table of their families."""
    size, count = places.block.share.shape
    hands, modes = out.shape[:2]
    states = (size + 1) ** len(arm)
    found = np.zeros((hands, modes, states * count))
    for cell, weight in cells_of(of_types, places, codes, arm):
        index = np.zeros(places.family.size, dtype=np.intp)
        for strange in cell:
            index = index * (size + 1) + (size if strange else places.base)
        index = index * count + places.family
        value = (out * weight).sum(axis=2)
        for hand in range(hands):
            for mode in range(modes):
                found[hand, mode] += np.bincount(index, value[hand, mode], states * count)
    return found.reshape(hands, modes, *[size + 1] * len(arm), count)
