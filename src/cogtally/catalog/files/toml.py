"""A TOML text to drafts of families; its syntax errors, with line and column.

Tables of families and sets are read by `draft`; the disk is left to `files`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from cogtally.catalog.draft import MOST_FINDINGS, MOST_UNKNOWN, Draft, draft_family
from cogtally.catalog.problem import Problem, file_error
from cogtally.gears.errors import shown

TOP_KEYS = ("family", "set")

#: More parts in one dotted key than any catalog has; the reader would take their square in time.
MOST_KEY_PARTS = 50
#: No honest file has more, and the reader would take minutes and gigabytes for them.
MOST_TABLES, MOST_VALUES = 60_000, 400_000
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
        return TomlReading(
            problems=(file_error("too-big", file, large, "part it into smaller ones"),)
        )
    if len(text) > _SMALL and _LONG_KEY.search(text) is not None:
        return TomlReading(
            problems=(file_error("too-deep", file, "a key of too many parts was read"),)
        )
    try:
        document = tomllib.loads(text)
    except RecursionError:
        mend = "a family needs no more than three tables in one another"
        return TomlReading(
            problems=(
                file_error("too-deep", file, "tables or lists stand too deep in one another", mend),
            )
        )
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
            line = _line(text, "set")
            problems = (*problems, file_error("wrong-kind", file, sentence, mend, line, key="set"))
        return TomlReading(_some_of_many(family), problems)
    if "family" in document:
        sentence = "family is no table"
        mend = 'write [family] and below it id = "…"'
        line = _line(text, "family")
        problems = (*problems, file_error("wrong-kind", file, sentence, mend, line, key="family"))
    elif not any(problem.mend == "did you mean family?" for problem in problems):
        sentence = "there is no family in this file"
        mend = 'write [family] and below it id = "…" and layout = "layshaft"'
        problems = (*problems, file_error("no-family", file, sentence, mend))
    return TomlReading(problems=problems)


def _some_of_many(families: Sequence[Mapping[str, object]]) -> tuple[Draft, ...]:
    """The drafts of all families, or of the first where they have more errors than are told."""
    found: list[Draft] = []
    findings = 0
    for table in families:
        if findings > MOST_FINDINGS:
            break
        found.append(_one_of_many(table))
        findings += len(found[-1].findings)
    return tuple(found)


def _too_large(text: str) -> str:
    """What makes a text more than the reader should be given; empty for any honest one."""
    if len(text) <= _SMALL:
        return ""
    counts = (
        (MOST_TABLES, "tables", len(_TABLE.findall(text)) + text.count("{")),
        (MOST_TABLES, "tables", sum(key.count(".") for key in _DOTTED.findall(text))),
        (MOST_VALUES, "keys", text.count("=")),
        (MOST_VALUES, "values in lists", text.count(",")),
        (MOST_VALUES, "lists", text.count("[")),
    )
    return next((f"the file has more than {m:,} {w}" for m, w, n in counts if n > m), "")


def _one_of_many(table: Mapping[str, object]) -> Draft:
    rest = {key: value for key, value in table.items() if key != "set"}
    return draft_family(rest, table.get("set", []))


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
            _line(text, key),
            key=shown(key),
        )
        for key in unknown
    )


def _line(text: str, key: str) -> int | None:
    from cogtally.catalog.draft import TomlPlaces

    return TomlPlaces(text).line_of_top(key)


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
