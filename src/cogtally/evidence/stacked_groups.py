"""Sums over the so-far groups of stacked families, a row for each group.

In a group every piece with a counted wheel is listed and has the teeth of the group, whatever all
else is. The sums over all that a family can be are left to `stacked_sums`.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from functools import reduce

import numpy as np

from cogtally.evidence.stacked_block import Block, PieceArrays
from cogtally.evidence.stacked_quick import Chain, QuickTable
from cogtally.evidence.stacked_rows import Cell, RowPlaces, Weights, at_own, in_rows
from cogtally.evidence.stacked_shape import Star
from cogtally.evidence.stacked_sums import Hub, Message, Summed, over_hub, over_piece
from cogtally.evidence.stacked_tables import Array


def groups_of(block: Block, wheels: Sequence[str]) -> Array:
    """Return for each base set of each family the first that is alike in all of these wheels."""
    alike = np.ones((block.size, *block.share.shape), dtype=bool)
    for wheel in wheels:
        teeth = block.teeth[wheel]
        alike &= teeth[:, None] == teeth[None]
    found: Array = np.argmax(alike, axis=1)
    return found


def group_rows(
    weights: Weights,
    places: RowPlaces,
    star: Star,
    hub: Hub,
    tables: Sequence[QuickTable],
    whole: Sequence[Summed],
    counted: Callable[[str], bool],
    tied: Collection[str] = (),
) -> Array:
    """Sum a star over all whose pieces with a counted wheel are listed and have the row's teeth.

    `whole`: the messages of the tables with nothing restricted; `tied`: wheels of the hub whose
    table depends on other wheels of the hub too. [hand, base, row].
    """
    arms = [*zip(star.hub, star.arms, tables, whole, strict=True)]
    on_hub = [wheel for wheel in star.hub if counted(wheel)]
    if not on_hub:
        messages = [
            _in_groups(weights, places, arm, table, counted)
            if any(map(counted, arm))
            else ByMode(places.of_family(summed.every))
            for _, arm, table, summed in arms
        ]
        return over_hub(places.hub(hub), messages)
    alike = np.ones((places.block.size, places.family.size))
    for wheel in on_hub:
        teeth = places.block.teeth[wheel]
        alike *= places.of_family(teeth) == places.of_set(teeth)
    own = {wheel for wheel in on_hub if wheel not in tied}
    free = [
        summed for wheel, arm, _, summed in arms if wheel not in own and not any(map(counted, arm))
    ]
    moving = [
        _in_groups(weights, places, arm, table, counted)
        for wheel, arm, table, _ in arms
        if wheel not in own and any(map(counted, arm))
    ]
    total: Array | float = 0.0
    for mode in range(places.block.size):
        weight = hub.share[mode] * hub.spread
        weight[mode] += hub.extra[mode]
        of_families = (weight * hub.norm[mode])[None]
        for summed in free:
            of_families = of_families * summed.at(mode)
        value = places.of_family(of_families)
        value *= alike[mode]
        for each in moving:
            value = value * each.at(mode)
        total = total + value
    # A counted wheel of the hub has the same teeth in every type that is in the sum.
    for wheel, arm, table, summed in arms:
        if wheel in own:
            total = total * _own_in_groups(weights, places, arm, table, summed, counted)
    assert isinstance(total, np.ndarray)
    return total


def _own_in_groups(
    weights: Weights,
    places: RowPlaces,
    arm: Sequence[str],
    table: QuickTable,
    summed: Summed,
    counted: Callable[[str], bool],
) -> Array:
    """One wheel of the hub at the teeth of the row's set, and what is behind it in its group."""
    if not any(map(counted, arm)):
        return places.of_set(summed.every[:, : places.block.size].swapaxes(1, 2))
    if all(map(counted, arm)):
        return at_own(places, table, [_all_own(weights, places, arm)]).at(0)
    found: Array = _partly(weights, places, arm, table, counted)
    found = found[:, places.base, :, np.arange(places.base.size)]
    return found.transpose(1, 2, 0)


def _in_groups(
    weights: Weights,
    places: RowPlaces,
    arm: Sequence[str],
    table: QuickTable,
    counted: Callable[[str], bool],
) -> Message:
    """One wheel of the hub and what is behind it in each row's group."""
    if all(map(counted, arm)):
        return in_rows(places, table, [_all_own(weights, places, arm)])
    return ByMode(_partly(weights, places, arm, table, counted))


def _all_own(weights: Weights, places: RowPlaces, arm: Sequence[str]) -> Cell:
    """All wheels behind one of the hub at the teeth of the row's set."""
    every = [places.of_set(weights.of_teeth(wheel)) for wheel in arm]
    return (False,) * len(arm), reduce(np.multiply, every)


def _partly(
    weights: Weights,
    places: RowPlaces,
    arm: Sequence[str],
    table: QuickTable,
    counted: Callable[[str], bool],
) -> Array:
    """A table where some wheels behind the hub's have the row's teeth: [hand, mode, base, row]."""
    at = places.family
    share = places.block.share[:, at]
    dense = table.dense if isinstance(table, Chain) else table
    found = dense.take(at, axis=-1)
    for number, wheel in reversed(list(enumerate(arm))):
        by_base = number < len(arm) - 1
        if counted(wheel):
            index = places.base.reshape([1] * (found.ndim - 1) + [-1])
            found = np.take_along_axis(found, index, axis=2 + number).squeeze(2 + number)
            if not by_base:
                found = found[..., None, :]
            found = found * places.of_set(weights.of_teeth(wheel))
        else:
            piece = places.block.pieces[wheel,]
            rows = PieceArrays(piece.spread[:, at], piece.extra[:, at], piece.kind, piece.first)
            found = over_piece(found, 2 + number, rows, share, by_base=by_base)
    return found


class ByMode:
    """Sums of a wheel of a hub that are known for every mode: [hand, mode, base or one, row]."""

    def __init__(self, every: Array) -> None:
        self.hands = every.shape[0]
        self._every = every

    def at(self, mode: int) -> Array:
        """Return it where so much is known of the wheel: [hand, base or one, row]."""
        found: Array = self._every[:, mode]
        return found
