"""Rows of a CSV text of items, read one by one, and their answers: loose pieces, whole boxes.

The disk and how answers are written are left to `show`, the answers to the evidence.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING

from cogtally.catalog.draft import is_name
from cogtally.catalog.files import SEPARATORS, count_in, looks_like_date
from cogtally.catalog.find import as_called, find_family, nearest
from cogtally.catalog.looked import find_role, refuse_overdrive_turns, resolved, resolved_piece
from cogtally.catalog.model import Catalog
from cogtally.evidence.loose import LooseAnswer, identify_piece
from cogtally.gears.errors import UserError, cell_text, shown
from cogtally.gears.looks import parse_piece, with_looks
from cogtally.gears.notation import parse_seen, trade_name
from cogtally.gears.trains import ROLES_OF_THREE, pair_of, role_of

if TYPE_CHECKING:
    from cogtally.evidence.reading import Answer, Verdict
    from cogtally.gears.notation import Seen


ITEM = "item"
#: All columns that have a word of their own, of pieces, boxes and the stock.
COLUMN_WORDS = (
    *("item", "counts", "seen", "pair", "role", "family", "mark", "feature", "place", "price"),
    *("currency", "condition", "photo", "note", "quantity"),
)
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
        self, lines: Iterable[str], file: str, check: Callable[[Sequence[str]], UserError | None]
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
        # The words of a header in any case; pairs and wheels are as their catalog has them.
        columns = [c.casefold() if c.casefold() in COLUMN_WORDS else c for c in columns]
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
        if not isinstance(fault, str) and fault.code == "csv-date":
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
    return [cell_text(cell.strip()) for cell in found[0]]


COUNTS, SEEN, ROLE, FAMILY, MARK, FEATURE = "counts", "seen", "role", "family", "mark", "feature"
PIECE_COLUMNS = (ITEM, COUNTS, ROLE, FAMILY, MARK, FEATURE)
BOX_COLUMNS = (ITEM, SEEN, FAMILY, MARK, FEATURE)
#: Several marks or features in one cell are parted by it.
PARTED = ";"
#: Answers of a piece are listed from here on, and at most so many.
LEAST_LISTED, MOST_LISTED = 0.001, 10
#: So many roles, as somebody wrote them, are remembered.
ROLES_KEPT = 256


class Pieces:
    """Loose pieces asked of one catalog; `role`, `family` are those of rows which name none."""

    def __init__(
        self, catalog: Catalog, role: str | None = None, family: str | None = None
    ) -> None:
        self.catalog = catalog
        self._family = None if family is None else find_family(catalog, family).id
        self._role = None if role is None else find_role(catalog, role)
        self._roles: dict[str, str] = {}

    def check(self, columns: Sequence[str]) -> UserError | None:
        """Return what is wrong with the columns of a file, or None."""
        for column in columns:
            if column not in PIECE_COLUMNS:
                return unknown_column(column, PIECE_COLUMNS)
        if {COUNTS, MARK, FEATURE}.isdisjoint(columns):
            return UserError("the column is missing", COUNTS, f"begin with {ITEM},{COUNTS}")
        return None

    def answer(self, row: Row) -> LooseAnswer:
        """Say what the piece of a row is; raise UserError for a row that cannot be read."""
        if row.fault is not None:
            raise row.fault
        cells = row.cells
        counts = cells.get(COUNTS, "")
        refuse_date(counts, COUNTS)
        looks = parts(cells.get(MARK)), parts(cells.get(FEATURE))
        seen = with_looks(parse_piece(counts.split()), *looks, (MARK, FEATURE))
        if not (any(seen.places) or seen.marks or seen.features):
            raise UserError("nothing was counted", COUNTS, "write a count: 28 24 19 _ 12")
        role = self._role_of(cells[ROLE]) if ROLE in cells else self._role
        if seen.marks or seen.features:
            seen = resolved_piece(self.catalog, seen)
        family = self._family
        if FAMILY in cells:
            with _in_column(FAMILY, cells[FAMILY]):
                family = find_family(self.catalog, cells[FAMILY]).id
        return identify_piece(
            self.catalog, seen, role, family=family, least=LEAST_LISTED, most=MOST_LISTED
        )

    def _role_of(self, text: str) -> str:
        found = self._roles.get(text)
        if found is None:
            with _in_column(ROLE, text):
                found = find_role(self.catalog, text)
            if len(self._roles) < ROLES_KEPT:
                self._roles[text] = found
        return found


class Boxes:
    """Whole boxes asked of one catalog; `family` is that of rows which name none.

    `briefly`: only the verdict of each is worked out.
    """

    def __init__(
        self, catalog: Catalog, family: str | None = None, *, briefly: bool = False
    ) -> None:
        self.catalog = catalog
        self._family = None if family is None else find_family(catalog, family).id
        self._briefly = briefly
        self._pairs = {trade_name(name).casefold() for name in catalog.pair_names}

    def check(self, columns: Sequence[str]) -> UserError | None:
        """Return what is wrong with the columns of a file, or None."""
        for column in columns:
            if not (column in BOX_COLUMNS or self._is_counted(column)):
                return unknown_column(column, (*BOX_COLUMNS, "a pair (3)", "a wheel (3.driver)"))
        if {ITEM, FAMILY}.issuperset(columns):
            return UserError("the column is missing", SEEN, f"begin with {ITEM},{SEEN}")
        return None

    def answer(self, row: Row) -> Answer | Verdict:
        """Say what the box of a row is, briefly its verdict; raise UserError for a bad row."""
        seen, family = self._read(row)
        if self._briefly:
            from cogtally.evidence.engine import posterior
            from cogtally.evidence.reading import judge

            found = posterior(self.catalog, seen, family)
            return judge(self.catalog, found, seen)
        from cogtally.evidence.reading import identify

        return identify(self.catalog, seen, family=family)

    def _read(self, row: Row) -> tuple[Seen, str | None]:
        """What was seen on the box of a row, and the id of the one family that is asked about."""
        if row.fault is not None:
            raise row.fault
        words = row.cells.get(SEEN, "").split()
        refuse_date(row.cells.get(SEEN, ""), SEEN)
        for column, cell in row.cells.items():
            if column not in BOX_COLUMNS:
                refuse_date(cell, column)
                words.append(f"{column}={cell}")
        seen = as_called(self.catalog, parse_seen(words))
        marks, features = row.cells.get(MARK), row.cells.get(FEATURE)
        if marks or features:
            seen = resolved(self.catalog, with_looks(seen, parts(marks), parts(features)))
        elif not (seen.counts or seen.turns):
            raise UserError("nothing was counted", mend="write a count: input=17/28")
        family, only = self._family, row.cells.get(FAMILY)
        if only is not None:
            with _in_column(FAMILY, only):
                family = find_family(self.catalog, only).id
        if seen.turns:
            refuse_overdrive_turns(self.catalog, seen, family)
        return seen, family

    def _is_counted(self, column: str) -> bool:
        if role_of(column) in ROLES_OF_THREE:
            return is_name(pair_of(column))
        return trade_name(column).casefold() in self._pairs or (
            column.isascii() and column.isdigit() and is_name(column)
        )


@contextmanager
def _in_column(column: str, cell: str) -> Iterator[None]:
    """Tell the column of a cell in an error, where an option of that name would be told."""
    try:
        yield
    except UserError as error:
        raise UserError(error.sentence, f"{column} {shown(cell)}", error.mend) from error


def parts(cell: str | None) -> list[str]:
    """Return the marks or features of one cell."""
    return [part.strip() for part in (cell or "").split(PARTED) if part.strip()]


def unknown_column(column: str, known: Sequence[str]) -> UserError:
    """Return the error that a column is none of those known."""
    near = nearest(column, known) if column else []
    mend = f"did you mean {' or '.join(near)}?" if near else f"columns are {', '.join(known)}"
    sentence = "there is no such column" if column else "a column has no name"
    return UserError(sentence, shown(column) if column else "the header", mend)
