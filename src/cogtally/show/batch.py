"""Answers of many items as rows of CSV or lines of JSON, and the files read and written for it.

All numbers are left to the evidence. Whatever ends a run, what it wrote is whole lines and at most
one that is cut short, so that it can be taken up behind the last whole one.
"""

import csv
import io
import json
import os
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO, TextIO

from cogtally.evidence.loose import LooseAnswer
from cogtally.evidence.posterior import UNCATALOGUED
from cogtally.evidence.reading import Answer, Verdict
from cogtally.gears.errors import UserError, cell_text, shown, text_cell, why_of
from cogtally.gears.notation import written_count
from cogtally.shelf.batch import LONGEST_LINE
from cogtally.shelf.stock import Want, wanted_among
from cogtally.show.box import answer_json
from cogtally.show.piece import off_json
from cogtally.show.screen import FORMAT, keys_of
from cogtally.show.stock import wanted_json

ITEM, ERROR = "item", "error"
PIECE_COLUMNS = (
    *(ITEM, "verdict", "probability", "family", "piece", "teeth", "sets", "off"),
    *("first", "second", "uncatalogued", "wanted", ERROR),
)
BOX_COLUMNS = (
    *(ITEM, "verdict", "probability", "whole_box", "family", "sets", "strangers"),
    *("not_counted", "off", ERROR),
)
#: Of a probability in a cell; a line of JSON has all of them.
_DIGITS = 6


@dataclass(frozen=True, slots=True)
class CsvLines:
    """Rows of CSV: `cells` are those of an answer, by column, `columns` all of them in order."""

    columns: Sequence[str]
    cells: Any

    @property
    def header(self) -> str:
        """The names of the columns."""
        return self._line(self.columns)

    def answered(self, row: int, item: str, answer: Any) -> str:
        """Return the line of an answered row."""
        return self._line([item, *self.cells(answer), ""])

    def refused(self, row: int, item: str, error: str) -> str:
        """Return the line of a row that could not be read."""
        return self._line([item, *[""] * (len(self.columns) - 2), error])

    def read(self, line: str) -> tuple[str, bool] | None:
        """Return what a line calls its item, and whether it was refused; None for no such line."""
        try:
            cells = next(csv.reader([line]), [])
        except csv.Error:
            return None
        return (cell_text(cells[0]), bool(cells[-1])) if len(cells) == len(self.columns) else None

    def _line(self, cells: Sequence[str]) -> str:
        text = io.StringIO()
        csv.writer(text, lineterminator="\n").writerow(map(text_cell, cells))
        return text.getvalue()


@dataclass(frozen=True, slots=True)
class JsonLines:
    """Lines of JSON: `document` is that of an answer."""

    document: Any
    header: str = ""

    def answered(self, row: int, item: str, answer: Any) -> str:
        """Return the line of an answered row."""
        return _json({"format": FORMAT, "row": row, ITEM: item, **self.document(answer)})

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


#: How rows go out: each as one line, read back where a run is taken up again.
Lines = CsvLines | JsonLines


def piece_cells(found: LooseAnswer, wants: Sequence[Want] = ()) -> list[str]:
    """Return the cells of a loose piece between its item and its error; `wants`: looked for."""
    verdict = found.verdict
    first, second = [*found.groups, None, None][:2]
    lead = None if verdict.kind == UNCATALOGUED else first
    off = (
        [f"place {o.place} counted {o.counted}, listed {o.listed}" for o in lead.off]
        if lead
        else []
    )
    return [
        verdict.kind,
        _number(verdict.probability),
        lead.family.id if lead else "",
        lead.piece.name if lead else "",
        _typed(lead.teeth) if lead and lead.is_listed else "",
        " ".join(lead.sets) if lead else "",
        "; ".join(off),
        _number(lead.probability) if lead else "",
        _number(second.probability) if second else "",
        _number(found.posterior.uncatalogued),
        "; ".join(one.want.text for one in wanted_among(wants, found.posterior.answers())),
    ]


def piece_document(found: LooseAnswer, wants: Sequence[Want] = ()) -> dict[str, Any]:
    """Return a loose piece for machines; types alike in teeth are one answer."""
    posterior = found.posterior
    return {
        "verdict": keys_of(found.verdict, "kind", "probability"),
        "answers": [
            {
                **keys_of(group, "family=family.id", "piece=piece.name"),
                "type": list(group.teeth) if group.is_listed else None,
                **keys_of(group, "sets", "probability"),
            }
            for group in found.groups
        ],
        "off": off_json(found.groups[0].off if found.groups else ()),
        "uncatalogued": posterior.uncatalogued,
        "hands": {"steady": posterior.steady, "hasty": 1 - posterior.steady},
        "wanted": wanted_json(wanted_among(wants, posterior.answers())),
    }


def box_cells(verdict: Verdict) -> list[str]:
    """Return the cells of a box between its item and its error."""
    strangers = [f"{f.piece} of {' '.join(f.from_sets)}" for f in verdict.foreign]
    strangers += [f"{u.piece} unlisted" for u in verdict.unlisted]
    off = verdict.disagrees
    return [
        verdict.kind,
        _number(verdict.probability),
        _number(verdict.whole_box),
        verdict.family,
        " ".join(verdict.sets),
        "; ".join(strangers),
        " ".join(verdict.not_counted),
        "; ".join(f"{d.wheel} counted {d.counted}, listed {d.listed or 0}" for d in off),
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


#: As a name of the file to read: standard input.
STANDARD_INPUT = "-"
#: A line of so many bytes was not written here.
LONGEST_ANSWER = 2**20


@dataclass(frozen=True, slots=True)
class Done:
    """What an earlier run wrote: so many whole lines, of them refused, and the last one's item."""

    rows: int = 0
    refused: int = 0
    item: str = ""


@contextmanager
def reading(name: str, at: Callable[[int, int], None]) -> Iterator[Iterator[str]]:
    """Open a file to be read line by line; `at` is told how many bytes were read, of how many.

    What is no UTF-8 comes as lone surrogates. Raises UserError where it cannot be opened.
    """
    if name == STANDARD_INPUT:
        yield _lines(sys.stdin.buffer, lambda read: None)
        return
    try:
        path = Path(name).expanduser()
        size = os.stat(path).st_size
        stream = path.open("rb")
    except (OSError, ValueError, RuntimeError) as error:
        raise _unreadable(name, error) from error
    with stream:
        yield _lines(stream, lambda read: at(read, max(size, read)))


def _lines(stream: BinaryIO, at: Callable[[int], None]) -> Iterator[str]:
    read = 0
    try:
        # Four bytes a character at most: what is longer than a row may be comes in parts.
        while line := stream.readline(4 * LONGEST_LINE):
            read += len(line)
            at(read)
            yield line.decode("utf-8", "surrogateescape")
    except OSError as error:
        raise _unreadable(getattr(stream, "name", ""), error) from error


def _unreadable(name: object, error: Exception) -> UserError:
    mend = "give a .csv file with a row an item, or - for standard input"
    return UserError(f"the file cannot be read: {why_of(error)}", shown(str(name)), mend)


@contextmanager
def writing(name: str | None, lines: Lines, *, resume: bool) -> Iterator[tuple[TextIO, Done]]:
    """Open the file to be written, or standard output, with its header written.

    A file that is there already is refused, but with `resume` taken up behind its last whole
    line. Raises UserError where it cannot be written, or was not written by such a run.
    """
    try:
        if name is None:
            sys.stdout.write(lines.header)
            yield sys.stdout, Done()
            sys.stdout.flush()
            return
        path = Path(name)
        done = _taken_up(path, lines) if resume and path.exists() else Done()
        begun = resume and path.exists() and path.stat().st_size > 0
        with path.open("a" if resume else "x", encoding="utf-8", newline="\n") as stream:
            if not begun:
                stream.write(lines.header)
            yield stream, done
    except BrokenPipeError:
        raise
    except FileExistsError as error:
        mend = "write --resume to go on with it, or another name"
        raise UserError("the file is there already", shown(name or ""), mend) from error
    except (OSError, ValueError) as error:
        place = "standard output" if name is None else shown(name)
        mend = "" if name is None else "give --out a file in a folder that can be written"
        raise UserError(f"the answers cannot be written: {why_of(error)}", place, mend) from error


def _taken_up(path: Path, lines: Lines) -> Done:
    """Cut off the last line where it is not whole, and tell what stands above it."""
    rows = refused = whole = 0
    item = ""
    header = lines.header.encode("utf-8")
    with path.open("r+b") as stream:
        for number, line in enumerate(iter(lambda: stream.readline(LONGEST_ANSWER), b"")):
            if len(line) == LONGEST_ANSWER:
                raise _not_ours(path)
            if not line.endswith(b"\n"):
                break
            whole += len(line)
            if number == 0 and header:
                if line != header:
                    raise _not_ours(path)
                continue
            found = lines.read(line.decode("utf-8", "replace"))
            if found is None:
                raise _not_ours(path)
            item = found[0]
            refused += found[1]
            rows += 1
        stream.truncate(whole)
    return Done(rows, refused, item)


def _not_ours(path: Path) -> UserError:
    mend = "leave --resume out and write another name"
    return UserError("the file was not begun by such a run", shown(str(path)), mend)
