"""Which stacked families can matter to one question, and their sums.

Bounds leave out what is below a share of the whole; the sums themselves are those of `stacked`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import log

import numpy as np

from cogtally.evidence.likelihood import HAND_PRIOR
from cogtally.evidence.seen import SeenBox
from cogtally.evidence.stacked import Stacks, step_of
from cogtally.evidence.stacked_asked import Asked, Worked, ask_stacks
from cogtally.evidence.stacked_ready import Ready, part_of
from cogtally.evidence.stacked_tables import Array

#: Up to so many of the likeliest families, as likely as this, are worked out first.
FIRST = 32
NEAR_BEST = 7.0
#: So many blocks and more are worked out on two cores: numpy lets go of the interpreter.
SHARED = 8

_LOG_HANDS = np.log(np.array(HAND_PRIOR))[:, None]


def work_stacks(
    stacks: Stacks, box: SeenBox, total: float, left_out: float
) -> tuple[list[Worked], float]:
    """Work out the families that can matter; what is left out is below `left_out` together.

    `total`: the log of a share that something else has at least; returned with the greatest.
    """
    blocks = [(each, ready) for each in ask_stacks(stacks, box) for ready in each.stack.blocks]
    if not blocks:
        return [], total
    bounds = [_greatest(asked.quick_bound(ready)) for asked, ready in blocks]
    every = np.concatenate(bounds)
    number = np.repeat(np.arange(len(blocks)), [b.size for b in bounds])
    place = np.concatenate([np.arange(b.size) for b in bounds])
    found: list[Worked] = []
    if every.size <= FIRST:
        matter = np.arange(every.size)
    else:
        head = np.argpartition(-every, FIRST)[:FIRST]
        head = head[every[head] >= every.max() - NEAR_BEST]
        found += _work(blocks, number[head], place[head])
        total = max([total, *map(greatest_log, found)])
        every[head] = -np.inf
        matter = np.setdiff1d(_matter(every, total, left_out / 2), head, assume_unique=True)
        sharp = np.empty(matter.size)
        for index, (asked, ready) in enumerate(blocks):
            here = number[matter] == index
            sharp[here] = _sharp(asked, ready, place[matter[here]])
        matter = matter[_matter(sharp, total, left_out / 2)]
    found += _work(blocks, number[matter], place[matter])
    return found, max([total, *map(greatest_log, found)])


def _greatest(bounds: Array) -> Array:
    found: Array = (bounds + _LOG_HANDS).max(axis=0)
    return found


def _matter(bounds: Array, total: float, left_out: float) -> Array:
    """The places, rising, of all but those that are below a share together."""
    order = np.argsort(bounds, kind="stable")
    tail = np.cumsum(np.exp(np.minimum(bounds[order] - total, 0.0)))
    return np.sort(order[int(np.searchsorted(tail, left_out, side="right")) :])


def _parts(ready: Ready, at: Array) -> Iterator[Ready]:
    """The families at these rising places, as many at a time as fit the cache."""
    step = step_of(ready.block.size)
    for start in range(0, at.size, step):
        here = at[start : start + step]
        first, last = int(here[0]), int(here[-1])
        whole = last - first == here.size - 1
        yield part_of(ready, slice(first, last + 1) if whole else here)


def _sharp(asked: Asked, ready: Ready, at: Array) -> Array:
    parts = [_greatest(asked.bound(part)) for part in _parts(ready, at)]
    return np.concatenate(parts) if parts else np.zeros(0)


def greatest_log(worked: Worked) -> float:
    """Return the log of the greatest share of one family from one hand."""
    logs = [
        scale + log(value) + log(prior)
        for scale, value, prior in zip(
            worked.scales, worked.value.max(axis=1).tolist(), HAND_PRIOR, strict=True
        )
        if value > 0
    ]
    return max(logs, default=-1e300)


def _work(blocks: Sequence[tuple[Asked, Ready]], number: Array, place: Array) -> Sequence[Worked]:
    """Work out the families at these places of these blocks."""
    parts = [
        (blocks[index][0], part)
        for index in np.unique(number).tolist()
        for part in _parts(blocks[index][1], np.sort(place[number == index]))
    ]
    if len(parts) < SHARED:
        return [asked.work(part) for asked, part in parts]
    from concurrent.futures import ThreadPoolExecutor

    with ThreadPoolExecutor(2) as pool:
        return list(pool.map(lambda each: each[0].work(each[1]), parts))
