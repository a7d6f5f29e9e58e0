"""Catalog files and folders on the disk: which there are, what they may be, and what they hold.

How TOML and CSV are read is left to `toml` and `csv`, the rules to `check`.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from cogtally.catalog.draft import MOST_FINDINGS, Draft
from cogtally.catalog.files.toml import TomlPlaces, read_toml
from cogtally.catalog.model import Catalog
from cogtally.catalog.problem import CatalogError, Finding, Problem, file_error
from cogtally.gears.errors import why_of

if TYPE_CHECKING:
    from cogtally.catalog.check import Entangled

#: A larger file would keep its reader long, and no honest one is: a catalog has many files.
MOST_BYTES = 5_000_000
MOST_FILES = 10_000
#: Called with the number of steps done and of all steps.
Progress = Callable[[int, int], None]

TOML, CSV = ".toml", ".csv"
DEMO_NAME = "demo"

_KINDS_MEND = "give a .toml or .csv file, or a folder of them"


@dataclass(frozen=True, slots=True)
class _Read:
    """One family of one file: its draft, and where in the file a key of it stands."""

    draft: Draft
    file: str
    line: Callable[[int | None, str], int | None]
    key: Callable[[str, int | None], str] = lambda key, _: key


def read_catalog(
    path: str | Path, *, check: bool = True, entangled: Entangled | None = None
) -> tuple[Catalog, tuple[Problem, ...]]:
    """Read a catalog file, a folder of them without its subfolders, or a book; and its problems.

    Nothing stops at the first problem; a file or a value that will not do is left out of the
    catalog. `check=False`: only what cannot be read at all is said, the rules are not asked.
    `entangled` tells whether a family is too entangled to compute. Raises UserError for a book
    that cannot be read.
    """
    from cogtally.store import looks_like_book

    if looks_like_book(path):
        from cogtally.catalog.book import read_book

        if not check:
            return read_book(path), ()
        spoilt = _faults(Path(path))
        if spoilt:
            return Catalog((), name=_name_of(path)), spoilt
        from cogtally.catalog.check import check_catalog

        catalog = read_book(path)
        return catalog, check_catalog(catalog, entangled=entangled)
    return read_catalogs([path], check=check, entangled=entangled)


def read_catalogs(
    paths: Sequence[str | Path],
    *,
    check: bool = True,
    entangled: Entangled | None = None,
    progress: Progress | None = None,
) -> tuple[Catalog, tuple[Problem, ...]]:
    """Read files and folders as one catalog, with all problems of all of them; else as above.

    `progress` is called after each file is read, and again as the families are checked. A book
    among the paths is a problem.
    """
    read: list[_Read] = []
    problems: list[Problem] = []
    files: list[Path] = []
    for path in paths:
        found, wrong = _files_at(path)
        files.extend(found)
        problems.extend(wrong)
    steps = 2 * len(files) if check else len(files)
    for number, file in enumerate(files, start=1):
        found_there, wrong = _read_file(file)
        read.extend(found_there)
        problems.extend(wrong)
        if progress is not None:
            progress(number, steps)
    families = tuple(one.draft.family for one in read)
    catalog = Catalog(families, name=_name_of(paths[0]) if len(paths) == 1 else "")
    if check:
        problems.extend(_checked(read, entangled, progress))
    else:
        problems.extend(_placed(one, f) for one in read for f in one.draft.findings)
    return catalog, tuple(sorted(problems, key=_in_order(files)))


def load_catalog(path: str | Path, *, entangled: Entangled | None = None) -> Catalog:
    """Return the catalog at `path`; raise CatalogError with all its problems if it has an error."""
    from cogtally.store import looks_like_book

    if looks_like_book(path):
        # What is in a book was checked before it was written there.
        return read_catalog(path, check=False)[0]
    catalog, problems = read_catalog(path, entangled=entangled)
    if any(problem.is_error for problem in problems):
        raise CatalogError(problems)
    return catalog


def demo_catalog() -> Catalog:
    """Return the invented catalog that comes with the program, from which no real box is named."""
    catalog, problems = read_catalogs([_demo_folder()], check=False)
    if any(problem.is_error for problem in problems):
        raise CatalogError(problems)
    return Catalog(catalog.families, name=DEMO_NAME, demo=True)


def _faults(book: Path) -> tuple[Problem, ...]:
    """Every row of a book that is not as it was written."""
    from cogtally.store import faults, reading

    with reading(book) as connection:
        found = faults(connection)
    mend = "--mend puts back what the log has; else take a copy or an export from before"
    return tuple(
        file_error("damaged", str(book), f"{fault.named}: {fault.says}", mend) for fault in found
    )


def _demo_folder() -> Path:
    """In an installed package the demo stands beside this room, in a checkout at the root."""
    here = Path(__file__).resolve().parents[1]
    installed = here / DEMO_NAME
    return installed if installed.is_dir() else here.parents[2] / "catalog"


def _files_at(path: str | Path) -> tuple[list[Path], list[Problem]]:
    """The files of a path in the order of their names, or why there are none."""
    text = str(path)
    try:
        if not text or not os.path.exists(text):
            sentence = "there is no such file or folder"
            return [], [file_error("no-such-path", text or "an empty path", sentence, _KINDS_MEND)]
        if not os.path.isdir(text):
            return [Path(path)], []
        names = sorted(os.listdir(text))
    except (OSError, ValueError) as error:
        return [], [file_error("unreadable", text, f"it cannot be read: {why_of(error)}")]
    kept = [
        Path(path) / name
        for name in names
        if name.lower().endswith((TOML, CSV)) and not name.startswith(".")
    ]
    files = [file for file in kept if file.is_file()]
    if not files:
        sentence = "no catalog is in this folder"
        mend = "it has no .toml and no .csv file; subfolders are not read"
        return [], [file_error("no-catalogs", text, sentence, mend)]
    if len(files) > MOST_FILES:
        sentence = f"there are {len(files):,} catalog files in this folder"
        return [], [
            file_error("too-many-files", text, sentence, f"at most {MOST_FILES:,} are read")
        ]
    return files, []


def _read_file(path: Path) -> tuple[list[_Read], list[Problem]]:
    """The families of one file, each with its places; problems that are of no family."""
    file = str(path)
    try:
        if not path.is_file():
            return [], [file_error("unreadable", file, "it is neither a file nor a folder")]
        with open(path, "rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except OSError as error:
        return [], [file_error("unreadable", file, f"it cannot be read: {why_of(error)}")]
    kind = path.suffix.lower()
    if kind not in (TOML, CSV) or _is_book(data):
        sentence = "this is no TOML or CSV catalog"
        return [], [file_error("not-a-catalog", file, sentence, _KINDS_MEND)]
    if len(data) > MOST_BYTES:
        sentence = f"the file is larger than {MOST_BYTES // 1_000_000} MB"
        return [], [file_error("too-big", file, sentence, "part it into smaller ones")]
    try:
        text = data.decode("utf-8").removeprefix("\ufeff")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        sentence = "the file is not UTF-8"
        return [], [file_error("not-utf8", file, sentence, "save it as text in UTF-8", line)]
    return _read_toml(text, file) if kind == TOML else _read_csv(text, file)


def _read_toml(text: str, file: str) -> tuple[list[_Read], list[Problem]]:
    reading, places = read_toml(text, file), TomlPlaces(text)
    drafts = enumerate(reading.drafts)
    read = [_Read(draft, file, partial(places.line, number)) for number, draft in drafts]
    return read, list(reading.problems)


def _is_book(data: bytes) -> bool:
    # No text has such a byte in it, so the room of the book is not opened for one.
    if b"\0" not in data:
        return False
    from cogtally.store import MAGIC

    return data.startswith(MAGIC)


def _read_csv(text: str, file: str) -> tuple[list[_Read], list[Problem]]:
    from cogtally.catalog.files.csv import column_of, read_csv

    reading = read_csv(text, file)
    places = ((draft, partial(_line_of_row, lines)) for draft, lines in reading.families)
    return [_Read(draft, file, at, column_of) for draft, at in places], list(reading.problems)


def _line_of_row(lines: Sequence[int], set_no: int | None, _: str) -> int:
    return lines[set_no or 0]


def _checked(
    read: Sequence[_Read], entangled: Entangled | None, progress: Progress | None
) -> list[Problem]:
    from cogtally.catalog.check import Effort, check_between, check_draft

    found: list[Problem] = []
    effort = Effort()
    for number, one in enumerate(read, start=1):
        if len(found) > MOST_FINDINGS and any(problem.is_error for problem in found):
            break
        findings = check_draft(one.draft, entangled=entangled, effort=effort)
        found += [_placed(one, finding) for finding in findings]
        if progress is not None:
            progress(len(read) + number, 2 * len(read))
    between = check_between([one.draft for one in read])
    return [*found, *(_placed(read[number], finding) for number, finding in between)]


def _placed(one: _Read, finding: Finding) -> Problem:
    from cogtally.catalog.check import problem_of

    line = one.line(finding.set_no, finding.key)
    finding = replace(finding, key=one.key(finding.key, finding.set_no))
    return problem_of(one.draft.family, finding, one.file, line)


def _in_order(files: Sequence[Path]) -> Callable[[Problem], tuple[int, int, int]]:
    """By file, then by line; what has no line comes first."""
    order = {str(file): number for number, file in enumerate(files)}
    return lambda p: (order.get(p.file, -1), p.line or 0, 0 if p.is_error else 1)


def _name_of(path: str | Path) -> str:
    """The name of the file or folder, to say where a catalog comes from."""
    return os.path.basename(os.path.abspath(str(path))) if "\0" not in str(path) else ""
