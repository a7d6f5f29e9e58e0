"""Sums over part of what stacked families can be: sets with something in common, so-far groups.

Every row is one restriction of one family; rows stand on the last axis. The sums over all that a
family can be are left to `stacked_sums`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from cogtally.evidence.likelihood import UNLISTED
from cogtally.evidence.stacked_block import Block, PieceArrays
from cogtally.evidence.stacked_shape import Star
from cogtally.evidence.stacked_sums import (
    Hub,
    drawn,
    over_hub,
    over_piece,
    products,
    unlisted,
)
from cogtally.evidence.stacked_tables import Array


class RowPlaces:
    """Where the families and sets of some rows stand in the arrays of a block."""

    def __init__(self, block: Block, family: Array, base: Array) -> None:
        size, count = block.share.shape
        self.block = block
        self.family, self.base = family, base
        bases = np.arange(size)[:, None]
        self._weights = (base * size + bases) * count + family

    def weight(self, piece: tuple[str, ...]) -> Array:
        """The weight of the row's type of a piece under each base set: [base, row]."""
        arrays = self.block.pieces[piece]
        return self._picked(arrays.weight(arrays.kind, self.block.share))

    def weight_of_teeth(self, wheel: str) -> Array:
        """The weight of all types of a one-wheel piece that have the row's teeth: [base, row]."""
        arrays = self.block.pieces[wheel,]
        return self._picked(arrays.weight(self.block.teeth[wheel], self.block.share))

    def _picked(self, weights: Array) -> Array:
        found: Array = weights.reshape(-1).take(self._weights)
        return found

    def cells(
        self, listed: Mapping[tuple[str, ...], Array], arm: Sequence[str]
    ) -> list[tuple[Array | float, Array]]:
        """The states of the wheels behind a hub's that are in each row: weight, place in a table.

        Of each wheel the row's type, where it has one, or unlisted: [base, row].
        """
        size, count = self.block.share.shape
        found: list[tuple[Array | float, Array | int]] = [(1.0, 0)]
        for wheel in arm:
            own = self.weight((wheel,)) * listed[wheel,]
            both = ((own, self.base), (UNLISTED, size))
            found = [(w * v, c * (size + 1) + n) for w, c in found for v, n in both]
        return [(weight, cell * count + self.family) for weight, cell in found]

    def mode(self, messages: Array) -> Array:
        """Pick the row's set on the mode axis of a message of rows: [hand, base, row]."""
        index = self.base[None, None, None]
        found: Array = np.take_along_axis(messages, index, axis=1)[:, 0]
        return found

    def hub(self, star: Star) -> Hub:
        """The hub of a star, its weights by row."""
        piece = self.block.pieces[star.hub]
        at = self.family
        return Hub(len(star.hub), piece.spread[:, at], piece.extra[:, at], self.block.share[:, at])


def common_messages(
    places: RowPlaces,
    listed: Mapping[tuple[str, ...], Array],
    star: Star,
    tables: Sequence[Array],
) -> list[Array]:
    """Sum the tables of a star as `common_rows` wants them: [hand, mode, base, row].

    Of every wheel behind the hub the type that rows have in common, and all that is unlisted.
    """
    return [
        _common_message(places, listed, arm, table)
        for arm, table in zip(star.arms, tables, strict=True)
    ]


def common_rows(
    places: RowPlaces,
    listed: Mapping[tuple[str, ...], Array],
    star: Star,
    messages: Sequence[Array],
) -> Array:
    """Sum a star over its listed types that rows have in common and all that is unlisted.

    [hand, base, row].
    """
    weight = places.weight(star.hub) * listed[star.hub]
    size = places.block.size
    if len(star.hub) == 1:
        return weight * places.mode(messages[0]) + UNLISTED * messages[0][:, size]
    known, changed = products(messages, size)
    return weight * places.mode(known) + unlisted(places.hub(star), changed, messages)


def _common_message(
    places: RowPlaces,
    listed: Mapping[tuple[str, ...], Array],
    arm: Sequence[str],
    table: Array,
) -> Array:
    if not arm:
        return table[:, :, None, places.family]
    flat = table.reshape(*table.shape[:2], -1)
    (weight, cell), *rest = places.cells(listed, arm)
    found: Array = flat.take(cell, axis=2)[:, :, None] * weight
    for weight, cell in rest:
        found += flat.take(cell, axis=2)[:, :, None] * weight
    return found


def group_rows(
    places: RowPlaces,
    star: Star,
    tables: Sequence[Array],
    whole: Sequence[Array],
    counted: Callable[[str], bool],
) -> Array:
    """Sum a star over all whose pieces with a counted wheel are listed and have the row's teeth.

    `whole`: the messages of the tables with nothing restricted. [hand, base, row].
    """
    messages = [
        _group_message(places, arm, table, counted)
        if any(map(counted, arm))
        else each.take(places.family, axis=-1)
        for arm, table, each in zip(star.arms, tables, whole, strict=True)
    ]
    size = places.block.size
    on_hub = [wheel for wheel in star.hub if counted(wheel)]
    hub = places.hub(star)
    if not on_hub:
        return over_hub(hub, messages)
    alike = np.ones((size, places.family.size), dtype=bool)
    for wheel in on_hub:
        teeth = places.block.teeth[wheel][:, places.family]
        alike &= teeth == np.take_along_axis(teeth, places.base[None], axis=0)
    listed = messages[0][:, :size]
    for other in messages[1:]:
        listed = listed * other[:, :size]
    return drawn(hub, listed * alike[:, None])


def _group_message(
    places: RowPlaces, arm: Sequence[str], table: Array, counted: Callable[[str], bool]
) -> Array:
    at = places.family
    if len(arm) == 1:
        flat = table.reshape(*table.shape[:2], -1)
        picked = flat.take(places.base * places.block.share.shape[1] + at, axis=2)
        found: Array = picked[:, :, None] * places.weight_of_teeth(arm[0])
        return found
    share = places.block.share[:, at]
    found = table.take(at, axis=-1)
    for number, wheel in reversed(list(enumerate(arm))):
        by_base = number < len(arm) - 1
        if counted(wheel):
            index = places.base.reshape([1] * (found.ndim - 1) + [-1])
            found = np.take_along_axis(found, index, axis=2 + number).squeeze(2 + number)
            if not by_base:
                found = found[..., None, :]
            found = found * places.weight_of_teeth(wheel)
        else:
            piece = places.block.pieces[wheel,]
            rows = PieceArrays(piece.spread[:, at], piece.extra[:, at], piece.kind, piece.first)
            found = over_piece(found, 2 + number, rows, share, by_base=by_base)
    return found


def groups_of(block: Block, wheels: Sequence[str]) -> Array:
    """Return for each base set of each family the first that is alike in all of these wheels."""
    alike = np.ones((block.size, *block.share.shape), dtype=bool)
    for wheel in wheels:
        teeth = block.teeth[wheel]
        alike &= teeth[:, None] == teeth[None]
    found: Array = np.argmax(alike, axis=1)
    return found
