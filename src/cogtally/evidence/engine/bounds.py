"""Which families cannot matter to a question: the one bound there is, for a whole stack at once.

"A family may be skipped only if a bound proves its share below 1e-12 of the total." From above
every wheel is asked by itself, as if all meshes ran; from below a base set's own types stand alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import log

import numpy as np

from cogtally.evidence.engine.question import Asked, Looks
from cogtally.evidence.engine.stack import NONE, Array, Stack
from cogtally.evidence.laws import (
    CHANGED_SHARE,
    FOREIGN,
    OWN,
    READING_SLIP,
    SUM_FAR,
    UNLISTED,
    greatest_density,
    no_ratio_density,
)

#: The share of the total that is left out, all families together.
LEFT_OUT = 1e-12


def bounds(stack: Stack, asked: Asked, looks: Looks | None) -> tuple[Array, Array]:
    """Return a bound from above and one from below on what the counted sets of families weigh.

    As logarithms by family and question, the prior share of their commonness in them; `asked` has
    the scale, the looks are scaled too.
    """
    laws = asked.laws(stack)
    own = stack.arrays["own"].astype(np.intp)
    base = stack.arrays["base"]
    sure = stack.once("sure", lambda: _least_meshes(stack))
    # Of a base set whose normaliser is not known yet, a bound from below on that.
    known = stack.arrays["normaliser"]
    normaliser = np.where(known > 0, known, OWN ** len(stack.shape.pieces) * sure)
    above = np.repeat((base / normaliser)[:, None], asked.question.count, 1)
    alone = np.repeat(base[:, None], asked.question.count, 1)
    rows = np.arange(stack.count)[:, None]
    for piece, (_, wheels) in enumerate(stack.shape.pieces):
        mine = own[:, :, piece]
        counted = [(place, wheel) for place, wheel in enumerate(wheels) if wheel in laws]
        alone = alone * OWN
        if looks is not None and piece in looks.values:
            alone = alone * np.take_along_axis(looks.values[piece], mine[:, None], 2)
        if not counted:
            continue
        listed: Array = np.ones((1, 1, 1))
        likely: Array = listed
        others: Array = np.ones(1)
        gaps = np.zeros(mine.shape, dtype=bool)
        for place, wheel in counted:
            law, rho, teeth = laws[wheel], stack.rho[wheel], stack.teeth(piece)[:, :, place]
            unknown = law @ rho
            at = law.take(np.maximum(teeth, 0), axis=1).swapaxes(0, 1)
            if (teeth == NONE).any():
                gap = teeth == NONE
                at = np.where(gap[:, None], unknown[:, None], at)
                gaps |= gap[rows, mine]
            # Leaving the listed teeth out raises the rest.
            left = np.where(teeth == NONE, 1.0, 1 - rho[np.maximum(teeth, 0)])
            if len(wheels) == 1:
                left = np.maximum(1 - _rho_listed(teeth, rho), 1e-9)[:, None]
            raised = unknown[None, :, None] / left[:, None]
            listed = listed * at
            likely = likely * (raised if len(wheels) == 1 else np.maximum(at, raised))
            others = others * unknown
        of_own = np.take_along_axis(listed, mine[:, None], 2)
        best = listed.max(axis=2, keepdims=True)
        unlisted = likely.max(axis=2)
        if len(wheels) > 1:
            unlisted = CHANGED_SHARE * unlisted + (1 - CHANGED_SHARE) * others[None]
        above = above * (OWN * of_own + FOREIGN * best + UNLISTED * unlisted[..., None])
        alone = alone * np.where(gaps[:, None], 0.0, of_own)
    most = np.zeros(asked.question.count)
    least = np.zeros(asked.question.count)
    for test in asked.tests:
        if test.path:
            most = most + test.asked * log(greatest_density(test.reading))
            least = least + test.asked * log(READING_SLIP * no_ratio_density(test.reading))
    alone = alone * sure[:, None]
    with np.errstate(divide="ignore"):
        return np.log(above.sum(axis=2)) + most, np.log(alone.max(axis=2)) + least


def _rho_listed(teeth: Array, rho: Array) -> Array:
    """How much of ρ the listed teeth of a wheel have: [family]."""
    listed = np.zeros((len(teeth), len(rho)), dtype=bool)
    rows, kinds = np.nonzero(teeth != NONE)
    listed[rows, teeth[rows, kinds]] = True
    found: Array = listed @ rho
    return found


def _least_meshes(stack: Stack) -> Array:
    """What the meshes of each base set's own types weigh at least: [family, base]."""
    own = stack.arrays["own"].astype(np.intp)
    rows = np.arange(stack.count)[:, None]
    found = np.ones(stack.arrays["base"].shape)
    for ends in stack.shape.edges:
        unknown = np.zeros(found.shape, dtype=bool)
        for wheel in ends:
            piece, place = stack.shape.location[wheel]
            unknown |= (stack.teeth(piece)[:, :, place] == NONE)[rows, own[:, :, piece]]
        found = np.where(unknown, SUM_FAR * found, found)
    for number, (left, right) in enumerate(stack.shape.clashing):
        table = stack.arrays[f"clash {number}"]
        found = found * table[rows, own[:, :, left], own[:, :, right]]
    return found


def that_matter(shares: Sequence[Array], left_out: float) -> list[Array]:
    """Return which rows of each part matter: all others have so much at most, all together.

    `shares` [row] of every part.
    """
    every = np.concatenate([np.zeros(0), *shares])
    order = np.argsort(every, kind="stable")
    matter = np.zeros(every.size, dtype=bool)
    matter[order[np.cumsum(every[order]) > left_out]] = True
    ends = np.cumsum([0, *map(len, shares)])
    return [np.flatnonzero(matter[a:b]) for a, b in pairwise(ends.tolist())]
