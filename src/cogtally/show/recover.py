"""Teeth recovered from printed ratios on a screen and as JSON, and how much the list proves.

Keys of JSON are a promise within a format number. The search is left to `gears`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from typing import Any

from rich.text import Text

from cogtally.gears import recover as recovered
from cogtally.gears.printed import CUT, EITHER, MISPRINT, ROUNDED
from cogtally.gears.trains import AXLE, OVERDRIVE, REVERSE
from cogtally.show import screen
from cogtally.show.ratios import MARK, NOTHING, RATIO_PLACES, decimal

#: What the wheels of a pair that stands alone are called.
ENDS = {AXLE: ("pinion", "crown wheel"), OVERDRIVE: ("sun", "annulus")}
#: Names of the groups of twins, in order; no list has more.
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
#: Keeps a name and its value on one line.
_HELD = "\N{NO-BREAK SPACE}"


def shared(share: float | None) -> str:
    """Return a share of the weight as it is shown: two decimals, never a false 0 or 1."""
    if share is None:
        return NOTHING
    if 0 < share < 0.005:
        return "<0.01"
    return ">0.99" if 0.995 <= share < 1 - 1e-6 else f"{share:.2f}"


def teeth_of(solution: recovered.Solution, pair: str) -> str:
    """Return a pair of a solution as it is written; an idler is `_`, since no ratio tells it."""
    driver, driven = (solution.teeth[f"{pair}.{role}"] for role in ("driver", "driven"))
    return f"{driver}/_/{driven}" if pair == REVERSE else f"{driver}/{driven}"


def list_lines(found: recovered.Recovery, width: int) -> list[Text]:
    """Return the list, twins side by side; on lines of their own where that is too wide."""
    if not found.solutions:
        return []
    letters = dict(zip(map(id, several(found)), LETTERS, strict=False))
    problem = found.problem
    one_pair = problem.layout in recovered.OF_ONE_PAIR
    names = ["/".join(ENDS[problem.layout])] if problem.layout in ENDS else problem.pairs
    columns = ["no.", *names]
    columns += ["ratio", "decimal"] if one_pair else ["sum"]
    columns += ([] if found.under_determined else ["weight"]) + (["twins"] if letters else [])
    rows = []
    for twins in found.twins:
        for place in twins.places:
            solution = found.solutions[place - 1]
            row = [str(place), *(teeth_of(solution, pair) for pair in problem.pairs)]
            if one_pair:
                (ratio,) = solution.ratios.values()
                row += [str(ratio), decimal(ratio, RATIO_PLACES)]
            else:
                row.append(_sums(problem, solution))
            row += [] if found.under_determined else [shared(solution.share)]
            row += [letters.get(id(twins), "")] if letters else []
            rows.append(row)
    lines = screen.table_lines(columns, rows, left=range(1, len(problem.pairs) + 1))
    return (
        lines if screen.fits(lines, width) else _stacked(columns, rows, len(problem.pairs), width)
    )


def _stacked(
    columns: Sequence[str], rows: Iterable[Sequence[str]], pairs: int, width: int
) -> list[Text]:
    """Return the rows as lines of words, the pairs in the notation."""
    found = []
    for row in rows:
        cells = list(zip(columns, row, strict=True))[1:]
        notation = " ".join(f"{name}={cell}" for name, cell in cells[:pairs])
        rest = [f"{name}{_HELD}{cell}" for name, cell in cells[pairs:] if cell]
        said = f"{row[0]}: {', '.join([notation, *rest])}"
        found += [line.replace(_HELD, " ") for line in screen.wrapped(said, width, hanging=4)]
    return [Text(line) for line in found]


def _sums(problem: recovered.Problem, solution: recovered.Solution) -> str:
    free = problem.free_input
    sums = [total for pair, total in solution.sums.items() if not (free and pair == problem.shared)]
    low, high = min(sums), max(sums)
    return str(low) if low == high else f"{low}-{high}"


def several(found: recovered.Recovery) -> list[recovered.Twins]:
    """Return the groups of more than one solution, listed or not."""
    return [twins for twins in found.twins if twins.in_all > 1]


#: More numbers of teeth than this are not told one by one.
MOST_TOLD = 8


def next_lines(found: recovered.Recovery) -> list[str]:
    """Return what to count next, and then, as sentences; none where nothing is left to count."""
    if found.advice is None:
        return []
    first, check = found.advice.first, found.advice.check
    if found.count == 1:
        teeth = found.solutions[0].teeth
        said = f"To test it count {_named(found, first.wheel)}: it should have {teeth[first.wheel]}"
        if check is not None:
            said += f"; then {_named(found, check.wheel)}: {teeth[check.wheel]}"
        return [f"{said}."]
    if not first.bits:
        # Only possible where every weight but one is too small for a number.
        return []
    found_lines = [f"Count {_named(found, first.wheel)} next (worth {first.bits:.2f} bits)."]
    left = screen.grouped((s.teeth[first.wheel], str(s.place)) for s in found.solutions)
    if found.whole and len(left) <= MOST_TOLD:
        told = "; ".join(
            f"{teeth} no. {screen.written_list(left[teeth])}" for teeth in sorted(left)
        )
        found_lines.append(f"Teeth and what they leave: {told}.")
    if check is not None:
        noticed = round(100 * check.noticed)
        found_lines.append(
            f"Then {_named(found, check.wheel)} as a check: a first count that is one tooth wrong "
            f"is noticed in {noticed} % of cases."
        )
    return found_lines


def _named(found: recovered.Recovery, wheel: str) -> str:
    if found.problem.layout == OVERDRIVE:
        return {"driver": "the sun", "driven": "the annulus"}[wheel.rpartition(".")[2]]
    return wheel


#: From so many solutions of made-up digits on, finding some proves nothing; below the other
#: number it is strong evidence.
PROVES_NOTHING, PROVES_MUCH = 0.5, 0.05

_READ = {
    ROUNDED: "read as rounded",
    CUT: "read as cut off",
    EITHER: "read as rounded or cut off",
    MISPRINT: "read with one more or less in the last place",
}


def show_recovery(
    found: recovered.Recovery, beside: recovered.Beside | None, console: screen.Console
) -> None:
    """Print how many solutions there are, what that proves, the best, and what to count next."""
    width = console.width
    parts = [
        screen.text_lines([_heading(found.problem)], width),
        screen.text_lines(_number(found), width),
        list_lines(found, width),
        screen.text_lines(_ranking(found), width),
        *_spreads(found, beside, width),
        screen.text_lines(next_lines(found), width, hanging=2),
    ]
    screen.print_parts(parts, console)


def notes(found: recovered.Recovery, unsure: Sequence[str], direct: str | None) -> list[str]:
    """Return what a person may have meant otherwise, one sentence each."""
    problem, said = found.problem, []
    if unsure:
        said.append(f"the unsure count of {screen.written_list(unsure)} was taken as sure")
    for target in problem.forward:
        printed = target.printed
        if problem.shared and direct is None and printed.value == 1:
            said.append(
                f"{target.gear} is {printed.text} and was taken to have a pair; "
                f"--direct {target.gear} says that it locks input to output"
            )
    return said


def proof(found: recovered.Recovery) -> str:
    """Return in one sentence what a number of solutions proves against the chance level."""
    level, by_chance = found.chance, found.by_chance
    if level is None or by_chance is None:
        return (
            "How many made-up ratios have would take too long to say; take it as proving nothing."
        )
    few = level.copies < recovered.COPIES
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


def _heading(problem: recovered.Problem) -> str:
    printed = screen.written_list(
        f"{t.gear}={t.printed.text}"
        if problem.layout not in recovered.OF_ONE_PAIR
        else t.printed.text
        for t in problem.targets
    )
    box = screen.layout_title(problem.layout)
    if problem.layout == OVERDRIVE:
        box += f" with {problem.planets} planets"
    said = [f"{box}: {printed}, {_READ[problem.reading]}."]
    if problem.layout not in recovered.OF_ONE_PAIR:
        apart = "Tooth sums all the same" if problem.spread == 0 else "Tooth sums at most "
        apart += f"{problem.spread} apart" if problem.spread else ""
        free = f", the {problem.shared} pair's own left out" if problem.free_input else ""
        said.append(f"{apart}{free}.")
    if problem.sums is not None:
        of = problem.reference
        said.append(f"Tooth sum of {of}: {_span(problem.sums)}.")
    ranges = _ranges(problem)
    if ranges:
        said.append(f"Sought: {ranges}.")
    if problem.counted:
        counted = (f"{wheel} {problem.spans[wheel].low}" for wheel in problem.counted)
        said.append(f"Counted: {screen.written_list(counted)}.")
    return " ".join(said)


def _ranges(problem: recovered.Problem) -> str:
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


def _span(span: recovered.Span) -> str:
    return f"{span.low}" if span.low == span.high else f"{span.low} to {span.high}"


def _number(found: recovered.Recovery) -> list[str]:
    if found.count == 0:
        return [
            f"No solution. {proof(found)}",
            "Nothing in these ranges prints as these ratios. Is a gear named wrongly, or direct? "
            "Else try --reading either or misprint, --free-input, or wider --drivers and --driven.",
        ]
    one = "1 solution" if found.count == 1 else f"{found.count} solutions"
    said = [f"{one}. {proof(found)}"]
    if found.under_determined:
        ratio = "ratio" if found.problem.layout in recovered.OF_ONE_PAIR else "forward ratio"
        said.append(
            f"Under-determined: one {ratio} ties too little for a ranking; "
            "in order of teeth, not of worth."
        )
    if not found.whole:
        listed = len(found.solutions)
        what = "first" if found.under_determined else "best"
        said.append(f"The {what} {listed} of {found.count} are listed.")
    return said


def _ranking(found: recovered.Recovery) -> list[str]:
    """Say what the weight is, whether it makes one the likeliest, and which are twins."""
    said = []
    if found.count > 1 and not found.under_determined:
        said.append(
            "Weight: how a designer would rather draw it, as a share of all; no probability."
        )
        if found.likeliest is not None:
            said.append(f"No. 1 has {shared(found.likeliest.share)} of it and is the likeliest.")
        else:
            said.append(f"None has {recovered.LIKELIEST} of it, so none is called the likeliest.")
    groups = list(zip(LETTERS, several(found), strict=False))
    if groups:
        told = "; ".join(f"{letter} {_group(twins)}" for letter, twins in groups)
        said.append(f"Twins have exactly the same ratios, and only counting parts them: {told}.")
    return said


def _group(twins: recovered.Twins) -> str:
    listed = len(twins.places)
    told = [f"{twins.in_all} of them"]
    told += [f"{listed} listed"] if listed < twins.in_all else []
    told += [f"weight {shared(twins.share)}"] if twins.share is not None else []
    return ", ".join(told)


def _spreads(
    found: recovered.Recovery, beside: recovered.Beside | None, width: int
) -> list[list[Text]]:
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
    tables = screen.tables_lines(columns, rows, width)
    below = screen.text_lines(others, width, hanging=2)
    return [
        [*screen.text_lines([f"{title}:"], width), *tables[0]],
        *tables[1:],
        *([below] if below else []),
    ]


def _tie(beside: recovered.Beside) -> str:
    return "free" if beside.free else "tied"


def _chance(number: float | None) -> str:
    return NOTHING if number is None else averaged(number)


def recovery_json(found: recovered.Recovery, beside: recovered.Beside | None) -> dict[str, Any]:
    """Return a recovery as plain values.

    `weight` is a natural logarithm, `share` its part of the total weight, which is no probability;
    both null where nothing is ranked. `by_chance` is null where it would take too long.
    """
    check = found.advice and found.advice.check
    return {
        "format": screen.FORMAT,
        **_asked(found.problem),
        **screen.keys_of(found, "count", "by_chance"),
        "tries": found.chance.copies if found.chance else None,
        **screen.keys_of(found, "under_determined", "whole"),
        "likeliest": found.likeliest.place if found.likeliest else None,
        "solutions": [{"place": s.place, **_solution(s)} for s in found.solutions],
        "twins": [
            {
                **screen.keys_of(twins, "places", "in_all"),
                "ratios": _ratios(twins.ratios),
                "share": twins.share,
            }
            for twins in found.twins
        ],
        "spreads": [
            {
                **screen.keys_of(row, "spread", "count", "by_chance"),
                "first": _solution(row.first) if row.first else None,
            }
            for row in found.spreads
        ],
        "beside": beside
        and {
            "free_input": beside.free,
            "counts": beside.counts,
            "by_chance": beside.chance and beside.chance.by_spread,
        },
        "next": [
            screen.keys_of(w, "wheel", "bits")
            for w in (found.advice.worths if found.advice else ())
        ],
        "check": check and screen.keys_of(check, "wheel", "bits", "noticed"),
    }


def _asked(problem: recovered.Problem) -> dict[str, Any]:
    return {
        **screen.keys_of(problem, "layout", "reading", "spread", "free_input"),
        "planets": problem.planets if problem.layout == "overdrive" else None,
        "printed": {target.gear: target.printed.text for target in problem.targets},
        "sought": {wheel: _json_span(span) for wheel, span in problem.spans.items()},
        "counted": {wheel: problem.spans[wheel].low for wheel in problem.counted},
        "sums": _json_span(problem.sums) if problem.sums else None,
    }


def _solution(solution: recovered.Solution) -> dict[str, Any]:
    return {
        "teeth": dict(solution.teeth),
        "ratios": _ratios(solution.ratios),
        "sums": dict(solution.sums),
        **screen.keys_of(solution, "weight", "share"),
    }


def _ratios(ratios: Mapping[str, Fraction]) -> list[dict[str, Any]]:
    return [{"gear": gear, **screen.exact_json(ratio)} for gear, ratio in ratios.items()]


def _json_span(span: recovered.Span) -> list[int]:
    return [span.low, span.high]
