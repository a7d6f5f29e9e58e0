"""A block of stacked families with all that they weigh while nothing is seen, worked out once.

It can be taken apart into the families that matter; what was seen is brought in by `stacked`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from cogtally.evidence.likelihood import UNCATALOGUED_PRIOR
from cogtally.evidence.stacked_arms import (
    Question,
    arm_table,
    norms_of,
    through_idler,
)
from cogtally.evidence.stacked_block import Block, MeshArrays, PieceArrays, Rows
from cogtally.evidence.stacked_quick import quick_tables
from cogtally.evidence.stacked_shape import Star
from cogtally.evidence.stacked_sums import hub_of, messages_of, over_hub
from cogtally.evidence.stacked_tables import Array, WheelTables, picked


@dataclass(frozen=True)
class Ready:
    """A block with all that its families weigh, nothing seen.

    `norms`: see `norms_of`; `between`: idlers with nothing counted, by chain; `weights[base,
    family]`: prior over normaliser; `matched[base, family]`: prior of the base set itself.
    """

    block: Block
    norms: Mapping[str, Array]
    between: Mapping[tuple[str, ...], Array]
    weights: Array
    matched: Array


def star_tables(ready: Ready, star: Star, question: Question) -> list[Array]:
    """Return the table of each wheel of a star's hub with the wheels behind it."""
    found = []
    for place, arm in enumerate(star.arms):
        chain = (star.hub[place], *arm)
        free = not any(question.counted(w) for w in chain)
        between = ready.between.get(chain) if free else None
        found.append(arm_table(ready.block, star, place, question, ready.norms, between))
    return found


def both_hands(values: Array) -> Array:
    """Return the same for both hands, where nothing was counted."""
    return np.broadcast_to(values, (2, *values.shape[1:]))


def ready_block(
    block: Block, rho: Mapping[str, WheelTables], question: Question, total: float, step: int
) -> Ready:
    """Return a block made ready, `step` families at a time.

    `total`: the commonness of the whole catalog.
    """
    bare = Ready(block, {}, {}, block.share, block.share)
    parts = [
        _made_ready(part_of(bare, slice(start, start + step)).block, rho, question, total)
        for start in range(0, block.numbers.size, step)
    ]

    def joined(arrays: Sequence[Array]) -> Array:
        return np.concatenate(arrays, axis=-1)

    return Ready(
        block,
        {w: joined([part.norms[w] for part in parts]) for w in parts[0].norms},
        {c: joined([part.between[c] for part in parts]) for c in parts[0].between},
        joined([part.weights for part in parts]),
        joined([part.matched for part in parts]),
    )


def _made_ready(
    block: Block, rho: Mapping[str, WheelTables], question: Question, total: float
) -> Ready:
    norms: dict[str, Array] = {}
    between: dict[tuple[str, ...], Array] = {}
    whole: Array | float = 1.0
    itself: Array | float = 1.0
    every = np.arange(block.size)
    for star in block.shape.stars:
        norms.update(norms_of(block, star, rho))
        for wheel, arm in zip(star.hub, star.arms, strict=True):
            if len(arm) == 2:
                between[wheel, *arm] = through_idler(block, (wheel, *arm), question)
        tables = quick_tables(block, star, question, norms, between)
        messages = messages_of(block, star, tables)
        whole = whole * over_hub(hub_of(block, star, norms), messages)
        for piece in star.pieces:
            arrays = block.pieces[piece]
            itself = itself * arrays.weight(arrays.kind, block.share)
        for mesh in star.meshes:
            itself = itself * block.meshes[mesh].factor[every, every][:, None]
    prior = (1 - UNCATALOGUED_PRIOR) / total * block.share * block.commonness
    assert isinstance(whole, np.ndarray)
    weights = prior / whole[0]
    return Ready(block, norms, between, weights, (itself * weights).sum(axis=1))


def part_of(ready: Ready, at: Array | slice) -> Ready:
    """Return some families of a block, by place, as a block; a slice copies next to nothing."""
    whole = ready.block

    def of(values: Array) -> Array:
        return picked(values, at)

    block = Block(
        whole.shape,
        whole.roll,
        of(whole.numbers),
        of(whole.commonness),
        of(whole.share),
        {w: of(teeth) for w, teeth in whole.teeth.items()},
        {
            p: PieceArrays(of(a.spread), of(a.extra), of(a.kind), of(a.first))
            for p, a in whole.pieces.items()
        },
        {m: MeshArrays(of(a.place), of(a.level)) for m, a in whole.meshes.items()},
        _rows_of(whole.rows, at),
    )
    return Ready(
        block,
        {w: of(norm) for w, norm in ready.norms.items()},
        {c: of(between) for c, between in ready.between.items()},
        of(ready.weights),
        of(ready.matched),
    )


def _rows_of(rows: Rows, at: Array | slice) -> Rows:
    first, end = rows.starts[:-1][at], rows.starts[1:][at]
    sizes = end - first
    starts = np.concatenate([[0], np.cumsum(sizes)])
    kept: Array | slice = slice(0)
    if sizes.size and isinstance(at, slice) and at.step is None:
        kept = slice(int(first[0]), int(end[-1]))
    elif sizes.size:
        kept = np.arange(starts[-1]) + np.repeat(first - starts[:-1], sizes)
    return Rows(
        starts,
        np.repeat(np.arange(sizes.size, dtype=np.int32), sizes),
        rows.base[kept],
        rows.sign[kept],
        {piece: listed[kept] for piece, listed in rows.listed.items()},
    )
