"""The house: imports run downward and through doors, in no circle, and no room is too large."""

import ast
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

SRC = Path(__file__).parents[1] / "src"
TOP = "cogtally"
#: From the ground up: a floor imports of those below it, and of itself.
FLOORS = ("gears", "store", "catalog", "evidence", "shelf", "guide", "show", "field", "cli")
#: Beside a floor of the same height, neither sees the other.
SIDE_BY_SIDE = {("field", "show"), ("show", "field")}
MOST_FILES, MOST_LINES = 25, 600


@dataclass(frozen=True)
class Import:
    """One import: the module that makes it, the module that it reaches, and the line."""

    user: str
    of: str
    line: int


@cache
def modules() -> dict[str, Path]:
    """Return every module of the program, a package by its own name, to its file."""
    found = {}
    for file in sorted((SRC / TOP).rglob("*.py")):
        parts = file.relative_to(SRC).with_suffix("").parts
        found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = file
    return found


@cache
def offered(package: str) -> frozenset[str]:
    """Return what a package offers at its door: names imported as themselves, or its `__all__`."""
    tree = ast.parse(modules()[package].read_text(encoding="utf-8"))
    found = {
        alias.name
        for node in tree.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
        if alias.asname == alias.name
    }
    for node in tree.body:
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__":
            found.update(ast.literal_eval(node.value))
    return frozenset(found)


def imports(name: str, text: str, known: Mapping[str, Path]) -> Iterator[Import]:
    """Yield what a module imports of the program, in functions and for types alone too."""
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == TOP:
            for alias in node.names:
                inner = f"{node.module}.{alias.name}"
                is_file = inner in known and alias.name not in offered(str(node.module))
                yield Import(name, inner if is_file else str(node.module), node.lineno)
        elif isinstance(node, ast.Import):
            for alias in node.names:
                if alias.name.split(".")[0] == TOP:
                    yield Import(name, alias.name, node.lineno)


def all_imports(spoilt: Mapping[str, str] | None = None) -> list[Import]:
    """Return every import of the program; `spoilt` gives some modules another text."""
    known = modules()
    texts = {name: file.read_text(encoding="utf-8") for name, file in known.items()}
    texts.update(spoilt or {})
    return [each for name, text in texts.items() for each in imports(name, text, known)]


@cache
def rooms(name: str) -> list[str]:
    """Return the packages that a module stands in below its floor, the outermost first."""
    known = modules()
    parts = name.split(".")
    inside = [".".join(parts[:n]) for n in range(3, len(parts) + 1)]
    return [each for each in inside if known.get(each, Path()).name == "__init__.py"]


def floor(name: str) -> str:
    """Return the floor that a module is on; empty for the program's own face."""
    parts = name.split(".")
    return parts[1] if len(parts) > 1 and parts[1] in FLOORS else ""


def upward(found: list[Import]) -> list[Import]:
    """Return the imports that do not run downward."""
    wrong = []
    for each in found:
        user, of = floor(each.user), floor(each.of)
        is_above = user and of and FLOORS.index(of) > FLOORS.index(user)
        if is_above or (user, of) in SIDE_BY_SIDE:
            wrong.append(each)
    return wrong


def past_doors(found: list[Import]) -> list[Import]:
    """Return the imports that reach into a room that they do not stand in, past its door."""
    return [
        each
        for each in found
        if any(room != each.of and room not in rooms(each.user) for room in rooms(each.of))
    ]


def circles(found: list[Import]) -> list[set[str]]:
    """Return every set of files that import each other in a circle."""
    below: dict[str, set[str]] = {}
    for each in found:
        if each.of != each.user:
            below.setdefault(each.user, set()).add(each.of)

    def reached(start: str) -> set[str]:
        seen: set[str] = set()
        left = list(below.get(start, ()))
        while left:
            name = left.pop()
            if name not in seen:
                seen.add(name)
                left += below.get(name, ())
        return seen

    all_reached = {name: reached(name) for name in below}
    found_circles: list[set[str]] = []
    for name, names in all_reached.items():
        if name in names and not any(name in circle for circle in found_circles):
            found_circles.append({o for o in names if name in all_reached.get(o, ())})
    return found_circles


def said(found: list[Import]) -> list[str]:
    """Return imports as lines that a person can go to."""
    return [f"{each.user}:{each.line} imports {each.of}" for each in found]


def test_imports_run_downward():
    """No room imports of a floor above its own."""
    assert said(upward(all_imports())) == []


def test_imports_go_through_doors():
    """What a room offers stands at its door; nobody outside reaches past it."""
    assert said(past_doors(all_imports())) == []


def test_no_files_import_each_other_in_a_circle():
    """A file can be read with what it imports, and that ends."""
    assert circles(all_imports()) == []


def test_no_room_and_no_file_is_too_large():
    """A room has at most 25 files, a file at most 600 lines."""
    files = list((SRC / TOP).rglob("*.py"))
    folders = {file.parent for file in files}
    crowded = [str(f) for f in folders if sum(file.parent == f for file in files) > MOST_FILES]
    long = [
        str(file) for file in files if file.read_text(encoding="utf-8").count("\n") > MOST_LINES
    ]
    assert (crowded, long) == ([], [])


@pytest.mark.parametrize(
    ("module", "spoilt", "finds"),
    [
        ("cogtally.gears.errors", "from cogtally.catalog.model import Catalog", upward),
        ("cogtally.cli.ratios", "from cogtally.gears.road.cars import Car", past_doors),
        ("cogtally.gears.errors", "from cogtally.gears.notation import Word", circles),
    ],
)
def test_a_spoilt_import_is_seen(module, spoilt, finds):
    """One import the wrong way, past a door or round in a circle is found."""
    before = modules()[module].read_text(encoding="utf-8")
    assert callable(finds)
    found = finds(all_imports({module: f"{before}\n{spoilt}\n"}))
    assert len(found) == len(finds(all_imports())) + 1
