"""Families as TOML, always in the same order and shape, so that the same catalog is the same text.

Reading it back is left to `toml`, the disk to `export`.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from cogtally.catalog.model import Family, RatioSet
from cogtally.catalog.pair_text import written_number, written_pair

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_ESCAPES = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\r": "\\r", "\t": "\\t"}
#: Characters that join letters, without which words of some scripts are other words.
_JOINERS = "\N{ZERO WIDTH NON-JOINER}\N{ZERO WIDTH JOINER}"


def toml_of(families: Sequence[Family]) -> str:
    """Return families as one TOML text: `[family]` for one, `[[family]]` for several or none."""
    if len(families) == 1:
        return _text(_family(families[0], "[family]", "family", "set"))
    lines: list[str] = []
    for family in families:
        lines += ["", *_family(family, "[[family]]", "family", "family.set")]
    return _text(lines[1:])


def _text(lines: Iterable[str]) -> str:
    return "\n".join(lines) + "\n"


def _family(family: Family, head: str, table: str, sets: str) -> list[str]:
    lines = [head, f"id = {_quoted(family.id)}"]
    lines += _texts_given(name=family.name)
    lines += _list_given("aliases", family.aliases)
    lines += _texts_given(layout=family.layout, direct=family.direct or "")
    if family.centre_distance_mm is not None:
        lines.append(f"centre_distance_mm = {written_number(family.centre_distance_mm)}")
    lines += _texts_given(note=family.note)
    tables: tuple[tuple[str, Mapping[str, Any]], ...] = (
        ("pieces", family.given_pieces),
        ("same", family.same),
        ("paths", family.paths),
    )
    for name, values in tables:
        if values:
            lines += ["", f"[{table}.{name}]"]
            lines += [f"{_key(key)} = {_value(value)}" for key, value in values.items()]
    for known in family.sets:
        lines += ["", f"[[{sets}]]", *_set(known, sets)]
    return lines


def _set(known: RatioSet, table: str) -> list[str]:
    lines = [f"id = {_quoted(known.id)}"]
    lines += _texts_given(name=known.name)
    lines += _list_given("aliases", known.aliases)
    if known.commonness != 1:
        lines.append(f"commonness = {written_number(known.commonness)}")
    lines += _texts_given(source=known.source)
    pairs = {pair: written_pair(teeth) for pair, teeth in known.pairs.items()}
    for name, values in (("pairs", pairs), ("ratios", known.ratios), ("marks", known.marks)):
        if values:
            lines.append(f"{name} = {_value(values)}")
    if known.features:
        lines.append(f"[{table}.features]")
        lines += [f"{_key(owner)} = {_value(given)}" for owner, given in known.features.items()]
    return lines


def _texts_given(**texts: str) -> list[str]:
    return [f"{key} = {_quoted(text)}" for key, text in texts.items() if text]


def _list_given(key: str, texts: Sequence[str]) -> list[str]:
    return [f"{key} = {_value(texts)}"] if texts else []


def _value(value: Any) -> str:
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, Mapping):
        inner = ", ".join(f"{_key(key)} = {_value(item)}" for key, item in value.items())
        return f"{{ {inner} }}" if inner else "{}"
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(map(_value, value))}]"
    return repr(value)


def _key(text: str) -> str:
    return text if _BARE.fullmatch(text) else _quoted(text)


def _quoted(text: str) -> str:
    if text.isascii() and text.isprintable() and '"' not in text and "\\" not in text:
        return f'"{text}"'
    return '"' + "".join(map(_escaped, text)) + '"'


def _escaped(letter: str) -> str:
    """Letters of every script as they are; what cannot be seen, as its number."""
    if letter in _ESCAPES:
        return _ESCAPES[letter]
    if letter in _JOINERS or unicodedata.category(letter) not in ("Cc", "Cf", "Zl", "Zp"):
        return letter
    return f"\\u{ord(letter):04X}" if ord(letter) < 0x10000 else f"\\U{ord(letter):08X}"
