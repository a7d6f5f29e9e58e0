"""A CSV text to drafts of families: one row a set, a column a wheel.

The disk is left to `reading`, the rules to `check`.
"""

from __future__ import annotations

import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from cogtally.catalog.draft import MOST_FINDINGS, MOST_SETS, Draft, draft_family, is_id, is_name
from cogtally.catalog.problem import WARNING, Finding, Problem, file_error
from cogtally.gears.errors import cell_text, shown
from cogtally.gears.notation import FEWEST_TEETH, MOST_TEETH
from cogtally.gears.trains import NO_GEAR, ROLES_OF_THREE, pair_of, role_of, wheel_names

GAP = "_"
MOST_DECIMALS = 9
LONGEST_CELL = 40

#: A day and a month by its name, in any language, before or behind it: 9-Apr, Sep-41, 9. Mai 2041.
_NAMED_MONTH = re.compile(
    r"\d{1,4}[-/. ]{1,2}[^\W\d_]{3,9}\.?(?:[-/. ]{1,2}\d{2,4})?|[^\W\d_]{3,9}\.?[-/. ]{1,2}\d{1,4}"
    r"(?:, ?\d{4})?"
)
#: Three numbers: 9/4/2041, 2041-09-01, 9.4.41; with a time of day or without.
_THREE_NUMBERS = re.compile(r"\d{1,4}([-/.])\d{1,2}\1\d{1,4}(?:[T ]\d{1,2}:\d{2}(?::\d{2})?)?")
_TWO_NUMBERS = re.compile(r"_?\d{0,3}(?:[-/:]\d{1,3})+_?")
_DECIMAL = re.compile(r"\d*\.?\d+", re.ASCII)
_DECIMAL_COMMA = re.compile(r"\d*,\d+", re.ASCII)
#: Days since 1900 of the years 1954 to 2064: so a date reads that was made a number again.
_SERIAL_DAYS = range(20_000, 60_001)

_RATIO_DATE_MEND = "the spreadsheet made a date of it: format the column as text and type it again"
_DATE_MEND = "the spreadsheet made a date of it: give every wheel a column, formatted as text"


def looks_like_date(cell: str) -> bool:
    """Tell whether a cell looks like what a spreadsheet makes of `9/41` or `3.10.2`."""
    return len(cell) <= LONGEST_CELL and (
        _NAMED_MONTH.fullmatch(cell) is not None or _THREE_NUMBERS.fullmatch(cell) is not None
    )


def count_in(cell: str) -> str | Finding:
    """Return the count in a cell as text, `_` where it is empty, or what is wrong."""
    if cell in ("", GAP):
        return GAP
    if cell.isascii() and cell.isdigit() and len(cell) <= 6:
        if FEWEST_TEETH <= int(cell) <= MOST_TEETH:
            return cell
        if int(cell) in _SERIAL_DAYS:
            return Finding("csv-date", f"{cell} looks like a date kept as a number", _DATE_MEND)
    elif looks_like_date(cell):
        return Finding("csv-date", f"'{shown(cell)}' looks like a date", _DATE_MEND)
    elif _TWO_NUMBERS.fullmatch(cell) is not None:
        mend = "give every wheel a column: 1.driver, 1.driven"
        return Finding("csv-two-counts", f"two counts stand in one cell: '{shown(cell)}'", mend)
    mend = "count again, or leave the cell of a wheel that nobody counted empty"
    wanted = f"a whole number from {FEWEST_TEETH} to {MOST_TEETH}"
    return Finding("teeth", f"'{shown(cell)}' was read, not {wanted}", mend)


def ratio_in(cell: str, decimals: int | None, *, commas: bool) -> str | Finding:
    """Return the printed ratio in a cell, its lost zeros restored, or what is wrong.

    `decimals`: how many were printed, None where the file does not say. `commas`: a decimal comma
    is taken, for commas do not part the cells.
    """
    if looks_like_date(cell):
        return Finding("csv-date", f"'{shown(cell)}' looks like a date", _RATIO_DATE_MEND)
    if _DECIMAL_COMMA.fullmatch(cell) is not None:
        point = cell.replace(",", ".")
        if not commas:
            mend = f"write {shown(point)}, or part the cells with semicolons"
            return Finding("csv-decimal-comma", f"'{shown(cell)}' has a decimal comma", mend)
        cell = point
    # What is no decimal goes on as it is: the rules for ratios say what is wrong with it.
    if decimals is None or _DECIMAL.fullmatch(cell) is None:
        return cell
    whole, _, written = cell.partition(".")
    if len(written) > decimals:
        sentence = f"{shown(cell)} has {len(written)} decimals, where decimals says {decimals}"
        return Finding("csv-decimals", sentence, "write how many were printed")
    return f"{whole or '0'}.{written:0<{decimals}}" if decimals else whole


def decimals_in(cell: str) -> int | Finding | None:
    """Return how many decimals were printed, None for an empty cell, or what is wrong."""
    if not cell:
        return None
    if cell.isascii() and cell.isdigit() and len(cell) <= 2 and int(cell) <= MOST_DECIMALS:
        return int(cell)
    mend = f"write 0 to {MOST_DECIMALS}: the decimals that the ratios were printed with"
    return Finding("csv-decimals", f"'{shown(cell)}' was read, not a number of decimals", mend)


def number_in(cell: str, *, commas: bool) -> object:
    """Return a number in a cell as a number, all else as the text that it is."""
    text = cell.replace(",", ".") if commas and _DECIMAL_COMMA.fullmatch(cell) else cell
    if len(text) > LONGEST_CELL or _DECIMAL.fullmatch(text) is None:
        return cell
    return float(text)


TEXT_COLUMNS = ("family", "layout", "direct", "set", "name", "commonness", "source", "decimals")
NEEDED_COLUMNS = ("family", "layout", "set")
RATIO_PREFIX = "ratio "
SEPARATORS = (",", ";", "\t")
#: No honest sheet has more: a box has at most 200 wheels.
MOST_COLUMNS, MOST_ROWS, MOST_CELLS = 300, 20_000, 1_000_000

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
        self.problems.append(file_error(code, self.file, sentence, mend, line, key=shown(key)))


def read_sheet(text: str, file: str) -> Sheet:
    """Read header and rows; a row that cannot be parted into cells ends the reading."""
    import csv

    # It parts the cells of the header.
    header = next((line for line in text[:100_000].splitlines() if line.strip()), "")
    separator = max(SEPARATORS, key=header.count)
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
                if text.count("\n") * len(cells) > MOST_CELLS:
                    sentence = f"the file has more than {MOST_CELLS:,} cells"
                    sheet.wrong("too-big", sentence, "part it into several")
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


#: Columns that say something of the family: its rows agree in them, or leave them empty.
OF_FAMILY = ("layout", "direct")


@dataclass(frozen=True, slots=True)
class CsvReading:
    """What one CSV text holds: drafts of its families with the lines of their sets, problems."""

    families: tuple[tuple[Draft, tuple[int, ...]], ...]
    problems: tuple[Problem, ...]


def read_csv(text: str, file: str) -> CsvReading:
    """Read the families of a CSV text, in the order in which their first rows stand."""
    sheet = read_sheet(text, file)
    families: dict[str, list[Row]] = {}
    for row in sheet.rows:
        families.setdefault(row.cells.get("family", ""), []).append(row)
    found: list[tuple[Draft, tuple[int, ...]]] = []
    findings = len(sheet.problems)
    for rows in families.values():
        if findings > MOST_FINDINGS:
            break
        draft = _draft(rows, sheet)
        found.append((draft, tuple(row.line for row in rows)))
        findings += len(draft.findings)
    return CsvReading(tuple(found), (*sheet.problems, *_without_decimals(sheet)))


def column_of(key: str, set_no: int | None) -> str:
    """Return the column that a key of a family or a set stands in: `ratio 1` of `ratios.1`."""
    if key == "id":
        return "family" if set_no is None else "set"
    return RATIO_PREFIX + key.removeprefix("ratios.") if key.startswith("ratios.") else key


def _draft(rows: Sequence[Row], sheet: Sheet) -> Draft:
    """Make a family of its rows, through the same door as TOML."""
    if len(rows) > MOST_SETS:
        first = rows[0].cells
        named = {"id": first.get("family", ""), "layout": first.get("layout", "")}
        return draft_family(named, [{}] * len(rows))
    reader = _Rows(rows, sheet)
    table = reader.family()
    draft = draft_family(table, [reader.set(number, row) for number, row in enumerate(rows)])
    # What was said of a cell is not said again of the value that was made of it.
    said = {(f.set_no, f.key) for f in reader.findings}
    further = [f for f in draft.findings if (f.set_no, column_of(f.key, f.set_no)) not in said]
    # Nor is that said to be missing in every row which has no column.
    further = [f for f in further if column_of(f.key, f.set_no) not in sheet.missing]
    spoilt = {(f.set_no, _table_of(f.key)) for f in reader.findings}
    if sheet.has_unread_column:
        spoilt.update((n, key) for n in range(len(rows)) for key in ("pairs", "ratios", "source"))
    return replace(draft, findings=(*reader.findings, *further), spoilt=draft.spoilt.union(spoilt))


def _table_of(column: str) -> str:
    if column.startswith(RATIO_PREFIX):
        return "ratios"
    return "pairs" if role_of(column) in ROLES_OF_THREE else column


class _Rows:
    """The rows of one family, turned into tables as TOML would give them."""

    def __init__(self, rows: Sequence[Row], sheet: Sheet) -> None:
        self.rows = rows
        self.commas = sheet.commas
        self.findings: list[Finding] = []
        self.pairs = _pair_sizes(sheet.columns, rows)
        self.gears = [c for c in sheet.columns if c.startswith(RATIO_PREFIX)]

    def family(self) -> dict[str, object]:
        """Return the family's own table."""
        table: dict[str, object] = {}
        name = self.rows[0].cells.get("family", "")
        if name:
            table["id"] = name
            self._no_date(name, None, "family")
        for column in OF_FAMILY:
            for number, row in enumerate(self.rows):
                cell = row.cells.get(column)
                if cell is not None and table.setdefault(column, cell) != cell:
                    above = shown(str(table[column]))
                    sentence = f"'{shown(cell)}' was read, '{above}' in a row above"
                    mend = "the rows of a family agree, or leave the cell empty"
                    self.findings.append(Finding("csv-disagrees", sentence, mend, number, column))
        return table

    def set(self, number: int, row: Row) -> dict[str, object]:
        """Return the table of the set in a row."""
        cells = row.cells
        table: dict[str, object] = {k: cells[k] for k in ("name", "source") if k in cells}
        if "set" in cells:
            table["id"] = cells["set"]
            self._no_date(cells["set"], number, "set")
        if "commonness" in cells:
            table["commonness"] = number_in(cells["commonness"], commas=self.commas)
        pairs = self._pairs(number, cells)
        ratios = self._ratios(number, cells)
        return {
            **table,
            **({"pairs": pairs} if pairs else {}),
            **({"ratios": ratios} if ratios else {}),
        }

    def _pairs(self, number: int, cells: Mapping[str, str]) -> dict[str, str]:
        """The pairs of a row; none where no wheel has a cell that is filled."""
        pairs: dict[str, str] = {}
        if not any(role_of(column) in ROLES_OF_THREE for column in cells):
            return pairs
        for pair, size in self.pairs.items():
            columns = wheel_names(pair, size)
            counts = [self._good(count_in(cells.get(c, "")), number, c) for c in columns]
            pairs[pair] = "/".join(GAP if count is None else str(count) for count in counts)
        return pairs

    def _ratios(self, number: int, cells: Mapping[str, str]) -> dict[str, str]:
        column = "decimals"
        decimals = self._good(decimals_in(cells.get(column, "")), number, column)
        ratios: dict[str, str] = {}
        for gear in self.gears:
            if gear in cells:
                printed = ratio_in(
                    cells[gear], None if decimals is None else int(decimals), commas=self.commas
                )
                text = self._good(printed, number, gear)
                if text is not None:
                    ratios[gear.removeprefix(RATIO_PREFIX)] = str(text)
        return ratios

    def _good(
        self, value: str | int | Finding | None, number: int, column: str
    ) -> str | int | None:
        """Return a value, or None, and note it, where it is a fault."""
        if isinstance(value, Finding):
            self.findings.append(replace(value, set_no=number, key=column))
            return None
        return value

    def _no_date(self, cell: str, number: int | None, column: str) -> None:
        # `alder-4` is an id like any other; `Jul-38` is what became of `7-38`.
        if looks_like_date(cell) and not is_id(cell):
            sentence = f"'{shown(cell)}' looks like a date"
            self.findings.append(Finding("csv-date", sentence, _RATIO_DATE_MEND, number, column))


def _pair_sizes(columns: Sequence[str], rows: Sequence[Row]) -> dict[str, int]:
    """The pairs of a family: those of which any row has a wheel, with an idler if any has one."""
    sizes: dict[str, int] = {}
    for column in columns:
        if role_of(column) in ROLES_OF_THREE and any(column in row.cells for row in rows):
            pair = pair_of(column)
            sizes[pair] = 3 if role_of(column) == "idler" else sizes.get(pair, 2)
    return sizes


def _without_decimals(sheet: Sheet) -> list[Problem]:
    """One warning a file: ratios without `decimals` may have lost their last noughts."""
    bare = [
        row
        for row in sheet.rows
        if "decimals" not in row.cells and any(c.startswith(RATIO_PREFIX) for c in row.cells)
    ]
    if not bare:
        return []
    rows = "one row gives" if len(bare) == 1 else f"{len(bare)} rows give"
    sentence = f"{rows} ratios without decimals: a spreadsheet makes 2 of 2.00"
    mend = "add a column decimals with the number of decimals that were printed"
    return [
        Problem(
            WARNING, "csv-no-decimals", sheet.file, bare[0].line, "", "", "decimals", sentence, mend
        )
    ]
