"""Any wheels of a family that mesh, for every combination of what is known of each, in arrays.

Which pieces the wheels are on is left to `framed_plan`.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from cogtally.evidence.framed_arms import HANDS, Array, Teeth
from cogtally.evidence.prior import Component, FamilyPrior, Mode


class MeshTables:
    """One mesh component that is a tree of meshes: `wheels` with their `modes`, each once.

    Its table is a weight for each combination of modes.
    """

    def __init__(self, prior: FamilyPrior, component: Component, teeth: Teeth) -> None:
        self.wheels = component.wheels
        self.modes: dict[str, dict[Mode, int]] = {}
        self._spread: list[Array] = []
        for wheel in self.wheels:
            piece, place = prior.location[wheel]
            modes = dict.fromkeys(state.modes[place] for state in prior.states[piece])
            self.modes[wheel] = {mode: number for number, mode in enumerate(modes)}
            self._spread.append(np.array([teeth.spread(prior, wheel, m) for m in modes]).T)
        self._mates: list[list[tuple[int, Array]]] = [[] for _ in self.wheels]
        sums = teeth.numbers[:, None] + teeth.numbers
        for left, right, factors in component.edges:
            values = np.array(factors).take(sums)
            self._mates[left].append((right, values))
            self._mates[right].append((left, values))
        #: The wheel that most can be known of is summed last.
        self._root = max(range(len(self.wheels)), key=lambda w: self._spread[w].shape[1])
        #: How many combinations there are.
        self.size = 1
        self._stride: dict[str, int] = {}
        for number in reversed(self._order(self._root, -1)):
            self._stride[self.wheels[number]] = self.size
            self.size *= self._spread[number].shape[1]

    def _order(self, wheel: int, above: int) -> list[int]:
        """The wheels in the order of the axes of a table: each before those behind it."""
        found = [wheel]
        for mate, _ in self._mates[wheel]:
            if mate != above:
                found += self._order(mate, wheel)
        return found

    def places(self, prior: FamilyPrior, piece: int) -> Array:
        """Return for each state of a piece what it adds to the place in the flat table."""
        found = np.zeros(len(prior.states[piece]), dtype=np.intp)
        for place, wheel in enumerate(prior.pieces[piece].wheels):
            if wheel in self._stride:
                numbers = [self.modes[wheel][state.modes[place]] for state in prior.states[piece]]
                found += self._stride[wheel] * np.array(numbers)
        return found

    def table(self, laws: Mapping[str, Array]) -> Array:
        """Return the flat table by hand, `laws`: of the counted wheels, by hand and teeth."""
        behind = self._behind(self._root, -1, laws)
        mine = self._weights(self._root, laws)
        if behind is None:
            return np.broadcast_to(mine.sum(axis=1), (HANDS, mine.shape[2]))
        return (mine.swapaxes(1, 2) @ behind).reshape(HANDS, -1)

    def _weights(self, wheel: int, laws: Mapping[str, Array]) -> Array:
        """What a wheel weighs: [hand, teeth, mode]."""
        law = laws.get(self.wheels[wheel])
        spread = self._spread[wheel][None]
        return spread if law is None else law[:, :, None] * spread

    def _behind(self, wheel: int, above: int, laws: Mapping[str, Array]) -> Array | None:
        """What the wheels behind one say of its teeth: [hand, teeth, modes of those behind]."""
        found: Array | None = None
        for mate, values in self._mates[wheel]:
            if mate == above:
                continue
            mine = self._weights(mate, laws)
            rest = self._behind(mate, wheel, laws)
            if rest is not None:
                mine = _outer(mine, rest)
            message = values @ mine
            found = message if found is None else _outer(found, message)
        if found is None:
            return None
        return np.broadcast_to(found, (HANDS, *found.shape[1:]))


def _outer(one: Array, other: Array) -> Array:
    """Every combination of the last axes of two arrays, the first one's moving slowest."""
    found: Array = one[..., None] * other[..., None, :]
    return found.reshape(*found.shape[:2], -1)
