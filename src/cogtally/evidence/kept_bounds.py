"""Bounds on the share of families built alike, from small tables instead of from the catalog.

Every mesh of two wheels is bounded with its tooth sum, every piece by itself. Which tables there
are, and where they are kept, is left to `kept`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, prod
from operator import mul

from cogtally.evidence.family_view import FamilyView
from cogtally.evidence.likelihood import (
    CHANGED_SHARE,
    HAND_PRIOR,
    LEAST_TEETH,
    OWN,
    SUM_FAR,
    UNCATALOGUED_PRIOR,
    UNLISTED,
)
from cogtally.evidence.parts import HANDS, LEAST_LOG
from cogtally.evidence.prior import sum_factors
from cogtally.evidence.rho import SIZE, Rho
from cogtally.evidence.seen import SeenBox
from cogtally.evidence.stacked_shape import StackShape

#: What rounding can do to a bound, as a factor: a bound may be too wide, never too narrow.
ROUNDING = 1 + 1e-9


@dataclass(frozen=True, slots=True)
class KeptFamily:
    """What a bound has to know of one family of a shape.

    `number`: its place in the catalog; `least`: a bound from below on its normalisers; `raised`:
    how much excluding its listed teeth can raise ρ elsewhere, wheel by wheel. `teeth` (wheel by
    wheel) and `sums` (mesh by mesh) are places in lists of all that occur. `hubs`: the types of
    the hub of every star. `sets`: where its counted sets begin and end among those of the shape.
    """

    number: int
    commonness: float
    least: float
    raised: Sequence[float]
    teeth: Sequence[int]
    sums: Sequence[int]
    hubs: Sequence[Sequence[Sequence[int]]]
    sets: tuple[int, int]


@dataclass(frozen=True, slots=True)
class Known:
    """The lists that `KeptFamily` names places in, and ρ."""

    rho: Rho
    teeth: Sequence[tuple[int, ...]]
    sums: Sequence[tuple[int, ...]]
    commonness: float


class _Wheel:
    """One wheel of a shape, from one hand: likelihood by teeth, and where its teeth are unknown."""

    def __init__(self, known: Known, wheel: str, likely: Sequence[float] | None) -> None:
        self.counted = likely is not None
        self.by_teeth: Sequence[float] = [1.0] * 201 if likely is None else likely
        span = self.by_teeth[LEAST_TEETH : LEAST_TEETH + SIZE]
        #: ρ times likelihood over 8…80, and its sum.
        self.weighed = list(map(mul, known.rho.of(wheel), span))
        self.unknown = sum(self.weighed)
        self._teeth = known.teeth
        self._greatest: dict[int, float] = {}

    def greatest(self, place: int) -> float:
        """Return the greatest likelihood among listed teeth."""
        found = self._greatest.get(place)
        if found is None:
            found = max([self.by_teeth[t] for t in self._teeth[place]])
            self._greatest[place] = found
        return found


class _Mesh:
    """A hub's wheel and its mate, from one hand: sums over unknown teeth, by tooth sums."""

    def __init__(self, known: Known, hub: _Wheel, mate: _Wheel) -> None:
        self.hub, self.mate = hub, mate
        self._known = known
        self._factors: dict[int, tuple[float, ...]] = {}
        #: What the factor of each near sum is more than that of a far one.
        self._near: dict[int, list[tuple[int, float]]] = {}
        self._unknown: dict[tuple[int, int, bool], float] = {}
        self._together: dict[int, float] = {}

    def factors(self, sums: int) -> tuple[float, ...]:
        """Return the factor of every tooth sum."""
        found = self._factors.get(sums)
        if found is None:
            found = self._factors[sums] = sum_factors(self._known.sums[sums])
            values = enumerate(found)
            self._near[sums] = [(s, value - SUM_FAR) for s, value in values if value > SUM_FAR]
        return found

    def against(self, sums: int, teeth: int, *, mate: bool) -> float:
        """Return the sum over unknown teeth of one of the two while the other has `teeth`.

        `mate`: it is the mate that is unknown.
        """
        key = (sums, teeth, mate)
        found = self._unknown.get(key)
        if found is None:
            self.factors(sums)
            wheel = self.mate if mate else self.hub
            first = teeth + LEAST_TEETH
            found = self._unknown[key] = SUM_FAR * wheel.unknown + sum(
                more * wheel.weighed[near - first]
                for near, more in self._near[sums]
                if 0 <= near - first < SIZE
            )
        return found

    def neither(self, sums: int) -> float:
        """Return the sum over unknown teeth of both."""
        self.factors(sums)
        found: float = SUM_FAR * self.hub.unknown * self.mate.unknown
        for near, more in self._near[sums]:
            both = self._together.get(near)
            if both is None:
                # The mate backwards beside the hub: every two places that make this sum.
                past = near - 2 * LEAST_TEETH - (SIZE - 1)
                hub = self.hub.weighed[max(past, 0) :]
                mate = self.mate.weighed[::-1][max(-past, 0) :]
                both = self._together[near] = sum(map(mul, hub, mate))
            found += more * both
        return found


class ShapeBounds:
    """The families of one shape under one question."""

    def __init__(self, shape: StackShape, view: FamilyView, box: SeenBox, known: Known) -> None:
        self.shape, self._known = shape, known
        self._places = {wheel: i for i, wheel in enumerate(shape.wheels)}
        meshes = [mesh for star in shape.stars for mesh in star.meshes]
        self._mesh_places = {mesh: i for i, mesh in enumerate(meshes)}
        self.scales: list[float] = []
        self._wheels: list[dict[str, _Wheel]] = []
        self._meshes: list[dict[str, _Mesh]] = []
        for hand in HANDS:
            seen, scale = view.likelihoods(box, hand)
            self.scales.append(scale)
            wheels = {w: _Wheel(known, w, seen.get(w)) for w in shape.wheels}
            self._wheels.append(wheels)
            self._meshes.append(
                {
                    wheel: _Mesh(known, wheels[wheel], wheels[arm[0]])
                    for star in shape.stars
                    for wheel, arm in zip(star.hub, star.arms, strict=True)
                    if len(arm) == 1 and wheels[arm[0]].counted
                }
            )
        self._listed = [
            [(wheel, self._places[wheel]) for wheel in piece if wheel in view.wheels]
            for star in shape.stars
            for piece in star.pieces
        ]
        self._pieces = len(self._listed)

    def _prior(self, family: KeptFamily) -> float:
        share = (1 - UNCATALOGUED_PRIOR) * family.commonness / self._known.commonness
        return share / family.least * ROUNDING

    def quick(self, family: KeptFamily) -> float:
        """Return the log of a bound that asks every wheel by itself, as `Counted.quick_bound`."""
        best = LEAST_LOG
        for scale, wheels in zip(self.scales, self._wheels, strict=True):
            bound = self._prior(family)
            for piece in self._listed:
                listed = unlisted = 1.0
                for wheel, place in piece:
                    law = wheels[wheel]
                    greatest = law.greatest(family.teeth[place])
                    listed *= greatest
                    unlisted *= max(greatest, family.raised[place] * law.unknown)
                bound *= listed + UNLISTED * unlisted
            best = max(best, scale + _log(bound))
        return best

    def sharp(self, family: KeptFamily) -> float:
        """Return the log of a bound that asks two wheels in mesh together."""
        best = LEAST_LOG
        for hand in HANDS:
            bound = self._prior(family)
            for number, star in enumerate(self.shape.stars):
                bound *= self._star(family, hand, star.hub, star.arms, family.hubs[number])
            best = max(best, self.scales[hand] + _log(bound))
        return best

    def _star(
        self,
        family: KeptFamily,
        hand: int,
        hub: Sequence[str],
        arms: Sequence[Sequence[str]],
        types: Sequence[Sequence[int]],
    ) -> float:
        """All configurations of the pieces of a star: at most this, weights included.

        The weights of the listed types add up to less than 1, those of a changed wheel to the half
        of UNLISTED, all unknown has the other half.
        """
        known: list[dict[int, float]] = []
        unknown: list[float] = []
        for at, (wheel, arm) in enumerate(zip(hub, arms, strict=True)):
            by_teeth, other = self._arm(family, hand, wheel, arm, {kind[at] for kind in types})
            known.append(by_teeth)
            unknown.append(other)
        every = prod(unknown)
        listed = changed = 0.0
        for kind in types:
            each = [by_teeth[t] for by_teeth, t in zip(known, kind, strict=True)]
            whole = prod(each)
            listed = max(listed, whole)
            changed = max(changed, whole * max(u / e for u, e in zip(unknown, each, strict=True)))
        if len(hub) == 1:
            return listed + UNLISTED * every
        return listed + UNLISTED * (CHANGED_SHARE * changed + (1 - CHANGED_SHARE) * every)

    def _arm(
        self, family: KeptFamily, hand: int, wheel: str, arm: Sequence[str], teeth: set[int]
    ) -> tuple[dict[int, float], float]:
        """A hub's wheel with what stands behind it: for each of its teeth, and for unknown ones."""
        wheels = self._wheels[hand]
        law = wheels[wheel]
        raised = family.raised[self._places[wheel]]
        mesh = self._meshes[hand].get(wheel)
        if mesh is None:
            # Sums are at their best here.
            behind = 1.0
            for name in arm:
                other = wheels[name]
                if other.counted:
                    place = self._places[name]
                    strange = UNLISTED * family.raised[place] * other.unknown
                    behind *= other.greatest(family.teeth[place]) + strange
            return {t: law.by_teeth[t] * behind for t in teeth}, raised * law.unknown * behind
        mate = arm[0]
        place = self._places[mate]
        strange = UNLISTED * family.raised[place]
        sums = family.sums[self._mesh_places[wheel, mate]]
        factors = mesh.factors(sums)
        likely = mesh.mate.by_teeth
        mates = self._known.teeth[family.teeth[place]]
        by_teeth = {
            t: law.by_teeth[t]
            * (
                max([likely[m] * factors[t + m] for m in mates])
                + strange * mesh.against(sums, t, mate=True)
            )
            for t in teeth
        }
        listed = max([likely[m] * mesh.against(sums, m, mate=False) for m in mates])
        return by_teeth, raised * (listed + strange * mesh.neither(sums))

    def at_least(self, commonness: float, teeth: Sequence[int]) -> float:
        """Return the log of a bound from below on the share of the family of a set with `teeth`.

        It is the box of that set alone, every piece its own: no normaliser is greater than 1.
        """
        share = (1 - UNCATALOGUED_PRIOR) * commonness / self._known.commonness / ROUNDING
        found = LEAST_LOG
        for hand in HANDS:
            wheels = self._wheels[hand]
            bound = share * OWN**self._pieces
            bound *= prod(
                wheels[w].by_teeth[t] for w, t in zip(self.shape.wheels, teeth, strict=True)
            )
            found = max(found, self.scales[hand] + log(HAND_PRIOR[hand]) + _log(bound))
        return found


def _log(value: float) -> float:
    return log(value) if value > 0 else LEAST_LOG


def that_matter(bounds: Sequence[float], total: float, least: float) -> list[int]:
    """Return the places of the bounds that are not below a share of `least` together."""
    order = sorted(range(len(bounds)), key=bounds.__getitem__)
    left_out = 0.0
    for place, number in enumerate(order):
        left_out += exp(min(bounds[number] - total, 0.0))
        if left_out > least:
            return order[place:]
    return []
