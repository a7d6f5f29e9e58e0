"""The search index of a book as a file beside it: named parts of bytes, for one state of the book.

What the parts hold is left to `index_build` and `index_search`. The file is a convenience: absent,
old or spoilt it is as if it were not there, never an error.
"""

from __future__ import annotations

import json
import mmap
import sys
import zlib
from array import array
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from cogtally.catalog.model import Catalog, Family, RatioSet, gear_ratios
from cogtally.catalog.search.small import LONGEST_WHOLE, compact, texts_of, tokens_of
from cogtally.gears.trains import OVERDRIVE
from cogtally.store import write_beside

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


#: The version of the file: one of another version is no good.
VERSION = 3
ENDING = ".search"
_MAGIC = b"Cogtally search\n"
#: Behind it stand the length of the head and its sum, then the head.
_LENGTH, _SUM = 8, 8
_BEFORE = len(_MAGIC) + _LENGTH + _SUM
#: Parts begin at multiples of this, so that arrays can be used as they stand.
_ALIGNED = 64

Part = bytes | memoryview


class IndexSpoiltError(Exception):
    """The index is not what was written for this state of the book."""


def index_path(book: Path, ending: str = ENDING) -> Path:
    """Return where the search index of a book, or what else is kept so, stands."""
    return book.with_name(book.name + ending)


class Parts:
    """The parts of an index, out of a file or as they were just made."""

    def __init__(self, places: Mapping[str, tuple[int, int, int]], data: memoryview) -> None:
        self._places, self._data = places, data
        self._checked: set[str] = set()

    def __contains__(self, name: str) -> bool:
        return name in self._places

    def raw(self, name: str) -> memoryview:
        """Return the bytes of a part; raise IndexSpoiltError where they are not as written."""
        if name not in self._places:
            raise IndexSpoiltError(f"there is no part {name}")
        start, length, total = self._places[name]
        part = self._data[start : start + length]
        if name not in self._checked and (len(part) != length or zlib.crc32(part) != total):
            raise IndexSpoiltError(f"part {name} is spoilt")
        self._checked.add(name)
        return part

    def check(self) -> None:
        """Raise IndexSpoiltError where any part is not as written."""
        for name in self._places:
            self.raw(name)

    def text(self, name: str) -> str:
        """Return a part as text."""
        return str(self.raw(name), "utf-8")

    def document(self, name: str) -> Any:
        """Return a part as JSON has it."""
        return json.loads(self.text(name))

    def numbers(self, name: str, kind: str = NUMBER) -> array[Any]:
        """Return a part as an array of numbers."""
        return array(kind, self.raw(name).tobytes())

    def lists(self, name: str, size: int) -> Lists:
        """Return a part, and the one with its ends, as lists of numbers below `size`."""
        return Lists(self.numbers(f"{name}.ends"), self.raw(f"{name}.lists"), size)


def parts_of(parts: Mapping[str, Part]) -> Parts:
    """Return parts that were just made, in the form in which a file gives them."""
    return Parts(_placed(parts), memoryview(b"".join(_padded(parts))))


def read_index(book: Path, state: list[Any], ending: str = ENDING) -> Parts | None:
    """Return the index beside a book, or None where there is none of that state of it."""
    try:
        with open(index_path(book, ending), "rb") as stream:
            data = memoryview(mmap.mmap(stream.fileno(), 0, access=mmap.ACCESS_READ))
        if data[: len(_MAGIC)] != _MAGIC:
            return None
        length = int.from_bytes(data[len(_MAGIC) : _BEFORE - _SUM], "little")
        told = data[_BEFORE : _BEFORE + length].tobytes()
        if zlib.crc32(told) != int.from_bytes(data[_BEFORE - _SUM : _BEFORE], "little"):
            return None
        head = json.loads(told)
        if head["version"] != VERSION or head["order"] != byte_order() or head["state"] != state:
            return None
        places = {name: (int(a), int(b), int(c)) for name, (a, b, c) in head["parts"].items()}
        return Parts(places, data[_BEFORE + length :])
    except (OSError, ValueError, LookupError, TypeError, AttributeError):
        return None


def write_index(
    book: Path, state: list[Any], parts: Mapping[str, Part], ending: str = ENDING
) -> bool:
    """Write an index beside a book, whole or not at all; tell whether that went well."""
    places = _placed(parts)
    head = {"version": VERSION, "order": byte_order(), "state": state, "parts": places}
    begins = json.dumps(head).encode()
    begins += b" " * (-(_BEFORE + len(begins)) % _ALIGNED)
    sizes = len(begins).to_bytes(_LENGTH, "little") + zlib.crc32(begins).to_bytes(_SUM, "little")
    try:
        data = b"".join((_MAGIC, sizes, begins, *_padded(parts)))
        write_beside(index_path(book, ending), data)
    except OSError:
        return False
    return True


def _placed(parts: Mapping[str, Part]) -> dict[str, tuple[int, int, int]]:
    places: dict[str, tuple[int, int, int]] = {}
    end = 0
    for name, part in parts.items():
        start = end + -end % _ALIGNED
        places[name] = (start, len(part), zlib.crc32(part))
        end = start + len(part)
    return places


def _padded(parts: Mapping[str, Part]) -> Iterator[Part]:
    """The bytes of all parts, with what is left free before each."""
    end = 0
    for part in parts.values():
        yield b"\0" * (-end % _ALIGNED)
        yield part
        end += -end % _ALIGNED + len(part)


#: Kinds of arrays: a ratio is kept as the floating point number nearest to it.
RATIO = "d"
#: What stands between the words of a part; no word has one in it.
BETWEEN = "\n"


def index_of(catalog: Catalog) -> dict[str, bytes]:
    """Return the parts of the search index of a catalog."""
    building = _Building()
    for family in catalog.families:
        building.add(family)
    return building.parts()


class _Building:
    """The lists of numbers for each word, text, pair, wheel, ratio and source, as they grow."""

    def __init__(self) -> None:
        self.ids: list[str] = []
        self.starts: list[int] = []
        self.shared: list[int] = []
        self.tokens: dict[str, list[int]] = {}
        self.wholes: dict[str, list[int]] = {}
        self.pairs: dict[tuple[str, tuple[int | None, ...]], list[int]] = {}
        self.wheels: dict[tuple[str, int], list[int]] = {}
        self.sources: dict[str, list[int]] = {}
        self.source_words: dict[str, list[int]] = {}
        self.ratios: dict[str, list[tuple[float, int]]] = {}
        self._said: dict[str, tuple[tuple[str, ...], str]] = {}

    def add(self, family: Family) -> None:
        """Take in a family and its sets."""
        self.starts.append(len(self.ids))
        arranged = _Arranged(family)
        for known in (None, *family.sets):
            number = len(self.ids)
            self.ids.append(family.id if known is None else known.id)
            self._words(number, (text for _, text in texts_of(family, known)))
            if known is not None:
                self._teeth(number, known, arranged)
                self._source(number, known.source)

    def _words(self, number: int, texts: Iterable[str]) -> None:
        tokens: set[str] = set()
        for text in texts:
            said = self._said.get(text)
            if said is None:
                short = compact(text) if len(text) <= LONGEST_WHOLE else ""
                said = self._said[text] = (tokens_of(text), short)
            tokens.update(said[0])
            if said[1]:
                numbers = self.wholes.setdefault(said[1], [])
                if not numbers or numbers[-1] != number:
                    numbers.append(number)
        for token in tokens:
            self.tokens.setdefault(token, []).append(number)

    def _teeth(self, number: int, known: RatioSet, arranged: _Arranged) -> None:
        for pair, teeth in known.pairs.items():
            self.pairs.setdefault((pair, teeth), []).append(number)
        if arranged.shares:
            self.shared.append(number)
            for wheel, count in arranged.counts(known).items():
                self.wheels.setdefault((wheel, count), []).append(number)
        for gear, ratio in arranged.ratios(known):
            self.ratios.setdefault(gear, []).append((ratio, number))

    def _source(self, number: int, source: str) -> None:
        if not source:
            return
        said = source.casefold()
        self.sources.setdefault(said, []).append(number)

    def parts(self) -> dict[str, bytes]:
        """Return everything as parts of bytes."""
        size = len(self.ids)
        for said, numbers in self.sources.items():
            for word in set(said.split()):
                self.source_words.setdefault(word, []).extend(numbers)
        found = {
            "starts": array(NUMBER, self.starts).tobytes(),
            "shared": array(NUMBER, self.shared).tobytes(),
            **_named("ids", self.ids),
            **_listed("tokens", self.tokens, size),
            **_listed("wholes", self.wholes, size),
            **_listed("words", self.source_words, size),
            "sources": _json(list(self.sources)),
            **_lists("sources", self.sources.values(), size),
            "pairs": _json([[pair, *teeth] for pair, teeth in self.pairs]),
            **_lists("pairs", self.pairs.values(), size),
            "wheels": _json(list(self.wheels)),
            **_lists("wheels", self.wheels.values(), size),
            "gears": _json(list(self.ratios)),
        }
        for place, ratios in enumerate(self.ratios.values()):
            ratios.sort()
            found[f"ratios.{place}"] = array(RATIO, (ratio for ratio, _ in ratios)).tobytes()
            found[f"numbers.{place}"] = array(NUMBER, (number for _, number in ratios)).tobytes()
        return found


class _Arranged:
    """How the pairs of one family make its gears, worked out once for all its sets."""

    def __init__(self, family: Family) -> None:
        self.family = family
        self.shares = bool(family.same)
        train = family.train
        self.paths = {gear: train.path_wheels(train.path(gear) or ()) for gear in train.gears}
        self._known: dict[tuple[int | None, ...], float | None] = {}

    def counts(self, known: RatioSet) -> dict[str, int]:
        """The counted wheels of a set, under every name that they have."""
        if not known.is_counted:
            return {}
        teeth = self.family.teeth_of(known)
        named = {name: teeth.get(wheel) for name, wheel in self.family.train.names.items()}
        return {name: count for name, count in named.items() if count is not None}

    def ratios(self, known: RatioSet) -> Iterable[tuple[str, float]]:
        """The ratios of a set, each gear's own one and the printed one."""
        if known.is_counted and self.family.layout == OVERDRIVE:
            for gear, exact in gear_ratios(self.family, known).items():
                if exact is not None:
                    yield gear, float(exact)
        elif known.is_counted:
            teeth = self.family.teeth_of(known)
            for gear, wheels in self.paths.items():
                ratio = self._ratio(tuple(teeth.get(wheel) for ends in wheels for wheel in ends))
                if ratio is not None:
                    yield gear, ratio
        for gear, printed in known.ratios.items():
            yield gear, float(printed)

    def _ratio(self, counts: tuple[int | None, ...]) -> float | None:
        """Driven over driver of all pairs: whole numbers first, so that it is rounded but once."""
        if counts not in self._known:
            over = under = 1
            for place, count in enumerate(counts):
                if count is None:
                    over = 0
                elif place % 2:
                    over *= count
                else:
                    under *= count
            self._known[counts] = over / under if over else None
        return self._known[counts]


def _listed(name: str, lists: Mapping[str, list[int]], size: int) -> dict[str, bytes]:
    """Words in their order, and the numbers of each."""
    words = sorted(lists)
    text = BETWEEN.join(words).encode()
    return {name: text, **_lists(name, (lists[word] for word in words), size)}


def _lists(name: str, lists: Iterable[Iterable[int]], size: int) -> dict[str, bytes]:
    ends, data = packed(lists, size)
    return {f"{name}.ends": ends.tobytes(), f"{name}.lists": data}


def _named(name: str, texts: Iterable[str]) -> dict[str, bytes]:
    """Texts one after the other, and where each ends."""
    ends = array(NUMBER)
    parts: list[bytes] = []
    end = 0
    for text in texts:
        parts.append(text.encode())
        end += len(parts[-1])
        ends.append(end)
    return {f"{name}.ends": ends.tobytes(), name: b"".join(parts)}


def _json(document: Any) -> bytes:
    return json.dumps(document, ensure_ascii=False, separators=(",", ":")).encode()
