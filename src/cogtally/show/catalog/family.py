"""The screen of `catalog show FAMILY`: a family, its sets side by side, and who shares which piece.

One set alone is left to `one_set`, the JSON to `family_json`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from rich.text import Text

from cogtally.catalog.model import (
    Family,
    Piece,
    PieceType,
    RatioSet,
    gear_ratios,
    written_number,
    written_pair,
)
from cogtally.gears.trains import gear_order
from cogtally.show.screen import CAUTION, DEMO_CAUTION, DIM, STRONG, plain, tables_lines, wrapped

if TYPE_CHECKING:
    from rich.console import Console

DECIMALS = 3
INDENT = 2


def show_family(family: Family, demo: bool, console: Console) -> None:
    """Print a family with all its sets, in at most the console's width."""
    width = console.width
    lines = heading(f"{named(family)}: {_sets(len(family.sets))}", width)
    lines += paragraph(about_family(family), width)
    lines += _tables(family, width)
    lines += _about_sets(family, width)
    lines += _pieces(family, width)
    print_lines([*lines, Text()], demo, console)


def print_lines(lines: Sequence[Text], demo: bool, console: Console) -> None:
    """Print lines that are no wider than the screen, and the caution below them."""
    end = [
        Text(line, style=DIM)
        for text in (*([DEMO_CAUTION] if demo else []), CAUTION)
        for line in wrapped(text, console.width)
    ]
    console.print(Text("\n").join([*lines, *end]), overflow="fold")


def heading(text: str, width: int) -> list[Text]:
    """Return a heading in lines of the screen's width."""
    return [Text(line, style=STRONG) for line in wrapped(plain(text), width)]


def paragraph(text: str, width: int, indent: int = 0, hanging: int = 0) -> list[Text]:
    """Return a text in lines of the screen's width, none for an empty one."""
    lines = wrapped(plain(text), width - indent, hanging) if text else []
    return [Text(" " * indent + line) for line in lines]


def named(thing: Family | RatioSet, within: str = "") -> str:
    """Return a name and its id, `Wide ratio (alder-4/wide)`; the id alone where it has none."""
    full = f"{within}{thing.id}"
    return full if thing.title in (thing.id, full) else f"{thing.title} ({full})"


def about_family(family: Family) -> str:
    """Return what there is to say of a family beside its sets."""
    parts = [f"Layout {family.layout}"]
    if family.direct:
        parts.append(f"gear {family.direct} direct")
    if family.centre_distance_mm is not None:
        parts.append(f"centre distance {written_number(family.centre_distance_mm)} mm")
    said = [f"{', '.join(parts)}."]
    if family.aliases:
        said.append(f"Also called {', '.join(family.aliases)}.")
    if family.note:
        said.append(family.note)
    return " ".join(said)


def about_type(kind: PieceType) -> str:
    """Return marks and features of a type: `marked LG 3102, bore_mm 19.05`; empty for none."""
    parts = [f"marked {' and '.join(kind.marks)}"] if kind.marks else []
    for owner, feature, value in kind.features:
        if value is not None:
            of = f"{owner} " if "." in owner and len(kind.piece.wheels) > 1 else ""
            text = value if isinstance(value, str) else written_number(value)
            parts.append(f"{of}{feature} {text}")
    return ", ".join(parts)


def teeth_text(kind: PieceType) -> str:
    """Return the teeth of a type along its axis: `28 24 19 14 12`."""
    return " ".join("_" if t is None else str(t) for t in kind.teeth)


def _sets(count: int) -> str:
    return f"{count} {'set' if count == 1 else 'sets'}"


def _tables(family: Family, width: int) -> list[Text]:
    """Teeth, then ratios out of them, then ratios as printed; each only where there are any."""
    lines: list[Text] = []
    counted = family.counted_sets
    if counted:
        pairs = list(family.train.pairs)
        lines += _table(
            "teeth",
            pairs,
            [_row(s, {p: written_pair(t) for p, t in s.pairs.items()}, pairs) for s in counted],
            width,
        )
        of_sets = [gear_ratios(family, known) for known in counted]
        gears = list(of_sets[0])
        exact = []
        for known, ratios in zip(counted, of_sets, strict=True):
            shown = {g: f"{float(r):.{DECIMALS}f}" for g, r in ratios.items() if r is not None}
            exact.append(_row(known, shown, gears, "_"))
        lines += _table("ratio", gears, exact, width)
    printed = [known for known in family.sets if known.ratios]
    if printed:
        gears = sorted(dict.fromkeys(g for s in printed for g in s.ratios), key=gear_order)
        lines += _table("printed", gears, [_row(s, dict(s.ratios), gears) for s in printed], width)
    return lines


def _row(
    known: RatioSet, cells: dict[str, str], columns: Iterable[str], none: str = ""
) -> list[str]:
    return [known.id, *(cells.get(column, none) for column in columns)]


def _table(
    what: str, columns: Sequence[str], rows: Sequence[Sequence[str]], width: int
) -> list[Text]:
    lines: list[Text] = []
    for part in tables_lines([what, *columns], rows, width):
        lines += [Text(), *part]
    return lines


def _about_sets(family: Family, width: int) -> list[Text]:
    lines = [Text(), Text("Sets", style=STRONG)]
    for known in family.sets:
        lines += paragraph(f"{known.id}: {about_set(known)}", width, hanging=INDENT)
    return lines if family.sets else []


def about_set(known: RatioSet) -> str:
    """Return what there is to say of a set beside its teeth."""
    said = [known.name] if known.name else []
    if known.aliases:
        said.append(f"also {', '.join(known.aliases)}")
    if known.commonness != 1:
        said.append(f"commonness {written_number(known.commonness)}")
    said.append(f"source: {known.source}" if known.source else "no source")
    return "; ".join(said)


def _pieces(family: Family, width: int) -> list[Text]:
    if not family.counted_sets:
        return []
    lines = [Text(), Text("Pieces, and the sets that have them", style=STRONG)]
    for piece in family.pieces:
        lines += paragraph(_piece(piece), width, hanging=INDENT)
        kinds = family.types[piece.name]
        room = max(len(teeth_text(kind)) for kind in kinds)
        for kind in kinds:
            sets = ", ".join(family.counted_sets[place].id for place in kind.carriers)
            about = about_type(kind)
            text = f"{teeth_text(kind).ljust(room)}  {sets}"
            hanging = room + 2
            if hanging > width // 2:
                lines += paragraph(teeth_text(kind), width, INDENT)
                text, hanging = sets, 0
            lines += _hung(f"{text}; {about}" if about else text, width, hanging)
    return lines


def _hung(text: str, width: int, hanging: int) -> list[Text]:
    """A text behind its first column, which wrapping must not close up."""
    first, rest = text[:hanging], text[hanging:]
    room = width - INDENT - hanging
    lines = wrapped(plain(rest), room)
    return [
        Text(" " * INDENT + (first if number == 0 else " " * hanging) + line)
        for number, line in enumerate(lines)
    ]


def _piece(piece: Piece) -> str:
    if piece.wheels == (piece.name,):
        return piece.name
    return f"{piece.name} ({', '.join(piece.wheels)})"
