"""Knows every state that a piece can be in, and each state's prior under a base set.

Leaves the meshes and the things seen to `counted`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .laws import FOREIGN, ONE_CHANGED, UNLISTED
from .layout import Family

#: What one wheel is in a state: its teeth, or the teeth that it cannot have.
Wheel = int | frozenset[int]


@dataclass(frozen=True, slots=True)
class State:
    """What a piece can be: a listed type by its number, or unlisted (`kind` None)."""

    kind: int | None
    wheels: tuple[Wheel, ...]
    share: float = 0.0


def piece_states(family: Family, piece: str) -> list[State]:
    """Return every state of a piece; `share` is an unlisted state's part of all unlisted."""
    types = family.types[piece]
    nothing: frozenset[int] = frozenset()

    def wheel(teeth: int | None) -> Wheel:
        return nothing if teeth is None else teeth

    states = [State(i, tuple(map(wheel, one.teeth))) for i, one in enumerate(types)]
    size = len(family.pieces[piece])
    if size == 1:
        listed = frozenset(one.teeth[0] for one in types if one.teeth[0] is not None)
        return [*states, State(None, (listed,), 1.0)]
    weight = math.fsum(one.weight for one in types)
    for one in types:
        for place in range(size):
            wheels = list(map(wheel, one.teeth))
            teeth = one.teeth[place]
            wheels[place] = nothing if teeth is None else frozenset({teeth})
            share = ONE_CHANGED * one.weight / weight / size
            states.append(State(None, tuple(wheels), share))
    return [*states, State(None, (nothing,) * size, 1 - ONE_CHANGED)]


def state_priors(family: Family, piece: str, states: Sequence[State], own: int) -> np.ndarray:
    """Return the prior of every state of a piece where the base set says type `own`."""
    types = family.types[piece]
    others = math.fsum(one.weight for i, one in enumerate(types) if i != own)
    priors = []
    for state in states:
        if state.kind is None:
            priors.append(UNLISTED * state.share)
        elif state.kind != own:
            priors.append(FOREIGN * types[state.kind].weight / others)
        else:
            priors.append(1 - UNLISTED - (FOREIGN if len(types) > 1 else 0.0))
    return np.array(priors)
