"""The search for the helix and the shift with which one standard explains one wheel's measurements.

What a fit is and what it costs is left to `callipers_fit`, the ranking of standards to `callipers`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import inf, log, pi, sqrt

from cogtally.gears.callipers.beside import LANDS, LOWERED_TIPS, Beside
from cogtally.gears.callipers.fit import (
    GENTLEST_DEG,
    STEEPEST_DEG,
    Fit,
)
from cogtally.gears.callipers.measured import AT_TIP

#: Steps of the search for a helix, degrees; then how near it is settled.
SCAN_DEG, SETTLED_DEG = 1.0, 1e-5
#: A measured helix is searched this many tolerances about.
HELIX_WINDOW = 2.0
_ROOT_2PI = sqrt(2 * pi)
_GOLDEN = (sqrt(5) - 1) / 2


class Fitter(Beside):
    """One standard beside the measurements of one wheel, and the search for its best helices."""

    def fits(self) -> Iterator[Fit]:
        """Yield the best fit with straight teeth and at every helix that is locally best."""
        seen = self.seen
        if seen.helix is None or seen.helix == 0:
            fit = self.at(0.0)
            if fit is not None:
                yield fit
        if seen.helix == 0:
            return
        low, high = GENTLEST_DEG, STEEPEST_DEG
        if seen.helix is not None:
            reach = HELIX_WINDOW * seen.helix_tolerance
            if seen.helix_at == AT_TIP:
                low = max(0.5, 0.6 * (seen.helix - reach))
            else:
                low = max(0.5, seen.helix - reach)
            high = seen.helix + reach
        for helix in self._valleys(low, high):
            fit = self._settled(helix, low, high)
            if fit is not None:
                yield fit

    def _valleys(self, low: float, high: float) -> Iterator[float]:
        """Yield every locally best helix in degrees: a scan, then golden section."""
        steps = max(4, round((high - low) / SCAN_DEG))
        grid = [low + (high - low) * i / steps for i in range(steps + 1)]
        costs = [self.cost(helix) for helix in grid]
        for i, cost in enumerate(costs):
            before = costs[i - 1] if i else inf
            after = costs[i + 1] if i < steps else inf
            if cost < inf and cost <= before and cost < after:
                yield self._golden(grid[max(0, i - 1)], grid[i], grid[min(steps, i + 1)])

    def _golden(self, low: float, middle: float, high: float) -> float:
        """Return the best helix between two, by golden section about one known to be possible.

        Where part of the range is impossible, it shrinks towards `middle`.
        """
        best = (self.cost(middle), middle)
        while high - low > SETTLED_DEG:
            left, right = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
            at_left, at_right = self.cost(left), self.cost(right)
            best = min(best, (at_left, left), (at_right, right))
            if at_left == at_right == inf:
                low, high = (low, right) if best[1] < left else (left, high)
            elif at_left <= at_right:
                high = right
            else:
                low = left
        return best[1]

    def _settled(self, helix: float, low: float, high: float) -> Fit | None:
        """Return the fit at a best helix, with the price of a helix that had to be found.

        Laplace's approximation: a helix that may lie anywhere in a range and is settled within a
        standard deviation s costs ln(range / (s √(2π))).
        """
        fit = self.at(helix)
        if fit is None:
            return None
        if self.tips == LOWERED_TIPS and fit.cut <= self.seen.tolerance:
            return self._one_sided(helix, high)
        if self.tips == LANDS:
            return self._plateau(helix, low, high)
        step = 0.02
        curve = (self.cost(helix + step) + self.cost(helix - step) - 2 * self.cost(helix)) / step**2
        widest = (high - low) / 2
        spread = min(widest, 1 / sqrt(curve)) if 0 < curve < inf else widest
        near = self.at(min(high, helix + min(spread, step)))
        lean = 0.0 if near is None else (near.shift - fit.shift) / min(spread, step) * spread
        price = max(0.0, log((STEEPEST_DEG - GENTLEST_DEG) / (spread * _ROOT_2PI)))
        return replace(
            fit,
            helix_error=2 * spread,
            shift_error=sqrt(fit.shift_error**2 + (2 * lean) ** 2),
            cost=fit.cost + price,
        )

    def _one_sided(self, helix: float, high: float) -> Fit | None:
        """Return the fit for tips that are lower by nobody knows what, the helix steeper for it.

        The more they are lowered the steeper and the rarer, from `helix` on. The answer stands
        where it is rarer by a factor e, and that way is its standard deviation.
        """
        start = self.cost(helix)
        rarer = self._rarer(helix, high)
        fit, way = self.at(rarer), rarer - helix
        if fit is None or way <= SETTLED_DEG:
            return None
        price = max(0.0, log((STEEPEST_DEG - GENTLEST_DEG) / way))
        return replace(fit, helix_error=2 * way, cost=start + price)

    def _plateau(self, helix: float, low: float, high: float) -> Fit | None:
        """Return the fit in the middle of helices that explain a land of any width alike."""
        start = self.cost(helix)
        gentle, steep = self._rarer(helix, low), self._rarer(helix, high)
        fit, way = self.at((gentle + steep) / 2), steep - gentle
        if fit is None or way <= SETTLED_DEG:
            return None
        price = max(0.0, log((STEEPEST_DEG - GENTLEST_DEG) / way))
        return replace(fit, helix_error=way, cost=start + price)

    def _rarer(self, helix: float, end: float) -> float:
        """Return the helix, from one on towards an end, where fits are rarer by a factor e."""
        start = self.cost(helix)
        near, far = helix, end
        while abs(far - near) > SETTLED_DEG:
            middle = (near + far) / 2
            near, far = (middle, far) if self.cost(middle) - start <= 1 else (near, middle)
        return near
