"""Which families have the sets nearest to what was counted, where families are stacked in arrays.

Only families are told apart here; how far each of their sets is, by teeth and by ratio, is left to
`nearest`.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from functools import reduce

import numpy as np

from cogtally.catalog.model import Family
from cogtally.evidence.counted import counted_wheels
from cogtally.evidence.reading.nearest import VERY_MANY, teeth_away, turned_ratios
from cogtally.evidence.stacked import Stacks
from cogtally.evidence.stacked_block import Block
from cogtally.evidence.stacked_tables import Array
from cogtally.gears.notation import Seen
from cogtally.gears.trains import train_ratio

#: Errors of ratios that differ by no more are told apart by `nearest`, in fractions.
ROUNDED = 1e-12


def near_families(stacks: Stacks, seen: Seen, most: int) -> tuple[Family, ...] | None:
    """Return the families of the `most` sets nearest by teeth, then ratio, ties too, in order.

    Where no ratio can tell sets apart, of families that tie only so many as it takes. None where
    fewer than so many sets have counts: any family may then be among the nearest.
    """
    counted, turned = _counted(seen), turned_ratios(seen)
    blocks = [ready.block for stack in stacks.stacks for ready in stack.blocks]
    away = [_away(block, counted) for block in blocks]
    plain = _plain(stacks, seen)
    every = np.concatenate([*(a.ravel() for a in away), [teeth for teeth, _ in plain]])
    if every.size < most:
        return None
    bar = np.partition(every, most - 1)[most - 1]
    if bar >= VERY_MANY:
        return None
    found = {number for teeth, number in plain if teeth <= bar}
    ties = []
    for block, each in zip(blocks, away, strict=True):
        nearest = each.min(axis=0)
        found.update(block.numbers[nearest < bar].tolist())
        tied = np.flatnonzero(nearest == bar)
        if turned.keys().isdisjoint(block.shape.printed):
            errors = _ratio_errors(block, tied, counted, turned)
            ties.append((block.numbers[tied], np.where(each[:, tied] == bar, errors, np.inf)))
        else:
            found.update(block.numbers[tied].tolist())
    known = np.concatenate([np.zeros(0), *(errors.ravel() for _, errors in ties)])
    worst = np.partition(known, most - 1)[most - 1] if known.size >= most else np.inf
    alike: list[int] = []
    for numbers, errors in ties:
        least = errors.min(axis=0, initial=np.inf)
        found.update(numbers[(least <= worst * (1 + ROUNDED) + ROUNDED) & (least < np.inf)])
        alike += numbers[(least == worst) & (worst == np.inf)].tolist()
    found.update(sorted(alike)[:most])
    return stacks.roll.families(sorted(map(int, found)))


def least_away(stacks: Stacks, seen: Seen) -> int:
    """Return the sum of |count − teeth| of the nearest set; VERY_MANY where no set has counts."""
    counted = _counted(seen)
    blocks = [ready.block for stack in stacks.stacks for ready in stack.blocks]
    away = [int(_away(block, counted).min()) for block in blocks]
    return min([VERY_MANY, *away, *(int(teeth) for teeth, _ in _plain(stacks, seen))])


def _counted(seen: Seen) -> Mapping[str, int]:
    return {wheel: c.teeth for wheel, c in counted_wheels(seen).items()}


def _plain(stacks: Stacks, seen: Seen) -> list[tuple[float, int]]:
    """How far the nearest set is of each family that does not stack, with its number."""
    found = []
    for number, family in zip(stacks.other_numbers, stacks.others, strict=True):
        if family.counted_sets and family.id not in stacks.ids:
            counted = counted_wheels(seen, family)
            away = [teeth_away(family, known, counted) for known in family.counted_sets]
            found.append((min(away), number))
    return found


def _away(block: Block, counted: Mapping[str, int]) -> Array:
    """The sum of |count − teeth| of every base set, a wheel that it lacks with all its teeth.

    Families that stack have no gaps; where a base set is only filled up it is very far.
    """
    lacking = sum(teeth for wheel, teeth in counted.items() if wheel not in block.teeth)
    found = np.where(block.share > 0, np.int32(lacking), np.int32(VERY_MANY))
    for wheel, teeth in counted.items():
        if wheel in block.teeth:
            at, count = block.teeth[wheel], np.uint8(teeth)
            found += np.maximum(at, count) - np.minimum(at, count)
    return found


def _ratio_errors(
    block: Block, at: Array, counted: Mapping[str, int], turned: Mapping[str, Fraction]
) -> Array:
    """The greatest |box/set − 1| over the gears that both give, of each base set of some families.

    Infinite where there is none.
    """
    found = np.full((block.size, at.size), -1.0)
    for gear, path in block.shape.paths:
        drivers, driven = ([f"{pair}.{role}" for pair in path] for role in ("driver", "driven"))
        ends = zip(map(counted.get, drivers), map(counted.get, driven), strict=True)
        of_box = train_ratio([*ends])
        of_box = turned.get(gear) if of_box is None else of_box
        if path and of_box is not None:
            above, below = (
                reduce(np.multiply, [block.teeth[wheel][:, at].astype(float) for wheel in wheels])
                for wheels in (driven, drivers)
            )
            np.maximum(found, abs(float(of_box) * below / above - 1), out=found)
    return np.where(found < 0, np.inf, found)
