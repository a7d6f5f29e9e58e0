"""The table of pairs: what was counted, beside it what a set has, and every disagreement.

The lines are left to the evidence; which set stands beside them, to the verdict.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from rich.text import Text

from cogtally.evidence.answer import Answer
from cogtally.evidence.posterior import UNCATALOGUED
from cogtally.evidence.views import MeshSum, PairLine, TurnRead
from cogtally.gears.trains import role_of
from cogtally.show.screen.console import MARKED, STRONG, wrapped, written_list

GAP = "  "
RATIO_DECIMALS = 3
#: A remark stands in its row where at least so much room is left, else in a line below.
LEAST_ROOM = 24
#: Beyond so many different pairs in the sets beside the counts a cell says how many.
KINDS_SHOWN = 2


def pair_table(answer: Answer, width: int) -> list[Text]:
    """Return the table of pairs as lines of at most `width` columns."""
    nearest = answer.verdict.leaning == UNCATALOGUED
    printed = bool(answer.beside) and not any(known.is_counted for known in answer.beside)
    rows = [pair_row(line) for line in answer.lines]
    for beside in _heads(answer):
        head = ("gear", "counted", "sum", "ratio", beside, "ratio" if beside else "")
        widths = [max(len(row[i]) for row in [head, *rows]) for i in range(len(head))]
        room = width - sum(widths) - len(GAP) * len(widths)
        if room + len(GAP) >= 0:
            break
    lines = [Text(_row(head, widths), style=STRONG)]
    for line, row in zip(answer.lines, rows, strict=True):
        remarks = pair_remarks(line, nearest, printed)
        lines += _with_remarks(_row(row, widths), remarks, room, width)
    return lines


def column_head(answer: Answer) -> str:
    """Return the head of the column of what stands beside the counts."""
    return _heads(answer)[0] or "listed"


def decimal(ratio: Fraction | None) -> str:
    """Return a ratio with three decimals, empty where it is not known."""
    return "" if ratio is None else f"{float(ratio):.{RATIO_DECIMALS}f}"


def _heads(answer: Answer) -> tuple[str, ...]:
    """The head of the column of what stands beside the counts, and a shorter one."""
    if not answer.beside:
        return ("",)
    if len(answer.beside) > 1:
        return ("these have",)
    name = answer.beside[0].id
    if answer.verdict.leaning == UNCATALOGUED:
        return (f"nearest {name} has", "nearest has")
    return (f"{name} has", "it has")


def _row(cells: Sequence[str], widths: Sequence[int]) -> str:
    return GAP.join(c.ljust(w) for c, w in zip(cells, widths, strict=True)).rstrip()


def pair_row(line: PairLine) -> tuple[str, ...]:
    """Return the cells of a line: gear, counted, sum, ratio, what is listed, its ratio."""
    if line.is_direct:
        return (line.name, "direct", "", decimal(line.ratio), "", decimal(line.listed_ratio))
    counted = [
        "_" if t is None else f"{t}*" if len(r) > 1 else str(t)
        for t, r in zip(line.teeth, line.results, strict=True)
    ]
    anything = any(t is not None for t in line.teeth)
    return (
        line.name,
        "/".join(counted) if anything else "",
        ", ".join("_" if s is None else str(s) for s in line.sums) if any(line.sums) else "",
        decimal(line.ratio),
        _listed(line),
        line.printed or decimal(line.listed_ratio),
    )


def _listed(line: PairLine) -> str:
    if len(line.listed) > KINDS_SHOWN:
        return f"{len(line.listed)} kinds"
    return " or ".join("/".join("_" if t is None else str(t) for t in row) for row in line.listed)


def pair_remarks(line: PairLine, nearest: bool, printed: bool) -> list[str]:
    """Return what disagrees in a line.

    That the nearest set is not the box's own needs no saying; nor do the sums of other sets where
    the box's own is known by printed ratios only.
    """
    found = []
    if line.lacking:
        found.append("not in this family")
    if not nearest:
        found += _differing(line)
    found += [] if printed else _sums_off(line.off)
    found += [f"{a} and {b} of different sets" for a, b in line.parted]
    found += [
        f"{role_of(a)} and {role_of(b)} cannot run together: hand or angle of the helix"
        for a, b in line.clashing
    ]
    for wheel, teeth, results in zip(line.wheels, line.teeth, line.results, strict=True):
        if len(results) > 1:
            counts = written_list(str(r) for r in results)
            found.append(f"* {role_of(wheel)} counted {counts}, likeliest {teeth}")
    return found + [_turned(turn) for turn in line.turns]


def _differing(line: PairLine) -> list[str]:
    if len(line.differs) > 1:
        return [f"{written_list(role_of(d.wheel) for d in line.differs)} differ"]
    return [f"{role_of(d.wheel)} counted {d.counted}, not {d.listed}" for d in line.differs]


def _sums_off(meshes: Sequence[MeshSum]) -> list[str]:
    off = [str(abs(mesh.off)) for mesh in meshes]
    return [f"{'sum' if len(off) == 1 else 'sums'} off by {written_list(off)}"] if off else []


def _turned(read: TurnRead) -> str:
    turns = f"turned {_turns(read.turn.turns_in)} in, {_turns(read.turn.turns_out)} out"
    held = ", one wheel held" if read.turn.held else ""
    far = ", which does not fit" if read.differs else ""
    return f"{turns}{held}: ratio about {float(read.ratio):.3g}{far}"


def _turns(turns: Fraction) -> str:
    return str(turns) if turns.denominator == 1 else f"{float(turns):.4g}"


def _with_remarks(row: str, remarks: Sequence[str], room: int, width: int) -> list[Text]:
    if not remarks:
        return [Text(row)]
    remark = "; ".join(remarks)
    if room >= min(LEAST_ROOM, len(remark)):
        parts = wrapped(remark, room)
        start = width - room
        first = Text(row.ljust(start)).append(parts[0], style=MARKED)
        return [first, *(Text(" " * start).append(p, style=MARKED) for p in parts[1:])]
    below = wrapped(remark, width - 2 * len(GAP))
    return [Text(row), *(Text(GAP * 2).append(p, style=MARKED) for p in below)]
