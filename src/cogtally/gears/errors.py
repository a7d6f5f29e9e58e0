"""The one kind of error that a user can cause, and text of others made safe to be shown and kept.

How an error is printed, and with which exit code, is left to the command line.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

#: What an error shows of a text of somebody's.
LONGEST_SHOWN = 40
#: A spreadsheet runs what begins so, whatever number of our own signs stands before it.
_ACTIVE = re.compile(r"'*[=+\-@\t\r]")
_SIGN = "'"


def plain(text: str) -> str:
    """Return text of others on one line, every character that a terminal would obey replaced.

    The end of a line and a tab become a space.
    """
    if text.isprintable():
        return text
    return "".join(
        c if c.isprintable() else " " if c in "\n\r\t" else "\N{REPLACEMENT CHARACTER}"
        for c in text
    )


def shown(text: str, longest: int = LONGEST_SHOWN) -> str:
    """Return `text` as an error shows it: short, and safe for a terminal."""
    return plain(text if len(text) <= longest else text[: longest - 3] + "…")


def text_cell(text: str) -> str:
    """Return a text as a cell that no spreadsheet runs; `cell_text` gives the text again."""
    return _SIGN + text if _ACTIVE.match(text) else text


def cell_text(cell: str) -> str:
    """Return the text of a cell that `text_cell` wrote, and any other cell as it stands."""
    return cell[1:] if cell.startswith(_SIGN) and _ACTIVE.match(cell) else cell


def few(names: Sequence[str], most: int = 3) -> str:
    """Return the first names of several, and how many more there are."""
    more = f" and {len(names) - most} more" if names[most:] else ""
    return ", ".join(names[:most]) + more


def why_of(error: Exception) -> str:
    """Return in lower case why the system refused something."""
    return (getattr(error, "strerror", None) or str(error)).lower()


class UserError(Exception):
    """Something a person typed or wrote cannot be understood or used.

    `sentence` says what is wrong in one line, `place` where (a word, a file and line; may be
    empty) and `mend` what would be right (may be empty).
    """

    def __init__(self, sentence: str, place: str = "", mend: str = "") -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.place = place
        self.mend = mend

    def __str__(self) -> str:
        head = f"{self.place}: {self.sentence}" if self.place else self.sentence
        return f"{head}; {self.mend}" if self.mend else head


class PerhapsWrittenError(UserError):
    """An error at the very end: what was to be written is written, or nobody can tell."""
