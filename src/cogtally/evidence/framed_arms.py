"""What each wheel of a family weighs beside the wheels behind it, in arrays; nothing seen.

Which sums are taken over these arrays is left to `framed_pattern`, what was counted to `framed`.

A hub of several wheels is of a listed type, or of one with a wheel changed, or another altogether.
Both of the first stand in one complex number for each type, known + i · EPS · changed: the real
part of a product over the wheels is that none is changed, and the imaginary one that one of them
is, since the square of EPS is nothing beside the rest.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from cogtally.evidence.likelihood import GREATEST_TEETH, HAND_PRIOR, LEAST_TEETH, TEETH_RANGE
from cogtally.evidence.prior import FamilyPrior, Mode
from cogtally.evidence.stacked_shape import StackShape, Star
from cogtally.gears.notation import MOST_TEETH

Array = np.ndarray[Any, np.dtype[Any]]

#: What stands before the part of a number that has one wheel changed.
EPS = 1e-60
HANDS = len(HAND_PRIOR)
#: Teeth that can be unknown, among all that are looked up.
UNKNOWN = slice(LEAST_TEETH, GREATEST_TEETH + 1)


@dataclass(frozen=True, eq=False)
class Arm:
    """One wheel of a hub with the wheels behind it, the nearest first.

    `star`: the number of its star; `pieces`: those behind, by number. By teeth, all of them as in
    `Teeth`: `modes[teeth, mode]` what a state of the hub makes of its wheel, complex;
    `states[i][state, teeth]`: of each wheel behind, the unlisted state first; `meshes[i][nearer,
    farther]`: the factors of the tooth sums.
    """

    star: int
    wheels: tuple[str, ...]
    pieces: tuple[int, ...]
    modes: Array
    states: tuple[Array, ...]
    meshes: tuple[Array, ...]


class Teeth:
    """The teeth that matter to a family: 8…80 and all that are listed outside."""

    def __init__(self, prior: FamilyPrior) -> None:
        listed = {
            t
            for types in prior.family.types.values()
            for kind in types
            for t in kind.teeth
            if t is not None
        }
        self.outside = tuple(sorted(listed.difference(TEETH_RANGE)))
        self.every = tuple(sorted({*TEETH_RANGE, *listed}))
        #: All of them among 0…200, and where each of 0…200 stands among them.
        self.numbers = np.array(self.every)
        self.place = np.zeros(MOST_TEETH + 1, dtype=np.intp)
        self.place[self.numbers] = np.arange(len(self.every))

    def spread(self, prior: FamilyPrior, wheel: str, mode: Mode) -> Array:
        """Return how the teeth of a wheel are spread where this is known of them."""
        found = np.zeros(len(self.every))
        if isinstance(mode, int):
            found[self.place[mode]] = 1.0
        else:
            found[self.place[UNKNOWN]] = prior.unknown(wheel, mode)
        return found


def arms_of(prior: FamilyPrior, shape: StackShape) -> tuple[Teeth, tuple[Arm, ...]]:
    """Return every arm of a family of this shape, star by star, and the teeth of its arrays."""
    teeth = Teeth(prior)
    factors: dict[tuple[str, str], Sequence[float]] = {}
    for component in prior.components:
        for left, right, values in component.edges:
            ends = component.wheels[left], component.wheels[right]
            factors[ends] = factors[ends[::-1]] = values
    sums = teeth.numbers[:, None] + teeth.numbers
    most = max(len(prior.family.types[prior.pieces[_hub(prior, s)].name]) for s in shape.stars) + 1
    found = []
    for number, star in enumerate(shape.stars):
        for wheel, behind in zip(star.hub, star.arms, strict=True):
            chain = (wheel, *behind)
            pieces = tuple(prior.location[w][0] for w in behind)
            found.append(
                Arm(
                    number,
                    chain,
                    pieces,
                    _modes(prior, teeth, wheel, most),
                    tuple(_states(prior, teeth, w) for w in behind),
                    tuple(
                        np.array(factors[ends]).take(sums)
                        for ends in zip(chain, behind, strict=False)
                    ),
                )
            )
    return teeth, tuple(found)


def _hub(prior: FamilyPrior, star: Star) -> int:
    return prior.location[star.hub[0]][0]


def _modes(prior: FamilyPrior, teeth: Teeth, wheel: str, most: int) -> Array:
    piece, place = prior.location[wheel]
    states = prior.states[piece]
    types = len(prior.family.types[prior.pieces[piece].name])
    wheels = len(prior.pieces[piece].wheels)
    found = np.zeros((len(teeth.every), most), dtype=complex)
    for kind in range(types):
        found[:, kind] = teeth.spread(prior, wheel, states[kind].modes[place])
        if wheels > 1:
            changed = states[types + kind * wheels + place]
            found[:, kind] += 1j * EPS * teeth.spread(prior, wheel, changed.modes[place])
    found[:, types] = teeth.spread(prior, wheel, states[-1].modes[place])
    return found


def _states(prior: FamilyPrior, teeth: Teeth, wheel: str) -> Array:
    piece, place = prior.location[wheel]
    *listed, other = prior.states[piece]
    return np.array([teeth.spread(prior, wheel, s.modes[place]) for s in (other, *listed)])


class ShortArms:
    """Arms with at most one wheel behind, at once."""

    def __init__(self, arms: Sequence[Arm], teeth: Teeth) -> None:
        size = len(teeth.every)
        states = max((len(arm.states[0]) for arm in arms if arm.states), default=1)
        self.states = max(states, 2)
        modes = np.array([arm.modes for arm in arms])
        #: By hub's teeth: what a listed state of the mate makes of each mode, its counts aside.
        listed = np.zeros((len(arms), size, self.states - 1, modes.shape[2]), dtype=complex)
        #: By mate's teeth and hub's: the unlisted state, its counts aside.
        self._unlisted = np.zeros((len(arms), size, size))
        at = np.zeros((len(arms), self.states - 1), dtype=np.intp)
        for number, arm in enumerate(arms):
            if not arm.states:
                listed[number, :, 0] = arm.modes
                continue
            (states_of,), (mesh,) = arm.states, arm.meshes
            kinds = states_of[1:].argmax(axis=1)
            listed[number, :, : len(kinds)] = mesh[:, kinds, None] * arm.modes[:, None]
            at[number, : len(kinds)] = kinds
            self._unlisted[number] = (mesh * states_of[0]).T
        rows = np.arange(len(arms) * HANDS).reshape(len(arms), HANDS, 1) * size
        self._at = (rows + at[:, None])[..., None]
        self._width = 2 * modes.shape[2]
        self._modes = np.ascontiguousarray(modes).view(float)
        self._listed = listed.reshape(len(arms), size, -1).view(float)

    def tables(self, hub: Array, mate: Array) -> Array:
        """Return what each state of the mate makes of each mode: [arm, hand, state, mode], floats.

        `hub` and `mate`: the likelihood of their counts, [arm, hand, teeth].
        """
        arms = len(hub)
        found = np.empty((arms, HANDS, self.states * self._width))
        other = mate @ self._unlisted
        other *= hub
        np.matmul(other, self._modes, out=found[:, :, : self._width])
        np.matmul(hub, self._listed, out=found[:, :, self._width :])
        table = found.reshape(arms, HANDS, self.states, self._width)
        table[:, :, 1:] *= mate.reshape(-1).take(self._at)
        return table


class LongArm:
    """An arm with two wheels behind, an idler and its mate."""

    def __init__(self, arm: Arm, teeth: Teeth) -> None:
        idler, mate = arm.states
        near, far = arm.meshes
        self.states = len(idler) * len(mate)
        self._modes = np.ascontiguousarray(arm.modes).view(float)
        self._near = np.ascontiguousarray(near.T)
        self._idler = idler[:, None]
        size = len(teeth.every)
        self._mate = (mate[:, None] * far).transpose(2, 0, 1).reshape(size, -1)
        self._by_mate = len(mate), size

    def table(self, hub: Array, idler: Array, mate: Array) -> Array:
        """Return what the states behind make of each mode: [hand, idler · mate, mode], floats."""
        behind = (mate @ self._mate).reshape(HANDS, 1, *self._by_mate)
        behind = behind * idler[:, None, None] * self._idler
        front = self._near @ (hub[:, :, None] * self._modes)
        found: Array = behind.reshape(HANDS, self.states, -1) @ front
        return found


def joint_weights(of_pieces: Mapping[int, Array], arm: Arm, rows: int) -> Array:
    """Return the weights of the joint states behind an arm's hub: [row, state].

    `of_pieces`: of each piece by number, [row, state]; with no wheel behind there is one state, in
    the place of the first listed one.
    """
    if not arm.pieces:
        return np.tile([0.0, 1.0], (rows, 1))
    found, *rest = (of_pieces[piece] for piece in arm.pieces)
    for other in rest:
        found = (found[:, :, None] * other[:, None]).reshape(rows, -1)
    return found
