"""The worth of a turn test of each gear, all families together.

Families worked out one by one bring their joints from `joints`, those in arrays from
`stacked_turns`; the bits are those of `turn_worth`.
"""

from __future__ import annotations

from collections.abc import Sequence

from cogtally.evidence.joints import Answer, joint_with_ratios
from cogtally.evidence.posterior import MIXED, UNCATALOGUED, VARIANT
from cogtally.evidence.turn_spread import Spread, spread_of, together
from cogtally.evidence.turn_worth import best_turns
from cogtally.evidence.weighed import Weighed

_MIXED: Answer = (MIXED, "", None)
_VARIANT: Answer = (VARIANT, "", None)
_UNKNOWN: Answer = (UNCATALOGUED, "", None)


def worth_of_gears(weighed: Weighed, gears: Sequence[str]) -> dict[str, tuple[float, int]]:
    """Return the most bits of a turn test of each gear, and the turns in that bring them."""
    joints = joint_with_ratios(weighed, gears)
    if not weighed.stacked:
        return {
            gear: best_turns([spread_of(answer) for answer in joint.values()])
            for gear, joint in joints.items()
        }
    from cogtally.evidence.stacked_turns import turned_stacks

    stacked, rare = turned_stacks(weighed, gears)
    found = {}
    for gear, joint in joints.items():
        spreads = {answer: spread_of(by_ratio) for answer, by_ratio in joint.items()}
        alone, mixed, variant = stacked[gear].spreads()
        # What is too rare to be told apart is as of no family.
        for answer, more in (
            (_MIXED, mixed),
            (_VARIANT, variant),
            (_UNKNOWN, Spread(alone.speeds[:0], alone.weights[:0], none=rare)),
        ):
            spreads[answer] = together([more, *([spreads[answer]] if answer in spreads else [])])
        found[gear] = best_turns([*spreads.values()], alone)
    return found
