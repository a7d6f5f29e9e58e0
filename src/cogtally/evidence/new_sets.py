"""Sets that a family has and the catalog lacks: sums over all their teeth, tied by the centres.

All wheels of such a set are unknown, and two in mesh nearly keep a tooth sum of the family. So its
weight is a product over the wheels that mesh, directly or through each other, and each of those
parts is a closed sum. Families with the same wheels and the same meshes are worked out at once: the
first axis of an array is the family, the last the teeth. Readings, looks and what a family does not
have are left to whoever asks.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from cogtally.catalog.model import Family
from cogtally.evidence.likelihood import (
    AS_LISTED_WHEEL,
    GREATEST_TEETH,
    LEAST_TEETH,
    NEW_SUM_OFF,
    SUM_FAR,
)
from cogtally.evidence.rho import Rho
from cogtally.gears.notation import MOST_TEETH

Array = np.ndarray[Any, np.dtype[np.float64]]
#: For each counted wheel, by kept name, the likelihood by teeth 0…200: [teeth] or [family, teeth].
Likelihoods = Mapping[str, Sequence[float] | Array]

#: Families summed in one go: it bounds the memory that a large catalog takes.
AT_ONCE = 1024
PAIR = 2
_TEETH = MOST_TEETH + 1
#: What says nothing of a wheel's teeth.
_ALL = np.ones(_TEETH)


@dataclass(frozen=True, slots=True)
class Wheel:
    """How the teeth of a wheel of a new set are spread, family by family.

    From `rho` (by teeth 0…200) with `rho_share[family]`, else as listed: `teeth[family, place]`
    with `shares[family, place]`, padded with shares of 0.
    """

    rho: Array
    rho_share: Array
    teeth: np.ndarray[Any, np.dtype[np.intp]]
    shares: Array

    def spread(self, rows: slice) -> Array:
        """Return the probability by family and teeth."""
        found: Array = self.rho_share[rows, None] * self.rho
        family = np.arange(len(found))
        for teeth, shares in zip(self.teeth[rows].T, self.shares[rows].T, strict=True):
            found[family, teeth] += shares
        return found


@dataclass(frozen=True, slots=True)
class Mesh:
    """Two wheels in mesh (by index), and by how much a tooth sum weighs more than a far one.

    `sums[family, place]` with `over[family, place]`, padded with 0; any other sum weighs
    `far[family]`: SUM_FAR, or 1 of a family that gives no sum there.
    """

    left: int
    right: int
    sums: np.ndarray[Any, np.dtype[np.intp]]
    over: Array
    far: Array

    def message(self, weights: Array, rows: slice) -> Array:
        """Sum weights by family and teeth of one wheel against each number of its mate's."""
        # Sums of 0…400 less 0…200 teeth: what falls outside has no weight.
        padded = np.pad(weights, ((0, 0), (_TEETH, _TEETH)))
        family = np.arange(len(weights))[:, None]
        found: Array = np.repeat(self.far[rows, None] * weights.sum(1, keepdims=True), _TEETH, 1)
        mate = np.arange(_TEETH)
        for place in range(self.sums.shape[1]):
            at = self.sums[rows, place, None] - mate + _TEETH
            found += self.over[rows, place, None] * padded[family, at]
        return found

    def pair(self, left: Wheel, right: Wheel, seen: Sequence[Array], rows: slice) -> Array:
        """Sum over the teeth of two wheels that mesh with no other, by family.

        `seen`: the likelihood of both by teeth 0…200, the same for all families. Spreads are of two
        kinds, ρ and listed: the sums that are near are four sums of products, one of them common.
        """
        ends = []
        for wheel, by_teeth in zip((left, right), seen, strict=True):
            teeth = wheel.teeth[rows]
            drawn, listed = wheel.rho * by_teeth, wheel.shares[rows] * by_teeth[teeth]
            ends.append((wheel.rho_share[rows, None], drawn, teeth, listed))
        (share, drawn, teeth, listed), (mate_share, mate_drawn, mate_teeth, mate_listed) = ends
        sums = self.sums[rows]
        near = share * mate_share * np.convolve(drawn, mate_drawn)[sums]
        near += share * _met(drawn, sums, mate_teeth, mate_listed)
        near += mate_share * _met(mate_drawn, sums, teeth, listed)
        meet = sums[:, :, None, None] == teeth[:, None, :, None] + mate_teeth[:, None, None, :]
        near += np.einsum("fskm,fk,fm->fs", meet, listed, mate_listed)
        whole = share[:, 0] * drawn.sum() + listed.sum(1)
        mate_whole = mate_share[:, 0] * mate_drawn.sum() + mate_listed.sum(1)
        found: Array = self.far[rows] * whole * mate_whole + (self.over[rows] * near).sum(1)
        return found

    def table(self, rows: slice) -> Array:
        """Return the factor by family and the teeth of both."""
        teeth = np.arange(_TEETH)
        count = len(self.far[rows])
        by_sum: Array = np.repeat(self.far[rows, None], 2 * _TEETH - 1, 1)
        np.add.at(by_sum, (np.arange(count)[:, None], self.sums[rows]), self.over[rows])
        found: Array = by_sum[:, teeth[:, None] + teeth]
        return found


def _met(drawn: Array, sums: Any, teeth: Any, listed: Array) -> Array:
    """Sum listed teeth, by family, against what is drawn that makes each of the sums with them."""
    padded = np.pad(drawn, _TEETH)
    found: Array = (padded[sums[:, :, None] - teeth[:, None, :] + _TEETH] * listed[:, None]).sum(2)
    return found


class NewSets:
    """The new sets of families that have the same wheels and meshes, the families in order.

    `names`: the wheels, by kept name. `wheels` and `meshes` in arrays over the families.
    """

    def __init__(
        self, names: Sequence[str], wheels: Sequence[Wheel], meshes: Sequence[Mesh]
    ) -> None:
        self.names = tuple(names)
        self.wheels = tuple(wheels)
        self.meshes = tuple(meshes)
        self.count = len(wheels[0].rho_share)
        self.parts = _parts(len(self.names), self.meshes)

    @cached_property
    def normalisers(self) -> Array:
        """The sum of all weighted teeth, by part (wheels that mesh with each other) and family."""
        return np.array([self._sums(part, {}) for part in self.parts])

    def likelihood(self, seen: Likelihoods) -> Array:
        """Return the probability of all counts of one hand (scaled as they are), by family.

        Counts of wheels that the families do not have are left out.
        """
        found = np.ones(self.count)
        for part, normaliser in zip(self.parts, self.normalisers, strict=True):
            if any(self.names[wheel] in seen for wheel in part):
                found *= self._sums(part, seen) / normaliser
        return found

    def spread(self, wheel: str, seen: Likelihoods, rows: slice = slice(None)) -> Array:
        """Return the joint of the counts of one hand and the teeth of one wheel.

        By family (those of `rows`) and teeth 0…200; the sum over the teeth is the likelihood.
        """
        own = next(part for part in self.parts if self.names.index(wheel) in part)
        found: Array = np.ones(self.count)[rows]
        for part, normaliser in zip(self.parts, self.normalisers, strict=True):
            if part is own:
                root = self.names.index(wheel)
                by_teeth = self._around(part, root, seen, rows) / normaliser[rows, None]
            elif any(self.names[each] in seen for each in part):
                found = found * self._sums(part, seen, rows) / normaliser[rows]
        joint: Array = found[:, None] * by_teeth
        return joint

    def _sums(self, part: Sequence[int], seen: Likelihoods, rows: slice = slice(None)) -> Array:
        """The sum over all teeth of one part, by family."""
        first, last, _ = rows.indices(self.count)
        found = [
            self._summed(part, seen, slice(start, min(start + AT_ONCE, last)))
            for start in range(first, last, AT_ONCE)
        ]
        return np.concatenate(found) if found else np.zeros(0)

    def _summed(self, part: Sequence[int], seen: Likelihoods, rows: slice) -> Array:
        if len(part) == PAIR:
            known = [np.asarray(seen.get(self.names[wheel], _ALL)) for wheel in part]
            (mesh,) = (mesh for mesh in self.meshes if mesh.left in part)
            if all(each.ndim == 1 for each in known):
                left, right = (self.wheels[wheel] for wheel in part)
                return mesh.pair(left, right, known, rows)
        found: Array = self._around(part, self._root(part), seen, rows).sum(1)
        return found

    def _root(self, part: Sequence[int]) -> int:
        """The wheel with most mates, so that messages are few."""
        return max(part, key=lambda wheel: len(self._mates(wheel)))

    def _mates(self, wheel: int) -> list[tuple[int, Mesh]]:
        return [
            (mesh.right if wheel == mesh.left else mesh.left, mesh)
            for mesh in self.meshes
            if wheel in (mesh.left, mesh.right)
        ]

    def _around(self, part: Sequence[int], root: int, seen: Likelihoods, rows: slice) -> Array:
        """The sum over the teeth of all other wheels of a part, by family and those of the root."""
        meshes = [mesh for mesh in self.meshes if mesh.left in part]
        if len(meshes) == len(part) - 1:
            return self._gathered(root, None, seen, rows)
        # Wheels in a ring: one sum over all teeth, in the order that numpy finds best.
        family = len(self.names)
        operands: list[Any] = []
        for wheel in part:
            operands += [self._weights(wheel, seen, rows), [family, wheel]]
        for mesh in meshes:
            operands += [mesh.table(rows), [family, mesh.left, mesh.right]]
        found: Array = np.einsum(*operands, [family, root], optimize="greedy")
        return found

    def _gathered(self, wheel: int, behind: Mesh | None, seen: Likelihoods, rows: slice) -> Array:
        """The weights of one wheel times all that the wheels behind it say of its teeth."""
        found = self._weights(wheel, seen, rows)
        for mate, mesh in self._mates(wheel):
            if mesh is not behind:
                found = found * mesh.message(self._gathered(mate, mesh, seen, rows), rows)
        return found

    def _weights(self, wheel: int, seen: Likelihoods, rows: slice) -> Array:
        found = self.wheels[wheel].spread(rows)
        counted = seen.get(self.names[wheel])
        if counted is None:
            return found
        by_teeth = np.asarray(counted)
        weights: Array = found * (by_teeth if by_teeth.ndim == 1 else by_teeth[rows])
        return weights


def _parts(wheels: int, meshes: Sequence[Mesh]) -> tuple[tuple[int, ...], ...]:
    """The wheels that mesh, directly or through each other."""
    group = {wheel: {wheel} for wheel in range(wheels)}
    for mesh in meshes:
        if group[mesh.left] is not group[mesh.right]:
            group[mesh.left] |= group[mesh.right]
            for wheel in group[mesh.right]:
                group[wheel] = group[mesh.left]
    return tuple({id(found): tuple(sorted(found)) for found in group.values()}.values())


def shape_of(family: Family) -> tuple[object, ...]:
    """Return what two families must have alike to be worked out at once: wheels and meshes."""
    meshes = tuple(family.sums) if family.layout != "axle" else ()
    return family.train.wheels, meshes, tuple(sorted(family.train.names.items()))


def new_sets_of(families: Sequence[Family], rho: Rho) -> NewSets:
    """Return the new sets of families with counted sets, all of one shape."""
    first = families[0]
    names = first.train.wheels
    index = {name: number for number, name in enumerate(names)}
    meshes = []
    if first.layout != "axle":
        meshes = [
            _mesh(index[left], index[right], [family.sums[left, right] for family in families])
            for left, right in first.sums
        ]
    sets = [
        [(known.commonness, family.teeth_of(known)) for known in family.counted_sets]
        for family in families
    ]
    return NewSets(names, [_wheel(name, sets, rho) for name in names], meshes)


def _wheel(
    name: str, sets: Sequence[Sequence[tuple[float, Mapping[str, int | None]]]], rho: Rho
) -> Wheel:
    listed = []
    for known in sets:
        pool: dict[int, float] = {}
        for commonness, of in known:
            teeth = of.get(name)
            if teeth is not None:
                pool[teeth] = pool.get(teeth, 0.0) + commonness
        total = sum(pool.values())
        listed.append({t: AS_LISTED_WHEEL * weight / total for t, weight in pool.items()})
    places, shares = _padded(listed)
    by_teeth = np.zeros(_TEETH)
    by_teeth[LEAST_TEETH : GREATEST_TEETH + 1] = rho.of(name)
    rho_share = np.array([1 - AS_LISTED_WHEEL if pool else 1.0 for pool in listed])
    return Wheel(by_teeth, rho_share, places, shares)


def _mesh(left: int, right: int, known: Sequence[Sequence[int]]) -> Mesh:
    reach = len(NEW_SUM_OFF) - 1
    over: list[dict[int, float]] = []
    for values in known:
        near = {value + off for value in values for off in range(-reach, reach + 1)}
        over.append(
            {
                s: NEW_SUM_OFF[min(abs(s - value) for value in values)] - SUM_FAR
                for s in near
                if 0 <= s < 2 * _TEETH - 1
            }
        )
    sums, more = _padded(over)
    far = np.array([SUM_FAR if values else 1.0 for values in known])
    return Mesh(left, right, sums, more, far)


def _padded(
    rows: Sequence[Mapping[int, float]],
) -> tuple[np.ndarray[Any, np.dtype[np.intp]], Array]:
    width = max(map(len, rows))
    places = np.zeros((len(rows), width), dtype=np.intp)
    values = np.zeros((len(rows), width))
    for number, row in enumerate(rows):
        places[number, : len(row)] = list(row)
        values[number, : len(row)] = list(row.values())
    return places, values
