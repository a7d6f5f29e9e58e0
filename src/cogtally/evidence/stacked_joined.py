"""A few families of several blocks of one shape as one block, so that they are summed at once.

Which families these are is left to `stacked_work`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cogtally.evidence.stacked_block import Block, MeshArrays, PieceArrays, Rows
from cogtally.evidence.stacked_ready import Ready
from cogtally.evidence.stacked_tables import Array


def joined(parts: Sequence[Ready]) -> Ready:
    """Return these blocks as one, with room for as many base sets as the largest has.

    The others are filled up as `build_block` does: the first base set again, with no share.
    """
    if len(parts) == 1:
        return parts[0]
    blocks = [part.block for part in parts]
    size = max(block.size for block in blocks)
    #: For each block the base set that stands at each place.
    bases = [
        np.concatenate([np.arange(own), np.zeros(size - own, dtype=np.intp)])
        for own in [block.size for block in blocks]
    ]

    def by_set(arrays: Sequence[Array]) -> Array:
        """Arrays by base set and family, filled up."""
        every = [each.take(at, axis=0) for each, at in zip(arrays, bases, strict=True)]
        return np.concatenate(every, axis=-1)

    def weights(arrays: Sequence[Array]) -> Array:
        """Arrays by base set and family that are 0 where there is none."""
        room = [np.zeros((size - len(each), each.shape[1]), each.dtype) for each in arrays]
        every = [np.concatenate(both) for both in zip(arrays, room, strict=True)]
        return np.concatenate(every, axis=-1)

    def by_sets(arrays: Sequence[Array], unknown: Sequence[Array]) -> Array:
        """Arrays by two base sets, and what is `unknown` behind them, and family."""
        every = []
        for each, at, last in zip(arrays, bases, unknown, strict=True):
            places = np.concatenate([at, last])
            every.append(each.take(places, axis=-3).take(places, axis=-2))
        return np.concatenate(every, axis=-1)

    def of_piece(piece: tuple[str, ...]) -> PieceArrays:
        every = [block.pieces[piece] for block in blocks]
        return PieceArrays(
            by_set([each.spread for each in every]),
            by_set([each.extra for each in every]),
            by_set([each.kind for each in every]),
            weights([each.first for each in every]),
        )

    def of_mesh(mesh: tuple[str, str]) -> MeshArrays:
        every = [block.meshes[mesh] for block in blocks]
        nothing = [np.zeros(0, dtype=np.intp)] * len(every)
        return MeshArrays(
            np.concatenate([each.place for each in every]),
            by_sets([each.level for each in every], nothing),
        )

    def of_wheel(wheel: str) -> Array:
        every = [part.norms[wheel] for part in parts]
        return by_set(every) if every[0].ndim == 2 else np.concatenate(every)

    last = [np.array([block.size]) for block in blocks]
    first = blocks[0]
    block = Block(
        first.shape,
        first.roll,
        np.concatenate([block.numbers for block in blocks]),
        np.concatenate([block.commonness for block in blocks]),
        weights([block.share for block in blocks]),
        {wheel: by_set([block.teeth[wheel] for block in blocks]) for wheel in first.teeth},
        {piece: of_piece(piece) for piece in first.pieces},
        {mesh: of_mesh(mesh) for mesh in first.meshes},
        _rows([block.rows for block in blocks]),
    )
    return Ready(
        block,
        {wheel: of_wheel(wheel) for wheel in parts[0].norms},
        {c: by_sets([part.between[c] for part in parts], last) for c in parts[0].between},
        weights([part.weights for part in parts]),
        weights([part.matched for part in parts]),
    )


def _rows(every: Sequence[Rows]) -> Rows:
    families = np.cumsum([0, *[rows.starts.size - 1 for rows in every]])
    sizes = np.concatenate([np.diff(rows.starts) for rows in every])
    return Rows(
        np.concatenate([[0], np.cumsum(sizes)]),
        np.concatenate([rows.family + n for rows, n in zip(every, families, strict=False)]),
        np.concatenate([rows.base for rows in every]),
        np.concatenate([rows.sign for rows in every]),
        {
            piece: np.concatenate([rows.listed[piece] for rows in every])
            for piece in every[0].listed
        },
    )
