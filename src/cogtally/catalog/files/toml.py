"""A TOML text to drafts of families; its syntax errors, and the lines where its keys stand.

Tables of families and sets are read by `draft`; the disk is left to `reading`. Lines are looked for
only where something is wrong, by a light scan: it follows headers and keys at the start of lines.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from cogtally.catalog.draft import MOST_FINDINGS, MOST_UNKNOWN, Draft, draft_family
from cogtally.catalog.problem import Problem, file_error
from cogtally.gears.errors import shown

TOP_KEYS = ("family", "set")

#: More parts in one dotted key than any catalog has; the reader would take their square in time.
MOST_KEY_PARTS = 50
#: No honest file has more, and the reader would take minutes and gigabytes for them.
MOST_TABLES, MOST_VALUES = 60_000, 200_000
#: A longer number would take the reader more memory than all else of a file.
_LONG_NUMBER = re.compile(r"[0-9A-Fa-f_]{2000}")
#: A smaller file cannot keep the reader long, whatever is in it.
_SMALL = 16_384
_LONG_KEY = re.compile(rf"(?<![\w\"'-])(?:[\w\"'-]++\s*+\.\s*+){{{MOST_KEY_PARTS}}}")
_TABLE = re.compile(r"^[ \t]*\[", re.MULTILINE)
#: Each part of such a key but the last makes a table.
_DOTTED = re.compile(r"(?<![\w\"'-])[\w\"'-]++(?:[ \t]*\.[ \t]*[\w\"'-]++)++(?=[ \t]*[=\]])")
_AT = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)$")

#: What the TOML reader says most, in plainer words: its beginning, a sentence, a mend.
_PLAINER = (
    ("Cannot overwrite a value", "a key stands twice in one table", "take one of them out"),
    ("Cannot declare", "a table or a key stands twice", "take one of them out"),
    ("Cannot mutate immutable namespace", "a table is written twice", "write it in one place"),
    ("Duplicate inline table key", "a key stands twice in one table", "take one of them out"),
    ("Expected '=' after a key", "'=' is missing after a key", 'write key = "value"'),
    ("Invalid value", "this is no value", 'write texts in quotes: "17/28"'),
    ("Unterminated string", "the text has no quote at its end", 'write "…"'),
    ("Illegal character '\\n'", "the text has no quote at its end", 'write "…"'),
    ("Unclosed array", "a list has no ']' at its end", ""),
    ("Unclosed inline table", "'}' or ',' is missing in a table", 'write texts in quotes: "17/28"'),
    ("Expected newline or end", "nothing more was expected on this line", ""),
    ("Exceeds the limit", "a number of thousands of digits was read", ""),
    ("Unescaped '\\' in a string", "a '\\' stands in the text", "write '\\\\' for it"),
)


@dataclass(frozen=True, slots=True)
class TomlReading:
    """What one TOML text holds: drafts of its families, and problems that are of no family."""

    drafts: tuple[Draft, ...] = ()
    problems: tuple[Problem, ...] = ()


def read_toml(text: str, file: str) -> TomlReading:
    """Read one family, or several as `[[family]]` with their `[[family.set]]`, from a TOML text."""
    import tomllib

    large = _too_large(text)
    if large:
        return _wrong(file, "too-big", large, "part it into smaller ones")
    if len(text) > _SMALL and _LONG_KEY.search(text) is not None:
        return _wrong(file, "too-deep", "a key of too many parts was read")
    try:
        document = tomllib.loads(text)
    except RecursionError:
        mend = "a family needs no more than three tables in one another"
        return _wrong(file, "too-deep", "tables or lists stand too deep in one another", mend)
    except ValueError as error:
        return TomlReading(problems=(_syntax(str(error), file, text),))
    return _families(document, file, text)


def _families(document: Mapping[str, object], file: str, text: str) -> TomlReading:
    problems = _unknown_tables(document, file, text)
    family, sets = document.get("family"), document.get("set", [])
    if isinstance(family, dict):
        draft = draft_family(family, sets)
        if any(problem.mend == "did you mean set?" for problem in problems):
            draft = replace(draft, spoilt=draft.spoilt | {(None, "set")})
        return TomlReading((draft,), problems)
    if isinstance(family, list) and all(isinstance(table, dict) for table in family):
        if "set" in document:
            sentence = "sets stand apart from the families of this file"
            mend = "write [[family.set]] below each [[family]]"
            problems += (_wrong_kind(file, text, "set", sentence, mend),)
        return TomlReading(_some_of_many(family), problems)
    if "family" in document:
        mend = 'write [family] and below it id = "…"'
        problems += (_wrong_kind(file, text, "family", "family is no table", mend),)
    elif not any(problem.mend == "did you mean family?" for problem in problems):
        sentence = "there is no family in this file"
        mend = 'write [family] and below it id = "…" and layout = "layshaft"'
        problems += (file_error("no-family", file, sentence, mend),)
    return TomlReading(problems=problems)


def _some_of_many(families: Sequence[Mapping[str, object]]) -> tuple[Draft, ...]:
    """The drafts of all families, or of the first where they have more errors than are told."""
    found: list[Draft] = []
    findings = 0
    for table in families:
        if findings > MOST_FINDINGS:
            break
        own = {key: value for key, value in table.items() if key != "set"}
        found.append(draft_family(own, table.get("set", [])))
        findings += len(found[-1].findings)
    return tuple(found)


def _too_large(text: str) -> str:
    """What makes a text more than the reader should be given; empty for any honest one."""
    if len(text) <= _SMALL:
        return ""
    if _LONG_NUMBER.search(text) is not None:
        return "the file has a number of thousands of digits"
    counts = (
        (MOST_TABLES, "tables", len(_TABLE.findall(text)) + text.count("{")),
        (MOST_TABLES, "tables", sum(key.count(".") for key in _DOTTED.findall(text))),
        (MOST_VALUES, "keys", text.count("=")),
        (MOST_VALUES, "values in lists", text.count(",")),
        (MOST_VALUES, "lists", text.count("[")),
    )
    return next((f"the file has more than {m:,} {w}" for m, w, n in counts if n > m), "")


def _unknown_tables(document: Mapping[str, object], file: str, text: str) -> tuple[Problem, ...]:
    unknown = [key for key in document if key not in TOP_KEYS][: MOST_UNKNOWN + 1]
    if not unknown:
        return ()
    from cogtally.catalog.find import did_you_mean

    return tuple(
        file_error(
            "unknown-key",
            file,
            f"there is no table or key '{shown(key)}' at the top of a file",
            did_you_mean(key, TOP_KEYS),
            TomlPlaces(text).line_of_top(key),
            key=shown(key),
        )
        for key in unknown
    )


def _wrong_kind(file: str, text: str, key: str, sentence: str, mend: str) -> Problem:
    line = TomlPlaces(text).line_of_top(key)
    return file_error("wrong-kind", file, sentence, mend, line, key=key)


def _syntax(message: str, file: str, text: str) -> Problem:
    """Turn what the TOML reader says into a problem with its line and column."""
    found = _AT.search(message)
    line: int | None = None
    column: int | None = None
    if found is not None:
        message = message[: found.start()]
        if found[1]:
            line, column = int(found[1]), int(found[2])
        else:
            line = max(1, len(text.rstrip("\n").split("\n")))
    for begins, sentence, mend in _PLAINER:
        if message.startswith(begins):
            return file_error("bad-toml", file, f"no TOML: {sentence}", mend, line, column)
    said = shown(message if len(message) <= 100 else message[:99] + "…", 100)
    sentence = f"no TOML: {said[:1].lower()}{said[1:]}"
    return file_error("bad-toml", file, sentence, "", line, column)


def _wrong(file: str, code: str, sentence: str, mend: str = "") -> TomlReading:
    return TomlReading(problems=(file_error(code, file, sentence, mend),))


_PART = r"""(?:"(?:[^"\\]|\\.)*+"|'[^']*+'|[A-Za-z0-9_-]++)"""
_KEY = re.compile(rf"\s*+({_PART}(?:\s*+\.\s*+{_PART})*+)\s*+=")
_HEADER = re.compile(rf"\s*+(\[\[?)\s*+({_PART}(?:\s*+\.\s*+{_PART})*+)\s*+\]")
_PARTS = re.compile(_PART)
_MULTILINE = re.compile(r"\"\"\"|'''")

#: Number of the family in its file, number of the set in its family (None: the family), key.
Address = tuple[int, int | None, str]


class TomlPlaces:
    """The lines of one TOML text's tables and keys: gone through when one is first asked for."""

    def __init__(self, text: str) -> None:
        self.text = text

    def line(self, family_no: int, set_no: int | None, key: str) -> int | None:
        """Return the line of a key, or else of the nearest table above it; None if unknown."""
        if set_no is None and key == "set":
            return self.line_of_top(key)
        parts = key
        lines, _ = self._scan
        while parts:
            found = lines.get((family_no, set_no, parts))
            if found is not None:
                return found
            parts = parts.rpartition(".")[0]
        return lines.get((family_no, set_no, ""), lines.get((family_no, None, "")))

    def line_of_top(self, key: str) -> int | None:
        """Return the line where a top-level key or table of the file is first named."""
        return self._scan[1].get(key)

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
