"""The screen of `identify`: headline, table of pairs, rivals, what to do next, caution.

What each part says is left to its own room, all numbers to the evidence.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.text import Text

from cogtally.evidence.reading import Answer
from cogtally.show.box.headline import sentences
from cogtally.show.box.next import next_lines
from cogtally.show.box.tables import column_head, pair_table, rival_lines
from cogtally.show.screen import CAUTION, DEMO_CAUTION, DIM, STRONG, wrapped

if TYPE_CHECKING:
    from rich.console import Console

#: "in 24 lines for a four-speed box": the less probable rivals give way.
LINES = 24


def show_answer(answer: Answer, console: Console) -> None:
    """Print all that is to be said of one assembled box."""
    width = console.width
    first, *others = sentences(answer)
    lines = [Text(line, style=STRONG) for line in wrapped(first, width)]
    lines += [Text(line) for line in wrapped(" ".join(others), width) if line] + [Text()]
    if answer.seen.counts or answer.seen.turns:
        lines += [*pair_table(answer, width), Text()]
    if answer.looks:
        from cogtally.show.box.tables import look_table

        lines += [*look_table(answer.looks, column_head(answer), width), Text()]
    end = [Text(line) for line in next_lines(answer, width)]
    end = [Text(), *end, Text()] if end else [Text()]
    demo = [DEMO_CAUTION] if answer.catalog.demo else []
    for text in (*demo, CAUTION):
        end += [Text(line, style=DIM) for line in wrapped(text, width)]
    rivals = rival_lines(answer, width, LINES - len(lines) - len(end))
    if answer.account is not None:
        from cogtally.show.box.tables import account_lines

        end = [Text(), *account_lines(answer.account, width), *end]
    console.print(Text("\n").join([*lines, *rivals, *end]), overflow="fold")
