"""What the windows, groups and types of one question weigh, worked out as far as somebody asks.

What counts say of a wheel is left to `loose_frames`, what weights mean to `loose`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from heapq import heappush, heapreplace
from typing import Protocol

from cogtally.catalog.model import Catalog, Family, PieceType
from cogtally.evidence.likelihood import HASTY, STEADY, UNCATALOGUED_PRIOR
from cogtally.evidence.loose_frames import HANDS, Alike, Frame, Pair, Place

#: With many questions to come, from so many windows on arrays are quicker than lists.
WINDOWS_FOR_ARRAYS = 64


@dataclass(frozen=True, slots=True)
class Also:
    """What else was seen on a piece, as a likelihood of its own, one number for each hand.

    `of(family, kind, wheels)` is that of a type, place i as written being the wheel `wheels[i]` of
    its piece; `uncatalogued` that of a piece that no catalog has. Only their proportions count.
    """

    of: Callable[[Family, PieceType, tuple[int, ...]], Pair]
    uncatalogued: Pair = (1.0, 1.0)


@dataclass(frozen=True, slots=True)
class Question:
    """One piece with what is asked of it, made ready to be weighed.

    `hands`: the weights of the two hands before anything is known of the piece. `many`: more
    questions will be put to this catalog.
    """

    catalog: Catalog
    role: str | None
    frame: Frame
    seen: tuple[Place | None, ...]
    hands: Pair
    also: Also | None
    many: bool

    @property
    def prior_of_unknown(self) -> Pair:
        """The weight of an uncatalogued piece with each hand, but for the counts."""
        prior = UNCATALOGUED_PRIOR if self.frame.groups else 1.0
        also = self.also.uncatalogued if self.also is not None else (1.0, 1.0)
        return prior * self.hands[STEADY] * also[STEADY], prior * self.hands[HASTY] * also[HASTY]

    @property
    def unknown(self) -> Pair:
        """The weight of an uncatalogued piece with each hand."""
        steady, hasty = self.prior_of_unknown
        for place in self.seen:
            if place is not None:
                steady *= place.pool[STEADY]
                hasty *= place.pool[HASTY]
        return steady, hasty


class Weighed:
    """The weight of everything that one piece can be; `total` is all of it.

    `steady`: the share of all of it with a steady hand; `uncatalogued`: that of no listed type.
    """

    def __init__(self, question: Question) -> None:
        self.question = question
        self._frame = question.frame
        self._windows = _weigh_windows(question)
        unknown = question.unknown
        steady, hasty = self._sums()
        self.total = steady + hasty + unknown[STEADY] + unknown[HASTY]
        self.uncatalogued = (unknown[STEADY] + unknown[HASTY]) / self.total
        self.steady = (steady + unknown[STEADY]) / self.total

    def groups(self, least: float, most: int | None = None) -> list[tuple[float, Alike]]:
        """Return types alike in teeth with their probability, falling.

        Those of at least `least`; of these, where `most` is given, so many of the most probable.
        """
        found = self._falling(least, most)
        return [(weight / self.total, self._frame.groups[number]) for weight, number in found]

    def types(self, least: float) -> Iterator[tuple[float, Alike, PieceType]]:
        """Give each type whose group has at least that probability, with its own."""
        for weight, number in self._falling(least, None):
            group = self._frame.groups[number]
            for kind, own in zip(group.kinds, self._kinds_of(number, weight), strict=True):
                yield own / self.total, group, kind

    def of_piece(self, family: Family, piece: str) -> float:
        """Return the probability of one piece of one family, of whichever type."""
        numbers = self._frame.of_piece.get((family.id, piece), ())
        return sum([self._weight(number) for number in numbers]) / self.total

    def _falling(self, least: float, most: int | None) -> list[tuple[float, int]]:
        """Groups by number with their weight, falling: see `groups`."""
        found: list[tuple[float, int]] = []
        met: set[int] = set()
        bar = least * self.total
        # A group has up to so many windows, none of which weighs more than the row that it is in.
        spots, there = self._frame.most_spots, self._frame.there
        for whole, windows in self._windows.falling(bar / spots if spots else 0.0):
            full = len(found) == most
            if full and spots * whole <= bar:
                break
            for window in windows:
                value = spots * self._windows.value(window)
                for prior, number in there[window]:
                    full = len(found) == most
                    if value * prior < bar or (full and value * prior <= bar):
                        break
                    if number in met:
                        continue
                    met.add(number)
                    weight = self._weight(number)
                    if full:
                        if weight > found[0][0]:
                            heapreplace(found, (weight, -number))
                            bar = found[0][0]
                    elif weight >= bar:
                        heappush(found, (weight, -number))
                        if len(found) == most:
                            bar = found[0][0]
        found.sort(reverse=True)
        return [(weight, -number) for weight, number in found]

    def _sums(self) -> Pair:
        """The weight of all groups, with each hand."""
        hands, sums = self.question.hands, self._windows.sums
        return hands[STEADY] * sums[STEADY], hands[HASTY] * sums[HASTY]

    def _weight(self, number: int) -> float:
        """The weight of one group."""
        return sum([p * self._windows.value(window) for window, p in self._frame.spots[number]])

    def _kinds_of(self, number: int, weight: float) -> list[float]:
        """The weights of the types of a group that weighs `weight`."""
        group = self._frame.groups[number]
        return [weight * kind.weight / group.weight for kind in group.kinds]


class WeighedAlso(Weighed):
    """The same where something was seen beside the counts: every type for itself."""

    def __init__(self, question: Question, also: Also) -> None:
        self._also = also
        self._kinds: list[list[float]] = []
        super().__init__(question)

    def _falling(self, least: float, most: int | None) -> list[tuple[float, int]]:
        weights = [(sum(kinds), -number) for number, kinds in enumerate(self._kinds)]
        found = sorted((w for w in weights if w[0] >= least * self.total), reverse=True)
        return [(weight, -number) for weight, number in found[:most]]

    def _sums(self) -> Pair:
        sums = [0.0, 0.0]
        for number in range(len(self._frame.groups)):
            self._kinds.append(self._types_of(number, sums))
        return sums[STEADY], sums[HASTY]

    def _types_of(self, number: int, sums: list[float]) -> list[float]:
        """The weight of each type of a group; what they weigh is added to `sums` by hand."""
        group, each = self._frame.groups[number], self._frame.priors[number]
        ways = [(wheels, self._windows.pair(w)) for wheels, w in self._frame.ways[number]]
        found = []
        for kind in group.kinds:
            weight = 0.0
            for wheels, pair in ways:
                also = self._also.of(group.family, kind, wheels)
                for hand in HANDS:
                    one = each * kind.weight * self.question.hands[hand] * pair[hand] * also[hand]
                    sums[hand] += one
                    weight += one
            found.append(weight)
        return found

    def _weight(self, number: int) -> float:
        return sum(self._kinds[number])

    def _kinds_of(self, number: int, weight: float) -> list[float]:
        return self._kinds[number]


class Windows(Protocol):
    """What the windows of a frame weigh, once places were counted.

    `sums`: prior times likelihood of all of them, for each hand.
    """

    sums: Pair

    def value(self, window: int) -> float:
        """Return the likelihood of a window, summed over the weighted hands."""

    def pair(self, window: int) -> Pair:
        """Return the likelihood of a window with each hand."""

    def falling(self, least: float) -> Iterator[tuple[float, Sequence[int]]]:
        """Give windows in rows with the weight of the row, falling, down to `least`."""


def _weigh_windows(question: Question) -> Windows:
    frame = question.frame
    if question.many and len(frame.windows) >= WINDOWS_FOR_ARRAYS:
        if frame.stack is None:
            from cogtally.evidence.loose_arrays import Stack

            frame.stack = Stack(frame)
        stacked: Windows = frame.stack.weigh(question.seen, question.hands)
        return stacked
    return ListedWindows(frame, question.seen, question.hands)


class ListedWindows:
    """The likelihood of each window, worked out one by one."""

    def __init__(self, frame: Frame, seen: Sequence[Place | None], hands: Pair) -> None:
        by_hand = [self._values(frame, seen, hand) for hand in HANDS]
        self._steady, self._hasty = by_hand
        self._both = [
            hands[STEADY] * s + hands[HASTY] * h
            for s, h in zip(self._steady, self._hasty, strict=True)
        ]
        self._weights = [w * v for w, v in zip(frame.weights, self._both, strict=True)]
        steady, hasty = (
            sum([w * v for w, v in zip(frame.weights, values, strict=True)]) for values in by_hand
        )
        self.sums: Pair = steady, hasty

    @staticmethod
    def _values(frame: Frame, seen: Sequence[Place | None], hand: int) -> list[float]:
        values = [1.0] * len(frame.windows)
        for i, place in enumerate(seen):
            if place is not None:
                law = place.by_code[hand]
                values = [v * law[w[i]] for v, w in zip(values, frame.windows, strict=True)]
        return values

    def value(self, window: int) -> float:
        """Return the likelihood of a window, summed over the weighted hands."""
        return self._both[window]

    def pair(self, window: int) -> Pair:
        """Return the likelihood of a window with each hand."""
        return self._steady[window], self._hasty[window]

    def falling(self, least: float) -> Iterator[tuple[float, Sequence[int]]]:
        """Give windows one by one with their weight, falling, down to `least`."""
        found = [(weight, w) for w, weight in enumerate(self._weights) if weight >= least]
        found.sort(key=lambda one: -one[0])
        for weight, window in found:
            yield weight, (window,)
