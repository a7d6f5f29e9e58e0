"""What tables of stacked families are held to, or read for, so that wheels on a path have teeth.

What stands around them, and how teeth make the speed of a gear, is left to `stacked_turns`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import reduce
from itertools import product

import numpy as np

from cogtally.evidence.stacked_block import Block
from cogtally.evidence.stacked_tables import Array

#: By wheel: [what is known of a wheel of a hub, family]; one row where that does not matter.
Teeth = Mapping[str, Array]
#: What a table is held to: whether a number in it is meant, and the teeth there.
Cell = tuple[Array, Teeth]
#: The teeth that the counts of each wheel make likeliest; None where it was not counted.
Counted = Mapping[str, int | None]


@dataclass(frozen=True, slots=True)
class Place:
    """A table: the number of its star, the place of its wheel on the hub, and all its wheels."""

    star: int
    place: int
    chain: tuple[str, ...]


def cells_of(
    block: Block, at: Place, table: Array, on_path: Collection[str], counted: Counted, by_mode: bool
) -> Iterator[Cell]:
    """Give all that a table can be held to, so that each of its wheels on the path has teeth.

    A wheel with unknown teeth has those of its counts, if there are any. `by_mode`: the hub's wheel
    may have the teeth of any set, as another table of that hub tells them apart.
    """
    size, count = block.share.shape
    axes: list[list[Cell]] = [[(np.ones((1,) * (table.ndim - 1), dtype=bool), {})]]
    for axis, wheel in enumerate(at.chain, 1):
        if wheel not in on_path:
            continue
        teeth = block.teeth[wheel]
        states = np.arange(table.shape[axis])[:, None]
        choices: list[tuple[Array, Array]]
        if axis == 1 and by_mode:
            # As a hub is read: the teeth of each set, other than those of each, unknown.
            unknown = np.ones((1, count))
            choices = [(states < size, np.concatenate([teeth, teeth, unknown]))]
        else:
            none = np.zeros((table.shape[axis] - size, count), dtype=bool)
            choices = [(np.concatenate([same, none]), own) for same, own in _by_teeth(teeth)]
        of_counts = counted[wheel]
        if of_counts is not None:
            choices.append((states >= size, np.full((1, count), of_counts)))
        shape = [1] * (axis - 1) + [len(states)] + [1] * (table.ndim - axis - 2)
        axes.append([(mask.reshape(*shape, -1), {wheel: own}) for mask, own in choices])
    for cell in product(*axes):
        known = {wheel: own for _, by_wheel in cell for wheel, own in by_wheel.items()}
        yield reduce(np.logical_and, [mask for mask, _ in cell]), known


def _by_teeth(teeth: Array) -> Iterator[tuple[Array, Array]]:
    """Part base sets by the teeth of one wheel: which of each family [base, family], and those.

    Families with fewer different teeth are in the first parts alone.
    """
    first = np.argmax(teeth[:, None] == teeth[None], axis=1)
    rank = np.cumsum(first == np.arange(len(teeth))[:, None], axis=0) - 1
    rank = np.take_along_axis(rank, first, axis=0)
    for number in range(int(rank.max()) + 1):
        same = rank == number
        yield same, np.take_along_axis(teeth, np.argmax(same, axis=0)[None], axis=0)


@dataclass(frozen=True, slots=True)
class Read:
    """How a table is read: `part` of it that has teeth on the path, those, and what is summed."""

    part: tuple[slice, ...]
    inner: tuple[int, ...]
    teeth: Teeth

    def weight(self, table: Array, around: Array) -> Array:
        """Return what the table weighs: [what is known of the hub's wheel, …, family]."""
        found: Array = (table[self.part] * around[self.part]).sum(axis=self.inner)
        return found

    def with_held(self, held: Teeth) -> Teeth:
        """Return all teeth on the path, shaped as the weights are."""
        modes, more = self.part[1], [1] * (len(self.part) - 1 - len(self.inner))
        shaped = {w: t if len(t) == 1 else t[modes] for w, t in held.items()}
        return {**{w: t.reshape(len(t), *more, -1) for w, t in shaped.items()}, **self.teeth}


def read_of(
    block: Block, at: Place, table: Array, on_path: Sequence[str], counted: Counted
) -> Read:
    """Return how the last table of a path is read."""
    size, count = block.share.shape
    part = [slice(None)]
    kept = [1, *(i for i, wheel in enumerate(at.chain, 1) if i > 1 and wheel in on_path)]
    teeth: dict[str, Array] = {}
    for axis, wheel in enumerate(at.chain, 1):
        of_counts = counted[wheel] if wheel in on_path else 0
        part.append(slice(0, size) if of_counts is None else slice(None))
        if wheel in on_path:
            own = block.teeth[wheel]
            if of_counts is not None:
                strange = np.full((table.shape[axis] - size, count), of_counts)
                own = np.concatenate([own, strange])
            before, behind = kept.index(axis), len(kept) - kept.index(axis) - 1
            teeth[wheel] = own.reshape(*[1] * before, len(own), *[1] * behind, count)
    inner = (0, *(axis for axis in range(2, len(at.chain) + 1) if axis not in kept))
    return Read(tuple(part), inner, teeth)
