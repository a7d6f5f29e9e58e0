"""How the counts of a loose piece are written and read: `28 24 _ 14u ..`.

Boxes, pairs and turn tests are left to `notation`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cogtally.gears.errors import UserError
from cogtally.gears.scanner import Scanner
from cogtally.gears.words import Count, ReadFeature, ReadMark

#: At an end of a loose piece: at least one more wheel beyond it.
OPEN = ".."


@dataclass(frozen=True, slots=True)
class SeenPiece:
    """What was counted on a loose piece, along its axis from either end.

    `places` hold the counts of one wheel each (none for `_`); an open end has at least one more
    wheel beyond it. `marks` and `features`: what was read and looked at on it besides.
    """

    places: tuple[tuple[Count, ...], ...]
    open_start: bool = False
    open_end: bool = False
    marks: tuple[ReadMark, ...] = ()
    features: tuple[ReadFeature, ...] = ()


def parse_piece(words: Sequence[str]) -> SeenPiece:
    """Read the counts of a loose piece: `28 24 _ 14u ..`; raise UserError at a wrong one."""
    mend = "write the counts along the axis, for example 28 24 19 _ 12, with .. for wheels beyond"
    inner = list(words)
    start = bool(inner) and inner[0] == OPEN
    if start:
        inner = inner[1:]
    end = bool(inner) and inner[-1] == OPEN
    if end:
        inner = inner[:-1]
    if not inner:
        raise UserError("no wheel was written", mend=mend)
    if OPEN in inner:
        raise UserError("'..' stands between two wheels", OPEN, "write _ for a wheel not counted")
    places = []
    for word in inner:
        scan = Scanner(word)
        if "=" in word or "@" in word:
            of_a_box = "a loose piece has counts alone; pairs and turns go to 'cogtally identify'"
            raise UserError("this is written of a box", scan.shown(), of_a_box)
        count = scan.count("", mend)
        scan.end(mend)
        places.append(() if count is None else (count,))
    return SeenPiece(tuple(places), start, end)
