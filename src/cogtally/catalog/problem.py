"""What can be wrong with a catalog, as records: codes that stay, places, a sentence and a mend.

Finding what is wrong belongs to `draft` and the `check` rooms, printing it to `show`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from cogtally.gears.errors import UserError

ERROR, WARNING = "error", "warning"

#: The path that was asked for cannot be read at all; nothing in it was judged.
PATH_CODES = frozenset({"no-such-path", "no-catalogs", "not-a-catalog", "unreadable"})

#: Every code of a warning; all others are errors. A code keeps its meaning for good; warnings do
#: not stop an import.
WARNINGS = frozenset(
    (
        *("sets-alike", "sums-apart", "reverse-touches", "few-teeth", "mark-twice", "one-set"),
        *("no-source", "final-by-rule", "ratio-unchecked", "csv-no-decimals", "no-planets"),
    )
)


@dataclass(frozen=True, slots=True)
class Finding:
    """Something wrong in one family, before it is known in which file and line that stands.

    `set_no` counts the family's sets from 0; None: the family itself. `key` is the key as it is
    written, with those above it: `pairs.1`, `pieces.laygear`. `line` where only the reader of
    the file knows it.
    """

    code: str
    sentence: str
    mend: str = ""
    set_no: int | None = None
    key: str = ""
    line: int | None = None


@dataclass(frozen=True, slots=True)
class Problem:
    """Something wrong in a catalog, with its place.

    `severity` is `error` or `warning`. `file` is empty for a catalog that came from none; `line`
    and `column` count from 1 and are None where they are not known. `family` and `set` are ids.
    """

    severity: str
    code: str
    file: str
    line: int | None
    family: str
    set: str
    key: str
    sentence: str
    mend: str = ""
    column: int | None = None

    @property
    def is_error(self) -> bool:
        """Whether it stops an import."""
        return self.severity == ERROR

    @property
    def place(self) -> str:
        """File, line and column, as far as they are known: `alder-4.toml:12:5`."""
        numbers = [str(n) for n in (self.line, self.column) if n is not None]
        return ":".join([self.file, *numbers]) if self.file else ""

    @property
    def subject(self) -> str:
        """Family, set and key, as far as they are known: `alder-4/wide, pairs.1`."""
        named = f"{self.family}/{self.set}" if self.family and self.set else self.family or self.set
        return ", ".join(part for part in (named, self.key) if part)

    def __str__(self) -> str:
        head = [part for part in (self.place, self.subject) if part]
        text = ": ".join([*head, self.sentence])
        return f"{text}; {self.mend}" if self.mend else text


def file_error(
    code: str,
    file: str,
    sentence: str,
    mend: str = "",
    line: int | None = None,
    column: int | None = None,
    key: str = "",
) -> Problem:
    """Return an error of a file that is of no family."""
    return Problem(ERROR, code, file, line, "", "", key, sentence, mend, column)


def severity_of(code: str) -> str:
    """Return `error` or `warning` for a code."""
    return WARNING if code in WARNINGS else ERROR


class CatalogError(UserError):
    """A catalog cannot be used: `problems` are all its errors, `warnings` what was seen beside."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        found = tuple(problems)
        self.problems = tuple(p for p in found if p.is_error)
        self.warnings = tuple(p for p in found if not p.is_error)
        first = self.problems[0]
        where = ": ".join(part for part in (first.place, first.subject) if part)
        super().__init__(first.sentence, where, first.mend)
