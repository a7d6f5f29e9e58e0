"""Answers of many items as rows of CSV or lines of JSON, in the order in which they were asked.

Where the lines go is left to `file`, all numbers to the evidence.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Protocol

from cogtally.evidence.posterior import UNCATALOGUED
from cogtally.gears.notation import written_count
from cogtally.show.box import FORMAT, answer_json

if TYPE_CHECKING:
    from cogtally.evidence.reading import Answer
    from cogtally.shelf.batch.rows import BoxFound, PieceFound

ITEM, ERROR = "item", "error"
PIECE_COLUMNS = (
    ITEM,
    "verdict",
    "probability",
    "family",
    "piece",
    "teeth",
    "sets",
    "off",
    "first",
    "second",
    "uncatalogued",
    ERROR,
)
BOX_COLUMNS = (
    ITEM,
    "verdict",
    "probability",
    "whole_box",
    "family",
    "sets",
    "strangers",
    "not_counted",
    ERROR,
)
#: Of a probability in a cell; a line of JSON has all of them.
_DIGITS = 6


class Lines(Protocol):
    """How rows go out: each as one line, read back where a run is taken up again."""

    @property
    def header(self) -> str:
        """What stands above all lines; empty where nothing does."""

    def answered(self, row: int, item: str, answer: Any) -> str:
        """Return the line of an answered row."""

    def refused(self, row: int, item: str, error: str) -> str:
        """Return the line of a row that could not be read."""

    def read(self, line: str) -> tuple[str, bool] | None:
        """Return what a line calls its item, and whether it was refused; None for no such line."""


class CsvLines:
    """Rows of CSV: `cells` are those of an answer, by column, `columns` all of them in order."""

    def __init__(self, columns: Sequence[str], cells: Any) -> None:
        self._columns = columns
        self._cells = cells
        self._text = io.StringIO()
        self._writer = csv.writer(self._text, lineterminator="\n")

    @property
    def header(self) -> str:
        """The names of the columns."""
        return self._line(self._columns)

    def answered(self, row: int, item: str, answer: Any) -> str:
        """Return the line of an answered row."""
        return self._line([item, *self._cells(answer), ""])

    def refused(self, row: int, item: str, error: str) -> str:
        """Return the line of a row that could not be read."""
        return self._line([item, *[""] * (len(self._columns) - 2), error])

    def read(self, line: str) -> tuple[str, bool] | None:
        """Return what a line calls its item, and whether it was refused; None for no such line."""
        try:
            cells = next(csv.reader([line]), [])
        except csv.Error:
            return None
        return (cells[0], bool(cells[-1])) if len(cells) == len(self._columns) else None

    def _line(self, cells: Sequence[str]) -> str:
        self._text.seek(0)
        self._text.truncate()
        self._writer.writerow(cells)
        return self._text.getvalue()


class JsonLines:
    """Lines of JSON: `document` is that of an answer."""

    header = ""

    def __init__(self, document: Any) -> None:
        self._document = document

    def answered(self, row: int, item: str, answer: Any) -> str:
        """Return the line of an answered row."""
        return _json({"format": FORMAT, "row": row, ITEM: item, **self._document(answer)})

    def refused(self, row: int, item: str, error: str) -> str:
        """Return the line of a row that could not be read."""
        return _json({"format": FORMAT, "row": row, ITEM: item, ERROR: error})

    def read(self, line: str) -> tuple[str, bool] | None:
        """Return what a line calls its item, and whether it was refused; None for no such line."""
        try:
            document = json.loads(line)
            return str(document[ITEM]), ERROR in document
        except (ValueError, KeyError, TypeError):
            return None


def piece_cells(found: PieceFound) -> list[str]:
    """Return the cells of a loose piece between its item and its error."""
    verdict = found.verdict
    first, second = [*found.leading, None, None][:2]
    lead = None if verdict.kind == UNCATALOGUED else first
    group = None if lead is None else lead.group
    off = [f"place {o.place} counted {o.counted}, listed {o.listed}" for o in found.off]
    return [
        verdict.kind,
        _number(verdict.probability),
        group.family.id if group else "",
        group.piece.name if group else "",
        _typed(group.teeth) if group else "",
        " ".join(group.sets) if group else "",
        "; ".join(off) if group else "",
        _number(lead.probability) if lead else "",
        _number(second.probability) if second else "",
        _number(found.uncatalogued),
    ]


def piece_document(found: PieceFound) -> dict[str, Any]:
    """Return a loose piece for machines; types alike in teeth are one answer."""
    return {
        "verdict": {"kind": found.verdict.kind, "probability": found.verdict.probability},
        "answers": [
            {
                "family": share.group.family.id,
                "piece": share.group.piece.name,
                "type": list(share.group.teeth),
                "sets": list(share.group.sets),
                "probability": share.probability,
            }
            for share in found.leading
        ],
        "off": [{"place": o.place, "counted": o.counted, "listed": o.listed} for o in found.off],
        "uncatalogued": found.uncatalogued,
        "hands": {"steady": found.steady, "hasty": 1 - found.steady},
    }


def box_cells(found: BoxFound) -> list[str]:
    """Return the cells of a box between its item and its error."""
    verdict = found.verdict
    strangers = [f"{f.piece} of {' '.join(f.from_sets)}" for f in verdict.foreign]
    strangers += [f"{u.piece} unlisted" for u in verdict.unlisted]
    return [
        verdict.kind,
        _number(verdict.probability),
        _number(verdict.whole_box),
        verdict.family,
        " ".join(verdict.sets),
        "; ".join(strangers),
        " ".join(verdict.not_counted),
    ]


def box_document(answer: Answer) -> Mapping[str, Any]:
    """Return a box for machines, as `identify --json` does."""
    document = answer_json(answer)
    # The catalog is the same in every line, and no reasons were asked for.
    return {k: v for k, v in document.items() if k not in ("format", "catalog", "why")}


def _typed(teeth: Sequence[int | None]) -> str:
    """The teeth of a piece as they are typed: `28 24 _ 14 12`."""
    return " ".join(map(written_count, teeth))


def _number(value: float) -> str:
    return f"{value:.{_DIGITS}f}"


def _json(document: Mapping[str, Any]) -> str:
    return json.dumps(document, allow_nan=False) + "\n"
