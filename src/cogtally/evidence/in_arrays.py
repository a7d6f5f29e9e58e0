"""A question whose families were worked out one by one, with those that stack in arrays instead.

Advice asks so much of each family that arrays pay for a few of them too. What it asks is left to
`advice`.
"""

from __future__ import annotations

from dataclasses import replace
from math import exp, fsum, log

import numpy as np

from cogtally.evidence.likelihood import HAND_PRIOR
from cogtally.evidence.parts import Counted
from cogtally.evidence.stacked_asked import Worked, ask_stacks
from cogtally.evidence.stacked_ready import part_of
from cogtally.evidence.stacked_tested import fitting
from cogtally.evidence.weighed import ENOUGH, Weighed


def in_arrays(weighed: Weighed) -> Weighed:
    """Return the same question with the families that stack in arrays; itself where none can be.

    Nor is it changed where stacking the catalog would take longer than a few families do.
    """
    ready, box = weighed.ready, weighed.box
    if weighed.stacked or box.observed is not None:
        return weighed
    if ready.stacks is None and (ready.shortcuts is not None or len(weighed.families) >= ENOUGH):
        return weighed
    wanted = {part.family.id for part in weighed.worked if isinstance(part, Counted)}
    worked: list[Worked] = []
    for asked in ask_stacks(fitting(ready.stacked(), box), box):
        for each in asked.stack.blocks:
            at = [place for place, name in enumerate(each.block.ids) if name in wanted]
            if at:
                worked.append(asked.work(part_of(each, np.array(at))))
    done = {name for each in worked for name in each.ready.block.ids}
    left = [
        (part, scales)
        for part, scales in zip(weighed.worked, weighed.scales, strict=True)
        if not isinstance(part, Counted) or part.family.id not in done
    ]
    # In arrays a family has its share of the whole catalog, here of those that are asked about.
    asked_about = fsum(s.commonness for family in weighed.families for s in family.sets)
    power = log(ready.commonness / asked_about) - weighed.log_total
    return replace(
        weighed,
        worked=tuple(part for part, _ in left),
        scales=tuple(scales for _, scales in left),
        stacked=tuple(worked),
        stacked_scales=tuple(
            tuple(p * exp(s + power) for p, s in zip(HAND_PRIOR, each.scales, strict=True))
            for each in worked
        ),
    )
