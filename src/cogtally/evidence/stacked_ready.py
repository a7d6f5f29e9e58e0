"""A block of stacked families with all that they weigh while nothing is seen, worked out once.

It can be cut down to the families that matter; what was seen is brought in by `stacked`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from cogtally.evidence.likelihood import UNCATALOGUED_PRIOR
from cogtally.evidence.stacked_arms import Question, arm_table, norms_of, through_idler
from cogtally.evidence.stacked_block import Block, MeshArrays, PieceArrays, Rows
from cogtally.evidence.stacked_shape import Star
from cogtally.evidence.stacked_sums import hub_of, messages_of, over_hub
from cogtally.evidence.stacked_tables import Array, WheelTables


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
    block: Block, rho: Mapping[str, WheelTables], question: Question, total: float
) -> Ready:
    """Return a block made ready; `total`: the commonness of the whole catalog."""
    norms: dict[str, Array] = {}
    between: dict[tuple[str, ...], Array] = {}
    whole: Array | float = 1.0
    itself: Array | float = 1.0
    bare = Ready(block, norms, between, block.share, block.share)
    every = np.arange(block.size)
    for star in block.shape.stars:
        norms.update(norms_of(block, star, rho))
        for wheel, arm in zip(star.hub, star.arms, strict=True):
            if len(arm) == 2:
                between[wheel, *arm] = through_idler(block, (wheel, *arm), question)
        tables = star_tables(bare, star, question)
        messages = messages_of(block, star, tables)
        whole = whole * over_hub(hub_of(block, star), messages)
        for piece in star.pieces:
            itself = itself * block.pieces[piece].weight
        for mesh in star.meshes:
            itself = itself * block.meshes[mesh].factor[every, every][:, None]
    prior = (1 - UNCATALOGUED_PRIOR) / total * block.share * block.commonness
    assert isinstance(whole, np.ndarray)
    weights = prior / whole[0]
    return Ready(block, norms, between, weights, (itself * weights).sum(axis=1))


def cut(chosen: Sequence[tuple[Ready, Array]]) -> Ready:
    """Return the chosen families (by place) of blocks of one shape and size as one block."""
    blocks = [ready.block for ready, _ in chosen]
    one = blocks[0]

    def join(arrays: Sequence[Array]) -> Array:
        kept = [a[..., at] for a, (_, at) in zip(arrays, chosen, strict=True)]
        return kept[0] if len(kept) == 1 else np.concatenate(kept, axis=-1)

    pieces = {
        p: PieceArrays(
            *(
                join([getattr(b.pieces[p], field) for b in blocks])
                for field in ("spread", "extra", "weight", "first")
            )
        )
        for p in one.pieces
    }
    meshes = {
        m: MeshArrays(
            join([b.meshes[m].place for b in blocks]), join([b.meshes[m].level for b in blocks])
        )
        for m in one.meshes
    }
    block = Block(
        one.shape,
        tuple(r.block.families[i] for r, at in chosen for i in at.tolist()),
        tuple(r.block.members[i] for r, at in chosen for i in at.tolist()),
        tuple(r.block.groups[i] for r, at in chosen for i in at.tolist()),
        join([b.commonness for b in blocks]),
        join([b.share for b in blocks]),
        {w: join([b.teeth[w] for b in blocks]) for w in one.teeth},
        pieces,
        meshes,
        _cut_rows(chosen),
    )
    first = chosen[0][0]
    return Ready(
        block,
        {w: join([r.norms[w] for r, _ in chosen]) for w in first.norms},
        {c: join([r.between[c] for r, _ in chosen]) for c in first.between},
        join([r.weights for r, _ in chosen]),
        join([r.matched for r, _ in chosen]),
    )


def _cut_rows(chosen: Sequence[tuple[Ready, Array]]) -> Rows:
    parts = []
    before = 0
    for ready, at in chosen:
        rows = ready.block.rows
        places = np.full(len(ready.block.families), -1)
        places[at] = np.arange(before, before + at.size)
        before += at.size
        kept = places[rows.family] >= 0
        parts.append((rows, kept, places[rows.family[kept]]))
    return Rows(
        np.concatenate([family for _, _, family in parts]),
        np.concatenate([rows.base[kept] for rows, kept, _ in parts]),
        np.concatenate([rows.sign[kept] for rows, kept, _ in parts]),
        {
            piece: np.concatenate([rows.listed[piece][kept] for rows, kept, _ in parts])
            for piece in chosen[0][0].block.rows.listed
        },
    )
