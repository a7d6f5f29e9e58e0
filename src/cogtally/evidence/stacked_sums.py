"""Sums over all that the pieces of stacked families can be, under every base set.

The tables of what the wheels weigh come from `stacked_arms`; what the sums mean for an answer is
left to `stacked`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cogtally.evidence.likelihood import CHANGED_SHARE, UNLISTED
from cogtally.evidence.stacked_block import Block, PieceArrays
from cogtally.evidence.stacked_shape import Star
from cogtally.evidence.stacked_tables import Array

_CHANGED, _OTHER = UNLISTED * CHANGED_SHARE, UNLISTED * (1 - CHANGED_SHARE)


def over_piece(
    table: Array, axis: int, piece: PieceArrays, share: Array, *, by_base: bool
) -> Array:
    """Sum an axis of the states of a one-wheel piece, under each base set.

    The base sets stand on the last axis but one: already there with `by_base`, else they are made.
    """
    size = share.shape[0]
    states = [table[(slice(None),) * axis + (state,)] for state in range(size + 1)]
    total: Array = states[0] * share[0]
    for state in range(1, size):
        total += states[state] * share[state]
    if by_base:
        found: Array = total * piece.spread
        for base in range(size):
            found[..., base, :] += states[base][..., base, :] * piece.extra[base]
        found += UNLISTED * states[size]
        return found
    rest = UNLISTED * states[size]
    found = np.empty((*total.shape[:-1], size, total.shape[-1]))
    for base in range(size):
        into = found[..., base, :]
        np.multiply(total, piece.spread[base], out=into)
        into += states[base] * piece.extra[base]
        into += rest
    return found


def message(block: Block, arm: Sequence[str], table: Array) -> Array:
    """Sum a table over the wheels behind the hub: [hand, mode, base, family]."""
    if not arm:
        return table[:, :, None]
    for number, wheel in reversed(list(enumerate(arm))):
        table = over_piece(
            table, 2 + number, block.pieces[wheel,], block.share, by_base=number < len(arm) - 1
        )
    return table


def messages_of(block: Block, star: Star, tables: Sequence[Array]) -> list[Array]:
    """Sum the table of each wheel of a star's hub over the wheels behind it."""
    return [message(block, arm, table) for arm, table in zip(star.arms, tables, strict=True)]


@dataclass(frozen=True, slots=True)
class Hub:
    """A hub's piece as a sum sees it: weights by set, or by row, on the last axis."""

    wheels: int
    spread: Array
    extra: Array
    share: Array


def hub_of(block: Block, star: Star) -> Hub:
    """Return the hub of a star of a block."""
    piece = block.pieces[star.hub]
    return Hub(len(star.hub), piece.spread, piece.extra, block.share)


def over_hub(hub: Hub, messages: Sequence[Array]) -> Array:
    """Sum over all states of the hub: [hand, base, family]."""
    size = hub.share.shape[0]
    if hub.wheels == 1:
        found = messages[0]
        return drawn(hub, found[:, :size]) + UNLISTED * found[:, size]
    listed, changed = products(messages, size)
    return drawn(hub, listed) + unlisted(hub, changed, messages)


def drawn(hub: Hub, listed: Array) -> Array:
    """Sum over the listed types of the hub: [hand, base, family]."""
    size = hub.share.shape[0]
    found: Array = np.einsum("hksf,kf->hsf", listed, hub.share) * hub.spread
    if listed.shape[2] == 1:
        found += listed[:, :, 0] * hub.extra
    else:
        found += np.einsum("hssf->hsf", listed[:, :size]) * hub.extra
    return found


def products(messages: Sequence[Array], size: int) -> tuple[Array, Array]:
    """Return the product of all messages, and the sum of those with one of them changed."""
    # Wheels that were not counted look the same from either hand: those first, for half the work.
    first, *rest = sorted(messages, key=lambda each: each.shape[0])
    listed, changed = first[:, :size], first[:, size : 2 * size]
    for other in rest:
        known = other[:, :size]
        one = listed * other[:, size : 2 * size]
        changed = changed * known
        changed += one
        listed = listed * known
    return listed, changed


def unlisted(hub: Hub, changed: Array, messages: Sequence[Array]) -> Array:
    """Sum over the unlisted states of a hub of several wheels: [hand, base, family]."""
    other = messages[0][:, -1]
    for each in messages[1:]:
        other = other * each[:, -1]
    found: Array = np.einsum("hksf,kf->hsf", changed, hub.share) * (_CHANGED / hub.wheels)
    return found + _OTHER * other
