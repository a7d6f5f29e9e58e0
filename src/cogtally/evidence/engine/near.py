"""Which families have the sets nearest to what was counted, asked of all stacks at once.

How far each of their sets is, by teeth and by ratio, is left to `reading`.
"""

from __future__ import annotations

import numpy as np

from cogtally.catalog.model import Catalog
from cogtally.evidence.engine.ready import Ready, ready
from cogtally.evidence.engine.stack import NONE, Array, Stack
from cogtally.evidence.seen import counted_wheels
from cogtally.gears.notation import Seen


def near_families(catalog: Catalog, seen: Seen, most: int) -> list[int]:
    """Return the places of the families of the `most` sets nearest by teeth, ties included.

    All where fewer sets have counts. Where nothing was counted or turned all sets tie: then those
    of the first families.
    """
    known = ready(catalog)
    if not seen.counts and not seen.turns:
        return list(range(min(most, len(known.ids))))
    away = [_away(known, stack, seen) for stack in known.stacks]
    every = np.concatenate([np.zeros(0), *(each[each >= 0] for each in away)])
    if every.size < most:
        return list(range(len(known.ids)))
    bar = np.partition(every, most - 1)[most - 1]
    found: set[int] = set()
    for stack, each in zip(known.stacks, away, strict=True):
        found.update(stack.numbers[((each >= 0) & (each <= bar)).any(axis=1)].tolist())
    return sorted(found)


def _away(known: Ready, stack: Stack, seen: Seen) -> Array:
    """The sum of |count − teeth| of every base set: nothing of a gap, all of a wheel not there.

    [family, base]; −1 for what is only padding.
    """
    base = stack.arrays["base"]
    found = np.zeros(base.shape)
    own = stack.arrays["own"].astype(np.intp)
    for wheel, count in counted_wheels(seen, known.family(int(stack.numbers[0]))).items():
        if wheel not in stack.shape.location:
            found += count.teeth
            continue
        piece, place = stack.shape.location[wheel]
        teeth = np.take_along_axis(stack.teeth(piece)[:, :, place], own[:, :, piece], 1)
        off = np.abs(teeth + (stack.first - count.teeth))
        found += np.where(teeth == NONE, 0, off)
    return np.where(base > 0, found, -1.0)
