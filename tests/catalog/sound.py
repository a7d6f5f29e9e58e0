"""A small sound catalog to spoil, a writer of TOML, and the problems of a text.

What is right and wrong is left to the tests.
"""

import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path

from cogtally.catalog.files.reading import read_catalog
from cogtally.catalog.model import Catalog
from cogtally.catalog.problem import Problem

SOUND = """\
[family]
id = "ash-4"
name = "Ash four-speed"
layout = "layshaft"
direct = "4"

[[set]]
id = "wide"
source = "counted on the bench, two boxes"
pairs = { input = "17/28", 1 = "14/31", 2 = "19/26", 3 = "24/21", R = "12/20/28" }

[[set]]
id = "late"
source = "counted on the bench, one box"
pairs = { input = "18/27", 1 = "14/31", 2 = "19/26", 3 = "23/22", R = "12/20/28" }
"""

BROCHURE = """
[[set]]
id = "brochure"
source = "a brochure"
ratios = { 1 = "3.29", 2 = "2.06", 3 = "1.32" }
"""

SLEEVE = """\
[family]
id = "sallow-3"
layout = "sleeve"
direct = "3"
[family.pieces]
mainshaft = ["1.driver", "2.driver"]
1-gear = ["1.driven"]
2-gear = ["2.driven"]
layshaft = ["output.driver"]
sleeve = ["output.driven"]

[[set]]
id = "road"
source = "counted"
pairs = { 1 = "16/28", 2 = "20/24", output = "18/26" }

[[set]]
id = "trial"
source = "counted"
pairs = { 1 = "14/30", 2 = "18/26", output = "18/26" }
"""

COMPOUND = """\
[family]
id = "tarn-3"
layout = "layshaft"
direct = "3"
[family.pieces]
input-shaft = ["input.driver"]
laygear = ["input.driven", "2.driver", "1.driver", "R1.driver"]
reverse-idler = ["R1.driven", "R2.driver"]
1-gear = ["1.driven"]
2-gear = ["2.driven"]
[family.same]
"R2.driven" = "1.driven"
[family.paths]
R = ["input", "R1", "R2"]

[[set]]
id = "early"
source = "counted"
pairs = { input = "17/29", 1 = "16/30", 2 = "24/22", R1 = "12/14", R2 = "17/30" }

[[set]]
id = "late"
source = "counted"
pairs = { input = "17/29", 1 = "17/29", 2 = "25/21", R1 = "12/14", R2 = "17/29" }
"""


def read_text(text: str | bytes, name: str = "ash-4.toml") -> tuple[Catalog, tuple[Problem, ...]]:
    """Read a text as a catalog file of that name; the problems name the file alone."""
    from dataclasses import replace

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
        catalog, problems = read_catalog(path)
    return catalog, tuple(replace(p, file=Path(p.file).name) for p in problems)


def problems_of(text: str | bytes, name: str = "ash-4.toml") -> list[Problem]:
    """Return the problems of a text."""
    return list(read_text(text, name)[1])


def listing(cases: Mapping[str, str], file: str = "ash-4.toml") -> str:
    """Return what is said of each text: its name, then a line a problem behind its code."""
    lines: list[str] = []
    for name, text in cases.items():
        lines.append(f"# {name}")
        lines += [f"{p.severity} {p.code}: {p}" for p in problems_of(text, file)]
    return "\n".join(lines) + "\n"


def spoilt(text: str, *changes: tuple[str, str]) -> str:
    """Return a text with each first occurrence of a text changed to another; it must be there."""
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return text


def late(*more: str) -> str:
    """Return the sound catalog with more lines in its set `late`."""
    return spoilt(SOUND, ('id = "late"', "\n".join(('id = "late"', *more))))


def toml_text(family: Mapping[str, object], sets: Sequence[Mapping[str, object]]) -> str:
    """Write a family and its sets as TOML."""
    lines = ["[family]", *_lines(family)]
    for known in sets:
        lines += ["", "[[set]]", *_lines(known)]
    return "\n".join(lines) + "\n"


def _lines(table: Mapping[str, object]) -> list[str]:
    return [f"{_quoted(key)} = {_value(value)}" for key, value in table.items()]


def _value(value: object) -> str:
    if isinstance(value, Mapping):
        inner = ", ".join(f"{_quoted(k)} = {_value(v)}" for k, v in value.items())
        return f"{{ {inner} }}"
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(_value(v) for v in value)}]"
    return _quoted(value) if isinstance(value, str) else repr(value)


def _quoted(text: str) -> str:
    escaped = "".join(f"\\U{ord(c):08x}" if c in '"\\' or not c.isprintable() else c for c in text)
    return f'"{escaped}"'
