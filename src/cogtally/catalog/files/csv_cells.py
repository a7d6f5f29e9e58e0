"""What a cell of a spreadsheet holds: counts, ratios, and what a spreadsheet has made of them.

Rows and columns are left to `csv`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from cogtally.catalog.draft import shown
from cogtally.gears.words import FEWEST_TEETH, MOST_TEETH

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


@dataclass(frozen=True, slots=True)
class Fault:
    """Why a cell cannot be used: a code, a sentence and a mend."""

    code: str
    sentence: str
    mend: str


def looks_like_date(cell: str) -> bool:
    """Tell whether a cell looks like what a spreadsheet makes of `9/41` or `3.10.2`."""
    return len(cell) <= LONGEST_CELL and (
        _NAMED_MONTH.fullmatch(cell) is not None or _THREE_NUMBERS.fullmatch(cell) is not None
    )


def count_in(cell: str) -> str | Fault:
    """Return the count in a cell as text, `_` where it is empty, or what is wrong."""
    if cell in ("", GAP):
        return GAP
    if cell.isascii() and cell.isdigit() and len(cell) <= 6:
        if FEWEST_TEETH <= int(cell) <= MOST_TEETH:
            return cell
        if int(cell) in _SERIAL_DAYS:
            return Fault("csv-date", f"{cell} looks like a date kept as a number", _DATE_MEND)
    elif looks_like_date(cell):
        return Fault("csv-date", f"'{shown(cell)}' looks like a date", _DATE_MEND)
    elif _TWO_NUMBERS.fullmatch(cell) is not None:
        mend = "give every wheel a column: 1.driver, 1.driven"
        return Fault("csv-two-counts", f"two counts stand in one cell: '{shown(cell)}'", mend)
    mend = "count again, or leave the cell of a wheel that nobody counted empty"
    wanted = f"a whole number from {FEWEST_TEETH} to {MOST_TEETH}"
    return Fault("teeth", f"'{shown(cell)}' was read, not {wanted}", mend)


def ratio_in(cell: str, decimals: int | None, *, commas: bool) -> str | Fault:
    """Return the printed ratio in a cell, its lost zeros restored, or what is wrong.

    `decimals`: how many were printed, None where the file does not say. `commas`: a decimal comma
    is taken, for commas do not part the cells.
    """
    if looks_like_date(cell):
        return Fault("csv-date", f"'{shown(cell)}' looks like a date", _RATIO_DATE_MEND)
    if _DECIMAL_COMMA.fullmatch(cell) is not None:
        point = cell.replace(",", ".")
        if not commas:
            mend = f"write {shown(point)}, or part the cells with semicolons"
            return Fault("csv-decimal-comma", f"'{shown(cell)}' has a decimal comma", mend)
        cell = point
    # What is no decimal goes on as it is: the rules for ratios say what is wrong with it.
    if decimals is None or _DECIMAL.fullmatch(cell) is None:
        return cell
    whole, _, written = cell.partition(".")
    if len(written) > decimals:
        sentence = f"{shown(cell)} has {len(written)} decimals, where decimals says {decimals}"
        return Fault("csv-decimals", sentence, "write how many were printed")
    return f"{whole or '0'}.{written:0<{decimals}}" if decimals else whole


def decimals_in(cell: str) -> int | Fault | None:
    """Return how many decimals were printed, None for an empty cell, or what is wrong."""
    if not cell:
        return None
    if cell.isascii() and cell.isdigit() and len(cell) <= 2 and int(cell) <= MOST_DECIMALS:
        return int(cell)
    mend = f"write 0 to {MOST_DECIMALS}: the decimals that the ratios were printed with"
    return Fault("csv-decimals", f"'{shown(cell)}' was read, not a number of decimals", mend)


def number_in(cell: str, *, commas: bool) -> object:
    """Return a number in a cell as a number, all else as the text that it is."""
    text = cell.replace(",", ".") if commas and _DECIMAL_COMMA.fullmatch(cell) else cell
    if len(text) > LONGEST_CELL or _DECIMAL.fullmatch(text) is None:
        return cell
    return float(text)
