"""Shares of stacked families as sequences and mappings that are made only as far as asked for.

What the shares are is read off the sums in `stacked_answers`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol, overload

import numpy as np

from cogtally.evidence.posterior import MATCHED, Share
from cogtally.evidence.stacked_tables import Array

#: Up to so many shares all are listed; of more, those that are below a share of `rare` together
#: are not, the greatest of all aside.
ALL_LISTED = 2000
#: So many of the greatest are found without sorting all.
HEAD = 64


class Source(Protocol):
    """Shares of some families, in the order of their families."""

    @property
    def values(self) -> Array:
        """The probability of each."""

    def share(self, place: int) -> Share:
        """Return one of them."""

    def of_family(self, family: str, number: int) -> Sequence[int]:
        """Return the places of those of a family, which has this number in the catalog."""


@dataclass(frozen=True, eq=False)
class Plain:
    """Shares that are made already."""

    shares: Sequence[Share]

    @cached_property
    def values(self) -> Array:
        """The probability of each."""
        return np.array([share.probability for share in self.shares], dtype=float)

    def share(self, place: int) -> Share:
        """Return one of them."""
        return self.shares[place]

    def of_family(self, family: str, number: int) -> Sequence[int]:
        """Return the places of those of a family."""
        return [place for place, share in enumerate(self.shares) if share.family == family]


class Falling(Sequence[Share]):
    """All shares of some sources, falling, and `last` behind them.

    Equal ones stand in the order of their sources. To know how many there are, all are sorted.
    `ids`: of all families of the catalog.
    """

    def __init__(
        self,
        sources: Sequence[Source],
        ids: Sequence[str],
        rare: float,
        last: Sequence[Share] = (),
    ) -> None:
        self._sources = sources
        self._ids = ids
        self._rare = rare
        self._last = tuple(last)

    @cached_property
    def _values(self) -> Array:
        return np.concatenate([np.zeros(0), *[source.values for source in self._sources]])

    @cached_property
    def _starts(self) -> Array:
        return np.cumsum([0, *[source.values.size for source in self._sources]])

    @cached_property
    def _head(self) -> Array:
        """The places of the greatest, as many as can be told from all others without sorting."""
        values = self._values
        if values.size <= HEAD:
            return np.argsort(-values, kind="stable")
        least = -np.partition(-values, HEAD)[HEAD]
        found = np.flatnonzero(values > least)
        return found[np.argsort(-values[found], kind="stable")]

    @cached_property
    def _order(self) -> Array:
        """The places of all that are listed."""
        order = np.argsort(-self._values, kind="stable")
        if order.size <= ALL_LISTED:
            return order
        rising = np.cumsum(self._values[order[::-1]])
        rare = int(np.searchsorted(rising, self._rare, side="right"))
        return order[: max(order.size - rare, HEAD)]

    def _made(self, place: int) -> Share:
        source = int(np.searchsorted(self._starts, place, side="right")) - 1
        return self._sources[source].share(place - int(self._starts[source]))

    def __len__(self) -> int:
        return len(self._order) + len(self._last)

    def __bool__(self) -> bool:
        return self._values.size > 0 or bool(self._last)

    @overload
    def __getitem__(self, index: int) -> Share: ...

    @overload
    def __getitem__(self, index: slice) -> tuple[Share, ...]: ...

    def __getitem__(self, index: int | slice) -> Share | tuple[Share, ...]:
        """Return one share or some; quick for the first ones and for `last`."""
        last = self._last
        if isinstance(index, slice):
            start, stop = index.start or 0, index.stop
            if start < 0 and -start <= len(last) and stop is None and index.step is None:
                return last[start:]
            if stop is not None and start >= 0 and 0 <= stop <= len(self._head):
                return tuple([self._made(int(place)) for place in self._head[index]])
            return tuple([self[number] for number in range(*index.indices(len(self)))])
        if 0 <= index < len(self._head):
            return self._made(int(self._head[index]))
        if -len(last) <= index < 0:
            return last[index]
        if index < 0:
            index += len(self)
        if not 0 <= index < len(self):
            raise IndexError(index)
        listed = len(self._order)
        return self._made(int(self._order[index])) if index < listed else last[index - listed]

    def __iter__(self) -> Iterator[Share]:
        head = self._head
        for place in head.tolist():
            yield self._made(place)
        for place in self._order[len(head) :].tolist():
            yield self._made(place)
        yield from self._last

    def __eq__(self, other: object) -> bool:
        """Tell whether another sequence, of whatever kind, has the same shares."""
        if not isinstance(other, Falling | tuple):
            return NotImplemented
        return len(self) == len(other) and all(map(Share.__eq__, self, other))

    __hash__ = None  # type: ignore[assignment]

    def probabilities(self) -> list[float]:
        """Return the probability of each, without making the shares."""
        found: list[float] = self._values[self._order].tolist()
        return found + [share.probability for share in self._last]

    def of_kind(self, kind: str) -> float:
        """Return the summed probability of the shares of one kind, the rare ones too."""
        found = sum(share.probability for share in self._last if share.kind == kind)
        return found + float(self._values.sum()) if kind == MATCHED else found

    def of_family(self, family: str) -> list[Share]:
        """Return the shares of one family, falling, the rare ones too."""
        number = self._ids.index(family) if family in self._ids else -1
        found = [
            source.share(place)
            for source in self._sources
            for place in source.of_family(family, number)
        ]
        return sorted(found, key=lambda share: share.probability, reverse=True)


class FamilyShares(Mapping[str, float]):
    """The probability of every family of a catalog.

    `ids` of all families in their order, `values` of those in arrays by their number there;
    `known`: of those that were worked out alone, to be added.
    """

    def __init__(self, ids: Sequence[str], values: Array, known: Mapping[str, float]) -> None:
        self._ids = ids
        self._values = values
        self._known = known

    @cached_property
    def _all(self) -> dict[str, float]:
        found = dict(zip(self._ids, self._values.tolist(), strict=True))
        for family, value in self._known.items():
            found[family] += value
        return found

    def __getitem__(self, family: str) -> float:
        """Return the probability of a family."""
        return self._all[family]

    def __iter__(self) -> Iterator[str]:
        return iter(self._ids)

    def __len__(self) -> int:
        return len(self._ids)

    def leading(self) -> int:
        """Return the number of the likeliest family, of equal ones the first."""
        values = self._values
        if any(self._known.values()):
            values = np.array([*self._all.values()])
        return int(np.argmax(values))
