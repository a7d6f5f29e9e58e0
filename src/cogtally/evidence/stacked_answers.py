"""The answers of stacked families, read off their sums.

What stands beside them, and the reading in words, is left to `assembled` and `verdict`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cogtally.evidence.posterior import MATCHED, PieceShare, Share
from cogtally.evidence.stacked_asked import Worked
from cogtally.evidence.stacked_pieces import piece_shares
from cogtally.evidence.stacked_tables import Array
from cogtally.evidence.weighed import PART_LEFT_OUT, Weighed

#: Up to so many groups all are listed; of more, those below a share of RARE together are not.
ALL_LISTED = 2000
RARE = PART_LEFT_OUT


@dataclass(frozen=True, slots=True)
class StackAnswers:
    """The shares of stacked families: matched and so-far groups, mixed, variant, each family."""

    matched: list[Share]
    so_far: list[Share]
    mixed: float
    variant: float
    families: dict[str, float]


def read_stacks(weighed: Weighed) -> StackAnswers:
    """Read the answers off the stacked families of one question."""
    matched: list[tuple[Worked, Array]] = []
    so_far: list[tuple[Worked, Array]] = []
    families: dict[str, float] = {}
    mixed = variant = 0.0
    for worked, scales in zip(weighed.stacked, weighed.stacked_scales, strict=True):
        by_hand = np.array(scales)
        whole = by_hand @ worked.value
        related = by_hand @ worked.related
        of_sets = np.einsum("h,hsf->sf", by_hand, worked.matched)
        mixed += float(np.maximum(whole - related, 0.0).sum())
        strangers = related if worked.view.lacks else related - of_sets.sum(axis=0)
        variant += float(np.maximum(strangers, 0.0).sum())
        families.update(zip(worked.ready.block.ids, whole.tolist(), strict=True))
        if not worked.view.lacks:
            matched.append((worked, of_sets))
        if worked.groups[0].size:
            so_far.append((worked, by_hand @ worked.so_far))
    return StackAnswers(_matched(matched), _so_far(so_far), mixed, variant, families)


def pieces_of(weighed: Weighed, family: str) -> list[PieceShare]:
    """Return every type of every piece of a stacked family; nothing of any other."""
    for worked, scales in zip(weighed.stacked, weighed.stacked_scales, strict=True):
        for place, one in enumerate(worked.ready.block.families):
            if one.id == family:
                return piece_shares(worked, place, scales)
    return []


def _kept(shares: Sequence[Array]) -> float:
    """The least share that is listed."""
    every = np.sort(np.concatenate([s.ravel() for s in shares])) if shares else np.zeros(0)
    if every.size <= ALL_LISTED:
        return 0.0
    return float(every[int(np.searchsorted(np.cumsum(every), RARE, side="right"))])


def _matched(found: Sequence[tuple[Worked, Array]]) -> list[Share]:
    least = _kept([shares for _, shares in found])
    listed = []
    for worked, shares in found:
        block = worked.ready.block
        places, bases = np.nonzero(((shares >= least) & (block.share > 0)).T)
        values = shares[bases, places].tolist()
        groups, ids = block.groups, block.ids
        listed += [
            Share(MATCHED, value, ids[place], groups[place][base])
            for place, base, value in zip(places.tolist(), bases.tolist(), values, strict=True)
        ]
    return listed


def _so_far(found: Sequence[tuple[Worked, Array]]) -> list[Share]:
    least = _kept([shares for _, shares in found])
    listed = []
    for worked, shares in found:
        block = worked.ready.block
        kept = shares >= least
        places, bases = (at[kept] for at in worked.groups)
        alike = (worked.group_of[:, places] == bases) & (block.share[:, places] > 0)
        alone = alike.sum(axis=0) == 1
        several: dict[int, list[int]] = {}
        for number, base in np.argwhere((alike & ~alone).T).tolist():
            several.setdefault(number, []).append(base)
        rows = zip(places.tolist(), bases.tolist(), shares[kept].tolist(), strict=True)
        for number, (place, base, value) in enumerate(rows):
            group = several.get(number)
            sets = block.groups[place][base] if group is None else block.sets_of(place, group)
            listed.append(Share(MATCHED, value, block.ids[place], sets))
    return listed
