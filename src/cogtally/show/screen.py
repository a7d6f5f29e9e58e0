"""What all screens share: console, tables, probability in words, cautions, problems, JSON.

It knows how wide a screen is and whether it takes colour. What is put on a screen is left to the
rooms beside this one.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from errno import EPIPE
from fractions import Fraction
from math import floor
from operator import attrgetter
from typing import IO, TYPE_CHECKING, Any, TextIO, TypeVar

from rich.text import Text

from cogtally.catalog.model import Catalog
from cogtally.catalog.problem import Problem
from cogtally.gears.errors import plain as plain

if TYPE_CHECKING:
    from rich.console import Console as Console

    from cogtally.shelf.stock import Money


K = TypeVar("K")
V = TypeVar("V")
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
    from rich.console import Console as Console

    class Screen(Console):
        """A console that leaves a reader who went away to the way in, as all errors are."""

        def on_broken_pipe(self) -> None:
            raise BrokenPipeError

    out = stream or sys.stdout
    _never_fail_on_a_letter(out)
    is_dumb = os.environ.get("TERM", "") in ("dumb", "unknown")
    coloured = _is_terminal(out) and not os.environ.get("NO_COLOR") and not is_dumb
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


def say_notes(sentences: Iterable[str]) -> None:
    """Print what a person may have meant otherwise, a note each."""
    for sentence in sentences:
        note(f"Note: {sentence}")


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


def count_of(number: int, one: str, several: str = "") -> str:
    """Return a number of things in words: `1 set`, `1,200 sets`, `3 families`."""
    return f"{number:,} {one if number == 1 else several or one + 's'}"


def number_of(number: int, one: str, several: str = "") -> str:
    """Return a number of things, its thousands not parted: `1 set`, `1200 sets`, `3 families`."""
    return f"{number} {one if number == 1 else several or one + 's'}"


def layout_title(layout: str) -> str:
    """Return what a box of a layout is called: `Two-shaft box`; `Axle` and `Overdrive` are none."""
    title = layout.capitalize()
    return title if layout in ("axle", "overdrive") else f"{title} box"


def teeth_text(teeth: Iterable[int | None]) -> str:
    """Return the teeth of a piece in order along the axis: `28-24-19-14-12`."""
    return "-".join("_" if t is None else str(t) for t in teeth)


def time_text(at: str) -> str:
    """Return a time of the book as a person reads it."""
    return plain(at).replace("T", " ").removesuffix("Z") + " UTC"


def catalog_json(catalog: Catalog) -> dict[str, Any]:
    """Return what every document says of the catalog that was asked."""
    return {
        "name": catalog.name,
        "families": len(catalog.by_id),
        "sets": catalog.set_count,
        "demo": catalog.demo,
    }


def exact_json(
    value: Fraction | None, exact: str = "ratio", rounded: str = "decimal"
) -> dict[str, Any]:
    """Return a fraction as text and as a decimal under two keys; null where there is none."""
    return {
        exact: None if value is None else str(value),
        rounded: None if value is None else float(value),
    }


def money_json(money: Money | None) -> dict[str, Any]:
    """Return a price as its amount and its currency; null where there is none."""
    return {"price": money and money.amount, "currency": money and money.currency}


def keys_of(thing: object, *names: str) -> dict[str, Any]:
    """Return attributes of a thing by their names, for a document.

    One that the document calls otherwise is written `key=attribute`. A tuple becomes a list, as
    JSON has it.
    """
    found = {}
    for key, _, name in (each.partition("=") for each in names):
        value = attrgetter(name or key)(thing)
        found[key] = list(value) if isinstance(value, tuple) else value
    return found


def known_of(thing: object, *names: str) -> dict[str, Any]:
    """Return the same, but null for what is empty."""
    return {key: value or None for key, value in keys_of(thing, *names).items()}


def print_json(document: Mapping[str, Any]) -> None:
    """Print a document as JSON on standard output, every number in full double precision."""
    sys.stdout.write(json.dumps(document, indent=2, allow_nan=False) + "\n")


def show_or_json(
    as_json: bool, document: Callable[[], Mapping[str, Any]], screen: Callable[[Console], object]
) -> None:
    """Print a document as JSON, or show on standard output what it is of."""
    if as_json:
        print_json(document())
    else:
        screen(console_for())


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


def text_lines(texts: Iterable[str], width: int, style: str = "", hanging: int = 0) -> list[Text]:
    """Return texts as lines of at most `width` columns; those that go on begin with `hanging`."""
    return [
        Text(line, style=style) for text in texts if text for line in wrapped(text, width, hanging)
    ]


def say(console: Console, text: str, style: str = "", hanging: int = 0) -> None:
    """Print a text, wrapped to the screen; lines that go on begin with `hanging` spaces."""
    for line in text_lines([text], console.width, style, hanging):
        console.print(line, soft_wrap=True)


def say_end(console: Console) -> None:
    """Print an empty line and the caution."""
    console.print()
    say(console, CAUTION, DIM)


def caution_lines(width: int, demo: bool = False) -> list[Text]:
    """Return what a right answer does not say; with `demo` that the catalog is invented."""
    return text_lines([*([DEMO_CAUTION] if demo else []), CAUTION], width, DIM)


def say_hit(console: Console, head: str, strong: int, because: str) -> None:
    """Print what was found, its first `strong` characters strong, and by what, below."""
    for number, line in enumerate(text_lines([head], console.width, hanging=4)):
        line.stylize(STRONG, 0, 0 if number else strong)
        console.print(line, soft_wrap=True)
    for line in text_lines([because], console.width - 4):
        console.print(Text("    ").append(line), soft_wrap=True)


def print_parts(parts: Iterable[Sequence[Text]], console: Console, *, demo: bool = False) -> None:
    """Print parts with an empty line between two, and the caution below them."""
    every = [*parts, caution_lines(console.width, demo)]
    lines = [line for part in every if part for line in (*part, Text())]
    console.print(Text("\n").join(lines[:-1]), overflow="fold")


def hung(first: str, lines: Iterable[str]) -> list[str]:
    """Return lines beside a first column, which stands before the first of them alone."""
    return [(" " * len(first) if number else first) + line for number, line in enumerate(lines)]


def last_wrapped(
    head: Sequence[str], rows: Iterable[Sequence[str]], width: int, *, hanging: int = 0
) -> tuple[list[list[str]], int]:
    """Return each row of a table, the head's first, as its lines, and where its last column begins.

    All columns are set left; the last is wrapped, but never narrower than its head.
    """
    cells = [head, *rows]
    widths = [max(map(len, column)) for column in zip(*(row[:-1] for row in cells), strict=True)]
    before = sum(widths) + len(GAP) * len(widths)
    room = max(width - before, len(head[-1]))
    found = []
    for row in cells:
        first = "".join(c.ljust(wide) + GAP for c, wide in zip(row[:-1], widths, strict=True))
        lines = hung(first, wrapped(row[-1], room, hanging))
        found.append([line.rstrip() for line in lines])
    return found, before


def grouped(pairs: Iterable[tuple[K, V]]) -> dict[K, list[V]]:
    """Return the second of each pair by the first, both in the order in which they come."""
    found: dict[K, list[V]] = {}
    for key, value in pairs:
        found.setdefault(key, []).append(value)
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


#: From each of these on, a probability is called so.
SCALE = (
    (0.999, "certain"),
    (0.97, "nearly certain"),
    (0.90, "very likely"),
    (0.70, "likely"),
    (0.50, "more likely than not"),
    (0.10, "possible"),
    (0.01, "unlikely"),
    (0.0, "very unlikely"),
)
#: Called `very likely`, and nothing above it.
_HIGHEST_HELD = 0.90
#: Below this a share is not worth a line; it prints as less than 0.1 %.
LEAST_SHOWN = 0.0005


def in_words(probability: float) -> str:
    """Return the word of the scale for a probability."""
    return next((word for least, word in SCALE if probability >= least), SCALE[-1][1])


def signed(value: float) -> str:
    """Return a number to two places with its sign, and none for nothing."""
    text = f"{value:+.2f}"
    return "0.00" if text in ("+0.00", "-0.00") else text


def per_cent(probability: float) -> str:
    """Return a probability as a person reads it: whole per cents, tenths near either end.

    It never rounds to 0 or 100 %, nor across the 90 % from which an answer is given.
    """
    if probability < LEAST_SHOWN:
        return "under 0.1 %"
    if probability >= 1 - LEAST_SHOWN:
        return "over 99.9 %"
    if probability < 0.01 or probability >= 0.99:
        return f"{100 * probability:.1f} %"
    if 0.895 <= probability < 0.90:
        return f"{floor(1000 * probability) / 10:.1f} %"
    return f"{100 * probability:.0f} %"


def said(probability: float, *, held: bool = False) -> str:
    """Return a probability in words and per cent: `nearly certain, 99 %`.

    `held`: something speaks against it plainly, and no word is above `very likely`.
    """
    word = min(probability, _HIGHEST_HELD) if held else probability
    return f"{in_words(word)}, {per_cent(probability)}"


CAUTION = "Right teeth do not prove a sound gear or a fit. Turn by hand, box supported."

CAUTIONS = (
    "A matching count says what a gear is, not that it is sound or will fit: check hand and angle "
    "of helix, bore, splines, width, wear and cracks.",
    "Turn by hand only, with the engine disconnected and the box supported, for it is heavy. Keep "
    "fingers out of the mesh.",
    "Have a qualified rebuilder pass it before it carries anyone on a road, and follow the rules "
    "where you live.",
)

DEMO_CAUTION = "From the invented demo catalog: it names no real box."


FORMAT = 1
#: What every document says of a problem of a catalog.
PROBLEM_KEYS = ("family", "set", "key", "sentence", "mend")


def print_problems(console: Console, catalog: Catalog, problems: Sequence[Problem]) -> None:
    """Print one line a problem, then one that sums them up.

    On a terminal a long line goes on below, indented; piped, it stays one line.
    """
    from rich.padding import Padding

    for problem in problems:
        # Place and severity: `alder-4.toml:12: error: `.
        head = "".join(f"{part}: " for part in (problem.place, problem.severity) if part)
        body = f"{problem.subject}: " if problem.subject else ""
        body += f"{problem.sentence}; {problem.mend}" if problem.mend else problem.sentence
        text = Text.assemble(
            (plain(head), STRONG if problem.is_error else MARKED),
            plain(body),
            (f"  ({problem.code})", DIM),
        )
        if not console.is_terminal:
            console.print(text, soft_wrap=True)
            continue
        lines = text.wrap(console, console.width - 2)
        for number, line in enumerate(lines):
            console.print(Padding(line, (0, 0, 0, 2 if number else 0)))
    console.print(_summary(catalog, problems), soft_wrap=not console.is_terminal)


def problems_json(catalog: Catalog, problems: Sequence[Problem]) -> dict[str, Any]:
    """Return the problems as plain values, their texts as they were written."""
    return {
        "format": FORMAT,
        "catalog": {**catalog_json(catalog), "families": len(catalog.families)},
        "errors": _errors(problems),
        "warnings": len(problems) - _errors(problems),
        "problems": [
            keys_of(problem, "severity", "code", "file", "line", "column", *PROBLEM_KEYS)
            for problem in problems
        ],
    }


def _summary(catalog: Catalog, problems: Sequence[Problem]) -> str:
    families = number_of(len(catalog.families), "family", "families")
    read = f"{families}, {number_of(catalog.set_count, 'set')}"
    if not problems:
        return f"{read}: nothing is wrong."
    errors = _errors(problems)
    warnings = len(problems) - errors
    counted = [
        number_of(errors, "error") if errors else "no error",
        *([number_of(warnings, "warning")] if warnings else []),
    ]
    return f"{read}: {' and '.join(counted)}."


def _errors(problems: Sequence[Problem]) -> int:
    return sum(problem.is_error for problem in problems)
