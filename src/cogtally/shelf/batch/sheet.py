"""The rows of a CSV text of items, read one by one, however many there are.

Which columns there may be and what a row comes to is left to `batch`, the disk to `show`.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice

from cogtally.catalog.files.csv_cells import Fault, count_in, looks_like_date
from cogtally.catalog.files.csv_sheet import SEPARATORS
from cogtally.gears.errors import UserError
from cogtally.gears.printed import shown

ITEM = "item"
#: A line of more characters is no row.
LONGEST_LINE = 100_000
#: A cell in quotes goes on over so many lines at most; else its second quote is missing.
MOST_LINES = 10
DATE_MEND = "the spreadsheet made a date of it: format the column as text and type it again"


@dataclass(frozen=True, slots=True)
class Row:
    """One row: the line that it begins on, and its cells by column, those that are not empty.

    `fault` says why it cannot be parted into cells; else it is None.
    """

    line: int
    cells: Mapping[str, str]
    fault: UserError | None = None

    @property
    def item(self) -> str:
        """What the row calls its item, on one line."""
        return " ".join(self.cells.get(ITEM, "").splitlines())


class Sheet:
    """A CSV text under a header: `columns` in order, and its rows as they are read."""

    def __init__(
        self,
        lines: Iterable[str],
        file: str,
        check: Callable[[Sequence[str]], UserError | None],
    ) -> None:
        """Read the header; raise UserError where there is none, or `check` finds fault with it."""
        self.file = file
        self._lines = _Lines(lines)
        header = next((line for line in self._lines if line.strip()), "")
        header = header.removeprefix("\ufeff")
        if not header.strip():
            raise UserError("nothing is in this file", file, "write one row an item below a header")
        self._separator = max(SEPARATORS, key=header.count)
        columns = _parted([header], self._separator)
        if isinstance(columns, UserError):
            raise UserError(columns.sentence, f"{file}:{self._lines.number}", columns.mend)
        while columns and not columns[-1]:
            columns.pop()
        twice = next((c for n, c in enumerate(columns) if c in columns[:n]), None)
        if twice is None:
            found = check(columns)
        else:
            found = UserError("the column stands twice", shown(twice), "take one of them out")
        if found is not None:
            raise UserError(f"{found.place}: {found.sentence}", file, found.mend)
        self.columns = tuple(columns)

    def rows(self) -> Iterator[Row]:
        """Give every row that is not empty, once."""
        for line in self._lines:
            if line.strip():
                number = self._lines.number
                row = self._row(self._cells(line), number)
                if row.cells or row.fault is not None:
                    yield row

    def _cells(self, line: str) -> list[str] | UserError:
        """A line parted into cells, with the lines behind it where a cell goes on over them."""
        cells = _parted([line], self._separator)
        if not isinstance(cells, UserError) or line.count('"') % 2 == 0:
            return cells
        more = [line]
        for after in self._lines.ahead(MOST_LINES):
            more.append(after)
            if '"' in after:
                longer = _parted(more, self._separator)
                if not isinstance(longer, UserError):
                    self._lines.skip(len(more) - 1)
                    return longer
        return cells

    def _row(self, cells: list[str] | UserError, line: int) -> Row:
        if isinstance(cells, UserError):
            return Row(line, {}, cells)
        named = {c: cell for c, cell in zip(self.columns, cells, strict=False) if c and cell}
        fault = None
        if any(cells[len(self.columns) :]):
            sentence = f"the row has {len(cells)} cells, the header {len(self.columns)}"
            fault = UserError(sentence, mend="put a cell with a separator in it in quotes")
        elif not all(map(_is_text, named.values())):
            named = {c: cell for c, cell in named.items() if _is_text(cell)}
            fault = UserError("the row is not written in UTF-8", mend="save the file as UTF-8")
        return Row(line, named, fault)


class _Lines:
    """Lines with their number from 1, of which some can be looked at before they are taken."""

    def __init__(self, lines: Iterable[str]) -> None:
        self._lines = iter(lines)
        self._ahead: list[str] = []
        self.number = 0

    def __iter__(self) -> Iterator[str]:
        return self

    def __next__(self) -> str:
        line = self._ahead.pop(0) if self._ahead else next(self._lines)
        self.number += 1
        return line

    def ahead(self, most: int) -> list[str]:
        """Return up to so many of the lines to come."""
        self._ahead += islice(self._lines, most - len(self._ahead))
        return self._ahead[:most]

    def skip(self, lines: int) -> None:
        """Take so many lines."""
        for _ in range(lines):
            next(self)


def refuse_date(cell: str, column: str) -> None:
    """Raise UserError for a cell of counts that a spreadsheet has made a date of."""
    found = None
    if looks_like_date(cell):
        found = UserError(f"'{shown(cell)}' looks like a date", column, DATE_MEND)
    elif cell.isdigit() and len(cell) > 3:
        fault = count_in(cell)
        if isinstance(fault, Fault) and fault.code == "csv-date":
            found = UserError(fault.sentence, column, DATE_MEND)
    if found is not None:
        raise found


def _is_text(cell: str) -> bool:
    """Whether a cell is text; bytes that are none were read as lone surrogates."""
    return cell.isascii() or not any("\ud800" <= letter <= "\udfff" for letter in cell)


def _parted(lines: list[str], separator: str) -> list[str] | UserError:
    """The cells of one row, without space around them, or why there are none."""
    if sum(map(len, lines)) > LONGEST_LINE:
        mend = "save it as CSV with a line an item"
        return UserError(f"the row has more than {LONGEST_LINE:,} characters", mend=mend)
    try:
        found = list(csv.reader(lines, delimiter=separator, strict=True))
    except csv.Error:
        return UserError(
            "the quotes of a cell do not close", mend='write "" for a quote inside of one'
        )
    if len(found) != 1:
        return UserError("the row is broken in two", mend="put a cell of two lines in quotes")
    return [cell.strip() for cell in found[0]]
