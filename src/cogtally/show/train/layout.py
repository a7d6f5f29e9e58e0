"""From a train and its teeth to where each wheel and shaft stands in its picture.

How high wheels are is left to `sizes`, what is said of them to `picture`.

Seen from the side: axes are level, a wheel is a bar as high as its pitch circle. An idler stands
beside the two main axes, in touch with one of its mates; a tie leads to the other.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cached_property

from cogtally.gears.trains import FINAL, OUTPUT, OVERDRIVE, Train, wheel_names
from cogtally.gears.turning import INPUT_SHAFT, LAYGEAR, LAYSHAFT, OUTPUT_SHAFT, Joints, Mesh
from cogtally.show.drawing.primitives import Point
from cogtally.show.train import single
from cogtally.show.train.plan import (
    AXES_APART,
    COLUMN,
    END,
    FIRST_COLUMN,
    JOINT,
    RIM,
    Placed,
    Plan,
    Shaft,
    Tie,
)
from cogtally.show.train.sizes import Sizes

_TIES_APART = 1.5


def plan(
    train: Train, joints: Joints, teeth: Mapping[str, int], order: Sequence[str], *, axle: bool
) -> Plan:
    """Return where all stands.

    `teeth`: of every wheel that is counted or listed. `order`: the pairs from the input's end on,
    without the axle behind. `axle`: a pair `final` hangs behind the output shaft.
    """
    if train.layout == OVERDRIVE:
        return single.overdrive(train, teeth)
    if train.layout == "axle":
        return single.axle(train, teeth, joints.piece_of[INPUT_SHAFT])
    return _Planner(train, joints, teeth, order, axle).plan()


class _Planner:
    """The steps from names to places."""

    def __init__(
        self,
        train: Train,
        joints: Joints,
        teeth: Mapping[str, int],
        order: Sequence[str],
        axle: bool,
    ) -> None:
        self.train, self.joints, self.teeth, self.axle = train, joints, teeth, axle
        self.used = [p for p in order if any(m.pair == p for m in joints.meshes)]
        self.axis_of = self._axes()
        self.upper = self.axis_of[joints.piece_of[INPUT_SHAFT]]
        self.lower = self._lower()
        self.sizes = Sizes(joints.meshes, self._is_between, teeth)
        self.columns = self._columns()

    def plan(self) -> Plan:
        radius = {wheel: self.sizes.radius(wheel) for wheel in self._columned}
        upper = [radius[w] for w in radius if self._axis(w) == self.upper] or [AXES_APART / 2]
        heights = {self.upper: max(upper)}
        heights[self.lower] = heights[self.upper] + AXES_APART
        for axis in dict.fromkeys(self._axis(w) for w in radius):
            if axis not in heights:
                heights[axis] = self._height_beside(axis, radius, heights)
        wheels = {
            w: Placed(w, x, heights[self._axis(w)], radius[w], self._is_fixed(w))
            for w, x in self._columned.items()
        }
        lift = -min(0.0, *(w.top for w in wheels.values()))
        if lift:
            heights = {axis: y + lift for axis, y in heights.items()}
            wheels = {name: replace(w, y=w.y + lift) for name, w in wheels.items()}
        end = max(self.columns.values()) + FIRST_COLUMN
        if self.axle and self.train.layout != "two-shaft":
            # The name of the output's shaft stands over its end.
            end += COLUMN
        shafts = self._shafts(heights, wheels, end)
        leaves = (shafts[-1].end, shafts[-1].y)
        if self.axle:
            wheels |= self._behind(leaves)
            crown = wheels[f"{FINAL}.driven"]
            leaves = (crown.x, crown.y)
            end = crown.x + RIM / 2
        ties = self._ties(wheels)
        feet = [w.foot for w in wheels.values() if not w.level] + [
            y for tie in ties for _, y in tie.points
        ]
        return Plan(
            wheels, shafts, ties, self.columns, end, max(feet), (0.0, heights[self.upper]), leaves
        )

    def _axes(self) -> dict[str, int]:
        """Number the axes, pieces that a gear locks together being on one; by piece."""
        found = {name: number for number, name in enumerate(self.joints.pieces)}
        together = [self.joints.locked(state) for state in self.joints.states]
        if self.train.layout in ("layshaft", "sleeve"):
            pieces = self.joints.piece_of
            together.append((pieces[INPUT_SHAFT], pieces[OUTPUT_SHAFT]))
        for both in together:
            if both is not None:
                kept, gone = (found[piece] for piece in both)
                found = {n: kept if axis == gone else axis for n, axis in found.items()}
        return found

    def _axis(self, wheel: str) -> int:
        return self.axis_of[self.joints.piece_of[wheel]]

    def _is_between(self, mesh: Mesh) -> bool:
        return {self._axis(w) for w in mesh.wheels} == {self.upper, self.lower}

    def _lower(self) -> int:
        """Return the second main axis: the output's, else the one with most meshes."""
        output = self.axis_of[self.joints.piece_of[OUTPUT_SHAFT]]
        if output != self.upper:
            return output
        meshes = Counter(
            axis
            for mesh in self.joints.meshes
            for axis in map(self._axis, mesh.wheels)
            if self.upper in map(self._axis, mesh.wheels) and axis != self.upper
        )
        return max(meshes, key=lambda axis: (meshes[axis], -axis), default=self.upper)

    def _columns(self) -> dict[str, float]:
        names = list(self.used)
        if self.train.layout == "layshaft" and names:
            names.insert(1, JOINT)
        elif self.train.layout == "sleeve" and OUTPUT in names:
            names.remove(OUTPUT)
            names += [JOINT, OUTPUT] if self.train.direct else [OUTPUT]
        return {name: FIRST_COLUMN + place * COLUMN for place, name in enumerate(names)}

    @cached_property
    def _columned(self) -> dict[str, float]:
        """The middle of the column of every wheel; one of two names is in its first pair's."""
        found: dict[str, float] = {}
        for pair in self.used:
            for wheel in wheel_names(pair, self.train.pairs[pair]):
                if self.train.canonical(wheel) == wheel:
                    found[wheel] = self.columns[pair]
        return found

    def _height_beside(
        self, axis: int, radius: Mapping[str, float], heights: Mapping[int, float]
    ) -> float:
        """Return the height of an axis beside: in touch with a mate in the same column, outward."""
        for mesh in self.joints.meshes:
            for own, mate in (mesh.wheels, mesh.wheels[::-1]):
                if self._axis(own) != axis or self._axis(mate) not in heights:
                    continue
                if own in radius and self._columned[own] == self._columned.get(mate):
                    apart = radius[own] + radius[mate]
                    at = heights[self._axis(mate)]
                    return at - apart if self._axis(mate) == self.upper else at + apart
        own_radius = max(radius[w] for w in radius if self._axis(w) == axis)
        feet = [heights[self._axis(w)] + r for w, r in radius.items() if self._axis(w) in heights]
        return max(feet) + own_radius + RIM

    def _is_fixed(self, wheel: str) -> bool:
        """Whether no gear has to lock it to the shaft on which it stands."""
        return not any(
            lock is not None and lock.wheel == wheel and gear not in self.joints.sliding
            for gear, lock in self.joints.locks.items()
        )

    def _shafts(
        self, heights: Mapping[int, float], wheels: Mapping[str, Placed], end: float
    ) -> tuple[Shaft, ...]:
        """Return the shafts, that of the input first, that of the output last."""
        named = self.joints.piece_of
        first, last = named[INPUT_SHAFT], named[OUTPUT_SHAFT]
        upper, lower = heights[self.upper], heights[self.lower]
        on = {
            axis: [w.x for w in wheels.values() if self._axis(w.name) == axis] for axis in heights
        }
        beside = [
            Shaft("", y, min(on[axis]) - END, max(on[axis]) + END)
            for axis, y in heights.items()
            if axis not in (self.upper, self.lower) and on[axis]
        ]
        if self.upper == self.lower or self.train.layout == "two-shaft":
            own = max(on[self.upper], default=end)
            start = min(on[self.lower], default=FIRST_COLUMN)
            return (
                Shaft(first, upper, 0.0, own + END),
                *beside,
                Shaft(last, lower, start - END, end),
            )
        lay = Shaft(
            self._name(self.lower), lower, min(on[self.lower]) - END, max(on[self.lower]) + END
        )
        if self.train.layout == "sleeve":
            start = self.columns.get(OUTPUT, end)
            return (
                Shaft(first, upper, 0.0, end - END),
                lay,
                *beside,
                Shaft(last, upper, start, end, hollow=True),
            )
        joint = self.columns[JOINT]
        return (
            Shaft(first, upper, 0.0, joint),
            lay,
            *beside,
            Shaft(last, upper, joint, end),
        )

    def _name(self, axis: int) -> str:
        """Return the name of the piece that is the shaft of an axis, or has most wheels on it."""
        names = [name for name, own in self.axis_of.items() if own == axis]
        return max(names, key=lambda n: (n in (LAYGEAR, LAYSHAFT), len(self.joints.pieces[n])))

    def _ties(self, wheels: Mapping[str, Placed]) -> tuple[Tie, ...]:
        found: list[Tie] = []
        for mesh in self.joints.meshes:
            one, other = (wheels[w] for w in mesh.wheels)
            touch = one.x == other.x and (
                abs(abs(one.y - other.y) - one.radius - other.radius) < 1e-6
            )
            if touch or other.level:
                continue
            found.append(Tie(mesh.wheels, _tie_between(one, other, len(found))))
        return tuple(found)

    def _behind(self, end: Point) -> dict[str, Placed]:
        """Return pinion and crown wheel of the axle behind; half of the crown wheel is drawn."""
        pinion, crown = wheel_names(FINAL, 2)
        return single.bevel(end, pinion, crown, self.teeth, self.sizes.scale, half=True)


def _tie_between(one: Placed, other: Placed, number: int) -> tuple[Point, ...]:
    """Return a line from rim to rim through the space beside the column of the lower wheel."""
    upper, lower = sorted((one, other), key=lambda wheel: wheel.y)
    to_left = upper.x < lower.x
    # Ties beside one another keep apart.
    aside = COLUMN / 2 - _TIES_APART * (number % 3)
    x = lower.x - aside if to_left else lower.x + aside
    height = upper.foot if upper.x == lower.x else upper.top
    start = lower.x - RIM / 2 if to_left else lower.x + RIM / 2
    end = upper.x + RIM / 2 if x > upper.x else upper.x - RIM / 2
    return (start, lower.foot), (x, lower.foot), (x, height), (end, height)
