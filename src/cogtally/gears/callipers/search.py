"""The search for the helix and the shift with which one standard explains one wheel's measurements.

Knows also which standards stand close beside each other. What a fit is and what it costs is left
to `fit`, the ranking of standards to `wheel`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import acos, atan, cos, degrees, inf, log, pi, radians, sin, sqrt, tan

from cogtally.gears.callipers import fit as model
from cogtally.gears.callipers.measured import AT_TIP, POINTS, Measured, across_odd
from cogtally.gears.callipers.standards import Shape, Standard, involute, transverse_angle

#: How tips are taken.
EDGES, LOWERED_TIPS, LANDS = "edges", "lowered", "lands"
#: Jaws may seem to have touched so far above a lowered tip, mm of diameter.
CORNER_MM = 0.5
_ROOT_2PI = sqrt(2 * pi)
#: Steps of the search for a helix, degrees; then how near it is settled.
SCAN_DEG, SETTLED_DEG = 1.0, 1e-5
#: A measured helix is searched this many tolerances about.
HELIX_WINDOW = 2.0
_GOLDEN = (sqrt(5) - 1) / 2


class Fitter:
    """One standard beside the measurements of one wheel, and the search for its best helices.

    `tips`: edges as standard; lower than standard by some length, which is then to be found; or
    with lands that lengthen a reading across odd teeth. Each can be locally best, and an answer.
    """

    def __init__(self, standard: Standard, teeth: int, seen: Measured, tips: str = EDGES) -> None:
        self.standard, self.teeth, self.seen, self.tips = standard, teeth, seen, tips
        self.module, self.angle = standard.module_mm, standard.angle
        self.addendum = float(standard.addendum)
        self.sigma = model.SIGMA * seen.tolerance
        self.factor = across_odd(teeth, seen.jaws)
        self.outside = seen.outside
        #: What each mm of shift adds to a span; the same over any number of teeth.
        self.slope = 2 * self.module * sin(self.angle)
        self.flank = self.module * cos(self.angle)
        spans = seen.spans
        self.mean_across = sum(s.across for s in spans) / len(spans) if spans else 0.0
        self.mean_length = sum(s.length for s in spans) / len(spans) if spans else 0.0
        #: Cost of the spans among themselves (it depends on the base pitch alone) and of the depth.
        self.scatter = sum(
            (s.length - self.mean_length - self.flank * pi * (s.across - self.mean_across)) ** 2
            for s in spans
        ) / (2 * self.sigma**2)
        if seen.depth is not None:
            off = (seen.depth / self.module - model.whole_depth(standard)) / (
                model.SIGMA * model.DEPTH_TOLERANCE
            )
            self.scatter += off**2 / 2

    def cost(self, helix: float) -> float:
        """Return the least cost at a helix in degrees; inf where nothing is possible there."""
        best = self._best(radians(helix))
        return inf if best is None else best[0]

    def at(self, helix: float) -> model.Fit | None:
        """Return the best fit at a helix in degrees, or None where none is possible."""
        best = self._best(radians(helix))
        if best is None:
            return None
        cost, shift, thinning, cut, land, stiffness = best
        wheel, error = (self.standard, self.teeth), 2 / sqrt(stiffness)
        fit = model.Fit(*wheel, helix, shift, thinning, cut, land, shift_error=error, cost=cost)
        if not self._possible(fit):
            return None
        off = [abs(o) for o in model.residuals(fit, self.seen)]
        misfit = sum(o**2 for o in off) / (2 * model.SIGMA**2)
        return replace(fit, misfit=misfit, worst=max(off, default=0.0))

    def _best(self, helix: float) -> tuple[float, float, float, float, float, float] | None:
        """Return (cost, shift, thinning, cut, land, stiffness) of the best shift at a helix.

        Everything measured is linear in the shift, so each case (teeth thinned or not) is a
        quadratic solved at once.
        """
        seen, sigma = self.seen, self.sigma
        turned = involute(transverse_angle(self.angle, helix))
        reference = self.teeth * self.module / cos(helix)
        stiff, pull, fixed = 1 / model.SHIFT_SPREAD**2, 0.0, self.scatter
        if seen.helix is not None and seen.helix > 0:
            fixed += self._helix_cost(helix, reference)
        if seen.centres is not None and seen.mate is not None:
            try:
                both = Shape(self.teeth + seen.mate, self.module, self.angle, helix)
                total = both.sum_of_shifts(seen.centres)
            except ValueError:
                return None
            stiff += 1 / model.SHIFT_SPREAD**2
            pull += total / model.SHIFT_SPREAD**2
            fixed += total**2 / (2 * model.SHIFT_SPREAD**2)
        count = len(seen.spans)
        # Mean span beyond that of an unshifted wheel: slope·x − thinning, but for noise.
        beyond = (
            self.mean_length - self.flank * ((self.mean_across - 0.5) * pi + self.teeth * turned)
            if count
            else 0.0
        )
        stiff_span = count * self.slope**2 / sigma**2
        pull_span = count * self.slope * beyond / sigma**2
        thick = (stiff_span, pull_span, count * beyond**2 / (2 * sigma**2))
        # Thinned: the spans settle slope·x − thinning at `held`; what is left is thinning's price.
        price = sigma**2 / (max(count, 1) * model.THINNING_MEAN)
        held = beyond + price
        thin = (
            0.0,
            -self.slope / model.THINNING_MEAN,
            count * price**2 / (2 * sigma**2) - held / model.THINNING_MEAN,
        )
        tip_stiff, tip_pull, tip_fixed, kind, least, most = self._tip(reference)
        best: tuple[float, float, float, float, float, float] | None = None
        for thinned in (False, True) if count else (False,):
            more_stiff, more_pull, more_fixed = thin if thinned else thick
            all_stiff = stiff + more_stiff + tip_stiff
            all_pull = pull + more_pull + tip_pull
            shift = min(model.MOST_SHIFT, max(model.LEAST_SHIFT, all_pull / all_stiff))
            thinning = self.slope * shift - held if thinned else 0.0
            slack = 2 * self.module * shift * kind - least if kind else 0.0
            if not 0 <= thinning <= model.THINNING_MOST or not 0 <= slack <= most:
                continue
            cost = fixed + more_fixed + tip_fixed + all_stiff * shift**2 / 2 - all_pull * shift
            if best is None or cost < best[0]:
                cut = slack if kind > 0 else 0.0
                land = slack * self.factor if kind < 0 else 0.0
                best = (cost, shift, thinning, cut, land, all_stiff)
        return best

    def _tip(self, reference: float) -> tuple[float, float, float, int, float, float]:
        """Return (stiffness, pull, fixed, kind, least, most) of the way in which tips are taken.

        `kind` 0: as standard; 1: lowered by 2 m x − least; −1: a land reaching −2 m x − least.
        """
        if self.outside is None:
            return 0.0, 0.0, 0.0, 0, 0.0, inf
        # What is true of the diameter, not of the reading.
        sigma = self.sigma / self.factor
        slope = 2 * self.module
        beyond = self.outside / self.factor - reference - slope * self.addendum
        if self.tips == LOWERED_TIPS:
            # Density of a lowered tip against that of a reading which is just right.
            rare = log(model.CUT_MEAN / (model.CUT_CHANCE * sigma * _ROOT_2PI))
            return (
                0.0,
                -slope / model.CUT_MEAN,
                rare - beyond / model.CUT_MEAN,
                1,
                beyond,
                model.CUT_MOST,
            )
        if self.tips == LANDS:
            reach = self._land(reference)
            even = log(max(1.0, reach / (sigma * _ROOT_2PI)))
            return 0.0, 0.0, even, -1, -beyond, reach
        square = beyond**2 / (2 * sigma**2)
        return slope**2 / sigma**2, slope * beyond / sigma**2, square, 0, 0.0, inf

    def _land(self, reference: float) -> float:
        """Return how far tips that are no edges can lengthen a reading across odd teeth, mm.

        Both lands together turn the two tips of narrow jaws nearer to opposite by the angle of
        one land, a wide jaw lies half a land nearer; the land is that of an unshifted wheel. A
        wide jaw along a helix also finds its tips further on: by the twist of the wheel's width,
        or of any, where that is not known. Of true diameter, not of reading.
        """
        if self.factor == 1:
            return 0.0
        helix = acos(min(1.0, self.teeth * self.module / reference))
        tip = reference + 2 * self.module * self.addendum
        land = Shape(self.teeth, self.module, self.angle, helix).thickness(tip)
        turn = max(0.0, land) * 2 / tip
        if self.seen.jaws == POINTS:
            return tip * (cos(max(0.0, pi / self.teeth - turn) / 2) / self.factor - 1)
        turn /= 2
        if helix > 0:
            turn += inf if self.seen.width is None else self.seen.width * tan(helix) * 2 / reference
        apart = max(0.0, pi / self.teeth - turn)
        return tip * (cos(apart / 2) ** 2 / self.factor - 1)

    def _helix_cost(self, helix: float, reference: float) -> float:
        seen = self.seen
        if seen.helix is None:
            return 0.0
        here = helix
        if seen.helix_at == AT_TIP:
            tip = (
                self.outside / self.factor
                if self.outside is not None
                else reference + 2 * self.module * self.addendum
            )
            here = atan(tan(helix) * tip / reference)
        return ((degrees(here) - seen.helix) / (model.SIGMA * seen.helix_tolerance)) ** 2 / 2

    def _possible(self, fit: model.Fit) -> bool:
        """Tell whether such a wheel can exist and could have been measured so."""
        seen, shape, tip = self.seen, fit.shape, fit.outside
        if tip <= shape.base or shape.thickness(tip) < 0:
            return False
        # Jaws a little above a lowered tip may have touched its corner: that is said, not hidden.
        room = min(shape.tip, tip + CORNER_MM) + 2 * seen.tolerance
        touches = all(shape.contact(s.length) <= room for s in seen.spans)
        return touches and not model.too_narrow(fit, seen)

    def fits(self) -> Iterator[model.Fit]:
        """Yield the best fit with straight teeth and at every helix that is locally best."""
        seen = self.seen
        if seen.helix is None or seen.helix == 0:
            fit = self.at(0.0)
            if fit is not None:
                yield fit
        if seen.helix == 0:
            return
        low, high = model.GENTLEST_DEG, model.STEEPEST_DEG
        if seen.helix is not None:
            reach = HELIX_WINDOW * seen.helix_tolerance
            low = max(0.5, (0.6 if seen.helix_at == AT_TIP else 1.0) * (seen.helix - reach))
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

    def _settled(self, helix: float, low: float, high: float) -> model.Fit | None:
        """Return the fit at a best helix, with the price of a helix that had to be found.

        Laplace's approximation: a helix that may lie anywhere in a range and is settled within a
        standard deviation s costs ln(range / (s √(2π))).
        """
        fit = self.at(helix)
        if fit is None:
            return None
        if self.tips == LOWERED_TIPS and fit.cut <= self.seen.tolerance:
            return self._alike(helix, helix, high)
        if self.tips == LANDS:
            return self._alike(helix, low, high)
        step = 0.02
        curve = (self.cost(helix + step) + self.cost(helix - step) - 2 * self.cost(helix)) / step**2
        widest = (high - low) / 2
        spread = min(widest, 1 / sqrt(curve)) if 0 < curve < inf else widest
        near = self.at(min(high, helix + min(spread, step)))
        lean = 0.0 if near is None else (near.shift - fit.shift) / min(spread, step) * spread
        price = max(0.0, log((model.STEEPEST_DEG - model.GENTLEST_DEG) / (spread * _ROOT_2PI)))
        return replace(
            fit,
            helix_error=2 * spread,
            shift_error=sqrt(fit.shift_error**2 + (2 * lean) ** 2),
            cost=fit.cost + price,
        )

    def _alike(self, helix: float, low: float, high: float) -> model.Fit | None:
        """Return the fit for helices that explain about alike what nobody knows of the tips.

        Tips lowered from `helix` on are steeper and rarer the more they are lowered: the answer
        stands where it is rarer by a factor e, and that way is its standard deviation. Lands of
        any width go both ways: it stands in the middle.
        """
        start = self.cost(helix)
        gentle, steep = self._rarer(helix, low), self._rarer(helix, high)
        one_sided, way = self.tips == LOWERED_TIPS, steep - gentle
        fit = self.at(steep if one_sided else (gentle + steep) / 2)
        if fit is None or way <= SETTLED_DEG:
            return None
        price = max(0.0, log((model.STEEPEST_DEG - model.GENTLEST_DEG) / way))
        return replace(fit, helix_error=2 * way if one_sided else way, cost=start + price)

    def _rarer(self, helix: float, end: float) -> float:
        """Return the helix, from one on towards an end, where fits are rarer by a factor e."""
        start = self.cost(helix)
        near, far = helix, end
        while abs(far - near) > SETTLED_DEG:
            middle = (near + far) / 2
            near, far = (middle, far) if self.cost(middle) - start <= 1 else (near, middle)
        return near
