"""`piece --from` and `identify --from`: many items from a CSV file, an answer a row.

What a row comes to is left to the shelf, how it is written to `show`.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Collection, Mapping
from contextlib import nullcontext
from functools import partial
from itertools import islice
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

import typer

from cogtally.cli.known import asked_catalog
from cogtally.gears.errors import UserError, shown
from cogtally.show import screen

if TYPE_CHECKING:
    from cogtally.shelf.batch import Boxes, Pieces, Sheet
    from cogtally.show.batch import Done, Lines

#: Exit code where rows could not be read.
REFUSED = 1
CSV, JSON_LINES = ".csv", ".jsonl"
#: Options of --from itself, and those that any command has.
OF_MANY = ("from_file", "out", "resume")
OF_ALL = ("catalog", "demo", "as_json")
#: What a row of a file may say for itself, by the names of the command line.
OF_A_ROW = (
    *("seen", "pair", "role", "family", "mark", "feature"),
    *("place", "price", "condition", "photo", "note", "quantity"),
)


def refuse_beside(context: typer.Context, goes: Collection[str]) -> None:
    """Raise UserError for options that do not go together: those of one item with --from.

    And those of --from without it. `goes`: what else the command has that goes with --from.
    """
    given = {str(each.name): context.params.get(str(each.name)) for each in context.command.params}
    from_file, out, resume = (given.get(name) for name in OF_MANY)
    if from_file is None:
        if out is not None or resume:
            option = "--out" if out is not None else "--resume"
            raise UserError(f"{option} goes with --from", mend="write --from FILE.csv too")
        return
    for name, value in given.items():
        if value and name not in (*OF_MANY, *OF_ALL, *goes):
            written = "counts" if name == "seen" else f"--{name.replace('_', '-')}"
            mend = f"leave {written} out"
            if name in OF_A_ROW:
                mend += ": each row of the file has its own"
            raise UserError(f"{written} and --from do not go together", mend=mend)
    if resume and out is None:
        raise UserError("--resume goes on with a file", mend="write --out FILE too")


def answer_pieces(given: Mapping[str, Any]) -> int:
    """Say what every loose piece of a file is, by the options given; return the exit code."""
    is_json = _is_json(given["out"], given["as_json"])
    known = asked_catalog(given["catalog"], given["demo"])
    from cogtally.cli.known import asked_wants
    from cogtally.shelf.batch import Pieces
    from cogtally.show.batch import PIECE_COLUMNS, CsvLines, JsonLines, piece_cells, piece_document

    wants = asked_wants(given["catalog"], given["demo"], known)
    document, cells = partial(piece_document, wants=wants), partial(piece_cells, wants=wants)
    lines = JsonLines(document) if is_json else CsvLines(PIECE_COLUMNS, cells)
    return _run(Pieces(known, given["role"], given["family"]), lines, given)


def answer_boxes(given: Mapping[str, Any]) -> int:
    """Say what every box of a file is, by the options given; return the exit code."""
    is_json = _is_json(given["out"], given["as_json"])
    known = asked_catalog(given["catalog"], given["demo"])
    from cogtally.shelf.batch import Boxes
    from cogtally.show.batch import BOX_COLUMNS, CsvLines, JsonLines, box_cells, box_document

    lines = JsonLines(box_document) if is_json else CsvLines(BOX_COLUMNS, box_cells)
    return _run(Boxes(known, given["family"], briefly=not is_json), lines, given)


def _is_json(out: str | None, as_json: bool) -> bool:
    """Whether lines of JSON are written; the ending of the file and --json have to agree."""
    if out is None:
        return as_json
    ending = PurePath(out).suffix.lower()
    if ending not in (CSV, JSON_LINES):
        raise UserError("the file ends with .csv or .jsonl", f"--out {shown(out)}")
    if as_json and ending == CSV:
        raise UserError("--json writes .jsonl", f"--out {shown(out)}", "write one of the two")
    return ending == JSON_LINES


def _run(asked: Pieces | Boxes, lines: Lines, given: Mapping[str, Any]) -> int:
    from cogtally.shelf.batch import Sheet
    from cogtally.show.batch import reading, writing

    from_file, out, resume = (given[name] for name in OF_MANY)
    # Where the answers are on the screen themselves, a bar would only be in their way.
    on_screen = out is None and sys.stdout.isatty()
    shown_bar = (
        nullcontext(lambda done, total: None)
        if on_screen
        else screen.progress("answering", left=True)
    )
    with shown_bar as at, reading(from_file, _seldom(at)) as text:
        sheet = Sheet(text, shown(PurePath(from_file).name), asked.check)
        with writing(out, lines, resume=resume) as (stream, done):

            def write(line: str) -> None:
                # Whatever reads it: nothing that strangers wrote in a cell steers a terminal.
                safe = screen.plain(line.removesuffix("\n")) + "\n"
                stream.write(safe if out is None else line)

            answered, refused = _answer(asked, sheet, lines, write, done)
    _say_end(answered, refused, asked.catalog.demo)
    return REFUSED if refused else 0


def _seldom(at: Callable[[int, int], None]) -> Callable[[int, int], None]:
    """Pass a report on only where something can be seen of it."""
    last = 0

    def report(done: int, total: int) -> None:
        nonlocal last
        if 200 * (done - last) >= total:
            last = done
            at(done, total)

    return report


def _answer(
    asked: Pieces | Boxes, sheet: Sheet, lines: Lines, write: Callable[[str], object], done: Done
) -> tuple[int, int]:
    """Answer every row behind those done; return how many were answered, and refused, in all."""
    answered, refused = done.rows - done.refused, done.refused
    rows = sheet.rows()
    if done.rows:
        # The rows that were answered before are passed over.
        last = next(islice(rows, done.rows - 1, None), None)
        if last is None or last.item != done.item:
            mend = "give the file that it was begun with"
            raise UserError("the rows written so far are not of this file", sheet.file, mend)
    for row in rows:
        try:
            line = lines.answered(row.line, row.item, asked.answer(row))
            answered += 1
        except UserError as error:
            line = lines.refused(row.line, row.item, str(error))
            screen.note(f"cogtally: {sheet.file}:{row.line}: {error}")
            refused += 1
        write(line)
    return answered, refused


def _say_end(answered: int, refused: int, demo: bool) -> None:
    """Say on standard error how many rows there were, and what an answer does not say."""
    from rich.text import Text

    console = screen.console_for(sys.stderr)
    rows = f"{screen.count_of(answered, 'row')} answered"
    if refused:
        rows += f", {refused:,} could not be read: each has its error"
    console.print(Text(rows))
    for line in (*([screen.DEMO_CAUTION] if demo else []), screen.CAUTION):
        console.print(Text(line, style=screen.DIM))
