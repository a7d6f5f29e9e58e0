"""Every window of a large catalog weighed at once, in arrays.

What a window is, is left to `loose_frames`; what the weights come to, to `loose`.

A window's weight is a product over its places. Stretches of wheels are put together by halves, each
different stretch once: thousands of windows of five wheels share some hundred beginnings and ends.
Both hands stand in one complex number, the steady one as its real part, the hasty one as its
imaginary part; that saves every second look-up. They are multiplied part by part, never as
complex numbers.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from cogtally.evidence.loose_frames import Frame, Pair, Place

Reals = npt.NDArray[np.float64]
Pairs = npt.NDArray[np.complex128]
Numbers = npt.NDArray[np.intp]

#: Of a row of more windows only those that matter are looked at one by one.
SHORT_ROW = 8


class _Stretches:
    """The different stretches of wheels at places low…high−1, put together from two halves."""

    def __init__(self, windows: Sequence[tuple[int, ...]], low: int, high: int) -> None:
        found = sorted({window[low:high] for window in windows})
        self.number = {stretch: i for i, stretch in enumerate(found)}
        self.low = low
        self.codes: Numbers | None = None
        if high - low == 1:
            self.codes = np.array([stretch[0] for stretch in found], dtype=np.intp)
            return
        middle = (low + high) // 2
        self.halves = _Stretches(windows, low, middle), _Stretches(windows, middle, high)
        self.left, self.right = (
            np.array([half.number[s[cut]] for s in found], dtype=np.intp)
            for half, cut in zip(
                self.halves,
                (slice(None, middle - low), slice(middle - low, None)),
                strict=True,
            )
        )

    def values(self, seen: Sequence[Place | None]) -> Pairs | None:
        """Return the likelihood of each stretch; None where no place of it was counted."""
        if self.codes is not None:
            place = seen[self.low]
            return None if place is None else _array(place).take(self.codes)
        left, right = (half.values(seen) for half in self.halves)
        if left is None:
            return None if right is None else right.take(self.right)
        if right is None:
            return left.take(self.left)
        return _product(left.take(self.left), right.take(self.right))


class Stack:
    """The windows of a frame, sorted by their first half, a row for each different one."""

    def __init__(self, frame: Frame) -> None:
        length = len(frame.windows[0])
        middle = max(length // 2, 1)
        self.first = _Stretches(frame.windows, 0, middle)
        self.second = _Stretches(frame.windows, middle, length) if middle < length else None
        rows = [self.first.number[window[:middle]] for window in frame.windows]
        #: The windows of row r are order[starts[r]:starts[r + 1]].
        self.order = sorted(range(len(rows)), key=lambda window: rows[window])
        self.row = rows
        #: The prior of each window in that order, and once more for each hand.
        self.each = np.array([frame.weights[window] for window in self.order])
        self.weights = np.repeat(self.each, 2)
        self.column: list[int] = []
        if self.second is not None:
            self.column = [self.second.number[window[middle:]] for window in frame.windows]
        self.columns = np.array(
            [self.column[w] for w in self.order] if self.column else [], np.intp
        )
        self.starts = np.searchsorted(np.array(rows)[self.order], np.arange(max(rows) + 1))
        self.ends = np.append(self.starts[1:], len(rows))
        #: The prior of each row, alike for both hands.
        self.whole = np.add.reduceat(self.each, self.starts) * (1 + 1j)

    def weigh(self, seen: Sequence[Place | None], hands: Pair) -> StackedWeights:
        """Weigh every window by what was seen; `hands` are the weights of the two hands."""
        return StackedWeights(self, seen, hands)


class StackedWeights:
    """What each window weighs, worked out to the row, further only where somebody looks.

    `sums`: prior times likelihood over all windows, a number for each hand.
    """

    def __init__(self, stack: Stack, seen: Sequence[Place | None], hands: Pair) -> None:
        self._stack = stack
        self._hands = hands
        self._first = stack.first.values(seen)
        self._second = None if stack.second is None else stack.second.values(seen)
        rows = stack.whole
        if self._second is not None:
            weighed = self._second.take(stack.columns)
            parts = weighed.view(np.float64)
            parts *= stack.weights
            rows = np.add.reduceat(weighed, stack.starts)
        if self._first is not None:
            rows = _product(self._first.copy(), rows)
        steady, hasty = rows.real, rows.imag
        self.sums: Pair = float(steady.sum()), float(hasty.sum())
        self._rows: Reals = hands[0] * steady + hands[1] * hasty

    def value(self, window: int) -> float:
        """Return the likelihood of one window, summed over the hands."""
        steady, hasty = self.pair(window)
        return self._hands[0] * steady + self._hands[1] * hasty

    def pair(self, window: int) -> Pair:
        """Return the likelihood of one window with each hand."""
        stack = self._stack
        steady = hasty = 1.0
        if self._first is not None:
            first = self._first.item(stack.row[window])
            steady, hasty = first.real, first.imag
        if self._second is not None:
            second = self._second.item(stack.column[window])
            steady, hasty = steady * second.real, hasty * second.imag
        return steady, hasty

    def falling(self, least: float) -> Iterator[tuple[float, Sequence[int]]]:
        """Give windows row by row with what the row weighs, falling, down to `least`.

        No window of a row weighs more than its row; those below `least` may be left out.
        """
        stack = self._stack
        found = (self._rows >= least).nonzero()[0]
        if len(found) > 1:
            found = found[np.argsort(-self._rows[found], kind="stable")]
        for row in found.tolist():
            start, end = stack.starts.item(row), stack.ends.item(row)
            windows: Sequence[int] = stack.order[start:end]
            if end - start > SHORT_ROW:
                weights = self._weights_of(row, start, end)
                windows = [windows[i] for i in (weights >= least).nonzero()[0].tolist()]
            yield self._rows.item(row), windows

    def _weights_of(self, row: int, start: int, end: int) -> Reals:
        """What each window of a row weighs."""
        stack = self._stack
        steady, hasty = self._hands
        if self._first is not None:
            first = self._first.item(row)
            steady, hasty = steady * first.real, hasty * first.imag
        if self._second is None:
            return stack.each[start:end] * (steady + hasty)
        second = self._second.take(stack.columns[start:end])
        weights: Reals = steady * second.real
        weights += hasty * second.imag
        weights *= stack.each[start:end]
        return weights


def _array(place: Place) -> Any:
    """The likelihood of every code, both hands in one number."""
    if place.array is None:
        steady, hasty = place.by_code
        place.array = np.array(steady) + 1j * np.array(hasty)
    return place.array


def _product(into: Pairs, other: Pairs) -> Pairs:
    """Multiply hand by hand; the first array is written over."""
    parts = into.view(np.float64)
    parts *= other.view(np.float64)
    return into
