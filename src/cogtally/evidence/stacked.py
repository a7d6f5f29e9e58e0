"""The catalog's families that are built alike, worked out together in arrays.

Which families stack is left to `stacked_shape`; what their sums mean beside all other parts to
`weighed` and `assembled`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import fsum

import numpy as np

from cogtally.catalog.model import Catalog
from cogtally.evidence.rho import Rho
from cogtally.evidence.stacked_arms import (
    question_of,
)
from cogtally.evidence.stacked_block import Block, build_block
from cogtally.evidence.stacked_laid import Laid, Layer
from cogtally.evidence.stacked_ready import Ready, ready_block
from cogtally.evidence.stacked_shape import StackShape, size_for
from cogtally.evidence.stacked_tables import Profiles, WheelTables

#: About so many numbers, a base set by a base set for each family, are gone through at a time.
AT_A_TIME = 12000
#: Numbers in an array as large as the C library's allocator keeps for the next of its size.
_KEPT = 31 << 17


@dataclass(frozen=True)
class Stack:
    """All families of one shape, a block for each size, with the tables of bare ρ."""

    shape: StackShape
    blocks: tuple[Ready, ...]
    rho: Mapping[str, WheelTables]


def step_of(size: int) -> int:
    """Return how many families with room for so many base sets are gone through at a time."""
    return max(1, AT_A_TIME // (size * size))


class Stacks:
    """The families of a catalog that stack; `ids` of them."""

    def __init__(self, catalog: Catalog, rho: Rho) -> None:
        # Once one was given back, smaller ones are kept too: fresh memory costs more than the sums.
        np.empty(_KEPT)
        self._rho = rho
        self.profiles = Profiles()
        found: dict[tuple[StackShape, int], list[Laid]] = {}
        layer = Layer()
        for family in catalog.families:
            laid = layer.laid(family)
            if laid is not None:
                found.setdefault((laid.shape, size_for(len(laid.members))), []).append(laid)
        self.ids = frozenset(one.family.id for members in found.values() for one in members)
        #: Families with sets that do not stack.
        self.others = tuple(
            f for f in catalog.families if f.id not in self.ids or f.ratio_only_sets
        )
        self.total = fsum(s.commonness for f in catalog.families for s in f.sets)
        blocks = [
            build_block(shape, size, members, self.profiles)
            for (shape, size), members in found.items()
        ]
        self.over = self.profiles.over
        self.stacks = self._ready(blocks)

    def _ready(self, blocks: Sequence[Block]) -> list[Stack]:
        by_shape: dict[StackShape, list[Block]] = {}
        for block in blocks:
            by_shape.setdefault(block.shape, []).append(block)
        stacks = []
        for shape, members in by_shape.items():
            rho = {w: WheelTables(self._rho.of(w), None, self.over) for w in shape.wheels}
            question = question_of(shape, rho, self.over)
            ready = [
                ready_block(block, rho, question, self.total, step_of(block.size))
                for block in members
            ]
            stacks.append(Stack(shape, tuple(ready), rho))
        return stacks
