"""Where in a TOML text the tables and keys of families and sets stand, line by line.

What is wrong there is left to others. A light scan, made only where something is wrong: it
follows headers and keys at the start of lines, which is how catalogs are written.
"""

from __future__ import annotations

import re
from functools import cached_property

_PART = r"""(?:"(?:[^"\\]|\\.)*+"|'[^']*+'|[A-Za-z0-9_-]++)"""
_KEY = re.compile(rf"\s*+({_PART}(?:\s*+\.\s*+{_PART})*+)\s*+=")
_HEADER = re.compile(rf"\s*+(\[\[?)\s*+({_PART}(?:\s*+\.\s*+{_PART})*+)\s*+\]")
_PARTS = re.compile(_PART)
_MULTILINE = re.compile(r"\"\"\"|'''")

#: Number of the family in its file, number of the set in its family (None: the family), key.
Address = tuple[int, int | None, str]


class TomlPlaces:
    """The lines of one TOML text's tables and keys."""

    def __init__(self, text: str) -> None:
        self.text = text

    def line(self, family_no: int, set_no: int | None, key: str) -> int | None:
        """Return the line of a key, or else of the nearest table above it; None if unknown."""
        if set_no is None and key == "set":
            return self.line_of_top(key)
        parts = key
        while parts:
            found = self._lines.get((family_no, set_no, parts))
            if found is not None:
                return found
            parts = parts.rpartition(".")[0]
        found = self._lines.get((family_no, set_no, ""))
        if found is None and set_no is not None:
            return self._lines.get((family_no, None, ""))
        return found

    def line_of_top(self, key: str) -> int | None:
        """Return the line where a top-level key or table of the file is first named."""
        return self._top.get(key)

    @cached_property
    def _lines(self) -> dict[Address, int]:
        return self._scan[0]

    @cached_property
    def _top(self) -> dict[str, int]:
        return self._scan[1]

    @cached_property
    def _scan(self) -> tuple[dict[Address, int], dict[str, int]]:
        lines: dict[Address, int] = {}
        top: dict[str, int] = {}
        family_no, set_no = -1, -1
        table: list[str] = []
        quotes = ""
        for number, line in enumerate(self.text.split("\n"), start=1):
            started_inside = bool(quotes)
            for mark in _MULTILINE.findall(line):
                quotes = "" if quotes == mark else (quotes or mark)
            if started_inside:
                continue
            header = _HEADER.match(line)
            if header is not None:
                table = _names(header[2])
                top.setdefault(table[0], number)
                several = header[1] == "[["
                if table == ["family"] and (several or family_no < 0):
                    family_no, set_no = family_no + 1, -1
                elif table in (["set"], ["family", "set"]):
                    set_no = set_no + 1 if several else max(set_no, 0)
                lines.setdefault(_address(family_no, set_no, table, []), number)
                continue
            key = _KEY.match(line)
            if key is not None:
                names = _names(key[1])
                if not table:
                    top.setdefault(names[0], number)
                lines.setdefault(_address(family_no, set_no, table, names), number)
        return lines, top


def _address(family_no: int, set_no: int, table: list[str], key: list[str]) -> Address:
    path = table + key
    if path[:1] == ["set"]:
        return (max(family_no, 0), set_no, ".".join(path[1:]))
    if path[:2] == ["family", "set"]:
        return (max(family_no, 0), set_no, ".".join(path[2:]))
    return (max(family_no, 0), None, ".".join(path[1:]))


def _names(dotted: str) -> list[str]:
    """The parts of a dotted key, without their quotes."""
    return [part[1:-1] if part[0] in "\"'" else part for part in _PARTS.findall(dotted)]
