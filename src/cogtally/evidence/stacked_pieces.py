"""The share of every type of every piece of one stacked family.

The sums around each table come from `stacked_outside`; what the shares say to `verdict`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from cogtally.catalog.model import Family
from cogtally.evidence.posterior import PieceShare
from cogtally.evidence.stacked_asked import Worked
from cogtally.evidence.stacked_outside import (
    Tables,
    around_all,
    around_star,
    products,
    unlisted,
)
from cogtally.evidence.stacked_ready import Ready, part_of
from cogtally.evidence.stacked_sums import messages_of
from cogtally.evidence.stacked_tables import Array
from cogtally.evidence.stacked_tested import tested_tables


def piece_shares(worked: Worked, place: int, scales: Sequence[float]) -> list[PieceShare]:
    """Return every type of every piece of the family at a place, given what each hand weighs."""
    ready = part_of(worked.ready, slice(place, place + 1))
    family = ready.block.families[0]
    firsts = [members[0] for members in ready.block.members[0]]
    weights = np.array(scales)[:, None, None] * ready.weights
    shares: dict[tuple[str, ...], Array] = {}
    for each in tested_tables(ready, worked.question, worked.tests):
        for wheels, values in _by_base(ready, each.tables, weights):
            shares[wheels] = shares.get(wheels, 0.0) + values
    found = []
    for piece in family.pieces:
        types = family.types[piece.name]
        index = family.type_index[piece.name]
        values = shares[piece.wheels].tolist()
        by_kind = [0.0] * len(types)
        for first, value in zip(firsts, values, strict=False):
            by_kind[index[first]] += value
        for kind, value in zip(types, by_kind, strict=True):
            sets = tuple(family.counted_sets[c].id for c in kind.carriers)
            found.append(PieceShare(family.id, piece.name, kind.teeth, sets, value))
        found.append(_unlisted(family, piece.name, values[-1]))
    return found


def _unlisted(family: Family, piece: str, value: float) -> PieceShare:
    return PieceShare(family.id, piece, None, (), value)


def _by_base(
    ready: Ready, tables: Tables, weights: Array
) -> Iterator[tuple[tuple[str, ...], Array]]:
    """For each piece the share of the type of each base set, taken apart by set, last unlisted."""
    block = ready.block
    around = around_all(block, tables, weights)
    for number, star in enumerate(block.shape.stars):
        for arm, table, out in zip(star.arms, tables[number], around[number], strict=True):
            cells = (table * out).sum(axis=(0, -1))
            for axis, wheel in enumerate(arm, 1):
                others = tuple(a for a in range(cells.ndim) if a != axis)
                yield (wheel,), cells.sum(axis=others)
            if len(star.hub) == 1:
                yield star.hub, cells.sum(axis=tuple(range(1, cells.ndim)))
        if len(star.hub) > 1:
            messages = [each.every for each in messages_of(block, star, tables[number])]
            outer = around_star(block, tables, weights, number)
            piece = block.pieces[star.hub]
            listed, changed = products(messages, block.size)
            own = np.eye(block.size)[:, :, None] * piece.extra
            drawn = outer[:, None] * (block.share[:, None] * piece.spread + own) * listed
            rest = outer * unlisted(block.share, changed, messages)
            yield star.hub, np.array([*drawn.sum(axis=(0, 2, 3)), rest.sum()])
