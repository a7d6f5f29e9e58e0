"""A CSV text to drafts of families: one row a set, a column a wheel.

Rows and columns are left to `csv_sheet`, single cells to `csv_cells`, the disk to `files`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice

from cogtally.catalog.draft import MOST_FINDINGS, MOST_SETS, Draft, draft_family, is_id, shown
from cogtally.catalog.files.csv_cells import (
    GAP,
    Fault,
    count_in,
    decimals_in,
    looks_like_date,
    number_in,
    ratio_in,
)
from cogtally.catalog.files.csv_sheet import RATIO_PREFIX, Row, Sheet, read_sheet
from cogtally.catalog.problem import WARNING, Finding, Problem
from cogtally.gears.trains import ROLES_OF_THREE, pair_of, role_of, wheel_names

#: Columns that say something of the family: its rows agree in them, or leave them empty.
OF_FAMILY = ("layout", "direct")

_DATE_MEND = "the spreadsheet made a date of it: format the column as text and type it again"


@dataclass(frozen=True, slots=True)
class CsvReading:
    """What one CSV text holds: drafts of its families, the line of each set, other problems."""

    drafts: tuple[Draft, ...] = ()
    lines: tuple[tuple[int, ...], ...] = ()
    problems: tuple[Problem, ...] = ()


def read_csv(text: str, file: str) -> CsvReading:
    """Read the families of a CSV text, in the order in which their first rows stand."""
    sheet = read_sheet(text, file)
    families: dict[str, list[Row]] = {}
    for row in sheet.rows:
        families.setdefault(row.cells.get("family", ""), []).append(row)
    drafts: list[Draft] = []
    findings = len(sheet.problems)
    for rows in families.values():
        if findings > MOST_FINDINGS:
            break
        drafts.append(_draft(rows, sheet))
        findings += len(drafts[-1].findings)
    return CsvReading(
        tuple(drafts),
        tuple(tuple(row.line for row in rows) for rows in islice(families.values(), len(drafts))),
        (*sheet.problems, *_without_decimals(sheet)),
    )


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

    def _good(self, value: str | int | Fault | None, number: int, column: str) -> str | int | None:
        """Return a value, or None, and note it, where it is a fault."""
        if isinstance(value, Fault):
            self.findings.append(Finding(value.code, value.sentence, value.mend, number, column))
            return None
        return value

    def _no_date(self, cell: str, number: int | None, column: str) -> None:
        # `alder-4` is an id like any other; `Jul-38` is what became of `7-38`.
        if looks_like_date(cell) and not is_id(cell):
            sentence = f"'{shown(cell)}' looks like a date"
            self.findings.append(Finding("csv-date", sentence, _DATE_MEND, number, column))


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
