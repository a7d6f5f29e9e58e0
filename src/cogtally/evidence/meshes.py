"""Sums over the unknown teeth of wheels that mesh with each other.

Which wheels those are comes from `prior`; what was counted from `likelihood`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import prod
from operator import mul

from cogtally.evidence.likelihood import GREATEST_TEETH, LEAST_TEETH, SUM_FAR, TEETH_RANGE
from cogtally.evidence.prior import Component, FamilyPrior, Mode
from cogtally.evidence.rho import SIZE

#: Wheel to the likelihood of its counts by teeth 0…200; a wheel not counted is not in it.
Likelihoods = Mapping[str, Sequence[float]]


class _Bump:
    """The factors of tooth sums less the constant of a far sum, which is 0 but for a short run."""

    def __init__(self, factors: Sequence[float]) -> None:
        self.factors = factors
        near = [i for i, f in enumerate(factors) if f > SUM_FAR]
        self.low = near[0]
        self.over = [f - SUM_FAR for f in factors[near[0] : near[-1] + 1]]
        self._reversed = self.over[::-1]

    def meet(self, vector: Sequence[float], total: float, teeth: int) -> float:
        """Sum a vector over 5…99, of sum `total`, against a mate with known teeth."""
        start = self.low - teeth - LEAST_TEETH
        if start < 0:
            bump: float = sum(map(mul, vector, self.over[-start:]))
        else:
            bump = sum(map(mul, vector[start : start + len(self.over)], self.over))
        return SUM_FAR * total + bump

    def row(self, vector: Sequence[float], total: float) -> list[float]:
        """Sum a vector over 5…99, of sum `total`, against each of 5…99 teeth of a mate."""
        width, over = len(self.over), self._reversed
        # In the reversed vector the mate's next tooth moves the window by one place up.
        first = GREATEST_TEETH + LEAST_TEETH - (self.low + width - 1)
        before, behind = max(0, -first), max(0, first + SIZE - 1 + width - SIZE)
        padded = [0.0] * before + list(reversed(vector)) + [0.0] * behind
        start = first + before
        far = SUM_FAR * total
        return [
            far + sum(map(mul, over, padded[k : k + width])) for k in range(start, start + SIZE)
        ]


class _Message:
    """What the wheels behind one wheel say of its mate's teeth."""

    def __init__(self, bump: _Bump, mode: Mode, weights: Sequence[float]) -> None:
        self.bump = bump
        self.mode = mode
        self.weights = weights
        self.total = sum(weights)
        self._at: dict[int, float] = {}
        self._row: list[float] | None = None

    def at(self, teeth: int) -> float:
        found = self._at.get(teeth)
        if found is None:
            if isinstance(self.mode, int):
                found = self.weights[0] * self.bump.factors[self.mode + teeth]
            else:
                found = self.bump.meet(self.weights, self.total, teeth)
            self._at[teeth] = found
        return found

    def row(self) -> list[float]:
        """The message for each of 5…99."""
        if self._row is None:
            if isinstance(self.mode, int):
                start = self.mode + LEAST_TEETH
                weight = self.weights[0]
                self._row = [weight * f for f in self.bump.factors[start : start + SIZE]]
            else:
                self._row = self.bump.row(self.weights, self.total)
        return self._row


class ComponentSum:
    """The weight of one mesh component for every combination of what is known of its wheels.

    `root`: the wheel (by index) by whose teeth the weight can be spread.
    """

    def __init__(
        self, component: Component, prior: FamilyPrior, seen: Likelihoods, root: int = 0
    ) -> None:
        self.component = component
        self.root = root
        self.prior = prior
        self.seen = seen
        self.is_tree = len(component.edges) == len(component.wheels) - 1
        self._children: list[list[tuple[int, _Bump]]] = [[] for _ in component.wheels]
        if self.is_tree:
            self._grow(root, None)
            self._span = [self._below(i) for i in range(len(component.wheels))]
        self._weights: dict[tuple[int, Mode], list[float]] = {}
        self._messages: dict[tuple[int, tuple[Mode, ...]], _Message] = {}
        self._values: dict[tuple[Mode, ...], float] = {}

    def _grow(self, wheel: int, parent: int | None) -> None:
        for left, right, factors in self.component.edges:
            if wheel in (left, right):
                other = right if wheel == left else left
                if other != parent:
                    self._children[wheel].append((other, _Bump(factors)))
                    self._grow(other, wheel)

    def _below(self, wheel: int) -> tuple[int, ...]:
        """A wheel and all behind it, seen from the root."""
        return (wheel, *(w for child, _ in self._children[wheel] for w in self._below(child)))

    def value(self, modes: tuple[Mode, ...]) -> float:
        """Return the summed weight of all teeth of the component where `modes` are known."""
        found = self._values.get(modes)
        if found is None:
            found = self._tree(modes) if self.is_tree else self._cycle(modes)
            self._values[modes] = found
        return found

    def weights(self, wheel: int, mode: Mode) -> list[float]:
        """Return likelihood × prior of one wheel: one number if its teeth are known, else 5…99."""
        key = (wheel, mode)
        found = self._weights.get(key)
        if found is None:
            name = self.component.wheels[wheel]
            seen = self.seen.get(name)
            if isinstance(mode, int):
                found = [1.0 if seen is None else seen[mode]]
            else:
                found = self.prior.unknown(name, mode)
                if seen is not None:
                    found = list(map(mul, found, seen[LEAST_TEETH : LEAST_TEETH + SIZE]))
            self._weights[key] = found
        return found

    def _gathered(self, wheel: int, modes: tuple[Mode, ...]) -> list[float]:
        """The weights of one wheel times all that its children say of it."""
        mode = modes[wheel]
        found = self.weights(wheel, mode)
        for child, bump in self._children[wheel]:
            message = self._message(child, bump, modes)
            if isinstance(mode, int):
                found = [found[0] * message.at(mode)]
            else:
                found = list(map(mul, found, message.row()))
        return found

    def _message(self, wheel: int, bump: _Bump, modes: tuple[Mode, ...]) -> _Message:
        key = (wheel, tuple(modes[w] for w in self._span[wheel]))
        found = self._messages.get(key)
        if found is None:
            found = _Message(bump, modes[wheel], self._gathered(wheel, modes))
            self._messages[key] = found
        return found

    def spread(self, modes: tuple[Mode, ...]) -> dict[int, float]:
        """Return the weight by the teeth of the root."""
        mode = modes[self.root]
        teeth = [mode] if isinstance(mode, int) else TEETH_RANGE
        if self.is_tree:
            return dict(zip(teeth, self._gathered(self.root, modes), strict=True))
        tables = self._tables(modes)
        edges = list(self.component.edges)
        return {
            t: _eliminate({**tables, self.root: {t: weight}}, edges)
            for t, weight in tables[self.root].items()
        }

    def _tree(self, modes: tuple[Mode, ...]) -> float:
        return sum(self._gathered(self.root, modes))

    def _cycle(self, modes: tuple[Mode, ...]) -> float:
        return _eliminate(self._tables(modes), list(self.component.edges))

    def _tables(self, modes: tuple[Mode, ...]) -> dict[int, dict[int, float]]:
        tables = {}
        for wheel, mode in enumerate(modes):
            teeth = [mode] if isinstance(mode, int) else TEETH_RANGE
            tables[wheel] = dict(zip(teeth, self.weights(wheel, mode), strict=True))
        return tables


def _eliminate(
    tables: dict[int, dict[int, float]], edges: list[tuple[int, int, tuple[float, ...]]]
) -> float:
    """Sum out wheels: a wheel with one mate into that mate, else by going through its teeth."""
    if not edges:
        return prod(sum(table.values()) for table in tables.values())
    degree = dict.fromkeys(tables, 0)
    for left, right, _ in edges:
        degree[left] += 1
        degree[right] += 1
    meshing = [w for w in tables if degree[w]]
    wheel = min(meshing, key=degree.__getitem__)
    rest = {w: table for w, table in tables.items() if w != wheel}
    touching = [e for e in edges if wheel in e[:2]]
    left_over = [e for e in edges if wheel not in e[:2]]
    if degree[wheel] == 1:
        mate, factors = _mate(touching[0], wheel)
        own = tables[wheel]
        rest[mate] = {
            t: w * sum(v * factors[t + u] for u, v in own.items()) for t, w in tables[mate].items()
        }
        return _eliminate(rest, left_over)
    total = 0.0
    for teeth, weight in tables[wheel].items():
        if weight:
            given = dict(rest)
            for edge in touching:
                mate, factors = _mate(edge, wheel)
                given[mate] = {t: w * factors[t + teeth] for t, w in given[mate].items()}
            total += weight * _eliminate(given, left_over)
    return total


def _mate(edge: tuple[int, int, tuple[float, ...]], wheel: int) -> tuple[int, tuple[float, ...]]:
    left, right, factors = edge
    return (right if left == wheel else left), factors
