"""The way that power takes through a train in one gear: its lines, its steps, which way all turns.

Where wheels and shafts stand is left to `plan`.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass

from cogtally.gears.trains import FINAL, wheel_names
from cogtally.gears.turning import INPUT_SHAFT, OUTPUT_SHAFT
from cogtally.show.drawing import Point
from cogtally.show.train.places import ANNULUS, RIM, SUN, Plan
from cogtally.show.train.subject import NOT_COUNTED, Subject

#: How far the ring of a step stands from the place that it speaks of.
_ASIDE = RIM / 2 + 3.4


@dataclass(frozen=True, slots=True)
class Power:
    """The lines that power follows, the wheels and ties on them, and the steps in order.

    `steps`: where the ring of each stands, and what happens there. `ways`: pieces to 1 where they
    turn as the input does, -1 the other way; what stands is not among them.
    """

    lines: tuple[tuple[Point, ...], ...]
    wheels: frozenset[str]
    ties: frozenset[tuple[str, str]]
    steps: tuple[tuple[Point, str], ...]
    ways: Mapping[str, int]


def power(subject: Subject, plan: Plan, gear: str) -> Power:
    """Return the way of power in a gear from the input's end to the output's."""
    train, joints = subject.train, subject.joints
    at = plan.enters
    lines: list[tuple[Point, ...]] = []
    wheels: list[str] = []
    ties: list[tuple[str, str]] = []
    steps: list[tuple[Point, str]] = []
    chains = [
        [train.canonical(w) for w in wheel_names(pair, train.pairs[pair])]
        for pair in train.path(gear) or ()
    ]
    lock = joints.locks.get(gear)
    for chain in (*chains, *([list(wheel_names(FINAL, 2))] if subject.axle else [])):
        for one, other in itertools.pairwise(chain):
            a, b = plan.wheels[one], plan.wheels[other]
            lines.append((at, (a.x, a.y)))
            tie = plan.tie(one, other)
            touch = plan.contact(one, other)
            ring = (a.x - _ASIDE, a.foot if touch is None else touch[1])
            if tie is not None:
                ties.append(tie.wheels)
                points = tie.points if tie.points[0][1] in (a.top, a.foot) else tie.points[::-1]
                lines.append(((a.x, a.y), (a.x, points[0][1]), *points, (b.x, points[-1][1])))
                lines.append(((b.x, points[-1][1]), (b.x, b.y)))
                ring = (tie.points[1][0], (tie.points[1][1] + tie.points[2][1]) / 2)
            elif touch is not None:
                lines.append(((a.x, a.y), touch, (b.x, b.y)))
            at = (b.x, b.y)
            wheels += [one, other]
            slides = gear in joints.sliding and lock is not None and other == lock.wheel
            slid = ", which has slid into mesh" if slides else ""
            said = f"{_called(subject, one)} drives {_called(subject, other)}{slid}"
            steps.append((ring, said))
        if chain is (chains[-1] if chains else None) and gear not in joints.sliding:
            steps += _locked(subject, plan, gear)
    if not chains:
        steps[:0] = _locked(subject, plan, gear)
    if plan.leaves != at:
        lines.append((at, plan.leaves))
    if subject.overdrive:
        wheels += [SUN, ANNULUS]
    return Power(
        tuple(lines), frozenset(wheels), frozenset(ties), tuple(steps), _ways(subject, gear)
    )


def _locked(subject: Subject, plan: Plan, gear: str) -> list[tuple[Point, str]]:
    """Return the step in which a sleeve locks what runs free."""
    sleeve = next((s for s in plan.sleeves if gear in (s.left, s.right)), None)
    if sleeve is None:
        return []
    pieces = subject.joints.piece_of
    lock = subject.joints.locks.get(gear)
    one = pieces[lock.wheel] if lock else pieces[INPUT_SHAFT]
    other = pieces[lock.to] if lock else pieces[OUTPUT_SHAFT]
    return [((sleeve.x, sleeve.y - 9.0), f"the sleeve locks the {one} to the {other}")]


def _called(subject: Subject, wheel: str) -> str:
    text = subject.labels[wheel].text
    return wheel if text == NOT_COUNTED else text


def _ways(subject: Subject, gear: str) -> dict[str, int]:
    """Return which way each piece turns that cannot stand while the input turns."""
    joints = subject.joints
    found = {joints.piece_of[INPUT_SHAFT]: 1}
    links = [
        (joints.piece_of[a], joints.piece_of[b], -1)
        for mesh in joints.in_mesh(gear)
        if not mesh.at_right_angles
        for a, b in [mesh.wheels]
    ]
    locked = joints.locked(gear)
    links += [(*locked, 1)] if locked else []
    for _ in joints.pieces:
        for one, other, way in links:
            for a, b in ((one, other), (other, one)):
                if a in found:
                    found.setdefault(b, found[a] * way)
    return found
