"""The cells that the screen of `identify` has, for the tables of a page.

What stands in them is left to `pairs` and `rivals`, so that page and screen never differ.
"""

from __future__ import annotations

import sys

from cogtally.evidence.posterior import NEW, UNCATALOGUED
from cogtally.evidence.reading import Answer
from cogtally.show.box import (
    DIFFERS,
    column_head,
    look_row,
    pair_remarks,
    pair_row,
    rival_text,
)
from cogtally.show.screen import per_cent, plain


def pair_cells(answer: Answer) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Return the head and the rows of the table of pairs, remarks in the last column."""
    nearest = answer.verdict.leaning in (NEW, UNCATALOGUED)
    printed = bool(answer.beside) and not any(known.is_counted for known in answer.beside)
    beside = plain(column_head(answer)) if answer.beside else ""
    listed = f"{beside.removesuffix(' has').removesuffix(' have')}: ratio" if beside else ""
    head = ("gear", "counted", "sum", "ratio", beside, listed, "remarks")
    rows = [
        (*pair_row(line), plain("; ".join(pair_remarks(line, nearest, printed))))
        for line in answer.lines
    ]
    return head, rows


def rival_cells(answer: Answer) -> list[tuple[str, str]]:
    """Return each rival's probability, and all that it has otherwise."""
    return [
        (per_cent(rival.share.probability), rival_text(answer, rival, sys.maxsize))
        for rival in answer.rivals
    ]


def look_cells(answer: Answer) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Return the head and the rows of what was looked at besides teeth."""
    rows: list[tuple[str, ...]] = [
        (*look_row(line), DIFFERS if line.differs else "") for line in answer.looks
    ]
    return ("looked at", "seen", plain(column_head(answer)), "remarks"), rows
