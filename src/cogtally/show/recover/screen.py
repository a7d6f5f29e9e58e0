"""How teeth recovered from printed ratios look on a screen, and how much the list proves.

The search is left to `gears`, the JSON to `json`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from rich.text import Text

from cogtally.gears.printed import CUT, EITHER, MISPRINT, ROUNDED
from cogtally.gears.recover import (
    AXLE,
    COPIES,
    LAYSHAFT,
    LIKELIEST,
    OF_ONE_PAIR,
    SLEEVE,
    TWO_SHAFT,
    Beside,
    Problem,
    Recovery,
    Span,
    Twins,
)
from cogtally.show.ratios.screen import MARK, NOTHING
from cogtally.show.recover.list import ENDS, LETTERS, list_lines, several, shared, teeth_of
from cogtally.show.recover.next import next_lines
from cogtally.show.screen.caution import LINE
from cogtally.show.screen.console import DIM, wrapped, written_list
from cogtally.show.screen.table import tables_lines

if TYPE_CHECKING:
    from rich.console import Console

#: From so many solutions of made-up digits on, finding some proves nothing; below the other
#: number it is strong evidence.
PROVES_NOTHING, PROVES_MUCH = 0.5, 0.05

_BOX = {
    LAYSHAFT: "Layshaft box",
    SLEEVE: "Sleeve box",
    TWO_SHAFT: "Two-shaft box",
    AXLE: "Axle",
}
_READ = {
    ROUNDED: "read as rounded",
    CUT: "read as cut off",
    EITHER: "read as rounded or cut off",
    MISPRINT: "read with one more or less in the last place",
}


def show_recovery(found: Recovery, beside: Beside | None, console: Console) -> None:
    """Print how many solutions there are, what that proves, the best, and what to count next."""
    width = console.width
    parts = [
        _plain([_heading(found.problem)], width),
        _plain(_number(found), width),
        list_lines(found, width),
        _plain(_ranking(found), width),
        *_spreads(found, beside, width),
        _plain(next_lines(found), width, hanging=2),
        [Text(line, style=DIM) for line in wrapped(LINE, width)],
    ]
    lines = [line for part in parts if part for line in (*part, Text())]
    console.print(Text("\n").join(lines[:-1]), overflow="fold")


def notes(found: Recovery, unsure: Sequence[str], direct: str | None) -> list[str]:
    """Return what a person may have meant otherwise, one sentence each."""
    problem, said = found.problem, []
    if unsure:
        said.append(f"the unsure count of {written_list(unsure)} was taken as sure")
    for target in problem.forward:
        printed = target.printed
        if problem.shared and direct is None and printed.value == 1:
            said.append(
                f"{target.gear} is {printed.text} and was taken to have a pair; "
                f"--direct {target.gear} says that it locks input to output"
            )
    return said


def proof(found: Recovery) -> str:
    """Return in one sentence what a number of solutions proves against the chance level."""
    level, by_chance = found.chance, found.by_chance
    if level is None or by_chance is None:
        return (
            "How many made-up ratios have would take too long to say; take it as proving nothing."
        )
    few = level.copies < COPIES
    tries = f"{level.copies} tries" if level.copies > 1 else "one try"
    tries += ", for more would take too long" if few else ""
    if by_chance == 0:
        head = f"Made-up ratios near these have none in {tries}"
    elif level.copies == 1:
        head = f"Made-up ratios near these have {averaged(by_chance)} in {tries}"
    else:
        head = f"Made-up ratios near these have {averaged(by_chance)} on average ({tries})"
    if not found.count:
        return f"{head}."
    if by_chance >= PROVES_NOTHING:
        return f"{head}, so finding some proves nothing."
    if few:
        return f"{head}: too few tries to say what finding some proves."
    if by_chance > PROVES_MUCH:
        return f"{head}, so finding some is a hint that layout, reading and ranges are right."
    return f"{head}, so finding any speaks strongly for this layout, reading and these ranges."


def averaged(number: float) -> str:
    """Return an average as it is shown: one decimal, two where it is small, none where large."""
    if 0 < number < 1:
        return f"{number:.2f}"
    return f"{number:.1f}" if number < 100 else f"{number:.0f}"


def _heading(problem: Problem) -> str:
    printed = written_list(
        f"{t.gear}={t.printed.text}" if problem.layout not in OF_ONE_PAIR else t.printed.text
        for t in problem.targets
    )
    box = _BOX.get(problem.layout, f"Overdrive with {problem.planets} planets")
    said = [f"{box}: {printed}, {_READ[problem.reading]}."]
    if problem.layout not in OF_ONE_PAIR:
        apart = "Tooth sums all the same" if problem.spread == 0 else "Tooth sums at most "
        said.append(apart + (f"{problem.spread} apart" if problem.spread else "") + _free(problem))
    if problem.sums is not None:
        of = problem.reference
        said.append(f"Tooth sum of {of}: {_span(problem.sums)}.")
    ranges = _ranges(problem)
    if ranges:
        said.append(f"Sought: {ranges}.")
    if problem.counted:
        counted = (f"{wheel} {problem.spans[wheel].low}" for wheel in problem.counted)
        said.append(f"Counted: {written_list(counted)}.")
    return " ".join(said)


def _free(problem: Problem) -> str:
    return f", the {problem.shared} pair's own left out." if problem.free_input else "."


def _ranges(problem: Problem) -> str:
    """Return the ranges of the wheels that nobody counted."""
    names = ENDS.get(problem.layout, ("drivers", "driven"))
    said = []
    for role, name in zip(("driver", "driven"), names, strict=True):
        own = [
            span
            for wheel, span in problem.spans.items()
            if wheel.endswith(f".{role}") and wheel not in problem.counted
        ]
        if own:
            said.append(f"{name} of {_span(own[0])} teeth")
    return ", ".join(said)


def _span(span: Span) -> str:
    return f"{span.low}" if span.low == span.high else f"{span.low} to {span.high}"


def _number(found: Recovery) -> list[str]:
    if found.count == 0:
        return [
            f"No solution. {proof(found)}",
            "Nothing in these ranges prints as these ratios. Is a gear named wrongly, or direct? "
            "Else try --reading either or misprint, --free-input, or wider --drivers and --driven.",
        ]
    one = "1 solution" if found.count == 1 else f"{found.count} solutions"
    said = [f"{one}. {proof(found)}"]
    if found.under_determined:
        ratio = "ratio" if found.problem.layout in OF_ONE_PAIR else "forward ratio"
        said.append(
            f"Under-determined: one {ratio} ties too little for a ranking; "
            "in order of teeth, not of worth."
        )
    if not found.whole:
        listed = len(found.solutions)
        what = "first" if found.under_determined else "best"
        said.append(f"The {what} {listed} of {found.count} are listed.")
    return said


def _ranking(found: Recovery) -> list[str]:
    """Say what the weight is, whether it makes one the likeliest, and which are twins."""
    said = []
    if found.count > 1 and not found.under_determined:
        said.append(
            "Weight: how a designer would rather draw it, as a share of all; no probability."
        )
        if found.likeliest is not None:
            said.append(f"No. 1 has {shared(found.likeliest.share)} of it and is the likeliest.")
        else:
            said.append(f"None has {LIKELIEST} of it, so none is called the likeliest.")
    groups = list(zip(LETTERS, several(found), strict=False))
    if groups:
        told = "; ".join(f"{letter} {_group(twins)}" for letter, twins in groups)
        said.append(f"Twins have exactly the same ratios, and only counting parts them: {told}.")
    return said


def _group(twins: Twins) -> str:
    listed = len(twins.places)
    told = [f"{twins.in_all} of them"]
    told += [f"{listed} listed"] if listed < twins.in_all else []
    told += [f"weight {shared(twins.share)}"] if twins.share is not None else []
    return ", ".join(told)


def _spreads(found: Recovery, beside: Beside | None, width: int) -> list[list[Text]]:
    """Return the spreads side by side, beside them the shared pair read the other way."""
    if not found.spreads:
        return []
    columns = ["apart", "solutions", "by chance"]
    if beside is not None:
        columns += [_tie(beside), "by chance"]
    ranked = not found.under_determined
    columns += ["best"] if ranked else []
    places = {tuple(s.teeth.values()): s.place for s in found.solutions}
    rows, others = [], []
    for row in found.spreads:
        cells = [str(row.spread), str(row.count), _chance(row.by_chance)]
        if beside is not None:
            level = beside.chance.by_spread[row.spread] if beside.chance else None
            counted = NOTHING if beside.counts is None else str(beside.counts[row.spread])
            cells += [counted, _chance(level)]
        if ranked and row.first is not None:
            place = places.get(tuple(row.first.teeth.values()))
            cells.append(f"{place or MARK} ({shared(row.first.share)})")
            if place is None:
                pairs = found.problem.pairs
                teeth = " ".join(f"{pair}={teeth_of(row.first, pair)}" for pair in pairs)
                others.append(f"{MARK} best of sums {row.spread} apart: {teeth}")
        elif ranked:
            cells.append(NOTHING)
        rows.append(cells)
    title = "How many there are where the tooth sums are at most so far apart"
    if beside is not None:
        title += f", also with the {found.problem.shared} pair {_tie(beside)}"
    tables = tables_lines(columns, rows, width)
    below = _plain(others, width, hanging=2)
    return [[*_plain([f"{title}:"], width), *tables[0]], *tables[1:], *([below] if below else [])]


def _tie(beside: Beside) -> str:
    return "free" if beside.free else "tied"


def _chance(number: float | None) -> str:
    return NOTHING if number is None else averaged(number)


def _plain(texts: Iterable[str], width: int, hanging: int = 0) -> list[Text]:
    return [Text(line) for text in texts for line in wrapped(text, width, hanging)]
