"""The screen of `catalog show FAMILY/SET FAMILY/SET`: sets of a family side by side.

It tells what changes from the first to the others, what stays, and what that does to each ratio.
One set alone is left to `one_set`, all of a family to `family`.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from rich.text import Text

from cogtally.catalog.model import Family, Piece, RatioSet, Teeth, gear_ratios
from cogtally.show.catalog.family import DECIMALS, heading, named, paragraph, print_lines
from cogtally.show.screen import tables_lines, written_list

if TYPE_CHECKING:
    from rich.console import Console

STAYS, LOOKS, CHANGES, UNKNOWN = "stays", "same teeth", "changes", "not known"


def show_beside(family: Family, sets: Sequence[RatioSet], demo: bool, console: Console) -> None:
    """Print counted sets of one family side by side, in at most the console's width."""
    width = console.width
    first, *others = sets
    lines = heading(f"{named(family)}: {written_list(s.id for s in sets)}", width)
    for other in others:
        lines += paragraph(_in_words(family, first, other), width)
    # Of two sets each row says what becomes of the piece; of more the sentences do.
    told = others if len(others) == 1 else []
    head = ["piece", *(s.id for s in sets), *("" for _ in told)]
    rows = [
        [
            piece.name,
            *(_text(_teeth(family, piece, s)) for s in sets),
            *(_compared(family, piece, first, other) for other in told),
        ]
        for piece in family.pieces
    ]
    lines.append(Text())
    for table in tables_lines(head, rows, width):
        lines += [*table, Text()]
    ratios = [gear_ratios(family, s) for s in sets]
    gears = [g for g in family.train.gears if any(of.get(g) is not None for of in ratios)]
    head = ["ratio", *(s.id for s in sets), *(f"{s.id} to {first.id}" for s in others)]
    rows = [
        [
            gear,
            *(_decimal(of.get(gear)) for of in ratios),
            *(_change(ratios[0].get(gear), of.get(gear)) for of in ratios[1:]),
        ]
        for gear in gears
    ]
    for table in tables_lines(head, rows, width):
        lines += [*table, Text()]
    print_lines(lines, demo, console)


def beside_json(family: Family, sets: Sequence[RatioSet]) -> dict[str, Any]:
    """Return the same for machines: pieces and ratios, each as the sets have it in their order."""
    ratios = [gear_ratios(family, s) for s in sets]
    return {
        "format": 1,
        "family": family.id,
        "sets": [s.id for s in sets],
        "pieces": [
            {
                "piece": piece.name,
                "types": [list(_teeth(family, piece, s)) for s in sets],
                "from_first": [_compared(family, piece, sets[0], s) for s in sets],
            }
            for piece in family.pieces
        ],
        "ratios": [
            {
                "gear": gear,
                "ratios": [None if r is None else str(r) for r in (of.get(gear) for of in ratios)],
            }
            for gear in family.train.gears
        ],
    }


def _in_words(family: Family, first: RatioSet, other: RatioSet) -> str:
    """`From wide to late change input-shaft, laygear and 3-gear; 1-gear and 2-gear stay.`"""
    found: dict[str, list[str]] = {}
    for piece in family.pieces:
        found.setdefault(_compared(family, piece, first, other), []).append(piece.name)
    changed, kept = found.get(CHANGES, []), [*found.get(STAYS, []), *found.get(LOOKS, [])]
    parts = [
        f"{written_list(changed)} {'changes' if len(changed) == 1 else 'change'}"
        if changed
        else "no piece changes"
    ]
    parts += [f"{written_list(kept)} {'stays' if len(kept) == 1 else 'stay'}"] if kept else []
    if LOOKS in found:
        parts.append(f"marks or features of {written_list(found[LOOKS])} differ")
    if UNKNOWN in found:
        parts.append(f"of {written_list(found[UNKNOWN])} that is not known")
    return f"From {first.id} to {other.id}: {'; '.join(parts)}."


def _compared(family: Family, piece: Piece, first: RatioSet, other: RatioSet) -> str:
    """Whether a piece of one set is that of another, as far as both are known."""
    index = family.type_index[piece.name]
    places = [i for s in (first, other) for i, c in enumerate(family.counted_sets) if c.id == s.id]
    a, b = _teeth(family, piece, first), _teeth(family, piece, other)
    if any(x is not None and y is not None and x != y for x, y in zip(a, b, strict=True)):
        return CHANGES
    if first.id != other.id and None in (*a, *b):
        return UNKNOWN
    return STAYS if index[places[0]] == index[places[1]] else LOOKS


def _teeth(family: Family, piece: Piece, known: RatioSet) -> Teeth:
    teeth = family.teeth_of(known)
    return tuple(teeth.get(wheel) for wheel in piece.wheels)


def _text(teeth: Teeth) -> str:
    return "-".join("_" if t is None else str(t) for t in teeth)


def _decimal(ratio: Fraction | None) -> str:
    return "" if ratio is None else f"{float(ratio):.{DECIMALS}f}"


def _change(before: Fraction | None, after: Fraction | None) -> str:
    if before is None or after is None:
        return ""
    return "the same" if before == after else f"{100 * float(after / before - 1):+.1f} %"
