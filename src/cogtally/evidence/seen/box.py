"""What was seen on one box, ready for every family: likelihoods by wheel name and hand.

The laws are left to `likelihood`; what a family makes of the names is left to `assembled`.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import log
from operator import mul
from typing import TYPE_CHECKING

from cogtally.evidence.laws.likelihood import (
    HASTY,
    LEAST_TEETH,
    STEADY,
    Reading,
    WheelLikelihood,
    likeliest_teeth,
    reading_of,
    wheel_likelihood,
)
from cogtally.evidence.laws.rho import SIZE, Rho
from cogtally.gears.notation import Count, Seen

if TYPE_CHECKING:
    from cogtally.evidence.seen.observed import Observed

#: Of so many counts what they are worth where teeth are drawn from ρ is kept for a catalog.
DRAWN_KEPT = 4096

#: For each of several names its counts: teeth, whether unsure, how many times.
Results = tuple[tuple[tuple[int, bool, int], ...], ...]


class SeenBox:
    """Counts grouped by the wheel names they were written under, and turn tests as readings.

    `observed`: the marks and features; None where there are none.
    """

    def __init__(self, seen: Seen, rho: Rho) -> None:
        self._rho = rho
        self.counts: dict[str, list[Count]] = {}
        for count in seen.counts:
            self.counts.setdefault(count.wheel, []).append(count)
        self._results = {
            name: tuple([(c.teeth, c.unsure, c.times) for c in counts])
            for name, counts in self.counts.items()
        }
        self.turns: list[tuple[tuple[str, ...], Reading]] = [
            (turn.gears, reading_of(turn)) for turn in seen.turns
        ]
        self.observed: Observed | None = None
        if seen.looks:
            from cogtally.evidence.seen.observed import Observed

            self.observed = Observed(seen, rho)
        self._known: dict[tuple[tuple[str, ...], int], WheelLikelihood] = {}
        self._unknown: dict[tuple[tuple[str, ...], str, int], float] = {}

    def results(self, names: Sequence[str]) -> Results:
        """Return what the counts under these names say, whatever else was seen."""
        return tuple([self._results[name] for name in names])

    def _together(self, names: Sequence[str]) -> list[Count]:
        return [count for name in names for count in self.counts[name]]

    def likelihood(self, names: tuple[str, ...], hand: int) -> WheelLikelihood:
        """Return the likelihood of one wheel that was counted under these names."""
        key = (names, hand)
        found = self._known.get(key)
        if found is None:
            known = (t for name in names for t in self._rho.known_teeth(name))
            found = self._known[key] = wheel_likelihood(self._together(names), hand, known)
        return found

    def unknown(self, names: tuple[str, ...], wheel: str, hand: int) -> float:
        """Return the scaled likelihood of one wheel of a family where its teeth are from ρ."""
        key = (names, wheel, hand)
        found = self._unknown.get(key)
        if found is None:
            by_teeth = self.likelihood(names, hand).by_teeth[LEAST_TEETH : LEAST_TEETH + SIZE]
            found = self._unknown[key] = sum(map(mul, self._rho.of(wheel), by_teeth))
        return found

    def log_unknown_looks(self, hand: int) -> float:
        """Return the log likelihood of all marks and features where nothing is known of them."""
        return 0.0 if self.observed is None else self.observed.log_elsewhere[hand]

    def likeliest(self, names: Sequence[str]) -> int | None:
        """Return the teeth of 5…99 that the counts under these names make likeliest."""
        counts = self._together([name for name in names if name in self.counts])
        return likeliest_teeth(counts) if counts else None

    def log_elsewhere(self, name: str, hand: int) -> float:
        """Return the log probability of the counts of a wheel whose teeth are drawn from its ρ."""
        return self.logs_elsewhere(name)[hand]

    def logs_elsewhere(self, name: str) -> tuple[float, ...]:
        """Return the same for both hands."""
        key = (name, self._results[name])
        found = self._rho.drawn.get(key)
        if found is None:
            found = tuple(self._log_drawn(name, hand) for hand in (STEADY, HASTY))
            if len(self._rho.drawn) >= DRAWN_KEPT:
                self._rho.drawn.clear()
            self._rho.drawn[key] = found
        return found

    def _log_drawn(self, name: str, hand: int) -> float:
        law = wheel_likelihood(self.counts[name], hand)
        by_teeth = law.by_teeth[LEAST_TEETH : LEAST_TEETH + SIZE]
        return log(sum(map(mul, self._rho.of(name), by_teeth))) + law.log_scale
