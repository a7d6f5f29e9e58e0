"""A CSV text as rows under named columns: separators, the header, and what is wrong with both.

What a cell may hold is left to `csv_cells`, what the rows come to, to `csv`.
"""

from __future__ import annotations

import io
import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from cogtally.catalog.draft import MOST_FINDINGS, is_name, shown
from cogtally.catalog.problem import ERROR, Problem
from cogtally.gears.cells import cell_text
from cogtally.gears.trains import NO_GEAR, ROLES_OF_THREE, pair_of, role_of

TEXT_COLUMNS = ("family", "layout", "direct", "set", "name", "commonness", "source", "decimals")
NEEDED_COLUMNS = ("family", "layout", "set")
RATIO_PREFIX = "ratio "
SEPARATORS = (",", ";", "\t")
#: No honest sheet has more: a box has at most 200 wheels.
MOST_COLUMNS, MOST_ROWS = 300, 50_000

_HEADER = "family,layout,direct,set,1.driver,1.driven"
_HEADER_MEND = f"begin with a header: {_HEADER}"

#: What somebody may have written for `ratio 1`.
_RATIO_OF = re.compile(r"[Rr]at[^\W\d_]*[\W_]*(\w+)")

#: What the CSV reader says most, in plainer words.
_PLAINER = {
    "unexpected end of data": "a cell has no quote at its end",
    "field larger than field limit": "a cell is too long",
    "expected after": "text stands behind the quote that ends a cell",
}


@dataclass(frozen=True, slots=True)
class Row:
    """One row: its line, and its cells by column, those that are not empty."""

    line: int
    cells: Mapping[str, str]


@dataclass(slots=True)
class Sheet:
    """All rows of a text under its columns, and what is wrong with them as such.

    `columns`: their names in order, empty for one that is not known. `commas`: a decimal comma is
    taken, for commas do not part the cells. `has_unread_column`: something may stand in a column
    that was not understood.
    """

    file: str
    commas: bool = False
    columns: list[str] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    has_unread_column: bool = False
    problems: list[Problem] = field(default_factory=list)

    @property
    def missing(self) -> list[str]:
        """The columns that a catalog needs and this sheet does not have."""
        return [name for name in NEEDED_COLUMNS if name not in self.columns]

    def wrong(
        self, code: str, sentence: str, mend: str = "", line: int | None = None, key: str = ""
    ) -> None:
        """Note something wrong with the sheet itself."""
        self.problems.append(
            Problem(ERROR, code, self.file, line, "", "", shown(key), sentence, mend)
        )


def read_sheet(text: str, file: str) -> Sheet:
    """Read header and rows; a row that cannot be parted into cells ends the reading."""
    import csv

    separator = _separator(text)
    sheet = Sheet(file, commas=separator != ",")
    if text.count("\n") > MOST_ROWS:
        sheet.wrong("too-big", f"the file has more than {MOST_ROWS:,} rows", "part it into several")
        return sheet
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    line, has_header = 1, False
    try:
        for raw in reader:
            if len(sheet.problems) > MOST_FINDINGS:
                break
            cells = [cell_text(cell.strip()) for cell in raw]
            if any(cells) and has_header:
                _add_row(sheet, cells, line)
            elif any(cells):
                has_header = True
                if not _read_header(sheet, cells, line):
                    return sheet
            line = reader.line_num + 1
    except csv.Error as error:
        said = next((p for e, p in _PLAINER.items() if e in str(error)), str(error))
        sheet.wrong("bad-csv", f"no CSV: {said}", "", line)
    if not sheet.rows and not sheet.problems:
        sheet.wrong(
            "no-family",
            "there is no row below the header" if has_header else "nothing is in this file",
            "write one row a set below a header",
        )
    return sheet


def _separator(text: str) -> str:
    """The character that parts the cells of the header: comma, semicolon or tab."""
    header = next((line for line in text[:100_000].splitlines() if line.strip()), "")
    return max(SEPARATORS, key=header.count)


def _read_header(sheet: Sheet, cells: list[str], line: int) -> bool:
    """Take the columns' names; tell whether rows can be read below them."""
    while not cells[-1]:
        cells.pop()
    if len(cells) > MOST_COLUMNS:
        sentence = f"the header has {len(cells):,} columns"
        sheet.wrong("too-many", sentence, f"at most {MOST_COLUMNS:,} are taken", line)
        return False
    if "family" not in cells:
        if any(_is_column(cell) for cell in cells):
            sheet.wrong("bad-csv", "the column family is missing", _HEADER_MEND, line, "family")
        else:
            sheet.wrong("bad-csv", "no header of a catalog was read", _HEADER_MEND, line)
        return False
    for cell in cells:
        sheet.columns.append("")
        if not cell:
            sheet.wrong("unknown-key", "a column has no name", "name it, or take it out", line)
        elif cell in sheet.columns:
            sentence = f"the column '{shown(cell)}' stands twice"
            sheet.wrong("bad-csv", sentence, "take one of them out", line, cell)
        elif not _is_column(cell):
            sentence = f"there is no column '{shown(cell)}'"
            sheet.wrong("unknown-key", sentence, _nearest_column(cell), line, cell)
        else:
            sheet.columns[-1] = cell
    sheet.has_unread_column = bool(sheet.problems)
    meant = [problem.mend for problem in sheet.problems]
    for name in sheet.missing:
        if not any(f"did you mean {name}" in mend for mend in meant):
            sheet.wrong("bad-csv", f"the column {name} is missing", _HEADER_MEND, line, name)
    return True


def _is_column(name: str) -> bool:
    if name in TEXT_COLUMNS:
        return True
    if name.startswith(RATIO_PREFIX):
        gear = name.removeprefix(RATIO_PREFIX)
        return is_name(gear) and gear not in NO_GEAR
    return role_of(name) in ROLES_OF_THREE and is_name(pair_of(name))


def _nearest_column(cell: str) -> str:
    from cogtally.catalog.find import nearest

    wheels = [f"{pair_of(cell)}.{role}" for role in ROLES_OF_THREE if is_name(pair_of(cell))]
    gear = _RATIO_OF.fullmatch(cell)
    ratio = [RATIO_PREFIX + gear[1]] if gear and is_name(gear[1]) else []
    near = nearest(cell, [*wheels, *ratio, *TEXT_COLUMNS])
    if near:
        return f"did you mean {' or '.join(near)}?"
    return f"columns are {', '.join(TEXT_COLUMNS)}, a wheel (1.driver) or a ratio (ratio 1)"


def _add_row(sheet: Sheet, cells: list[str], line: int) -> None:
    if any(cells[len(sheet.columns) :]):
        while not cells[-1]:
            cells.pop()
        sentence = f"the row has {len(cells)} cells, the header {len(sheet.columns)}"
        sheet.wrong("bad-csv", sentence, "put a cell with a separator in it in quotes", line)
    named = zip(sheet.columns, cells, strict=False)
    sheet.rows.append(Row(line, {name: cell for name, cell in named if name and cell}))
