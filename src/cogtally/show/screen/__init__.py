"""What all screens share: console, tables, probability in words, cautions, problems, progress.

Leaves what is put on a screen to the rooms beside this one.
"""

from cogtally.gears.errors import plain
from cogtally.show.screen.caution import CAUTION, CAUTIONS, DEMO_CAUTION
from cogtally.show.screen.console import (
    DIM,
    GAP,
    MARKED,
    STRONG,
    console_for,
    fits,
    note,
    on_terminal,
    print_json,
    progress,
    table_lines,
    tables_lines,
    wrapped,
    written_list,
)
from cogtally.show.screen.probability import LEAST_SHOWN, in_words, per_cent, said
from cogtally.show.screen.problems import print_problems, problems_json

__all__ = [
    "CAUTION",
    "CAUTIONS",
    "DEMO_CAUTION",
    "DIM",
    "GAP",
    "LEAST_SHOWN",
    "MARKED",
    "STRONG",
    "console_for",
    "fits",
    "in_words",
    "note",
    "on_terminal",
    "per_cent",
    "plain",
    "print_json",
    "print_problems",
    "problems_json",
    "progress",
    "said",
    "table_lines",
    "tables_lines",
    "wrapped",
    "written_list",
]
