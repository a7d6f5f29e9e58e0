"""The geometry of one involute wheel and of two in mesh: the formulas of ISO 21771, in floats.

Which pitches and racks exist is left to `standards`; what callipers say, to `measured` and `fit`.
Lengths are in one unit throughout (millimetres elsewhere in this package), angles in radians.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import acos, asin, atan, cos, hypot, pi, sin, sqrt, tan


def involute(angle: float) -> float:
    """Return inv α = tan α − α, for |α| below a right angle."""
    return tan(angle) - angle


def transverse_angle(angle: float, helix: float) -> float:
    """Return α_t of the section across the axis: tan α_t = tan α_n / cos β."""
    return atan(tan(angle) / cos(helix))


def base_pitch(module: float, angle: float) -> float:
    """Return p_bn = π · m_n · cos α_n, the normal base pitch: a span grows by it a tooth."""
    return pi * module * cos(angle)


@dataclass(frozen=True)
class Shape:
    """One external wheel, or the teeth of two together, as a rack cuts it.

    `teeth` z; `module` the normal module m_n; `angle` the normal pressure angle α_n; `helix` the
    helix angle β at the reference circle; `shift` the profile shift coefficient x in modules;
    `addendum` the height h_a of the rack's tooth in modules.
    """

    teeth: float
    module: float
    angle: float
    helix: float = 0.0
    shift: float = 0.0
    addendum: float = 1.0

    @cached_property
    def transverse(self) -> float:
        """The angle α_t of the section across the axis."""
        return transverse_angle(self.angle, self.helix)

    @cached_property
    def base_helix(self) -> float:
        """The helix angle β_b at the base circle: sin β_b = sin β · cos α_n."""
        return asin(sin(self.helix) * cos(self.angle))

    @cached_property
    def reference(self) -> float:
        """The reference diameter d = z · m_n / cos β."""
        return self.teeth * self.module / cos(self.helix)

    @cached_property
    def base(self) -> float:
        """The base diameter d_b = d · cos α_t."""
        return self.reference * cos(self.transverse)

    @property
    def tip(self) -> float:
        """The tip diameter d_a = d + 2 m_n (h_a + x), no tip shortened."""
        return self.reference + 2 * self.module * (self.addendum + self.shift)

    def root(self, dedendum: float) -> float:
        """Return d_f = d − 2 m_n (h_f − x)."""
        return self.reference - 2 * self.module * (dedendum - self.shift)

    def helix_at(self, diameter: float) -> float:
        """Return the helix angle at `diameter`, of one lead: tan β_y / diameter = tan β / d."""
        return atan(tan(self.helix) * diameter / self.reference)

    def span(self, across: float) -> float:
        """Return W_k, the span across `across` teeth, normal to the flanks.

        W_k = m_n cos α_n [(k − ½) π + z inv α_t] + 2 x m_n sin α_n, without thinning for backlash.
        """
        turned = involute(self.transverse)
        return self.module * cos(self.angle) * ((across - 0.5) * pi + self.teeth * turned) + (
            2 * self.shift * self.module * sin(self.angle)
        )

    def contact(self, spanned: float) -> float:
        """Return the diameter at which the jaws of a span touch: √(d_b² + (W cos β_b)²)."""
        return hypot(self.base, spanned * cos(self.base_helix))

    def width(self, spanned: float) -> float:
        """Return W · sin β_b: a wheel must be wider than this for both jaws to touch."""
        return spanned * sin(self.base_helix)

    @property
    def best_span(self) -> int:
        """The k at which the jaws touch nearest to half height, at d + 2 x m_n; at least 1."""
        reach = (self.reference + 2 * self.shift * self.module) ** 2 - self.base**2
        spanned = sqrt(reach) / cos(self.base_helix) if reach > 0 else 0.0
        flank = spanned - 2 * self.shift * self.module * sin(self.angle)
        turned = self.teeth * involute(self.transverse)
        return max(1, round((flank / (self.module * cos(self.angle)) - turned) / pi + 0.5))

    @property
    def form(self) -> float:
        """The diameter d_Ff where the involute of a hobbed wheel begins above the root.

        The rack's straight flank reaches as far below its datum line as its tooth above. Where the
        rack undercuts the tooth, the base diameter stands for it.
        """
        rise = (self.addendum - self.shift) * self.module / sin(self.transverse)
        along = self.reference / 2 * sin(self.transverse) - rise
        return hypot(self.base, 2 * along) if along > 0 else self.base

    @property
    def least_shift(self) -> float:
        """The shift below which the rack undercuts: h − z sin² α_t / (2 cos β)."""
        return self.addendum - self.teeth * sin(self.transverse) ** 2 / (2 * cos(self.helix))

    def thickness(self, diameter: float) -> float:
        """Return the transverse arc thickness of a tooth at `diameter`, negative beyond its point.

        s_y = d_y (s_t / d + inv α_t − inv α_y); ValueError inside the base circle.
        """
        if diameter < self.base:
            raise ValueError("there is no involute inside the base circle")
        half_turn = (pi / 2 + 2 * self.shift * tan(self.angle)) / self.teeth
        turned = involute(self.transverse) - involute(acos(self.base / diameter))
        return diameter * (half_turn + turned)

    def sum_of_shifts(self, centres: float) -> float:
        """Return the x1 + x2 that leaves two wheels of these teeth together no backlash.

        At a centre distance: cos α_wt = (d_b1 + d_b2) / 2a. ValueError where the centres stand
        closer than the two base circles.
        """
        nearest = self.base / 2
        if not centres >= nearest:
            raise ValueError("the base circles would overlap")
        turned = involute(acos(nearest / centres)) - involute(self.transverse)
        return turned * self.teeth / (2 * tan(self.angle))
