"""What a picture of a train shows, and where its wheels, shafts, sleeves and bearings stand.

What that is made of is left to `subject`, how it is drawn to `picture`, in characters to `text`.

Seen from the side: axes are level, a wheel is a bar as high as its pitch circle. Two wheels on the
two main axes touch at the pitch line, each as its share of the tooth sum of the two, for so they
run on fixed centres; others are to the scale of the commonest sum. An idler stands beside the two
main axes, in touch with one of its mates; a tie leads to the other. A wheel that slides stands out
of mesh but in its own gear.
"""

from collections import Counter
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

from cogtally.gears import trains
from cogtally.gears.turning import INPUT_SHAFT, LAYGEAR, LAYSHAFT, OUTPUT_SHAFT, Joints
from cogtally.show.drawing import Point
from cogtally.show.train import places

NOT_COUNTED = "?"
_TIES_APART = 1.5
#: The half height of an annulus behind a box, in which all its shafts have room.
_BEHIND = 24.0
#: The least radius of a wheel that nobody counted.
_LEAST = 7.0


@dataclass(frozen=True, slots=True)
class Label:
    """What stands at a wheel: `text`, `beside` it in brackets, and a line `below`.

    `marked`: it disagrees with what stands beside it. `known`: it was counted; else its wheel is
    dashed. `called`: a sentence in a frame, of what must not be overlooked.
    """

    text: str
    beside: str = ""
    below: str = ""
    marked: bool = False
    known: bool = True
    called: str = ""

    @property
    def words(self) -> str:
        """It read out."""
        text = "not counted" if self.text == NOT_COUNTED else self.text
        return " ".join(w for w in (text, self.beside, self.below, self.called) if w)


@dataclass(frozen=True)
class Subject:
    """All that a picture shows.

    `train` is without the axle behind, which `axle` tells of, as `overdrive` does of one behind
    the box; `order`: its pairs along the axis. `teeth`: what wheels are drawn as high as, counted
    or listed. `heads`: a line under a pair's name. `gear`: the one whose path of power is drawn
    strong. `listed`: whose teeth stand in brackets. `made`: wheels made in one. `hatches`: which
    hatching a wheel has; `sets`: what each of these stands for, in words. `remarks` and `cautions`
    stand below.
    """

    title: str
    train: trains.Train
    joints: Joints
    order: tuple[str, ...]
    teeth: Mapping[str, int]
    labels: Mapping[str, Label]
    axle: bool = False
    overdrive: bool = False
    said: str = ""
    heads: Mapping[str, str] = field(default_factory=dict)
    gear: str | None = None
    listed: str = ""
    made: tuple[tuple[str, ...], ...] = ()
    hatches: Mapping[str, int] = field(default_factory=dict)
    sets: tuple[tuple[int | None, str], ...] = ()
    remarks: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    def plan(self, *, slid: bool = True) -> places.Plan:
        """Return where all stands; `slid`: sliding wheels too, else each where its pair is."""
        if self.train.layout == trains.OVERDRIVE:
            pair = next(iter(self.train.pairs))
            sun, annulus = (self.train.canonical(w) for w in trains.wheel_names(pair, 2))
            ring, run = places.AXES_APART, 2 * places.COLUMN
            return places.overdrive_plan((0.0, ring), sun, annulus, self.teeth, ring, run, pair)
        if self.train.layout == "axle":
            return places.axle_plan(self.train, self.teeth, self.joints.piece_of[INPUT_SHAFT])
        return _Planner(self, slid).plan()

    def about(self) -> str:
        """Return the picture in words, for who cannot see it."""
        parts = []
        for pair in (*self.order, *([trains.FINAL] if self.axle else [])):
            own = [w for w in self.labels if w.rpartition(".")[0] == pair]
            said = ", ".join(f"{trains.role_of(w)} {self.labels[w].words}" for w in own)
            if said:
                parts.append(f"{pair}: {said}.")
        return " ".join([self.title + ".", *parts, *self.remarks])


class _Planner:
    """The steps from names to places."""

    def __init__(self, subject: Subject, slid: bool) -> None:
        self.subject, self.train, self.joints = subject, subject.train, subject.joints
        self.teeth, order, joints = subject.teeth, subject.order, subject.joints
        self.used = [p for p in order if any(m.pair == p for m in joints.meshes)]
        self.axis_of = self._axes()
        self.upper = self.axis_of[joints.piece_of[INPUT_SHAFT]]
        self.lower = self._lower()
        mains = {self.upper, self.lower}
        self.main = [m.wheels for m in joints.meshes if set(map(self._axis, m.wheels)) == mains]
        self.columns = self._columns()
        self.stands, self.ghosts = self._slid() if slid else ({}, {})

    def plan(self) -> places.Plan:
        radius = {wheel: self._radius(wheel) for wheel in self._columned}
        upper = [radius[w] for w in radius if self._axis(w) == self.upper] or [
            places.AXES_APART / 2
        ]
        heights = {self.upper: max(upper)}
        heights[self.lower] = heights[self.upper] + places.AXES_APART
        for axis in dict.fromkeys(self._axis(w) for w in radius):
            if axis not in heights:
                heights[axis] = self._height_beside(axis, radius, heights)
        wheels: dict[str, places.Placed] = {}
        for w, x in self._columned.items():
            at = self.stands.get(w, x), heights[self._axis(w)]
            wheels[w] = places.Placed(w, *at, radius[w], self._seat(w), self.ghosts.get(w, ()))
        lift = -min(0.0, *(w.top for w in wheels.values()))
        if lift:
            heights = {axis: y + lift for axis, y in heights.items()}
            wheels = {name: replace(w, y=w.y + lift) for name, w in wheels.items()}
        sleeves = self._sleeves(heights)
        end = max(self.columns.values()) + places.FIRST_COLUMN + 1.6 * places.END
        if (self.subject.axle or self.subject.overdrive) and self.train.layout != "two-shaft":
            # The name of the output's shaft stands over its end.
            end += places.COLUMN
        shafts = self._shafts(heights, wheels, sleeves, end)
        leaves, planets = (shafts[-1].end, shafts[-1].y), None
        if self.subject.overdrive:
            more = places.overdrive_plan(
                leaves,
                places.SUN,
                places.ANNULUS,
                self.teeth,
                _BEHIND,
                places.COLUMN,
                trains.OVERDRIVE,
            )
            assert more.planets is not None
            leaves, planets, wheels = more.leaves, more.planets, {**wheels, **more.wheels}
            shafts = (*shafts[:-1], replace(shafts[-1], end=planets.arm), more.shafts[-1])
            end = leaves[0]
        if self.subject.axle:
            pinion, crown = trains.wheel_names(trains.FINAL, 2)
            wheels |= places.bevel(leaves, pinion, crown, self.teeth, self._scale, half=True)
            leaves = (wheels[crown].x, wheels[crown].y)
            end = leaves[0] + places.RIM / 2
        ties = self._ties(wheels)
        feet = [w.foot for w in wheels.values() if not w.level] + [
            y for tie in ties for _, y in tie.points
        ]
        enters = (0.0, heights[self.upper])
        found = places.Plan(wheels, shafts, ties, self.columns, end, max(feet), enters, leaves)
        return replace(found, sleeves=sleeves, planets=planets)

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
            names.insert(1, places.JOINT)
        elif self.train.layout == "sleeve" and trains.OUTPUT in names:
            names.remove(trains.OUTPUT)
            names += [places.JOINT, trains.OUTPUT] if self.train.direct else [trains.OUTPUT]
        found = {
            name: places.FIRST_COLUMN + place * places.COLUMN for place, name in enumerate(names)
        }
        if self.train.layout == "sleeve" and places.JOINT in found:
            # No end of a shaft stands there, only the sleeve that locks the two.
            found[trains.OUTPUT] = found[places.JOINT] + 0.75 * places.COLUMN
        return found

    @cached_property
    def _columned(self) -> dict[str, float]:
        """The middle of the column of every wheel; one of two names is in its first pair's."""
        found: dict[str, float] = {}
        for pair in self.used:
            for wheel in trains.wheel_names(pair, self.train.pairs[pair]):
                if self.train.canonical(wheel) == wheel:
                    found[wheel] = self.columns[pair]
        return found

    def _slid(self) -> tuple[dict[str, float], dict[str, tuple[float, ...]]]:
        """Return where sliding wheels stand in the gear that is in, and where they engage.

        Two that are made in one, their columns side by side, move as one; others by themselves.
        """
        into: dict[str, dict[str, float]] = {}
        for gear in self.joints.sliding:
            lock = self.joints.locks[gear]
            for mesh in self.joints.meshes if lock else ():
                if lock and lock.wheel in mesh.wheels and gear in (mesh.only_in or ()):
                    into.setdefault(lock.wheel, {})[gear] = self.columns[mesh.pair]
        stands: dict[str, float] = {}
        ghosts: dict[str, tuple[float, ...]] = {}
        pairs = [
            sorted((w for w in own if w in into), key=lambda w: self._columned[w])
            for own in self.subject.made
        ]
        for one, other in (own for own in pairs if len(own) == 2):
            a, b = self._columned[one], self._columned[other]
            if abs(b - a - places.COLUMN) < 1e-6 and len(into[one]) == len(into[other]) == 1:
                ahead, behind = self.subject.gear in into[one], self.subject.gear in into[other]
                move = 0.0 if ahead else 2 * places.SLIDE if behind else places.SLIDE
                stands |= {one: a + move, other: b - 2 * places.SLIDE + move}
                ghosts |= {one: () if ahead else (a,), other: () if behind else (b,)}
        for wheel, gears in into.items():
            if wheel not in stands:
                now = gears.get(self.subject.gear or "")
                ends = sorted(set(gears.values()))
                stands[wheel] = ends[0] + places.COLUMN / 2 if now is None else now
                ghosts[wheel] = tuple(x for x in ends if x != now)
        return stands, ghosts

    @cached_property
    def _sum(self) -> int:
        """The commonest tooth sum between the main axes; twice the most teeth where none is known.

        Of two as common the larger.
        """
        known = [[self.teeth[w] for w in wheels if w in self.teeth] for wheels in self.main]
        sums = Counter(sum(both) for both in known if len(both) == len(("driver", "driven")))
        most = 2 * max(self.teeth.values(), default=1)
        return max(sums, key=lambda found: (sums[found], found), default=most)

    @property
    def _scale(self) -> float:
        """The radius for each tooth of a wheel at the commonest sum."""
        return places.AXES_APART / self._sum

    def _radius(self, wheel: str) -> float:
        """Return the radius of a wheel; what is not known is what its mate leaves of the sum."""
        mates = [both for both in self.main if wheel in both]
        if not mates:
            return self.teeth.get(wheel, self._sum / 2) * self._scale
        mate = mates[0][1] if wheel == mates[0][0] else mates[0][0]
        own, others = self.teeth.get(wheel), self.teeth.get(mate)
        if own is not None and others is not None:
            total = own + others
            if (
                trains.REVERSE in (trains.pair_of(wheel), trains.pair_of(mate))
                and self._sum - total > trains.MOST_SUMS_APART
            ):
                # Its idler was not written: the two do not touch.
                total = self._sum
            return own * places.AXES_APART / total
        if own is None:
            own = None if others is None else self._sum - others
        if own is None or not _LEAST < own * self._scale < places.AXES_APART - _LEAST:
            return places.AXES_APART / 2
        return own * self._scale

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
        return max(feet) + own_radius + places.RIM

    def _seat(self, wheel: str) -> str:
        gears = [g for g, lock in self.joints.locks.items() if lock and lock.wheel == wheel]
        if any(gear in self.joints.sliding for gear in gears):
            return places.SLIDES
        return places.FREE if gears else places.FIXED

    def _sleeves(self, heights: Mapping[int, float]) -> tuple[places.Sleeve, ...]:
        """Return the sleeves: one between every two locked wheels next to each other on an axis."""
        on: dict[int, list[tuple[float, str]]] = {}
        for gear, lock in self.joints.locks.items():
            if gear in self.joints.sliding:
                continue
            if lock is not None:
                on.setdefault(self._axis(lock.wheel), []).append((self._columned[lock.wheel], gear))
            elif places.JOINT in self.columns:
                at = trains.OUTPUT if self.train.layout == "sleeve" else places.JOINT
                on.setdefault(self.upper, []).append((self.columns[at], gear))
        found: list[places.Sleeve] = []
        for axis, locks in on.items():
            waiting, y = sorted(locks), heights[axis]
            while waiting:
                x, gear = waiting.pop(0)
                if waiting and waiting[0][0] - x <= places.COLUMN + 1e-6:
                    found.append(places.Sleeve(x + places.COLUMN / 2, y, gear, waiting.pop(0)[1]))
                elif gear == self.train.direct and self.train.layout == "sleeve":
                    found.append(places.Sleeve(x - places.COLUMN / 2, y, None, gear))
                else:
                    found.append(places.Sleeve(x + places.COLUMN / 2, y, gear, None))
        return tuple(found)

    def _shafts(
        self,
        heights: Mapping[int, float],
        wheels: Mapping[str, places.Placed],
        sleeves: Collection[places.Sleeve],
        end: float,
    ) -> tuple[places.Shaft, ...]:
        """Return the shafts, that of the input first, that of the output last."""
        named = self.joints.piece_of
        first, last = named[INPUT_SHAFT], named[OUTPUT_SHAFT]
        upper, lower = heights[self.upper], heights[self.lower]
        on = {
            axis: [
                *(x for w in wheels.values() if w.y == y for x in (w.x, *w.ghosts)),
                *(sleeve.x for sleeve in sleeves if sleeve.y == y),
            ]
            for axis, y in heights.items()
        }
        beside = [
            places.Shaft("", y, min(on[axis]) - places.END, max(on[axis]) + places.END)
            for axis, y in heights.items()
            if axis not in (self.upper, self.lower) and on[axis]
        ]
        outer = end - 1.3 * places.END
        if self.upper == self.lower or self.train.layout == "two-shaft":
            own = max(on[self.upper], default=end) + places.END
            start = min(on[self.lower], default=places.FIRST_COLUMN) - places.END
            return (
                places.Shaft(first, upper, 0.0, own, bearings=(places.END, own)),
                *beside,
                places.Shaft(last, lower, start - places.END, end, bearings=(start, outer)),
            )
        left, right = min(on[self.lower]) - places.END, max(on[self.lower]) + places.END
        # It is called as the piece that is the shaft, or has most wheels on it.
        pieces = self.joints.pieces
        names = [name for name, axis in self.axis_of.items() if axis == self.lower]
        name = max(names, key=lambda n: (n in (LAYGEAR, LAYSHAFT), len(pieces[n])))
        lay = places.Shaft(name, lower, left - places.END, right, bearings=(left, right))
        if self.train.layout == "sleeve":
            start = self.columns.get(trains.OUTPUT, end)
            return (
                places.Shaft(first, upper, 0.0, end - 2 * places.END, bearings=(places.END,)),
                lay,
                *beside,
                places.Shaft(last, upper, start, end, hollow=True, bearings=(outer,)),
            )
        joint = self.columns[places.JOINT]
        return (
            places.Shaft(first, upper, 0.0, joint, bearings=(places.END,)),
            lay,
            *beside,
            places.Shaft(last, upper, joint, end, spigot=True, bearings=(outer,)),
        )

    def _ties(self, wheels: Mapping[str, places.Placed]) -> tuple[places.Tie, ...]:
        found: list[places.Tie] = []
        for mesh in self.joints.meshes:
            one, other = (wheels[w] for w in mesh.wheels)
            if other.seat == places.SLIDES and mesh.only_in is not None:
                # Where it stands when it is in that mesh.
                other = replace(other, x=self.columns[mesh.pair])
            touch = one.x == other.x and (
                abs(abs(one.y - other.y) - one.radius - other.radius) < 1e-6
            )
            if touch or other.level:
                continue
            parted = wheels[other.name].x != other.x or wheels[one.name].x != one.x
            found.append(places.Tie(mesh.wheels, _tie_between(one, other, len(found)), parted))
        return tuple(found)


def _tie_between(one: places.Placed, other: places.Placed, number: int) -> tuple[Point, ...]:
    """Return a line from rim to rim through the space beside the column of the lower wheel."""
    upper, lower = sorted((one, other), key=lambda wheel: wheel.y)
    to_left = upper.x < lower.x
    # Ties beside one another keep apart.
    aside = places.COLUMN / 2 - _TIES_APART * (number % 3)
    x = lower.x - aside if to_left else lower.x + aside
    height = upper.foot if upper.x == lower.x else upper.top
    start = lower.x - places.RIM / 2 if to_left else lower.x + places.RIM / 2
    end = upper.x + places.RIM / 2 if x > upper.x else upper.x - places.RIM / 2
    return (start, lower.foot), (x, lower.foot), (x, height), (end, height)
