"""The search index of a book as a file beside it: named parts of bytes, for one state of the book.

What the parts hold is left to `index_build` and `index_search`. The file is a convenience: absent,
old or spoilt it is as if it were not there, never an error.
"""

from __future__ import annotations

import json
import mmap
import os
import zlib
from array import array
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cogtally.catalog.bits import NUMBER, Lists, byte_order

if TYPE_CHECKING:
    import sqlite3

#: The version of the file: one of another version is no good.
VERSION = 1
ENDING = ".search"
_MAGIC = b"Cogtally search\n"
_LENGTH = 8
_ROOM = "catalog"


class IndexSpoiltError(Exception):
    """The index is not what was written for this state of the book."""


def index_path(book: Path, ending: str = ENDING) -> Path:
    """Return where the search index of a book, or what else is kept so, stands."""
    return book.with_name(book.name + ending)


def state_of(book: sqlite3.Connection) -> list[Any]:
    """Return what tells one state of a book's catalog from another.

    It is the last entry of the catalog's log, and how many families and sets there are.
    """
    asked = "SELECT id, at, what FROM log WHERE room = ? ORDER BY id DESC LIMIT 1"
    last = book.execute(asked, [_ROOM]).fetchone() or (0, "", "")
    counts = book.execute(
        "SELECT (SELECT count(*) FROM families), (SELECT count(*) FROM sets)"
    ).fetchone()
    return [*last, *counts]


class Parts:
    """The parts of an index, out of a file or as they were just made."""

    def __init__(self, places: Mapping[str, tuple[int, int, int]], data: memoryview) -> None:
        self._places, self._data = places, data

    def raw(self, name: str) -> memoryview:
        """Return the bytes of a part; raise IndexSpoiltError where they are not as written."""
        if name not in self._places:
            raise IndexSpoiltError(f"there is no part {name}")
        start, length, total = self._places[name]
        part = self._data[start : start + length]
        if len(part) != length or zlib.crc32(part) != total:
            raise IndexSpoiltError(f"part {name} is spoilt")
        return part

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


def parts_of(parts: Mapping[str, bytes]) -> Parts:
    """Return parts that were just made, in the form in which a file gives them."""
    places, data = _placed(parts)
    return Parts(places, memoryview(data))


def read_index(book: Path, state: list[Any], ending: str = ENDING) -> Parts | None:
    """Return the index beside a book, or None where there is none of that state of it."""
    try:
        with open(index_path(book, ending), "rb") as stream:
            data = memoryview(mmap.mmap(stream.fileno(), 0, access=mmap.ACCESS_READ))
        begins = len(_MAGIC) + _LENGTH
        if data[: len(_MAGIC)] != _MAGIC:
            return None
        length = int.from_bytes(data[len(_MAGIC) : begins], "little")
        head = json.loads(data[begins : begins + length].tobytes())
        if head["version"] != VERSION or head["order"] != byte_order() or head["state"] != state:
            return None
        places = {name: (int(a), int(b), int(c)) for name, (a, b, c) in head["parts"].items()}
        return Parts(places, data[begins + length :])
    except (OSError, ValueError, LookupError, TypeError, AttributeError):
        return None


def write_index(
    book: Path, state: list[Any], parts: Mapping[str, bytes], ending: str = ENDING
) -> bool:
    """Write an index beside a book, whole or not at all; tell whether that went well."""
    places, data = _placed(parts)
    head = {"version": VERSION, "order": byte_order(), "state": state, "parts": places}
    begins = json.dumps(head).encode()
    unfinished = book.with_name(f".{book.name}{ending}-{os.getpid()}")
    try:
        with open(unfinished, "wb") as stream:
            stream.write(_MAGIC + len(begins).to_bytes(_LENGTH, "little") + begins)
            stream.write(data)
        os.replace(unfinished, index_path(book, ending))
    except OSError:
        with suppress(OSError):
            unfinished.unlink()
        return False
    return True


def _placed(parts: Mapping[str, bytes]) -> tuple[dict[str, tuple[int, int, int]], bytes]:
    places: dict[str, tuple[int, int, int]] = {}
    start = 0
    for name, part in parts.items():
        places[name] = (start, len(part), zlib.crc32(part))
        start += len(part)
    return places, b"".join(parts.values())
