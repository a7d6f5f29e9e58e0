"""Families and sets on the screen and as JSON: one, several side by side, all, what was found.

Keys of JSON are added, never changed, within a format number. What is known is left to the catalog.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from rich.text import Text

from cogtally.catalog import model
from cogtally.catalog.model import Catalog
from cogtally.catalog.search import Found
from cogtally.gears.trains import gear_order, tooth_sums
from cogtally.show import screen
from cogtally.show.screen import teeth_text as dashed

DECIMALS = 3
INDENT = 2
#: Stands before what differs from the first set.
DIFFERS = "*"


def show_family(family: model.Family, demo: bool, console: screen.Console) -> None:
    """Print a family with all its sets, in at most the console's width."""
    width = console.width
    lines = heading(f"{named(family)}: {screen.number_of(len(family.sets), 'set')}", width)
    lines += paragraph(about_family(family), width)
    lines += _tables(family, width)
    if family.sets:
        lines += [Text(), Text("Sets", style=screen.STRONG)]
    for known in family.sets:
        lines += paragraph(f"{known.id}: {about_set(known)}", width, hanging=INDENT)
    lines += _pieces(family, width)
    screen.print_parts([lines], console, demo=demo)


def heading(text: str, width: int) -> list[Text]:
    """Return a heading in lines of the screen's width."""
    return screen.text_lines([screen.plain(text)], width, screen.STRONG)


def paragraph(text: str, width: int, indent: int = 0, hanging: int = 0) -> list[Text]:
    """Return a text in lines of the screen's width, none for an empty one."""
    lines = screen.wrapped(screen.plain(text), width - indent, hanging) if text else []
    return [Text(" " * indent + line) for line in lines]


def named(thing: model.Family | model.RatioSet, within: str = "") -> str:
    """Return a name and its id, `Wide ratio (alder-4/wide)`; the id alone where it has none."""
    full = f"{within}{thing.id}"
    return full if thing.title in (thing.id, full) else f"{thing.title} ({full})"


def about_family(family: model.Family) -> str:
    """Return what there is to say of a family beside its sets."""
    parts = [f"Layout {family.layout}"]
    if family.direct:
        parts.append(f"gear {family.direct} direct")
    if family.centre_distance_mm is not None:
        parts.append(f"centre distance {model.written_number(family.centre_distance_mm)} mm")
    said = [f"{', '.join(parts)}."]
    if family.aliases:
        said.append(f"Also called {', '.join(family.aliases)}.")
    if family.note:
        said.append(family.note)
    return " ".join(said)


def about_type(kind: model.PieceType) -> str:
    """Return marks and features of a type: `marked LG 3102, bore_mm 19.05`; empty for none."""
    parts = [f"marked {' and '.join(kind.marks)}"] if kind.marks else []
    for owner, feature, value in kind.features:
        if value is not None:
            of = f"{owner} " if "." in owner and len(kind.piece.wheels) > 1 else ""
            text = value if isinstance(value, str) else model.written_number(value)
            parts.append(f"{of}{feature} {text}")
    return ", ".join(parts)


def teeth_text(kind: model.PieceType) -> str:
    """Return the teeth of a type along its axis: `28 24 19 14 12`."""
    return " ".join("_" if t is None else str(t) for t in kind.teeth)


def _tables(family: model.Family, width: int) -> list[Text]:
    """Teeth, then ratios out of them, then ratios as printed; each only where there are any.

    What all sets have alike stands once, in a row above; what is not as in the first set is marked.
    """
    lines: list[Text] = []
    counted = family.counted_sets
    if counted:
        pairs = list(family.train.pairs)
        teeth = [[known.pairs.get(pair, ()) for pair in pairs] for known in counted]
        cells = [[model.written_pair(pair) if pair else "" for pair in row] for row in teeth]
        lines += _marked("teeth", family, pairs, teeth, cells, width)
        of_sets = [model.gear_ratios(family, known) for known in counted]
        gears = list(of_sets[0])
        ratios = [[(of.get(gear),) for gear in gears] for of in of_sets]
        cells = [[_decimal(r) or "_" for (r,) in of] for of in ratios]
        lines += _marked("ratio", family, gears, ratios, cells, width)
        if any(DIFFERS in line.plain for line in lines):
            lines.append(Text(f"{DIFFERS} differs from {counted[0].id}"))
    printed = [known for known in family.sets if known.ratios]
    if printed:
        gears = sorted(dict.fromkeys(g for s in printed for g in s.ratios), key=gear_order)
        rows = [[s.id, *(s.ratios.get(gear, "") for gear in gears)] for s in printed]
        lines += _table("printed", gears, rows, width)
    return lines


def _marked(
    what: str,
    family: model.Family,
    columns: Sequence[str],
    values: Sequence[Sequence[Sequence[int | Fraction | None]]],
    cells: Sequence[Sequence[str]],
    width: int,
) -> list[Text]:
    """A table of sets by columns: alike ones in a row above it, what differs from the first marked.

    What is not known of a set differs from nothing.
    """
    names = [known.id for known in family.counted_sets]
    several = len(names) > 1
    alike = [
        place
        for place, first in enumerate(values[0])
        if several and first and None not in first and all(row[place] == first for row in values)
    ]
    told = ", ".join(f"{columns[i]} {cells[0][i]}" for i in alike)
    lines = [Text(), *paragraph(f"All sets, {what}: {told}.", width, 0, INDENT)] if alike else []
    left = [i for i in range(len(columns)) if i not in alike]
    if not left:
        return lines
    rows = []
    for name, row, shown in zip(names, values, cells, strict=True):
        marks = [DIFFERS if _differ(values[0][i], row[i]) else "" for i in left]
        rows.append([name, *(mark + shown[i] for mark, i in zip(marks, left, strict=True))])
    table = _table(what, [columns[i] for i in left], rows, width)
    for line in table:
        line.highlight_regex(rf"{re.escape(DIFFERS)}\S+", screen.STRONG)
    return [*lines, *table]


def _differ(first: Sequence[object], other: Sequence[object]) -> bool:
    """Tell whether two values differ as far as both are known."""
    both = zip(first, other, strict=False)
    return any(a is not None and b is not None and a != b for a, b in both)


def _table(
    what: str, columns: Sequence[str], rows: Sequence[Sequence[str]], width: int
) -> list[Text]:
    lines: list[Text] = []
    for part in screen.tables_lines([what, *columns], rows, width):
        lines += [Text(), *part]
    return lines


def about_set(known: model.RatioSet) -> str:
    """Return what there is to say of a set beside its teeth."""
    said = [known.name] if known.name else []
    if known.aliases:
        said.append(f"also {', '.join(known.aliases)}")
    if known.commonness != 1:
        said.append(f"commonness {model.written_number(known.commonness)}")
    said.append(f"source: {known.source}" if known.source else "no source")
    return "; ".join(said)


def _pieces(family: model.Family, width: int) -> list[Text]:
    if not family.counted_sets:
        return []
    lines = [Text(), Text("Pieces, and the sets that have them", style=screen.STRONG)]
    for piece in family.pieces:
        wheels = "" if piece.wheels == (piece.name,) else f" ({', '.join(piece.wheels)})"
        lines += paragraph(f"{piece.name}{wheels}", width, hanging=INDENT)
        kinds = family.types[piece.name]
        room = max(len(teeth_text(kind)) for kind in kinds)
        for kind in kinds:
            sets = ", ".join(family.counted_sets[place].id for place in kind.carriers)
            about = about_type(kind)
            head, said = f"{teeth_text(kind).ljust(room)}  ", sets + (f"; {about}" if about else "")
            if len(head) > width // 2:
                lines += paragraph(teeth_text(kind), width, INDENT)
                head = ""
            # Wrapping must not close up the first column.
            rest = screen.wrapped(screen.plain(said), width - INDENT - len(head))
            lines += map(Text, screen.hung(" " * INDENT + head, rest))
    return lines


HEAD = ("gear", "teeth", "sum", "ratio", "printed")


def show_set(
    family: model.Family, known: model.RatioSet, demo: bool, console: screen.Console
) -> None:
    """Print one set of a family, in at most the console's width."""
    width = console.width
    lines = heading(named(known, f"{family.id}/"), width)
    about = about_set(known).removeprefix(known.name).removeprefix("; ")
    of = f"Of {named(family)}, layout {family.layout}."
    lines += paragraph(f"{of} {about[:1].upper()}{about[1:]}.", width)
    rows = _rows(family, known)
    used = [i for i in range(len(HEAD)) if i == 0 or any(row[i] for row in rows)]
    lines += [
        Text(),
        *screen.table_lines([HEAD[i] for i in used], [[r[i] for i in used] for r in rows]),
    ]
    lines += _pieces_of_set(family, known, width)
    screen.print_parts([lines], console, demo=demo)


def _rows(family: model.Family, known: model.RatioSet) -> list[list[str]]:
    """A row for each pair that is no gear, then one for each gear."""
    ratios = model.gear_ratios(family, known) if known.is_counted else {}
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
                model.written_pair(teeth) if teeth is not None else written,
                ", ".join("_" if s is None else str(s) for s in sums),
                _decimal(ratio),
                known.ratios.get(name, ""),
            ]
        )
    return rows


def _pieces_of_set(family: model.Family, known: model.RatioSet, width: int) -> list[Text]:
    if not known.is_counted:
        return []
    lines = [Text(), Text("Pieces", style=screen.STRONG)]
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


STAYS, LOOKS, CHANGES, UNKNOWN = "stays", "same teeth", "changes", "not known"


def show_beside(
    family: model.Family, sets: Sequence[model.RatioSet], demo: bool, console: screen.Console
) -> None:
    """Print counted sets of one family side by side, in at most the console's width."""
    width = console.width
    first, *others = sets
    lines = heading(f"{named(family)}: {screen.written_list(s.id for s in sets)}", width)
    for other in others:
        lines += paragraph(_in_words(family, first, other), width)
    # Of two sets each row says what becomes of the piece; of more the sentences do.
    told = others if len(others) == 1 else []
    head = ["piece", *(s.id for s in sets), *("" for _ in told)]
    rows = [
        [
            piece.name,
            *(dashed(_teeth(family, piece, s)) for s in sets),
            *(_compared(family, piece, first, other) for other in told),
        ]
        for piece in family.pieces
    ]
    parts = [lines, *screen.tables_lines(head, rows, width)]
    for line in (line for part in parts[1:] for line in part if line.plain.endswith(CHANGES)):
        line.stylize(screen.STRONG)
    ratios = [model.gear_ratios(family, s) for s in sets]
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
    screen.print_parts([*parts, *screen.tables_lines(head, rows, width)], console, demo=demo)


def beside_json(family: model.Family, sets: Sequence[model.RatioSet]) -> dict[str, Any]:
    """Return the same for machines: pieces and ratios, each as the sets have it in their order."""
    ratios = [model.gear_ratios(family, s) for s in sets]
    return {
        "format": screen.FORMAT,
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


def _in_words(family: model.Family, first: model.RatioSet, other: model.RatioSet) -> str:
    """`From wide to late change input-shaft, laygear and 3-gear; 1-gear and 2-gear stay.`"""
    found = screen.grouped((_compared(family, p, first, other), p.name) for p in family.pieces)
    changed, kept = found.get(CHANGES, []), [*found.get(STAYS, []), *found.get(LOOKS, [])]
    parts = [
        f"{screen.written_list(changed)} {'changes' if len(changed) == 1 else 'change'}"
        if changed
        else "no piece changes"
    ]
    parts += (
        [f"{screen.written_list(kept)} {'stays' if len(kept) == 1 else 'stay'}"] if kept else []
    )
    if LOOKS in found:
        parts.append(f"marks or features of {screen.written_list(found[LOOKS])} differ")
    if UNKNOWN in found:
        parts.append(f"of {screen.written_list(found[UNKNOWN])} that is not known")
    return f"From {first.id} to {other.id}: {'; '.join(parts)}."


def _compared(
    family: model.Family, piece: model.Piece, first: model.RatioSet, other: model.RatioSet
) -> str:
    """Whether a piece of one set is that of another, as far as both are known."""
    index = family.type_index[piece.name]
    places = [i for s in (first, other) for i, c in enumerate(family.counted_sets) if c.id == s.id]
    a, b = _teeth(family, piece, first), _teeth(family, piece, other)
    if any(x is not None and y is not None and x != y for x, y in zip(a, b, strict=True)):
        return CHANGES
    if first.id != other.id and None in (*a, *b):
        return UNKNOWN
    return STAYS if index[places[0]] == index[places[1]] else LOOKS


def _teeth(family: model.Family, piece: model.Piece, known: model.RatioSet) -> model.Teeth:
    teeth = family.teeth_of(known)
    return tuple(teeth.get(wheel) for wheel in piece.wheels)


def _decimal(ratio: Fraction | None) -> str:
    return "" if ratio is None else f"{float(ratio):.{DECIMALS}f}"


def _change(before: Fraction | None, after: Fraction | None) -> str:
    if before is None or after is None:
        return ""
    return "the same" if before == after else f"{100 * float(after / before - 1):+.1f} %"


def list_json(catalog: model.Catalog) -> dict[str, Any]:
    """Return the families of a catalog as plain values."""
    return {
        **head_json(catalog),
        "families": [
            {**screen.keys_of(family, "id", "name", "aliases", "layout"), "sets": len(family.sets)}
            for family in catalog.families
        ],
    }


def family_json(
    catalog: model.Catalog, family: model.Family, one: model.RatioSet | None = None
) -> dict[str, Any]:
    """Return a family with all its sets, or with one alone, as plain values."""
    sets = family.sets if one is None else (one,)
    return {
        **head_json(catalog),
        "family": {
            **screen.keys_of(family, "id", "name", "aliases", "layout", "direct"),
            **screen.keys_of(family, "centre_distance_mm", "note"),
            "gears": list(family.train.gears),
        },
        "sets": [_set(family, known) for known in sets],
        "pieces": [
            {
                "piece": piece.name,
                "wheels": piece.wheels,
                "types": [
                    _type(family, kind)
                    for kind in family.types[piece.name]
                    if one is None or one in _carriers(family, kind)
                ],
            }
            for piece in family.pieces
        ],
    }


def head_json(catalog: model.Catalog) -> dict[str, Any]:
    """Return what every document of a catalog begins with."""
    return {"format": screen.FORMAT, "catalog": screen.catalog_json(catalog)}


def _set(family: model.Family, known: model.RatioSet) -> dict[str, Any]:
    ratios = model.gear_ratios(family, known) if known.is_counted else {}
    return {
        **screen.keys_of(known, "id", "name", "aliases", "commonness", "source"),
        "pairs": dict(known.pairs),
        "gears": [
            {"gear": gear, **screen.exact_json(ratios.get(gear)), "printed": known.ratios.get(gear)}
            for gear in dict.fromkeys([*ratios, *known.ratios])
        ],
        "marks": dict(known.marks),
        "features": {owner: dict(given) for owner, given in known.features.items()},
    }


def _type(family: model.Family, kind: model.PieceType) -> dict[str, Any]:
    return {
        "teeth": kind.teeth,
        "sets": [known.id for known in _carriers(family, kind)],
        "marks": kind.marks,
        "features": [
            {"of": owner, "feature": feature, "value": value}
            for owner, feature, value in kind.features
        ],
    }


def _carriers(family: model.Family, kind: model.PieceType) -> list[model.RatioSet]:
    return [family.counted_sets[place] for place in kind.carriers]


LIST_HEAD = ("family", "layout", "sets", "name")


def show_list(catalog: Catalog, console: screen.Console) -> None:
    """Print a line for each family; on a terminal a long name goes on below."""
    rows = [
        (screen.plain(f.id), screen.plain(f.layout), str(len(f.sets)), screen.plain(f.name))
        for f in catalog.families
    ]
    widths = [max(len(row[i]) for row in (LIST_HEAD, *rows)) for i in range(3)]
    for number, row in enumerate((LIST_HEAD, *rows)):
        cells = (row[0].ljust(widths[0]), row[1].ljust(widths[1]), row[2].rjust(widths[2]))
        start = screen.GAP.join(cells) + screen.GAP
        style = screen.STRONG if number == 0 else ""
        room = console.width - len(start)
        if not console.is_terminal or room < len(LIST_HEAD[3]):
            console.print(Text((start + row[3]).rstrip(), style=style), soft_wrap=True)
            continue
        for line in screen.hung(start, screen.wrapped(row[3], room)):
            console.print(Text(line.rstrip(), style=style), soft_wrap=True)
    if catalog.demo:
        console.print(Text(screen.DEMO_CAUTION, style=screen.DIM), soft_wrap=True)


def show_found(found: Found, console: screen.Console) -> None:
    """Print the families and sets that were found, the likeliest first, and by what."""
    if not found.count:
        console.print("Nothing in the catalog is like that.", soft_wrap=True)
    for hit in found.hits:
        found_one = hit.family if hit.known is None else hit.known
        name = screen.plain(hit.family.id) + (
            "" if hit.known is None else f"/{screen.plain(hit.known.id)}"
        )
        head = f"{name}{screen.GAP}{screen.plain(found_one.name)}" if found_one.name else name
        said = (found_one.name, found_one.id)
        because = screen.plain("; ".join(b for b in hit.because if b not in said))
        screen.say_hit(console, head, len(name), because)
    if found.count > len(found.hits):
        more = f"… and {found.count - len(found.hits):,} more; more words find fewer."
        console.print(more, soft_wrap=True)
    if found.demo:
        console.print(Text(screen.DEMO_CAUTION, style=screen.DIM), soft_wrap=True)


def found_json(found: Found) -> dict[str, Any]:
    """Return what was found as plain values; `likeness` is 0 to 1."""
    return {
        "format": screen.FORMAT,
        "catalog": screen.keys_of(found, "name", "families", "sets", "demo"),
        "found": [
            {
                "family": hit.family.id,
                "set": hit.known and hit.known.id,
                "name": (hit.known or hit.family).name,
                "likeness": hit.likeness / 100,
                "because": list(hit.because),
            }
            for hit in found.hits
        ],
    }
