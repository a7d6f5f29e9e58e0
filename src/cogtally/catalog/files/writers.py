"""Families as TOML and CSV, always alike: the same catalog is the same text, to the byte.

Reading them back is left to `toml` and `csv`. What a sheet has no place for is told here.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from cogtally.catalog.files.csv import GAP, LONGEST_CELL, MOST_DECIMALS, RATIO_PREFIX
from cogtally.catalog.model import Family, RatioSet, family_table, set_table, written_number
from cogtally.gears.errors import UserError, few, text_cell
from cogtally.gears.trains import wheel_names

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
    own = family_table(family)
    tables = {name: own.pop(name) for name in ("pieces", "same", "paths")}
    lines = [head, *_given(own)]
    for name, values in tables.items():
        if values:
            lines += ["", f"[{table}.{name}]", *_keys(values)]
    for known in family.sets:
        lines += ["", f"[[{sets}]]", *_set(known, sets)]
    return lines


def _set(known: RatioSet, table: str) -> list[str]:
    own = set_table(known)
    features = own.pop("features")
    if known.commonness == 1:
        del own["commonness"]
    return [*_given(own), *([f"[{table}.features]", *_keys(features)] if features else [])]


def _given(table: Mapping[str, Any]) -> list[str]:
    """The keys of a family or a set that have a value, and its id."""
    return [
        f"{key} = {written_number(value) if isinstance(value, (int, float)) else _value(value)}"
        for key, value in table.items()
        if value or key == "id"
    ]


def _keys(table: Mapping[str, Any]) -> list[str]:
    return [f"{_key(key)} = {_value(value)}" for key, value in table.items()]


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


_FIRST = ("family", "layout", "direct", "set", "name", "commonness", "source")
_NEEDS_QUOTES = frozenset(',"\r\n')


def lost_in_csv(family: Family) -> tuple[str, ...]:
    """Return what a sheet would lose of a family, and must not: `laygear's features`, or none."""
    found = [
        *(["its pieces"] if family.given_pieces else []),
        *(["its spelled-out paths"] if family.paths else []),
        *(["its shared wheels"] if family.same else []),
    ]
    for what in ("marks", "features"):
        of = [known.id for known in family.sets if getattr(known, what)]
        if of:
            found.append(f"the {what} of {few(of)}")
    return tuple(found)


def left_out_of_csv(family: Family) -> tuple[str, ...]:
    """Return what a sheet leaves out of a family that changes no answer: its name, a note."""
    given = {
        "name": family.name,
        "aliases": family.aliases,
        "note": family.note,
        "centre distance": family.centre_distance_mm,
        "aliases of sets": any(known.aliases for known in family.sets),
    }
    return tuple(what for what, value in given.items() if value)


def csv_of(families: Sequence[Family]) -> str:
    """Return families as one CSV text; raise UserError where a sheet would lose something."""
    for family in families:
        lost = lost_in_csv(family)
        if lost:
            mend = "write TOML, which keeps all of it"
            raise UserError(f"CSV would lose {'; '.join(lost)}", family.id, mend)
    sets = [(family, known) for family in families for known in family.sets]
    # The columns of a pair stand together, so that their order does not hang on which family has
    # an idler: read back, the pairs of every family stand in the order of the columns.
    sizes: dict[str, int] = {}
    for family, known in sets:
        for pair, teeth in _pairs(family, known).items():
            sizes[pair] = max(len(teeth), sizes.get(pair, 0))
    wheels = [wheel for pair, size in sizes.items() for wheel in wheel_names(pair, size)]
    gears = dict.fromkeys(RATIO_PREFIX + gear for _, known in sets for gear in known.ratios)
    columns = [*_FIRST, *(["decimals"] if gears else []), *wheels, *gears]
    lines = [columns]
    for family, known in sets:
        cells = _cells(family, known)
        lines.append([text_cell(cells.get(column, "")) for column in columns])
    return "\n".join(",".join(map(_written, line)) for line in lines) + "\n"


def _cells(family: Family, known: RatioSet) -> dict[str, str]:
    """The cells of a set's row by column; those that are not there are empty."""
    cells = {
        "family": family.id,
        "layout": family.layout,
        "direct": (family.direct or "").strip(),
        "set": known.id,
        "name": known.name.strip(),
        "commonness": _commonness(family, known),
        "source": known.source.strip(),
        "decimals": _decimals(known),
    }
    for pair, teeth in _pairs(family, known).items():
        for wheel, count in zip(wheel_names(pair, len(teeth)), teeth, strict=True):
            cells[wheel] = GAP if count is None else str(count)
    cells.update((RATIO_PREFIX + gear, text) for gear, text in known.ratios.items())
    return cells


def _pairs(family: Family, known: RatioSet) -> dict[str, tuple[int | None, ...]]:
    """The pairs of a set in the order of its family's first; a set without counts has none."""
    if not known.is_counted:
        return {}
    return {pair: known.pairs[pair] for pair in family.counted_sets[0].pairs if pair in known.pairs}


def _commonness(family: Family, known: RatioSet) -> str:
    text = format(Decimal(written_number(known.commonness)), "f")
    if len(text) > LONGEST_CELL:
        sentence = f"a commonness of {written_number(known.commonness)} has no place in a sheet"
        raise UserError(sentence, f"{family.id}/{known.id}", "write TOML, which keeps it")
    return text


def _decimals(known: RatioSet) -> str:
    """The decimals that all ratios of a set are written with; empty where they differ."""
    parts = {gear: text.partition(".") for gear, text in known.ratios.items()}
    numbers = {len(decimals) for _, _, decimals in parts.values()}
    whole = all(before for before, _, _ in parts.values())
    if len(numbers) != 1 or not whole or max(numbers) > MOST_DECIMALS:
        return ""
    return str(numbers.pop())


def _written(cell: str) -> str:
    if _NEEDS_QUOTES.isdisjoint(cell):
        return cell
    doubled = cell.replace('"', '""')
    return f'"{doubled}"'
