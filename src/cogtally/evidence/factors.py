"""What ties the pieces of a box together: meshes, clashes and turn tests, over piece states.

Which pieces are summed out in which order is left to `structure`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import product

from cogtally.catalog.model import Family
from cogtally.evidence.likelihood import (
    CLASH,
    Helix,
    Reading,
    clashes,
    no_ratio_density,
    reading_density,
)
from cogtally.evidence.meshes import ComponentSum, Likelihoods
from cogtally.evidence.prior import FamilyPrior, Mode, State
from cogtally.gears.looks import HAND, HELIX


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
    """Return the shape of a factor over `wheels`, and where each wheel stands in the views.

    `view` says what the factor sees of a wheel by what is known of its teeth.
    """
    location = prior.location
    return _shape(prior, wheels, lambda wheel, state: view(wheel, state.modes[location[wheel][1]]))


def _shape(
    prior: FamilyPrior, wheels: Sequence[str], view: Callable[[str, State], object]
) -> tuple[Shape, tuple[tuple[int, int], ...]]:
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
            seen = tuple(view(name, state) for name in names)
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


class ClashFactor(Factor):
    """Meshes between the same pieces: hands and angles of listed wheels that cannot run."""

    def _worth(self, seen: tuple[object, ...]) -> float:
        meshes = zip(seen[::2], seen[1::2], strict=True)
        return CLASH ** sum(
            isinstance(a, Helix) and isinstance(b, Helix) and clashes(a, b) for a, b in meshes
        )


class StateFactor(Factor):
    """What was seen of one piece besides its teeth: a number for each of its listed types.

    `values[kind]`, the last one for all that is unlisted.
    """

    def __init__(self, prior: FamilyPrior, piece: int, values: Sequence[float]) -> None:
        last = len(values) - 1
        local = tuple(last if s.kind is None else s.kind for s in prior.states[piece])
        super().__init__(Shape((piece,), (local,), (tuple((v,) for v in values),)), ((0, 0),))
        self._values = values

    def value(self, local: tuple[int, ...]) -> float:
        """Return what was seen of the piece is worth in the state that `local` says."""
        return self._values[local[0]]


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
    """Return the factors of all mesh components under the counts of one hand, then the clashes."""
    meshes: list[Factor] = [
        MeshFactor(shape, where, ComponentSum(component, prior, seen))
        for component, (shape, where) in zip(prior.components, shapes, strict=True)
    ]
    return [*meshes, *prior.clashes]


def may_clash(family: Family) -> bool:
    """Tell whether hands or angles are known of a family at all, and whether they have to agree.

    The two wheels of an axle are a hypoid pair: their angles differ.
    """
    return family.layout != "axle" and any(
        HAND in features or HELIX in features
        for known in family.counted_sets
        for features in known.features.values()
    )


def clash_factors(prior: FamilyPrior) -> tuple[ClashFactor, ...]:
    """Return a factor for every two pieces of which some listed types cannot run together."""
    if not may_clash(prior.family) or not any_clash(prior.family):
        return ()
    from cogtally.evidence.feature_pool import value_in

    family = prior.family

    def helix(wheel: str, state: State) -> Helix | None:
        if state.kind is None:
            return None
        kind = family.types[family.piece_of[wheel].name][state.kind]
        hand, angle = value_in(kind, wheel, HAND), value_in(kind, wheel, HELIX)
        return Helix(
            hand if isinstance(hand, str) else None,
            angle if isinstance(angle, float) else None,
        )

    between: dict[tuple[int, int], list[str]] = {}
    for left, right in family.train.meshes:
        pieces = sorted((prior.location[left][0], prior.location[right][0]))
        between.setdefault((pieces[0], pieces[1]), []).extend((left, right))
    found = []
    for wheels in between.values():
        factor = ClashFactor(*_shape(prior, wheels, helix))
        if any(factor.value(local) < 1 for local in product(*map(range, factor.shape.sizes))):
            found.append(factor)
    return tuple(found)


def any_clash(family: Family) -> bool:
    """Tell whether any two listed wheels in mesh could clash: a quick look, for most cannot."""
    helices: dict[str, set[Helix]] = {}
    for kinds in family.types.values():
        for kind in kinds:
            known: dict[str, dict[str, object]] = {}
            for owner, feature, value in kind.features:
                if feature in (HAND, HELIX):
                    known.setdefault(owner, {})[feature] = value
            for owner, values in known.items():
                hand, angle = values.get(HAND), values.get(HELIX)
                # Of a piece of one wheel both may be given in parts, of it and of the wheel.
                if owner == kind.piece.name or not isinstance(hand, str):
                    return True
                helix = Helix(hand, float(angle) if isinstance(angle, (int, float)) else None)
                helices.setdefault(owner, set()).add(helix)
    return any(
        clashes(one, other)
        for left, right in family.train.meshes
        for one in helices.get(left, ())
        for other in helices.get(right, ())
    )


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
