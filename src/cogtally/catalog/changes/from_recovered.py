"""A set whose teeth were recovered from printed ratios, with a source that says so.

Finding the teeth is left to `gears.recover_rank`, writing the set to `keep`.
"""

from __future__ import annotations

from cogtally.catalog.model import Family, RatioSet, Teeth
from cogtally.gears.errors import UserError
from cogtally.gears.printed import ROUNDED, interval
from cogtally.gears.recover import Problem, Recovery, Solution
from cogtally.gears.trains import NO_SUMS, REVERSE, wheel_names


def check_family(problem: Problem, family: Family) -> None:
    """Raise UserError where a family cannot have a set that is recovered as `problem` asks."""
    if problem.layout != family.layout:
        raise UserError(
            f"{family.id} is a box of layout {family.layout}, the ratios were read as of layout "
            f"{problem.layout}",
            "--keep-as",
            f"write --layout {family.layout}, or name another family",
        )


def picked(found: Recovery, place: int) -> Solution:
    """Return the solution at a place of the list, from 1; raise UserError where there is none."""
    if not 1 <= place <= len(found.solutions):
        listed = len(found.solutions)
        mend = f"pick 1 to {listed}" if listed else "nothing prints as these ratios"
        raise UserError("the list has no such solution", f"--pick {place}", mend)
    return found.solutions[place - 1]


def set_of(found: Recovery, solution: Solution, family: Family, set_id: str) -> RatioSet:
    """Return a solution as a set of `family`: its teeth, the printed ratios, and its source.

    The idler of a reverse is a gap, since no ratio tells it, and so is every pair of the family
    that no ratio was given for. A printed ratio that the teeth do not round to is left out (read
    as cut off or misprinted), for the catalog would contradict itself. The pair of an axle or an
    overdrive is called as the family calls it.
    """
    problem = found.problem
    names = _one_pair(problem, family)
    pairs: dict[str, Teeth] = {}
    for pair in problem.pairs:
        driver, driven = (solution.teeth[wheel] for wheel in wheel_names(pair, 2))
        pairs[names.get(pair, pair)] = (
            (driver, None, driven) if pair == REVERSE else (driver, driven)
        )
    if family.counted_sets:
        missing = {p: size for p, size in family.train.pairs.items() if p not in pairs}
        pairs |= {pair: (None,) * size for pair, size in missing.items()}
    agreeing = {
        names.get(target.gear, target.gear): target.printed.text
        for target in problem.targets
        if solution.ratios[target.gear] in interval(target.printed, ROUNDED)
    }
    return RatioSet(set_id, pairs=pairs, ratios=agreeing, source=source_of(found, solution))


def _one_pair(problem: Problem, family: Family) -> dict[str, str]:
    """The name of the one pair of an axle or an overdrive to that which the family has for it."""
    own = tuple(family.train.pairs) if family.counted_sets else ()
    if family.layout not in NO_SUMS or len(own) != 1 or len(problem.pairs) != 1:
        return {}
    return {problem.pairs[0]: own[0]}


def source_of(found: Recovery, solution: Solution) -> str:
    """Return in one line how a solution was found: from what, and as which of how many."""
    problem = found.problem
    printed = " ".join(f"{t.gear}={t.printed.text}" for t in problem.targets)
    said = [f"recovered from printed ratios {printed} ({problem.reading})"]
    if problem.counted:
        counted = (f"{wheel}={problem.spans[wheel].low}" for wheel in problem.counted)
        said.append(f"counted {' '.join(counted)}")
    else:
        said.append("no wheel counted")
    said.append(f"no. {solution.place} of {found.count}")
    if solution.share is not None and found.count > 1:
        said.append(f"weight {solution.share:.2f}")
    return "; ".join(said)
