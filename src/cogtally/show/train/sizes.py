"""How high each wheel of a train is drawn, by its teeth and those of its mate.

Where it stands is left to `layout`.

Two wheels on the two main axes touch at the pitch line, each as its share of the tooth sum of the
two, for so they run on fixed centres; others are to the scale of the commonest sum.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from functools import cached_property

from cogtally.gears.trains import MOST_SUMS_APART, REVERSE, pair_of
from cogtally.gears.turning import Mesh
from cogtally.show.train.plan import AXES_APART


class Sizes:
    """The pitch radii of wheels, in millimetres.

    `meshes`: all of the train; `between`: whether a mesh is between the two main axes. `teeth`: of
    every wheel that is counted or listed; what is not known is what its mate leaves of the sum.
    """

    def __init__(
        self, meshes: Sequence[Mesh], between: Callable[[Mesh], bool], teeth: Mapping[str, int]
    ) -> None:
        self.main = [mesh.wheels for mesh in meshes if between(mesh)]
        self.teeth = teeth

    @cached_property
    def sum(self) -> int:
        """The commonest tooth sum between the main axes; twice the most teeth where none is known.

        Of two as common the larger.
        """
        known = [[self.teeth[w] for w in wheels if w in self.teeth] for wheels in self.main]
        sums = Counter(sum(both) for both in known if len(both) == len(("driver", "driven")))
        most = 2 * max(self.teeth.values(), default=1)
        return max(sums, key=lambda found: (sums[found], found), default=most)

    @property
    def scale(self) -> float:
        """The radius for each tooth of a wheel at the commonest sum."""
        return AXES_APART / self.sum

    def radius(self, wheel: str) -> float:
        """Return the radius of a wheel."""
        for wheels in self.main:
            if wheel in wheels:
                mate = wheels[1] if wheel == wheels[0] else wheels[0]
                return self._share(wheel, mate)
        return self.teeth.get(wheel, self.sum / 2) * self.scale

    def _share(self, wheel: str, mate: str) -> float:
        own, others = self.teeth.get(wheel), self.teeth.get(mate)
        if own is not None and others is not None:
            total = own + others
            if REVERSE in (pair_of(wheel), pair_of(mate)) and self.sum - total > MOST_SUMS_APART:
                # Its idler was not written: the two do not touch.
                total = self.sum
            return own * AXES_APART / total
        if own is None:
            own = None if others is None else self.sum - others
        if own is None or not 0 < own < self.sum:
            return AXES_APART / 2
        return own * self.scale
