"""How a list of recovered fillings is set out: a row each, twins beside each other.

What is said above and below the list is left to `recover`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.text import Text

from cogtally.gears.recover import AXLE, OF_ONE_PAIR, OVERDRIVE, Problem, Recovery, Solution, Twins
from cogtally.gears.trains import REVERSE
from cogtally.show.ratios.screen import NOTHING, RATIO_PLACES, decimal
from cogtally.show.screen.console import wrapped
from cogtally.show.screen.table import fits, table_lines

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


def teeth_of(solution: Solution, pair: str) -> str:
    """Return a pair of a solution as it is written; an idler is `_`, since no ratio tells it."""
    driver, driven = (solution.teeth[f"{pair}.{role}"] for role in ("driver", "driven"))
    return f"{driver}/_/{driven}" if pair == REVERSE else f"{driver}/{driven}"


def list_lines(found: Recovery, width: int) -> list[Text]:
    """Return the list, twins side by side; on lines of their own where that is too wide."""
    if not found.solutions:
        return []
    letters = dict(zip(map(id, several(found)), LETTERS, strict=False))
    problem = found.problem
    one_pair = problem.layout in OF_ONE_PAIR
    columns = ["no.", *(_pair_name(problem, pair) for pair in problem.pairs)]
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
    lines = table_lines(columns, rows, left=range(1, len(problem.pairs) + 1))
    return lines if fits(lines, width) else _stacked(columns, rows, len(problem.pairs), width)


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
        found += [line.replace(_HELD, " ") for line in wrapped(said, width, hanging=4)]
    return [Text(line) for line in found]


def _pair_name(problem: Problem, pair: str) -> str:
    return "/".join(ENDS[problem.layout]) if problem.layout in ENDS else pair


def _sums(problem: Problem, solution: Solution) -> str:
    free = problem.free_input
    sums = [total for pair, total in solution.sums.items() if not (free and pair == problem.shared)]
    low, high = min(sums), max(sums)
    return str(low) if low == high else f"{low}-{high}"


def several(found: Recovery) -> list[Twins]:
    """Return the groups of more than one solution, listed or not."""
    return [twins for twins in found.twins if twins.in_all > 1]
