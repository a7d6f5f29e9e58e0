"""The screen of `catalog show FAMILY/SET`: one set, gear by gear and piece by piece.

A family with all its sets is left to `family`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.text import Text

from cogtally.catalog.model import Family, RatioSet, gear_ratios, written_pair
from cogtally.gears.trains import tooth_sums
from cogtally.show.catalog.family import (
    DECIMALS,
    INDENT,
    about_set,
    about_type,
    heading,
    named,
    paragraph,
    print_lines,
    teeth_text,
)
from cogtally.show.screen import STRONG, table_lines

if TYPE_CHECKING:
    from rich.console import Console

HEAD = ("gear", "teeth", "sum", "ratio", "printed")


def show_set(family: Family, known: RatioSet, demo: bool, console: Console) -> None:
    """Print one set of a family, in at most the console's width."""
    width = console.width
    lines = heading(named(known, f"{family.id}/"), width)
    about = about_set(known).removeprefix(known.name).removeprefix("; ")
    of = f"Of {named(family)}, layout {family.layout}."
    lines += paragraph(f"{of} {about[:1].upper()}{about[1:]}.", width)
    rows = _rows(family, known)
    used = [i for i in range(len(HEAD)) if i == 0 or any(row[i] for row in rows)]
    lines += [Text(), *table_lines([HEAD[i] for i in used], [[r[i] for i in used] for r in rows])]
    lines += _pieces(family, known, width)
    print_lines([*lines, Text()], demo, console)


def _rows(family: Family, known: RatioSet) -> list[list[str]]:
    """A row for each pair that is no gear, then one for each gear."""
    ratios = gear_ratios(family, known) if known.is_counted else {}
    rows = []
    first = [pair for pair in known.pairs if pair not in family.train.gears]
    gears = [gear for gear in family.train.gears if gear in {**known.pairs, **ratios}]
    for name in dict.fromkeys([*first, *gears, *known.ratios]):
        teeth = known.pairs.get(name)
        ratio = ratios.get(name)
        sums = () if teeth is None else tooth_sums(teeth)
        written = "direct" if name == family.direct else ""
        rows.append(
            [
                name,
                written_pair(teeth) if teeth is not None else written,
                ", ".join("_" if s is None else str(s) for s in sums),
                "" if ratio is None else f"{float(ratio):.{DECIMALS}f}",
                known.ratios.get(name, ""),
            ]
        )
    return rows


def _pieces(family: Family, known: RatioSet, width: int) -> list[Text]:
    if not known.is_counted:
        return []
    lines = [Text(), Text("Pieces", style=STRONG)]
    place = next(i for i, one in enumerate(family.counted_sets) if one is known)
    for piece in family.pieces:
        kind = next(k for k in family.types[piece.name] if place in k.carriers)
        others = [family.counted_sets[i].id for i in kind.carriers if i != place]
        text = f"{piece.name}: {teeth_text(kind)}"
        about = about_type(kind)
        text += f", {about}" if about else ""
        text += f"; also in {', '.join(others)}" if others else "; in this set alone"
        lines += paragraph(text, width, hanging=INDENT)
    return lines
