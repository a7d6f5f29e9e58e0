"""The way that power takes through a train in one gear, as lines on its picture.

Where wheels and shafts stand is left to `plan`.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from cogtally.gears.trains import FINAL, Train, wheel_names
from cogtally.gears.turning import Joints
from cogtally.show.drawing.primitives import Point
from cogtally.show.train.plan import Plan


@dataclass(frozen=True, slots=True)
class Power:
    """The lines that power follows, the wheels and ties on them, and the wheel that is locked."""

    lines: tuple[tuple[Point, ...], ...]
    wheels: frozenset[str]
    ties: frozenset[tuple[str, str]]
    locked: str | None


def power(plan: Plan, train: Train, joints: Joints, gear: str, *, axle: bool) -> Power:
    """Return the way of power in a gear from the input's end to the output's."""
    at = plan.enters
    lines: list[tuple[Point, ...]] = []
    wheels: list[str] = []
    ties: list[tuple[str, str]] = []
    chains = [
        [train.canonical(w) for w in wheel_names(pair, train.pairs[pair])]
        for pair in train.path(gear) or ()
    ]
    if axle:
        chains.append(list(wheel_names(FINAL, 2)))
    for chain in chains:
        for one, other in itertools.pairwise(chain):
            a, b = plan.wheels[one], plan.wheels[other]
            lines.append((at, (a.x, a.y)))
            tie = plan.tie(one, other)
            touch = plan.contact(one, other)
            if tie is not None:
                ties.append(tie.wheels)
                points = tie.points if tie.points[0][1] in (a.top, a.foot) else tie.points[::-1]
                lines.append(((a.x, a.y), (a.x, points[0][1]), *points, (b.x, points[-1][1])))
                lines.append(((b.x, points[-1][1]), (b.x, b.y)))
            elif touch is not None:
                lines.append(((a.x, a.y), touch, (b.x, b.y)))
            at = (b.x, b.y)
            wheels += [one, other]
    if plan.leaves != at:
        lines.append((at, plan.leaves))
    lock = joints.locks.get(gear)
    slides = gear in joints.sliding
    locked = lock.wheel if lock is not None and not slides and not axle_alone(train) else None
    return Power(tuple(lines), frozenset(wheels), frozenset(ties), locked)


def axle_alone(train: Train) -> bool:
    """Tell whether the picture is of an axle's pinion and crown wheel alone."""
    return train.layout == "axle"
