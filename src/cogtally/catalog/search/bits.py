"""Sets of small numbers as one large whole number, a bit for each: quick to join and to part.

What the numbers stand for is left to `index_search`.
"""

from __future__ import annotations

import sys
from array import array
from collections.abc import Iterable, Iterator

#: Numbers are kept as arrays of these, four bytes each.
NUMBER = "I"


def bits_of(numbers: Iterable[int], size: int) -> int:
    """Return the set of these numbers, each below `size`."""
    found = bytearray(size // 8 + 1)
    for number in numbers:
        found[number >> 3] |= 1 << (number & 7)
    return int.from_bytes(found, "little")


def numbers_in(bits: int) -> Iterator[int]:
    """Yield the numbers of a set, rising."""
    while bits:
        lowest = bits & -bits
        yield lowest.bit_length() - 1
        bits ^= lowest


def below(size: int) -> int:
    """Return the set of all numbers from 0 up to `size`, that one out."""
    return (1 << size) - 1


def runs_behind(starts: int, others: int) -> int:
    """Return the runs of `others` that stand right behind one of `starts`.

    `others` are numbers that begin no run. One is carried through each run and turns it to nought:
    what was there before and is not there then is the runs.
    """
    return others & ~(others + (starts << 1))


class Lists:
    """Many lists of numbers below `size` in one text of bytes: short ones as numbers, long as bits.

    `ends` are where each list ends. Raises ValueError for what cannot be such lists.
    """

    def __init__(self, ends: array[int], data: memoryview, size: int) -> None:
        if (ends[-1] if ends else 0) != len(data):
            raise ValueError("the lists do not end where their bytes do")
        self._ends, self._data, self._size = ends, data, size

    def __len__(self) -> int:
        return len(self._ends)

    def joined(self, which: Iterable[int]) -> int:
        """Return all numbers of some lists as one set."""
        whole = _whole(self._size)
        short = bytearray(whole)
        long = 0
        for place in which:
            part = self._data[self._ends[place - 1] if place else 0 : self._ends[place]]
            if len(part) == whole:
                long |= int.from_bytes(part, "little")
            else:
                for number in array(NUMBER, part.tobytes()):
                    short[number >> 3] |= 1 << (number & 7)
        return long | int.from_bytes(short, "little")


def packed(lists: Iterable[Iterable[int]], size: int) -> tuple[array[int], bytes]:
    """Return lists of numbers below `size` as their ends and their bytes, for `Lists`."""
    whole = _whole(size)
    ends = array(NUMBER)
    parts: list[bytes] = []
    end = 0
    for numbers in lists:
        part = array(NUMBER, numbers).tobytes()
        if len(part) >= whole:
            part = bits_of(array(NUMBER, part), size).to_bytes(whole, "little")
        parts.append(part)
        end += len(part)
        ends.append(end)
    return ends, b"".join(parts)


def _whole(size: int) -> int:
    """Bytes of a set kept as bits; a list kept as numbers has fewer."""
    return size // 8 + 1


def byte_order() -> str:
    """Return how numbers stand in memory here: a file from elsewhere may have them otherwise."""
    return f"{sys.byteorder} {array(NUMBER).itemsize}"
