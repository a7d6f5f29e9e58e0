"""What to count next of recovered teeth, in words: the wheel worth most, then one to check it.

Which wheel that is, is left to `gears`.
"""

from __future__ import annotations

from cogtally.gears.recover import OVERDRIVE, Recovery
from cogtally.show.screen.console import written_list

#: More numbers of teeth than this are not told one by one.
MOST_TOLD = 8


def next_lines(found: Recovery) -> list[str]:
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
    found_lines += _left_by(found, first.wheel)
    if check is not None:
        noticed = round(100 * check.noticed)
        found_lines.append(
            f"Then {_named(found, check.wheel)} as a check: a first count that is one tooth wrong "
            f"is noticed in {noticed} % of cases."
        )
    return found_lines


def _left_by(found: Recovery, wheel: str) -> list[str]:
    """Say which solutions each number of teeth leaves, where that is short enough to read."""
    left: dict[int, list[str]] = {}
    for solution in found.solutions:
        left.setdefault(solution.teeth[wheel], []).append(str(solution.place))
    if not found.whole or len(left) > MOST_TOLD:
        return []
    told = [f"{teeth} no. {written_list(left[teeth])}" for teeth in sorted(left)]
    return [f"Teeth and what they leave: {'; '.join(told)}."]


def _named(found: Recovery, wheel: str) -> str:
    if found.problem.layout == OVERDRIVE:
        return {"driver": "the sun", "driven": "the annulus"}[wheel.rpartition(".")[2]]
    return wheel
