"""Sums over what the sets of stacked families can have in common, row by row.

Every row is one restriction of one family; rows stand on the last axis. The sums over all that a
family can be are left to `stacked_sums`, those of so-far groups to `stacked_groups`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from cogtally.evidence.likelihood import UNLISTED
from cogtally.evidence.stacked_block import Block
from cogtally.evidence.stacked_quick import Chain, QuickTable
from cogtally.evidence.stacked_shape import Star
from cogtally.evidence.stacked_sums import Hub, over_types
from cogtally.evidence.stacked_tables import Array
from cogtally.evidence.stacked_terms import LISTED_ONLY, UNLISTED_ONLY

#: The code of each piece in each row, see `stacked_terms`.
Codes = Mapping[tuple[str, ...], Array]


class Weights:
    """How much base sets give the types of a block, worked out when they are asked for."""

    def __init__(self, block: Block) -> None:
        self._block = block
        self._known: dict[object, Array] = {}

    def of_type(self, piece: tuple[str, ...]) -> Array:
        """Return the weight of each set's type under each base set: [base, set, family]."""
        if piece not in self._known:
            self._known[piece] = self._of(piece, self._block.pieces[piece].kind)
        return self._known[piece]

    def of_teeth(self, wheel: str) -> Array:
        """Return the weight of all types of a one-wheel piece that have a set's teeth, likewise."""
        if wheel not in self._known:
            kind, teeth = self._block.pieces[wheel,].kind, self._block.teeth[wheel]
            # Types alike are of the same teeth; mostly the other way round too.
            alike = [np.count_nonzero(like[:, None] == like) for like in (kind, teeth)]
            self._known[wheel] = (
                self.of_type((wheel,)) if alike[0] == alike[1] else self._of((wheel,), teeth)
            )
        return self._known[wheel]

    def _of(self, piece: tuple[str, ...], like: Array) -> Array:
        arrays, share = self._block.pieces[piece], self._block.share
        alike = (like[:, None] == like).astype(float)
        found: Array = arrays.spread[:, None] * np.einsum("rsf,sf->rf", alike, share)
        alike *= arrays.extra[:, None]
        found += alike
        return found


class RowPlaces:
    """Where the families and sets of some rows stand in the arrays of a block.

    With `in_order` the first rows are of each set of each family, set by set.
    """

    def __init__(self, block: Block, family: Array, base: Array, *, in_order: bool = False) -> None:
        size, count = block.share.shape
        self.block = block
        self.family, self.base = family.astype(np.int32), base.astype(np.int32)
        self._head = size * count if in_order else 0
        self._rest = family[self._head :].astype(np.intp)
        self._cells = base[self._head :].astype(np.intp) * count + self._rest

    def of_family(self, values: Array) -> Array:
        """Pick for each row its family, on the last axis, as it is for every set."""
        size, count = self.block.share.shape
        found = np.empty((*values.shape[:-1], self.family.size), dtype=values.dtype)
        if self._head:
            head = found[..., : self._head].reshape(*values.shape[:-1], size, count)
            head[...] = values[..., None, :]
        values.take(self._rest, axis=-1, out=found[..., self._head :], mode="clip")
        return found

    def of_set(self, values: Array) -> Array:
        """Pick for each row its set and family, on the last two axes."""
        flat: Array = values.reshape(*values.shape[:-2], -1)
        if not self._cells.size:
            return flat
        found = np.empty((*values.shape[:-2], self.family.size), dtype=values.dtype)
        if self._head:
            found[..., : self._head] = flat
        flat.take(self._cells, axis=-1, out=found[..., self._head :], mode="clip")
        return found

    def hub(self, hub: Hub) -> Hub:
        """A hub of the block with its weights by row."""
        return hub.mapped(self.of_family)


#: Rows with the code of each piece, see `stacked_terms`, and their signs.
Parted = tuple[RowPlaces, Codes, Array]


def weight_in(weights: Weights, places: RowPlaces, piece: tuple[str, ...], code: Array) -> Array:
    """The weight of the row's type of a piece under each base set, where it is in the row."""
    found = places.of_set(weights.of_type(piece))
    in_row = code != UNLISTED_ONLY
    return found if in_row.all() else found * in_row.astype(float)


def parted(block: Block) -> list[Parted]:
    """Return the rows of a block, parted by what their hub is, with their signs.

    Where there is one hub of several wheels, to know its type is quick, and not to know it is not.
    """
    rows = block.rows
    hubs = [star.hub for star in block.shape.stars if len(star.hub) > 1]
    if len(hubs) != 1:
        return [(RowPlaces(block, rows.family, rows.base), rows.listed, rows.sign)]
    listed = rows.listed[hubs[0]] == LISTED_ONLY
    return [_in_order(block, np.flatnonzero(of_part)) for of_part in (listed, ~listed)]


def _in_order(block: Block, at: Array) -> Parted:
    """Some rows of a block, first one of each set of each family, if there are most of these.

    Where there is none, one that counts for nothing stands in its place.
    """
    rows = block.rows
    size, count = block.share.shape
    family, base, sign = (
        kept.take(at).astype(np.int32) for kept in (rows.family, rows.base, rows.sign)
    )
    cells = base * count + family
    first = np.full(size * count, -1)
    first[cells[::-1]] = np.arange(at.size)[::-1]
    missing = first < 0
    if missing.sum() * 4 > first.size:
        codes = {piece: code.take(at) for piece, code in rows.listed.items()}
        return RowPlaces(block, family, base), codes, sign
    order = np.concatenate([first, np.flatnonzero(first[cells] != np.arange(at.size))])
    family, base, sign = family[order], base[order], sign[order]
    if missing.any():
        family[: first.size], base[: first.size] = np.indices((size, count)).reshape(2, -1)[::-1]
        sign[: first.size][missing] = 0
    places = RowPlaces(block, family, base, in_order=True)
    at = at[order]
    return places, {piece: code.take(at) for piece, code in rows.listed.items()}, sign


#: The choice of the row's type or unlisted (True) for each wheel behind one of the hub, and what it
#: weighs under each base set, or under all.
Cell = tuple[tuple[bool, ...], Array]


def cells_of(weights: Weights, places: RowPlaces, codes: Codes, arm: Sequence[str]) -> list[Cell]:
    """The states of the wheels behind a hub's that are in each row.

    Of each wheel the row's type, where it has one, or unlisted, the last choice.
    """
    found: list[Cell] = [((), np.ones((1, 1)))]
    for wheel in arm:
        own = weight_in(weights, places, (wheel,), codes[wheel,])
        rest = (UNLISTED * (codes[wheel,] != LISTED_ONLY))[None]
        found = [
            ((*cell, strange), weight * each)
            for cell, weight in found
            for strange, each in ((False, own), (True, rest))
        ]
    return found


class InRows:
    """The table of a wheel of a hub summed over what the wheels behind it are in each row.

    `entries`: for each choice the entries of the table, [hand, mode, row], and its weight, as in
    `Cell`, the last choice first: unlisted, it is mostly the same for every base set.
    """

    def __init__(self, entries: Sequence[tuple[Array, Array]]) -> None:
        self._entries = entries
        self.hands = entries[0][0].shape[0]

    def every(self) -> Array:
        """Return it for all modes: [hand, mode, base or one, row]."""
        modes = range(self._entries[0][0].shape[1])
        return np.stack([self.at(mode) for mode in modes], axis=1)

    def at(self, mode: int) -> Array:
        """Return it where so much is known of the wheel: [hand, base or one, row]."""
        (table, weight), *more = self._entries
        found: Array = table[:, mode, None] * weight
        for table, weight in more:
            value = table[:, mode, None] * weight
            value += found
            found = value
        return found


def in_rows(places: RowPlaces, table: QuickTable, cells: Sequence[Cell]) -> InRows:
    """Return the table of a wheel of a hub for all that can be known of the wheel."""
    size = places.block.size
    entries = []
    for cell, weight in reversed(cells):
        if isinstance(table, Chain):
            every = _of_chain(places, table, cell)
        else:
            every, own = table, False
            for strange in cell:
                if strange:
                    every = every[:, :, :, size] if own else every[:, :, size]
                elif own:
                    every = _same_set(every[:, :, :, :size], 2)
                else:
                    every, own = every[:, :, :size], True
            every = places.of_set(every) if own else places.of_family(every)
        entries.append((every, weight))
    return InRows(entries)


def _of_chain(places: RowPlaces, table: Chain, cell: Sequence[bool]) -> Array:
    size = places.block.size
    idler, last = cell
    if idler and last:
        return places.of_family(table.strange[:, :, size])
    if idler:
        return places.of_set(table.strange[:, :, :size])
    return places.of_set(table.near) * _far(places, table, last)[:, None]


def _far(places: RowPlaces, table: Chain, last: bool) -> Array:
    """What is behind the idler of the row's type: unlisted, or that of the row's type."""
    size = places.block.size
    return places.of_set(table.far[:, :, size] if last else _same_set(table.far[:, :, :size], 1))


def at_own(places: RowPlaces, table: QuickTable, cells: Sequence[Cell]) -> InRows:
    """Return it where the wheel has the teeth of the row's set, as the only mode."""
    size = places.block.size
    entries = []
    for cell, weight in reversed(cells):
        if isinstance(table, Chain) and not cell[0]:
            every = places.of_set(_same_set(table.near[:, :size], 1))
            every = every * _far(places, table, cell[1])
        else:
            axes = table.strange[:, :size] if isinstance(table, Chain) else table[:, :size]
            for strange in cell[isinstance(table, Chain) :]:
                axes = axes[:, :, size] if strange else _same_set(axes[:, :, :size], 1)
            every = places.of_set(axes)
        entries.append((every[:, None], weight))
    return InRows(entries)


def _same_set(values: Array, axis: int) -> Array:
    """Where an axis and the next are of the same set: one axis."""
    found = np.diagonal(values, axis1=axis, axis2=axis + 1)
    return np.moveaxis(found, -1, axis)


class StarRows:
    """A star summed over what its pieces are in each row."""

    def __init__(
        self,
        weights: Weights,
        places: RowPlaces,
        codes: Codes,
        star: Star,
        hub: Hub,
        tables: Sequence[QuickTable],
    ) -> None:
        code = codes[star.hub]
        cells = [cells_of(weights, places, codes, arm) for arm in star.arms]
        every = [*zip(tables, cells, strict=True)]
        self._listed: list[InRows] = []
        self._strange: list[InRows] = []
        self._size = places.block.size
        if (code != UNLISTED_ONLY).any():
            self._listed = [at_own(places, *each) for each in every]
            self._listed.sort(key=lambda each: each.hands)
            self._weight = weight_in(weights, places, star.hub, code)
            if hub.wheels > 1:
                self._weight = self._weight * places.of_set(hub.norm)
        if (code != LISTED_ONLY).any():
            self._strange = [in_rows(places, *each) for each in every]
            self._hub = places.hub(hub)
            self._either = None if (code != LISTED_ONLY).all() else 1.0 * (code != LISTED_ONLY)

    def sums(self) -> Array:
        """Return the sums: [hand, base, row]."""
        found: Array | float = 0.0
        if self._listed:
            found = self._weight
            for message in self._listed:
                found = found * message.at(0)
        if self._strange:
            if self._hub.wheels == 1:
                strange = UNLISTED * self._strange[0].at(self._size)
            else:
                _, strange = over_types(self._hub, self._strange, listed=False)
            found = found + (strange if self._either is None else strange * self._either)
        assert isinstance(found, np.ndarray)
        return found
