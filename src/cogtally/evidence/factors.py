"""What ties the pieces of a box together: meshes and turn tests, as factors over piece states.

Which pieces are summed out in which order is left to `structure`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from cogtally.evidence.likelihood import Reading, no_ratio_density, reading_density
from cogtally.evidence.meshes import ComponentSum, Likelihoods
from cogtally.evidence.prior import FamilyPrior, Mode


@dataclass(frozen=True)
class Shape:
    """Which pieces a factor touches, and which of their states it cannot tell apart.

    `local[i][state]` is a small number for each state of `pieces[i]`; `views[i][local]` is what
    the factor sees of the piece there.
    """

    pieces: tuple[int, ...]
    local: tuple[tuple[int, ...], ...]
    views: tuple[tuple[tuple[object, ...], ...], ...]

    @cached_property
    def sizes(self) -> tuple[int, ...]:
        """How many different views of each piece there are."""
        return tuple(len(views) for views in self.views)


def shape_of(
    prior: FamilyPrior, wheels: Sequence[str], view: Callable[[str, Mode], object]
) -> tuple[Shape, tuple[tuple[int, int], ...]]:
    """Return the shape of a factor over `wheels`, and where each wheel stands in the views."""
    places: dict[int, list[int]] = {}
    for wheel in dict.fromkeys(wheels):
        piece, place = prior.location[wheel]
        places.setdefault(piece, []).append(place)
    local, views = [], []
    for piece, at in places.items():
        names = [prior.pieces[piece].wheels[i] for i in at]
        numbers: dict[tuple[object, ...], int] = {}
        row = []
        for state in prior.states[piece]:
            seen = tuple(view(n, state.modes[i]) for n, i in zip(names, at, strict=True))
            row.append(numbers.setdefault(seen, len(numbers)))
        local.append(tuple(row))
        views.append(tuple(numbers))
    pieces = tuple(places)
    where = tuple(
        (pieces.index(p), places[p].index(i)) for p, i in (prior.location[w] for w in wheels)
    )
    return Shape(pieces, tuple(local), tuple(views)), where


class Factor:
    """A number for each combination of what it sees of its pieces, worked out when asked for."""

    def __init__(self, shape: Shape, where: tuple[tuple[int, int], ...]) -> None:
        self.shape = shape
        self._where = where
        self._known: dict[tuple[int, ...], float] = {}

    def value(self, local: tuple[int, ...]) -> float:
        """Return the factor where each of its pieces is seen as `local` says."""
        found = self._known.get(local)
        if found is None:
            found = self._known[local] = self._worth(self.seen(local))
        return found

    def seen(self, local: tuple[int, ...]) -> tuple[object, ...]:
        """Return what the factor sees of each of its wheels."""
        views = self.shape.views
        return tuple(views[piece][local[piece]][place] for piece, place in self._where)

    def _worth(self, seen: tuple[object, ...]) -> float:
        raise NotImplementedError


class MeshFactor(Factor):
    """All teeth of one mesh component: prior of the unknown ones, counts and tooth sums."""

    def __init__(
        self, shape: Shape, where: tuple[tuple[int, int], ...], component: ComponentSum
    ) -> None:
        super().__init__(shape, where)
        self._component = component

    def _worth(self, seen: tuple[object, ...]) -> float:
        return self._component.value(seen)  # type: ignore[arg-type]


class TurnFactor(Factor):
    """One turn test: its density at the ratio of the path, if the path has one."""

    def __init__(self, shape: Shape, where: tuple[tuple[int, int], ...], reading: Reading) -> None:
        super().__init__(shape, where)
        self._reading = reading

    def _worth(self, seen: tuple[object, ...]) -> float:
        if any(teeth is None for teeth in seen):
            return no_ratio_density(self._reading)
        teeth = [t for t in seen if isinstance(t, int)]
        ratio = Fraction(1)
        for driver, driven in zip(teeth[::2], teeth[1::2], strict=True):
            ratio *= Fraction(driven, driver)
        return reading_density(self._reading, ratio)


class FlatFactor(Factor):
    """A factor of 1: it only tells states of its pieces apart."""

    def _worth(self, seen: tuple[object, ...]) -> float:
        return 1.0


def mesh_shapes(prior: FamilyPrior) -> list[tuple[Shape, tuple[tuple[int, int], ...]]]:
    """Return the shapes of all mesh components of a family; they do not depend on evidence."""
    return [shape_of(prior, c.wheels, lambda _, mode: mode) for c in prior.components]


def mesh_factors(
    prior: FamilyPrior,
    shapes: Sequence[tuple[Shape, tuple[tuple[int, int], ...]]],
    seen: Likelihoods,
) -> list[Factor]:
    """Return the factors of all mesh components under the counts of one hand."""
    return [
        MeshFactor(shape, where, ComponentSum(component, prior, seen))
        for component, (shape, where) in zip(prior.components, shapes, strict=True)
    ]


def turn_factor(
    prior: FamilyPrior,
    path: Sequence[str],
    reading: Reading,
    likeliest: Callable[[str], int | None],
) -> Factor | float:
    """Return the factor of a turn test on a path of pairs; a number where it touches no piece.

    A wheel with unknown teeth is taken at what its counts make likeliest (None: not counted).
    """
    if not path:
        return reading_density(reading, 1)
    return TurnFactor(*path_shape(prior, path, likeliest), reading)


def path_shape(
    prior: FamilyPrior, path: Sequence[str], likeliest: Callable[[str], int | None]
) -> tuple[Shape, tuple[tuple[int, int], ...]]:
    """Return the shape of a path of pairs: the teeth of each driver and driven wheel, in turn."""
    return shape_of(
        prior,
        [w for ends in prior.family.train.path_wheels(path) for w in ends],
        lambda wheel, mode: mode if isinstance(mode, int) else likeliest(wheel),
    )
