"""Text in the cells of a sheet: a spreadsheet runs what begins with = + - @, so a ' stands before.

What else a cell may hold is left to whoever writes and reads the sheet.
"""

from __future__ import annotations

import re

#: What a spreadsheet would run, whatever number of our own signs stands before it.
_ACTIVE = re.compile(r"'*[=+\-@\t\r]")
_SIGN = "'"


def text_cell(text: str) -> str:
    """Return a text as a cell that no spreadsheet runs; `cell_text` gives the text again."""
    return _SIGN + text if _ACTIVE.match(text) else text


def cell_text(cell: str) -> str:
    """Return the text of a cell that `text_cell` wrote, and any other cell as it stands."""
    return cell[1:] if cell.startswith(_SIGN) and _ACTIVE.match(cell) else cell
