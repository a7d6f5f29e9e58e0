"""How wide a screen is, whether it takes colour, and how text of others is made safe for it.

What is put on the screen is left to the rooms beside this one.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from errno import EPIPE
from typing import IO, TYPE_CHECKING, Any, TextIO

from rich.text import Text

from cogtally.gears.errors import plain

if TYPE_CHECKING:
    from rich.console import Console


NARROWEST, WIDEST = 60, 100
#: Tables need the columns above; a note, which is running text, does with fewer.
NARROWEST_NOTE = 20
NOTE_INDENT = 2
#: The width where there is neither a terminal nor COLUMNS to ask.
WIDTH_OFF_TERMINAL = 80

_HELD_PER_CENT = "\N{NO-BREAK SPACE}%"
#: Stands for the second column of a letter that takes two; no text made plain has it.
_SECOND_COLUMN = "\ue000"

STRONG, DIM, MARKED = "bold", "dim", "yellow"


def console_for(stream: TextIO | None = None, *, width: int | None = None) -> Console:
    """Return a console on `stream` (standard output if None), 60 to 100 columns wide.

    It never reads markup, emoji codes or numbers out of text. It has colour on a terminal only,
    and none where NO_COLOR is set or TERM is dumb.
    """
    from rich.console import Console

    class Screen(Console):
        """A console that leaves a reader who went away to the way in, as all errors are."""

        def on_broken_pipe(self) -> None:
            raise BrokenPipeError

    out = stream or sys.stdout
    _never_fail_on_a_letter(out)
    coloured = _is_terminal(out) and not os.environ.get("NO_COLOR") and not _is_dumb()
    return Screen(
        file=out,
        width=width or width_of(out),
        markup=False,
        emoji=False,
        highlight=False,
        color_system="auto" if coloured else None,
        force_terminal=None if coloured else False,
        legacy_windows=False,
        soft_wrap=False,
    )


def width_of(stream: TextIO, narrowest: int = NARROWEST) -> int:
    """Return the columns to write in: COLUMNS, else the terminal's, else 80.

    They are held to `narrowest` and 100.
    """
    asked = os.environ.get("COLUMNS", "")
    if asked.isascii() and asked.isdigit() and int(asked) > 0:
        return _held(int(asked), narrowest)
    try:
        return _held(os.get_terminal_size(stream.fileno()).columns, narrowest)
    except (OSError, ValueError, AttributeError):
        return WIDTH_OFF_TERMINAL


def note(text: str) -> None:
    """Print a note, a warning or an error on standard error, its text made plain.

    On a terminal it is broken between words, what goes on below indented; elsewhere it is one line.
    Where it cannot be written that changes nothing, unless its reader went away.
    """
    said = plain(text)
    if _is_terminal(sys.stderr):
        said = "\n".join(wrapped(said, width_of(sys.stderr, NARROWEST_NOTE), NOTE_INDENT))
    try:
        print(said, file=sys.stderr)
    except OSError as error:
        if error.errno == EPIPE:
            raise


def on_terminal(console: Console) -> bool:
    """Tell whether a person looks at it, and no file or other program takes it."""
    return _is_terminal(console.file)


def written_list(words: Iterable[str], last: str = "and") -> str:
    """Return words as a sentence lists them: `a`, `a and b`, `a, b and c`."""
    found = list(words)
    if len(found) < 2:
        return "".join(found)
    return f"{', '.join(found[:-1])} {last} {found[-1]}"


def wrapped(text: str, width: int, hanging: int = 0) -> list[str]:
    """Return a text as lines of at most `width` columns; a word that is longer is left whole.

    Lines after the first begin with `hanging` spaces.
    """
    import textwrap

    # "97 %" is one thing to a reader.
    lines = textwrap.wrap(
        _by_columns(text.replace(" %", _HELD_PER_CENT)),
        width,
        subsequent_indent=" " * hanging,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [line.replace(_HELD_PER_CENT, " %").replace(_SECOND_COLUMN, "") for line in lines] or [
        ""
    ]


def _by_columns(text: str) -> str:
    """Return a text of as many characters as it takes columns."""
    if text.isascii():
        return text
    from unicodedata import east_asian_width

    return "".join(c + _SECOND_COLUMN if east_asian_width(c) in "WF" else c for c in text)


def _held(columns: int, narrowest: int) -> int:
    # A window that does not tell its width says 0.
    return min(max(columns, narrowest), WIDEST) if columns else WIDTH_OFF_TERMINAL


def _is_terminal(stream: IO[str]) -> bool:
    try:
        return stream.isatty()
    except ValueError:
        return False


def _is_dumb() -> bool:
    return os.environ.get("TERM", "") in ("dumb", "unknown")


def _never_fail_on_a_letter(stream: TextIO) -> None:
    """Let a stream of a narrow encoding write `?` for a letter that it does not have."""
    reconfigure = getattr(stream, "reconfigure", None)
    if reconfigure is not None and getattr(stream, "errors", "strict") == "strict":
        reconfigure(errors="replace")


@contextmanager
def progress(what: str, *, left: bool = False) -> Iterator[Callable[[int, int], None]]:
    """Show a bar for `what` on standard error; call what is given with (done, of all);
    until then the bar only says that something is under way. `left`: the time left is shown too.

    Where standard error is no terminal nothing is drawn. The bar goes away at the end.
    """
    if not sys.stderr.isatty():
        yield lambda done, total: None
        return
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        TextColumn("{task.fields[share]}", markup=False),
        *([TimeRemainingColumn()] if left else []),
    )
    # Answers may go to standard output meanwhile; they are no part of the bar.
    screen = console_for(sys.stderr)
    with Progress(*columns, console=screen, transient=True, redirect_stdout=False) as bar:
        task = bar.add_task(what, total=None, share="")

        def advance(done: int, total: int) -> None:
            bar.update(task, completed=done, total=total, share=f"{100 * done // total} %")

        yield advance


def print_json(document: Mapping[str, Any]) -> None:
    """Print a document as JSON on standard output, every number in full double precision."""
    sys.stdout.write(json.dumps(document, indent=2, allow_nan=False) + "\n")


GAP = "  "


def table_lines(
    columns: Sequence[str], rows: Iterable[Sequence[str]], left: Sequence[int] = (0,)
) -> list[Text]:
    """Return a table as lines; the columns numbered in `left` are set left, the others right."""
    cells = [columns, *rows]
    widths = [max(len(row[i]) for row in cells) for i in range(len(columns))]
    found = []
    for row in cells:
        set_out = [
            cell.ljust(wide) if i in left else cell.rjust(wide)
            for i, (cell, wide) in enumerate(zip(row, widths, strict=True))
        ]
        found.append(Text(GAP.join(set_out).rstrip(), style=STRONG if row is columns else ""))
    return found


def fits(lines: Iterable[Text], width: int) -> bool:
    """Tell whether no line is wider than `width` columns."""
    return all(line.cell_len <= width for line in lines)


def tables_lines(
    columns: Sequence[str], rows: Sequence[Sequence[str]], width: int
) -> list[list[Text]]:
    """Return a table, or as many as are needed to keep to `width`, each with the first column."""
    found: list[list[Text]] = []
    first = 1
    while first < len(columns):
        last = len(columns)
        while True:
            chosen = (0, *range(first, last))
            lines = table_lines(
                [columns[i] for i in chosen], [[row[i] for i in chosen] for row in rows]
            )
            if fits(lines, width) or last == first + 1:
                break
            last -= 1
        found.append(lines)
        first = last
    return found
