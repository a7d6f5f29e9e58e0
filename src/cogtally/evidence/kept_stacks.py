"""The stacks of a catalog as parts of bytes, and back out of them without reading a family.

How a file keeps parts is left to `catalog.index_file`, when it is written and read to `kept`.
"""

from __future__ import annotations

import json
from array import array
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from typing import Any

import numpy as np

from cogtally.catalog.model import Catalog, Family
from cogtally.catalog.search.bits import NUMBER
from cogtally.catalog.search.index_file import Part, Parts
from cogtally.evidence.rho import Rho
from cogtally.evidence.stacked import Stack, Stacks, bare_tables
from cogtally.evidence.stacked_block import Block, MeshArrays, PieceArrays, Rows
from cogtally.evidence.stacked_laid import Members
from cogtally.evidence.stacked_ready import Ready
from cogtally.evidence.stacked_roll import Roll
from cogtally.evidence.stacked_shape import StackShape, Star
from cogtally.evidence.stacked_tables import Array

#: Every array begins at a multiple of this, as the processor likes it.
_ALIGNED = 64


class Texts(Sequence[str]):
    """Many short texts in one, each looked up when it is asked for."""

    def __init__(self, text: Callable[[], str], ends: Sequence[int]) -> None:
        self._read, self._ends = text, ends

    @cached_property
    def _text(self) -> str:
        return self._read()

    def __len__(self) -> int:
        return len(self._ends)

    def __getitem__(self, place: int) -> str:  # type: ignore[override]
        if not 0 <= place < len(self._ends):
            raise IndexError(place)
        return self._text[self._ends[place - 1] if place else 0 : self._ends[place]]


def parts_of_stacks(stacks: Stacks, catalog: Catalog) -> dict[str, Part]:
    """Return the stacks of a catalog as parts."""
    blocks: list[tuple[int, list[Any]]] = []
    parts: dict[str, Part] = {}
    patterns: dict[Members, int] = {}
    pattern_of = array(NUMBER, [0]) * len(catalog.families)
    for shape, stack in enumerate(stacks.stacks):
        for ready in stack.blocks:
            arrays = _arrays(ready)
            parts[f"block.{len(blocks)}"] = _joined(arrays)
            blocks.append((shape, [[each.dtype.str, each.shape] for each in arrays]))
            for number in ready.block.numbers.tolist():
                members = stacks.roll.members(number)
                pattern_of[number] = patterns.setdefault(members, len(patterns))
    counted = [[known.id for known in family.counted_sets] for family in catalog.families]
    parts.update(
        {
            "patterns": pattern_of.tobytes(),
            "others": array(NUMBER, stacks.other_numbers).tobytes(),
            "over": np.ascontiguousarray(stacks.over).tobytes(),
            "set_ends": _ends(map(len, counted)),
            **_texts("family_ids", [family.id for family in catalog.families]),
            **_texts("set_ids", [name for names in counted for name in names]),
        }
    )
    head = {
        "shapes": [
            [[(star.hub, star.arms) for star in shape.stars], shape.paths, shape.printed]
            for shape in [stack.shape for stack in stacks.stacks]
        ],
        "blocks": blocks,
        "patterns": list(patterns),
        "over": stacks.over.shape,
    }
    parts["stacks"] = json.dumps(head, separators=(",", ":")).encode()
    return parts


def family_ids(parts: Parts) -> Sequence[str]:
    """Return the ids of all families of the catalog that the stacks are of, in their order."""
    return _texts_of(parts, "family_ids")


def stacks_of_parts(
    parts: Parts, rho: Rho, families: Callable[[Iterable[int]], tuple[Family, ...]]
) -> Stacks:
    """Return the stacks that these parts are of; `families` reads those of some places."""
    head = parts.document("stacks")
    over = _array(parts.raw("over"), 0, "<f8", head["over"])
    patterns: list[Members] = [tuple(map(tuple, each)) for each in head["patterns"]]
    pattern_of = parts.numbers("patterns", NUMBER)
    set_ends, set_ids = parts.numbers("set_ends", NUMBER), _texts_of(parts, "set_ids")

    def ids_of_sets(number: int) -> Sequence[str]:
        first = set_ends[number - 1] if number else 0
        return [set_ids[place] for place in range(first, set_ends[number])]

    roll = Roll(
        family_ids(parts), families, lambda number: patterns[pattern_of[number]], ids_of_sets
    )
    shapes = [
        StackShape(
            tuple(Star(tuple(hub), tuple(map(tuple, arms))) for hub, arms in stars),
            tuple((gear, tuple(path)) for gear, path in paths),
            tuple(printed),
        )
        for stars, paths, printed in head["shapes"]
    ]
    ready: list[list[Ready]] = [[] for _ in shapes]
    for place, (shape, kinds) in enumerate(head["blocks"]):
        data = parts.raw(f"block.{place}")
        ready[shape].append(_ready(shapes[shape], roll, _parted(data, kinds)))
    stacks = [
        Stack(shape, tuple(blocks), bare_tables(shape, rho, over))
        for shape, blocks in zip(shapes, ready, strict=True)
    ]
    return Stacks(stacks, roll, parts.numbers("others", NUMBER), over)


def _arrays(ready: Ready) -> list[Array]:
    """All arrays of a block, in the order in which `_ready` takes them."""
    block, rows = ready.block, ready.block.rows
    shape = block.shape
    pieces = [block.pieces[piece] for star in shape.stars for piece in star.pieces]
    meshes = [block.meshes[mesh] for star in shape.stars for mesh in star.meshes]
    return [
        block.numbers,
        block.commonness,
        block.share,
        *[block.teeth[wheel] for wheel in shape.wheels],
        *[a for piece in pieces for a in (piece.spread, piece.extra, piece.kind, piece.first)],
        *[a for mesh in meshes for a in (mesh.place, mesh.level)],
        rows.starts,
        rows.family,
        rows.base,
        rows.sign,
        *[rows.listed[piece] for star in shape.stars for piece in star.pieces],
        *[ready.norms[wheel] for wheel in shape.wheels],
        *[ready.between[chain] for chain in _chains(shape)],
        ready.weights,
        ready.matched,
    ]


def _ready(shape: StackShape, roll: Roll, arrays: Iterator[Array]) -> Ready:
    def several(names: Iterable[Any]) -> dict[Any, Array]:
        return {name: next(arrays) for name in names}

    pieces = [piece for star in shape.stars for piece in star.pieces]
    block = Block(
        shape,
        roll,
        next(arrays),
        next(arrays),
        next(arrays),
        several(shape.wheels),
        {p: PieceArrays(*[next(arrays) for _ in range(4)]) for p in pieces},
        {m: MeshArrays(next(arrays), next(arrays)) for s in shape.stars for m in s.meshes},
        Rows(next(arrays), next(arrays), next(arrays), next(arrays), several(pieces)),
    )
    norms, between = several(shape.wheels), several(_chains(shape))
    return Ready(block, norms, between, next(arrays), next(arrays))


def _chains(shape: StackShape) -> list[tuple[str, ...]]:
    """Every wheel of a hub with an idler and a wheel behind it."""
    return [
        (wheel, *arm)
        for star in shape.stars
        for wheel, arm in zip(star.hub, star.arms, strict=True)
        if len(arm) == 2
    ]


def _joined(arrays: Iterable[Array]) -> bytes:
    pieces = []
    for each in arrays:
        data = np.ascontiguousarray(each).tobytes()
        pieces += [data, b"\0" * (-len(data) % _ALIGNED)]
    return b"".join(pieces)


def _parted(data: memoryview, kinds: Iterable[tuple[str, list[int]]]) -> Iterator[Array]:
    start = 0
    for kind, dims in kinds:
        found = _array(data, start, kind, dims)
        yield found
        start += found.nbytes + -found.nbytes % _ALIGNED


def _array(data: memoryview, start: int, kind: str, dims: Sequence[int]) -> Array:
    size = int(np.prod(dims, dtype=np.int64))
    return np.frombuffer(data, np.dtype(kind), size, start).reshape(dims)


def _texts(name: str, texts: Sequence[str]) -> Mapping[str, bytes]:
    return {name: "".join(texts).encode(), f"{name}.ends": _ends(map(len, texts))}


def _texts_of(parts: Parts, name: str) -> Texts:
    return Texts(lambda: parts.text(name), parts.numbers(f"{name}.ends", NUMBER))


def _ends(sizes: Iterable[int]) -> bytes:
    total, ends = 0, array(NUMBER)
    for size in sizes:
        total += size
        ends.append(total)
    return ends.tobytes()
