"""The answers of stacked families, read off their sums.

How far they are made is left to `stacked_listed`; what stands beside them, and the reading in
words, to `assembled` and `verdict`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from cogtally.evidence.posterior import MATCHED, PieceShare, Share
from cogtally.evidence.stacked_asked import Worked
from cogtally.evidence.stacked_listed import Falling, FamilyShares, Plain, Source
from cogtally.evidence.stacked_pieces import piece_shares
from cogtally.evidence.stacked_tables import Array
from cogtally.evidence.weighed import PART_LEFT_OUT, Weighed


@dataclass(frozen=True, slots=True)
class StackAnswers:
    """The shares of stacked families: matched and so-far groups, mixed, variant.

    `ids` of all families of the catalog; `families`: the probability of each in arrays.
    """

    ids: Sequence[str]
    matched: Sequence[Source]
    so_far: Sequence[Source]
    mixed: float
    variant: float
    families: Array

    def answers(self, beside: Sequence[Share], last: Sequence[Share]) -> Falling:
        """Return all matched groups, falling, with those `beside` them, and `last` behind."""
        return Falling([Plain(beside), *self.matched], self.ids, PART_LEFT_OUT, last)

    def groups(self, beside: Sequence[Share]) -> Falling:
        """Return all so-far groups, falling, with those `beside` them."""
        return Falling([Plain(beside), *self.so_far], self.ids, PART_LEFT_OUT)

    def shares(self, known: Mapping[str, float]) -> FamilyShares:
        """Return the probability of every family; `known` of those worked out alone."""
        return FamilyShares(self.ids, self.families, known)


def read_stacks(weighed: Weighed) -> StackAnswers:
    """Read the answers off the stacked families of one question."""
    matched: list[Source] = []
    so_far: list[Source] = []
    ids = weighed.stacked[0].ready.block.roll.family_ids
    families = np.zeros(len(ids))
    mixed = variant = 0.0
    for worked, scales in zip(weighed.stacked, weighed.stacked_scales, strict=True):
        by_hand = np.array(scales)
        whole = by_hand @ worked.value
        related = by_hand @ worked.related
        lacks = worked.view.lacks
        of_sets = np.einsum("h,hsf->sf", by_hand, worked.matched)
        mixed += float(np.maximum(whole - related, 0.0).sum())
        strangers = related if lacks else related - of_sets.sum(axis=0)
        variant += float(np.maximum(strangers, 0.0).sum())
        families[worked.ready.block.numbers] = whole
        if not lacks:
            matched.append(_Matched(worked, of_sets))
        if worked.groups[0].size:
            so_far.append(_SoFar(worked, by_hand @ worked.so_far))
    return StackAnswers(ids, matched, so_far, mixed, variant, families)


def pieces_of(weighed: Weighed, number: int) -> list[PieceShare]:
    """Return every type of every piece of a family in arrays, by its number; else nothing."""
    for worked, scales in zip(weighed.stacked, weighed.stacked_scales, strict=True):
        places = np.flatnonzero(worked.ready.block.numbers == number)
        if places.size:
            return piece_shares(worked, int(places[0]), scales)
    return []


@dataclass(frozen=True, eq=False)
class _Matched:
    """The matched groups of a block: `shares[base, family]`."""

    worked: Worked
    shares: Array

    @cached_property
    def _at(self) -> tuple[Array, Array]:
        """The family and the base set of each, family by family."""
        families, bases = np.nonzero(self.worked.ready.block.share.T)
        return families, bases

    @property
    def values(self) -> Array:
        families, bases = self._at
        found: Array = self.shares[bases, families]
        return found

    def share(self, place: int) -> Share:
        families, bases = self._at
        family, base = int(families[place]), int(bases[place])
        block = self.worked.ready.block
        value = float(self.shares[base, family])
        return Share(MATCHED, value, block.ids[family], block.groups[family][base])

    def of_family(self, family: str, number: int) -> Sequence[int]:
        return _places(self.worked, number, self._at[0])


@dataclass(frozen=True, eq=False)
class _SoFar:
    """The so-far groups of a block."""

    worked: Worked
    values: Array

    def share(self, place: int) -> Share:
        worked, block = self.worked, self.worked.ready.block
        family, base = (int(at[place]) for at in worked.groups)
        alike = (worked.group_of[:, family] == base) & (block.share[:, family] > 0)
        sets = block.sets_of(family, np.flatnonzero(alike).tolist())
        return Share(MATCHED, float(self.values[place]), block.ids[family], sets)

    def of_family(self, family: str, number: int) -> Sequence[int]:
        return _places(self.worked, number, self.worked.groups[0])


def _places(worked: Worked, number: int, families: Array) -> Sequence[int]:
    """The places of what is of the family with this number."""
    at = np.flatnonzero(worked.ready.block.numbers == number)
    found: list[int] = np.flatnonzero(np.isin(families, at)).tolist()
    return found
