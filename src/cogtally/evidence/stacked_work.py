"""Which stacked families can matter to one question, and their sums.

Bounds leave out what is below a share of the whole; the sums themselves are those of `stacked`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from math import log
from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

import numpy as np

from cogtally.evidence.likelihood import HAND_PRIOR
from cogtally.evidence.seen import SeenBox
from cogtally.evidence.stacked import Stacks
from cogtally.evidence.stacked_asked import Asked, Worked, ask_stacks
from cogtally.evidence.stacked_joined import joined
from cogtally.evidence.stacked_ready import Ready, part_of
from cogtally.evidence.stacked_rows import Parted, parted
from cogtally.evidence.stacked_tables import Array

if TYPE_CHECKING:
    from concurrent.futures import ThreadPoolExecutor

#: Up to so many of the likeliest families, as likely as this, say what something has at least: by
#: their sets as they are, or worked out where more than FEW can matter and that is far below the
#: greatest bound.
FIRST = 32
NEAR_BEST = 7.0
FEW = 256
FAR_BELOW = 2.0
#: Of more than FEW every so many-th is asked first whether a sharper bound leaves out enough.
SAMPLE = 16
#: About so many numbers, a base set by a base set for each family, are worked out at a time: many,
#: for every step of a sum costs something by itself, in parts that can be shared by two cores.
AT_A_TIME = 60000
#: Up to so many families of a block are worked out together with those of others.
JOINED = 250
#: Of this share of the families and more, all are worked out, not picked.
MOST = 0.75
#: So many families and more are worked out on two cores: numpy lets go of the interpreter.
SHARED = 6000

_LOG_HANDS = np.log(np.array(HAND_PRIOR))[:, None]


def work_stacks(
    stacks: Stacks, box: SeenBox, total: float, left_out: float
) -> tuple[list[Worked], float]:
    """Work out the families that can matter; what is left out is below `left_out` together.

    `total`: the log of a share that something else has at least; returned with the greatest. With
    `left_out` at 0 every family is worked out.
    """
    blocks = [(each, ready) for each in ask_stacks(stacks, box) for ready in each.stack.blocks]
    if not blocks:
        return [], total
    if left_out <= 0:
        found = _work(stacks, blocks, [np.arange(ready.block.numbers.size) for _, ready in blocks])
        return found, max([total, *map(greatest_log, found)])
    bounds = [_greatest(asked.quick_bound(ready)) for asked, ready in blocks]
    every = np.concatenate(bounds)
    starts = np.cumsum([0, *[b.size for b in bounds]])

    def by_block(places: Array) -> list[Array]:
        """Rising places among all families as places of each block."""
        at = np.searchsorted(places, starts)
        return [places[at[n] : at[n + 1]] - starts[n] for n in range(len(blocks))]

    head = _likeliest(every)
    least = [
        _greatest(asked.least(ready, at)).max(initial=total)
        for (asked, ready), at in zip(blocks, by_block(head), strict=True)
        if at.size
    ]
    total = max([total, *map(float, least)])
    matter = _matter(every, total, left_out / 2)
    if matter.size > FEW and every.max() > total + FAR_BELOW:
        total = max([total, *map(greatest_log, _work(stacks, blocks, by_block(head)))])
        matter = _matter(every, total, left_out / 2)

    def sharper(places: Array, left_out: float) -> Array:
        """Those of some families that a sharper bound does not leave out either."""
        sharp = [
            _greatest(asked.bound(ready, at))
            for (asked, ready), at in zip(blocks, by_block(places), strict=True)
        ]
        return places[_matter(np.concatenate(sharp), total, left_out)]

    sample = matter[::SAMPLE]
    if matter.size <= FEW or sharper(sample, left_out / 2 / SAMPLE).size < MOST * sample.size:
        matter = sharper(matter, left_out / 2)
    # The likeliest families are told of even where none can matter.
    found = _work(stacks, blocks, by_block(np.union1d(matter, head)))
    return found, max([total, *map(greatest_log, found)])


def _likeliest(bounds: Array) -> Array:
    """The rising places of a few of the likeliest."""
    if bounds.size <= FIRST:
        return np.arange(bounds.size)
    head = np.argpartition(-bounds, FIRST)[:FIRST]
    return np.sort(head[bounds[head] >= bounds.max() - NEAR_BEST])


def _greatest(bounds: Array) -> Array:
    found: Array = (bounds + _LOG_HANDS).max(axis=0)
    return found


def _matter(bounds: Array, total: float, left_out: float) -> Array:
    """The places, rising, of all but those that are below a share together."""
    shares = np.exp(np.minimum(bounds - total, 0.0))
    # All that are rarer than this are below the share together, and need no order.
    rare = shares * bounds.size <= left_out / 2
    if not rare.any():
        return _sorted_out(shares, left_out)
    rest = np.flatnonzero(~rare)
    found: Array = rest[_sorted_out(shares[rest], left_out - float(shares[rare].sum()))]
    return found


def _sorted_out(shares: Array, left_out: float) -> Array:
    order = np.argsort(shares, kind="stable")
    number = int(np.searchsorted(np.cumsum(shares[order]), left_out, side="right"))
    return np.sort(order[number:])


@cache
def _pool() -> ThreadPoolExecutor:
    from concurrent.futures import ThreadPoolExecutor

    return ThreadPoolExecutor(2, "stacks")


@dataclass(frozen=True, slots=True)
class _Part:
    """Some families of a block next to each other, with their rows parted."""

    ready: Ready
    rows: Sequence[Parted]


_PARTS: WeakKeyDictionary[Stacks, list[list[_Part]]] = WeakKeyDictionary()


def _parts(stacks: Stacks) -> list[list[_Part]]:
    """All families of each block, as many at a time as are worked out; kept for what follows."""
    found = _PARTS.get(stacks)
    if found is None:
        found = _PARTS[stacks] = [
            [*_parts_of(ready)] for stack in stacks.stacks for ready in stack.blocks
        ]
    return found


def _parts_of(ready: Ready) -> Iterator[_Part]:
    count = ready.block.numbers.size
    number = -(-count * ready.block.size**2 // AT_A_TIME)
    for start in range(0, count, -(-count // number)):
        part = part_of(ready, slice(start, start + -(-count // number)))
        yield _Part(part, parted(part.block))


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


def _work(
    stacks: Stacks, blocks: Sequence[tuple[Asked, Ready]], places: Sequence[Array]
) -> list[Worked]:
    """Work out the families at these rising places of each block."""
    todo: list[tuple[Asked, Ready, Sequence[Parted] | None]] = []
    few: dict[int, tuple[Asked, list[Ready]]] = {}
    for number, ((asked, ready), at) in enumerate(zip(blocks, places, strict=True)):
        if 0 < at.size <= JOINED:
            few.setdefault(id(asked), (asked, []))[1].append(part_of(ready, at))
        elif at.size >= MOST * ready.block.numbers.size:
            todo += [(asked, part.ready, part.rows) for part in _parts(stacks)[number]]
        else:
            step = max(1, AT_A_TIME // ready.block.size**2)
            for start in range(0, at.size, step):
                todo.append((asked, part_of(ready, at[start : start + step]), None))
    todo += [(asked, joined(parts), None) for asked, parts in few.values()]
    if len(todo) < 2 or sum(ready.block.numbers.size for _, ready, _ in todo) < SHARED:
        return [asked.work(ready, rows) for asked, ready, rows in todo]
    # The largest first: no core is left with a large one at the end.
    todo.sort(key=lambda each: -each[1].block.share.size)
    return [*_pool().map(lambda each: each[0].work(each[1], each[2]), todo)]
