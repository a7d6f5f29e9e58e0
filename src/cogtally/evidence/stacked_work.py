"""Which stacked families can matter to one question, and their sums.

Bounds leave out what is below a share of the whole; the sums themselves are those of `stacked`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import log

import numpy as np

from cogtally.evidence.likelihood import HAND_PRIOR
from cogtally.evidence.seen import SeenBox
from cogtally.evidence.stacked import AT_A_TIME, Asked, Stacks, Worked
from cogtally.evidence.stacked_ready import Ready, cut
from cogtally.evidence.stacked_tables import Array

#: Up to so many of the likeliest families, as likely as this, are worked out first.
FIRST = 32
NEAR_BEST = 7.0
#: Of a block of which more than this part matters, all is worked out.
MOST_OF_IT = 0.6

_LOG_HANDS = np.log(np.array(HAND_PRIOR))[:, None]


def work_stacks(
    stacks: Stacks, box: SeenBox, total: float, left_out: float
) -> tuple[list[Worked], float]:
    """Work out the families that can matter; what is left out is below `left_out` together.

    `total`: the log of a share that something else has at least; returned with the greatest.
    """
    blocks = [(asked, ready) for asked in stacks.asked(box) for ready in asked.stack.blocks]
    if not blocks:
        return [], total
    bounds = [(asked.bound(ready) + _LOG_HANDS).max(axis=0) for asked, ready in blocks]
    every = np.concatenate(bounds)
    number = np.repeat(np.arange(len(blocks)), [b.size for b in bounds])
    place = np.concatenate([np.arange(b.size) for b in bounds])
    order = np.argsort(-every, kind="stable")
    found: list[Worked] = []
    if order.size > FIRST:
        first = int((every[order[:FIRST]] >= every[order[0]] - NEAR_BEST).sum())
        head, order = order[:first], order[first:]
        found += _work(blocks, number[head], place[head])
        total = max([total, *map(greatest_log, found)])
        # From the least likely on, as long as they stay below the share together.
        tail = np.cumsum(np.exp(np.minimum(every[order[::-1]] - total, 0.0)))
        order = order[: order.size - int(np.searchsorted(tail, left_out, side="right"))]
    found += _work(blocks, number[order], place[order])
    return found, max([total, *map(greatest_log, found)])


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


def _work(blocks: Sequence[tuple[Asked, Ready]], number: Array, place: Array) -> Iterator[Worked]:
    """Work out the families at these places of these blocks."""
    small: dict[tuple[int, int], tuple[Asked, list[tuple[Ready, Array]]]] = {}
    for index in np.unique(number).tolist():
        asked, ready = blocks[index]
        at = np.sort(place[number == index])
        if at.size == len(ready.block.families):
            yield asked.work(ready)
        elif at.size > MOST_OF_IT * len(ready.block.families):
            yield asked.work(cut([(ready, at)]))
        else:
            small.setdefault((id(asked), ready.block.size), (asked, []))[1].append((ready, at))
    for (_, size), (asked, chosen) in small.items():
        waiting: list[tuple[Ready, Array]] = []
        for ready, at in chosen:
            waiting.append((ready, at))
            if sum(a.size for _, a in waiting) * size * size >= AT_A_TIME:
                yield asked.work(cut(waiting))
                waiting = []
        if waiting:
            yield asked.work(cut(waiting))
