"""Sums over all that the pieces of stacked families can be, under every base set.

The tables of what the wheels weigh come from `stacked_arms`, sums over part of what can be from
`stacked_rows`; what the sums mean for an answer is left to `stacked`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Protocol

import numpy as np

from cogtally.evidence.likelihood import CHANGED_SHARE, UNLISTED
from cogtally.evidence.stacked_block import Block, PieceArrays
from cogtally.evidence.stacked_quick import Chain, QuickTable
from cogtally.evidence.stacked_shape import Star
from cogtally.evidence.stacked_tables import Array

#: An unlisted hub of several wheels: with one of them changed, and altogether other.
CHANGED, OTHER = UNLISTED * CHANGED_SHARE, UNLISTED * (1 - CHANGED_SHARE)


def over_piece(
    table: Array, axis: int, piece: PieceArrays, share: Array, *, by_base: bool
) -> Array:
    """Sum an axis of the states of a one-wheel piece, under each base set.

    The base sets stand on the last axis but one: already there with `by_base`, else they are made.
    """
    size = share.shape[0]
    before: tuple[Any, ...] = (slice(None),) * axis
    listed, rest = table[(*before, slice(size))], UNLISTED * table[(*before, size)]
    states = "abcdefg"[:axis]
    if by_base:
        total = np.einsum(f"{states}r...sf,rf->{states}...sf", listed, share)
        found: Array = total * piece.spread
        for base in range(size):
            found[..., base, :] += listed[(*before, base)][..., base, :] * piece.extra[base]
        found += rest
        return found
    total = np.einsum(f"{states}rz,rz->{states}z", listed, share)
    found = listed * piece.extra
    found += rest[..., None, :]
    found += total[..., None, :] * piece.spread
    return found


class Message(Protocol):
    """What a wheel of a hub and all behind it weigh, by what is known of the wheel."""

    @property
    def hands(self) -> int:
        """How many hands it is told apart by: one where nothing was counted."""

    def at(self, mode: int) -> Array:
        """Return it where so much is known of the wheel: [hand, base or one, …]."""


class Summed:
    """The table of a wheel of a hub summed over all that the wheels behind it can be."""

    def __init__(self, block: Block, arm: Sequence[str], table: QuickTable) -> None:
        if isinstance(table, Chain):
            self.every = _over_chain(block, arm, table)
            self.hands = self.every.shape[0]
            return
        self.hands = table.shape[0]
        if len(arm) == 2:
            table = over_piece(table, 3, block.pieces[arm[1],], block.share, by_base=False)
        if arm:
            last = over_piece(table, 2, block.pieces[arm[0],], block.share, by_base=len(arm) == 2)
        else:
            last = table[:, :, None]
        self.every = last

    def at(self, mode: int) -> Array:
        """Return it where so much is known of the wheel: [hand, base or one, family]."""
        found: Array = self.every[:, mode]
        return found


def _over_chain(block: Block, arm: Sequence[str], table: Chain) -> Array:
    """Sum the table of an idler and a wheel behind it: [hand, mode, base, family]."""
    share = block.share
    idler, last = (block.pieces[wheel,] for wheel in arm)
    behind = over_piece(table.far, 2, last, share, by_base=False)
    total: Array | float = 0.0
    for number in range(block.size):
        near = table.near[:, :, number] * share[number]
        total = total + near[:, :, None] * behind[:, None, number]
    assert isinstance(total, np.ndarray)
    total *= idler.spread
    for base in range(block.size):
        own = table.near[:, :, base] * (behind[:, base, base] * idler.extra[base])[:, None]
        total[:, :, base] += own
    total += UNLISTED * over_piece(table.strange, 2, last, share, by_base=False)
    return total


def messages_of(block: Block, star: Star, tables: Sequence[QuickTable]) -> list[Summed]:
    """Sum the table of each wheel of a star's hub over the wheels behind it."""
    return [Summed(block, arm, table) for arm, table in zip(star.arms, tables, strict=True)]


@dataclass(frozen=True, slots=True)
class Hub:
    """A hub's piece as a sum sees it: weights by set, or by row, on the last axis.

    Of several wheels: `drawn[set]`, the share of the set times what the messages at its teeth were
    divided by; `changed[set]`, what the product of them has too much of in every sum with one wheel
    changed, since that wheel has other teeth than the set's. Where messages tell that `apart`, as
    `hub_modes` does, they were divided by nothing and have nothing too much.
    """

    wheels: int
    spread: Array
    extra: Array
    share: Array
    norm: Array
    changed: Array
    apart: bool = False

    def mapped(self, picked: Callable[[Array], Array]) -> Hub:
        """Return the hub of the families or rows that are picked from every array."""
        return replace(
            self,
            spread=picked(self.spread),
            extra=picked(self.extra),
            share=picked(self.share),
            norm=picked(self.norm),
            changed=picked(self.changed),
        )

    @property
    def drawn(self) -> Array:
        """The share of each set times its norm."""
        found: Array = self.share * self.norm
        return found

    @property
    def own(self) -> Array:
        """What a base set has more of its own type, over the share that it is drawn with."""
        some = self.share > 0
        found: Array = np.where(some, self.extra, 0.0) / np.where(some, self.share, 1.0)
        return found


def hub_of(block: Block, star: Star, norms: Mapping[str, Array], *, apart: bool = False) -> Hub:
    """Return the hub of a star of a block; `apart`: see `Hub`."""
    piece = block.pieces[star.hub]
    norm, changed = np.ones_like(block.share), np.zeros_like(block.share)
    if len(star.hub) > 1 and not apart:
        for wheel in star.hub:
            norm *= norms[wheel]
            changed += norms[wheel] - 1
    return Hub(len(star.hub), piece.spread, piece.extra, block.share, norm, changed, apart)


def over_hub(hub: Hub, messages: Sequence[Message]) -> Array:
    """Sum over all states of the hub: [hand, base, family]."""
    if hub.wheels == 1:
        (message,) = messages
        return drawn_alone(hub, message) + UNLISTED * message.at(hub.share.shape[0])
    listed, strange = over_types(hub, messages, listed=True)
    return listed + strange


def drawn_alone(hub: Hub, message: Message, alike: Array | None = None) -> Array:
    """Sum over the listed types of a hub of one wheel, of those that are `alike[set]` alone."""
    size = hub.share.shape[0]
    share = hub.share if alike is None else hub.share * alike
    extra = hub.extra if alike is None else hub.extra * alike
    total: Array | float = 0.0
    own = np.empty((message.hands, *hub.spread.shape))
    for mode in range(size):
        known = message.at(mode)
        total = total + known * share[mode]
        own[:, mode] = known[:, min(mode, known.shape[1] - 1)] * extra[mode]
    found: Array = total * hub.spread + own
    return found


def over_types(hub: Hub, messages: Sequence[Message], *, listed: bool) -> tuple[Array, Array]:
    """Sum over the listed types of a hub of several wheels, and over all that is unlisted.

    Each [hand, base, …]; without `listed` the first is left out.
    """
    size = hub.share.shape[0]
    # Wheels that were not counted look the same from either hand: those first, for half the work.
    order = sorted(messages, key=lambda each: each.hands)
    free = [each.at(2 * size if hub.apart else size) for each in order]
    first, *middle = zip(order, free, strict=True)
    (last, last_free) = middle.pop()
    drawn, own = hub.drawn, hub.own
    shape = (last.hands, *hub.spread.shape)
    whole, known = np.zeros(shape), np.empty(shape)
    one, strange = np.zeros(shape), np.zeros(shape)
    for mode in range(size):
        product = _spread_out(first[0].at(mode) * drawn[mode], hub)
        if hub.apart:
            changed = _spread_out(first[0].at(size + mode) * drawn[mode], hub)
        else:
            changed = first[1] * drawn[mode] - product * hub.changed[mode]
        for message, at_free in middle:
            value = message.at(mode)
            changed = _times(changed, value)
            changed += product * (message.at(size + mode) if hub.apart else at_free)
            product = _times(product, value)
        value = last.at(mode)
        one += product * last.at(size + mode) if hub.apart else product
        strange += _times(changed, value)
        if listed:
            product = _times(product, value)
            whole += product
            np.multiply(product[:, mode], own[mode], out=known[:, mode])
    if not hub.apart:
        one *= last_free
    strange += one
    strange *= CHANGED / hub.wheels
    other = free[0]
    for each in free[1:]:
        other = other * each
    strange += OTHER * other
    if listed:
        whole *= hub.spread
        whole += known
    return whole, strange


def _spread_out(values: Array, hub: Hub) -> Array:
    """The same for every base set, where they are not told apart."""
    if values.shape[1] == hub.spread.shape[0]:
        return values
    return np.repeat(values, hub.spread.shape[0], axis=1)


def _times(values: Array, more: Array) -> Array:
    """The product, in the place of the first where it fits there."""
    if values.shape[0] < more.shape[0]:
        return values * more
    values *= more
    return values
