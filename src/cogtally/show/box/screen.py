"""The screen of `identify`: headline, what to do next, table of pairs, rivals, caution.

What each part says is left to its own room, all numbers to the evidence.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.text import Text

from cogtally.evidence.posterior import MATCHED, NEW, UNCATALOGUED
from cogtally.evidence.reading import NARROWED, Answer
from cogtally.show.box.headline import KINDS, sentences
from cogtally.show.box.next import next_lines
from cogtally.show.box.remedy import Shelf, remedy_lines
from cogtally.show.box.tables import (
    account_lines,
    check_table,
    column_head,
    look_table,
    pair_table,
    rival_lines,
)
from cogtally.show.screen import CAUTION, DEMO_CAUTION, DIM, STRONG, wrapped

if TYPE_CHECKING:
    from rich.console import Console

#: "in 24 lines for a four-speed box": the less probable rivals give way, then the
#: longer tale of what makes the box whole.
LINES = 24
FOLDS = 3
#: The colour of the word that a headline begins with; any other is asked about.
COLOURS = {MATCHED: "green", NARROWED: "green", NEW: "cyan", UNCATALOGUED: "red"}
DOUBT = "yellow"


def show_answer(answer: Answer, console: Console, shelf: Shelf | None = None) -> None:
    """Print all that is to be said of one assembled box; `shelf` is what is for sale, if asked."""
    width = console.width
    lines: list[Text] = []
    # With the account all is told; without it what is of least use gives way.
    for folded in range(1 if answer.account is not None else FOLDS + 1):
        lines = _lines(answer, width, shelf, folded)
        if len(lines) <= LINES:
            break
    console.print(Text("\n").join(lines), overflow="fold")


def _lines(answer: Answer, width: int, shelf: Shelf | None, folded: int) -> list[Text]:
    lines = [*_headline(answer, width), *map(Text, next_lines(answer, width))]
    lines += [*map(Text, remedy_lines(answer, shelf, width, folded)), Text()]
    if answer.expectation is not None and answer.checked is not None:
        lines += [*check_table(answer, answer.checked, width), Text()]
    elif answer.seen.counts or answer.seen.turns:
        lines += [*pair_table(answer, width), Text()]
    if answer.looks:
        lines += [*look_table(answer.looks, column_head(answer), width), Text()]
    demo = [DEMO_CAUTION] if answer.catalog.demo else []
    end = [Text()]
    for text in (*demo, CAUTION):
        end += [Text(line, style=DIM) for line in wrapped(text, width)]
    rivals = rival_lines(answer, width, LINES - len(lines) - len(end), folded)
    if answer.account is not None:
        end = [Text(), *account_lines(answer.account, width), *end]
    return [*lines, *rivals, *end]


def _headline(answer: Answer, width: int) -> Sequence[Text]:
    """The headline, its first word in colour, and the sentences behind it."""
    first, *others = sentences(answer)
    lines = [Text(line, style=STRONG) for line in wrapped(first, width)]
    kind = answer.verdict.kind
    lines[0].stylize(f"{STRONG} {COLOURS.get(kind, DOUBT)}", 0, len(KINDS[kind]))
    return lines + [Text(line) for line in wrapped(" ".join(others), width) if line]
