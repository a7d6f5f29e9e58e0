"""The catalog's families that are built alike, worked out together in arrays.

Which families stack is left to `stacked_shape`; what their sums mean beside all other parts to
`weighed` and `assembled`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import fsum

import numpy as np

from cogtally.catalog.model import Catalog, Family
from cogtally.evidence.rho import Rho
from cogtally.evidence.stacked_arms import question_of
from cogtally.evidence.stacked_block import Block, build_block
from cogtally.evidence.stacked_laid import Laid, Layer
from cogtally.evidence.stacked_ready import Ready, ready_block
from cogtally.evidence.stacked_roll import Roll, roll_of
from cogtally.evidence.stacked_shape import StackShape, size_for
from cogtally.evidence.stacked_tables import Array, Profiles, WheelTables

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
    """The families of a catalog that stack. `over`: see `Profiles`.

    `other_numbers`: the places in the catalog of the families with sets that do not stack.
    """

    def __init__(
        self, stacks: Sequence[Stack], roll: Roll, other_numbers: Sequence[int], over: Array
    ) -> None:
        # Once one was given back, smaller ones are kept too: fresh memory costs more than the sums.
        np.empty(_KEPT)
        self.stacks = stacks
        self.roll = roll
        self.other_numbers = other_numbers
        self.over = over

    @cached_property
    def others(self) -> tuple[Family, ...]:
        """The families with sets that do not stack."""
        return self.roll.families(self.other_numbers)

    @cached_property
    def ids(self) -> frozenset[str]:
        """The ids of the families that stack."""
        return frozenset(
            [name for stack in self.stacks for ready in stack.blocks for name in ready.block.ids]
        )


def stacks_of(catalog: Catalog, rho: Rho) -> Stacks:
    """Return the stacks of a catalog, made ready for questions."""
    found: dict[tuple[StackShape, int], dict[int, Laid]] = {}
    layer = Layer()
    members = {}
    others = []
    for number, family in enumerate(catalog.families):
        laid = layer.laid(family)
        if laid is not None:
            found.setdefault((laid.shape, size_for(len(laid.members))), {})[number] = laid
            members[number] = laid.members
        if laid is None or family.ratio_only_sets:
            others.append(number)
    roll, profiles = roll_of(catalog, members), Profiles()
    by_shape: dict[StackShape, list[Block]] = {}
    for (shape, size), each in found.items():
        by_shape.setdefault(shape, []).append(build_block(shape, size, each, roll, profiles))
    total = fsum(s.commonness for f in catalog.families for s in f.sets)
    over = profiles.over
    stacks = []
    for shape, blocks in by_shape.items():
        bare = bare_tables(shape, rho, over)
        question = question_of(shape, bare, over)
        ready = [ready_block(b, bare, question, total, step_of(b.size)) for b in blocks]
        stacks.append(Stack(shape, tuple(ready), bare))
    return Stacks(stacks, roll, others, over)


def bare_tables(shape: StackShape, rho: Rho, over: Array) -> Mapping[str, WheelTables]:
    """Return the tables of every wheel of a shape where nothing was counted."""
    return {wheel: WheelTables(rho.of(wheel), None, over) for wheel in shape.wheels}
