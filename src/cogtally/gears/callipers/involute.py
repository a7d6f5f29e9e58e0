"""The geometry of one involute wheel and of two in mesh: the formulas of ISO 21771, in floats.

Which pitches and racks exist is left to `standards`; what callipers say, to `callipers`.

Lengths are in one unit throughout (millimetres elsewhere in this package), angles in radians.
Everywhere: `teeth` z, `module` the normal module m_n, `angle` the normal pressure angle α_n,
`helix` the helix angle β at the reference circle, `shift` the profile shift coefficient x in
modules, `addendum` the height h_a of the rack's tooth in modules. External wheels only.
"""

from __future__ import annotations

from math import acos, asin, atan, cos, hypot, inf, pi, sin, sqrt, tan

#: Newton steps for the inverse of the involute function; it settles to the last digit in about 5.
_STEPS = 30


def involute(angle: float) -> float:
    """Return inv α = tan α − α, for |α| below a right angle."""
    return tan(angle) - angle


def involute_angle(value: float) -> float:
    """Return the angle of 0 up to a right angle whose involute is `value`; ValueError below 0."""
    if not value >= 0 or value == inf:
        raise ValueError("an involute is a finite number, not negative")
    if value == 0:
        return 0.0
    # Both starts lie close: inv α ≈ α³/3 for small angles, tan α ≈ inv α + π/2 for large ones.
    # Newton in t = tan α, where t − atan t is convex and cannot run away.
    tangent = tan((3 * value) ** (1 / 3)) if value < 0.2 else value + 1.2
    for _ in range(_STEPS):
        step = (tangent - atan(tangent) - value) * (1 + tangent**2) / tangent**2
        tangent -= step
        if abs(step) <= 1e-16 * tangent:
            break
    return atan(tangent)


def transverse_angle(angle: float, helix: float) -> float:
    """Return α_t of the section across the axis: tan α_t = tan α_n / cos β."""
    return atan(tan(angle) / cos(helix))


def normal_angle(transverse: float, helix: float) -> float:
    """Return α_n from α_t, the inverse of `transverse_angle`."""
    return atan(tan(transverse) * cos(helix))


def base_helix(angle: float, helix: float) -> float:
    """Return β_b, the helix angle at the base circle: sin β_b = sin β · cos α_n."""
    return asin(sin(helix) * cos(angle))


def helix_at(diameter: float, reference: float, helix: float) -> float:
    """Return the helix angle at `diameter`; all helices of one wheel share one lead.

    tan β_y / diameter = tan β / reference diameter.
    """
    return atan(tan(helix) * diameter / reference)


def reference_diameter(teeth: float, module: float, helix: float) -> float:
    """Return d = z · m_n / cos β."""
    return teeth * module / cos(helix)


def base_diameter(teeth: float, module: float, angle: float, helix: float) -> float:
    """Return d_b = d · cos α_t."""
    return reference_diameter(teeth, module, helix) * cos(transverse_angle(angle, helix))


def base_pitch(module: float, angle: float) -> float:
    """Return p_bn = π · m_n · cos α_n, the normal base pitch: a span grows by it a tooth."""
    return pi * module * cos(angle)


def tip_diameter(
    teeth: float, module: float, helix: float, shift: float, addendum: float = 1.0
) -> float:
    """Return d_a = d + 2 m_n (h_a + x), no tip shortened."""
    return reference_diameter(teeth, module, helix) + 2 * module * (addendum + shift)


def root_diameter(
    teeth: float, module: float, helix: float, shift: float, dedendum: float = 1.25
) -> float:
    """Return d_f = d − 2 m_n (h_f − x)."""
    return reference_diameter(teeth, module, helix) - 2 * module * (dedendum - shift)


def span(
    teeth: float, module: float, angle: float, helix: float, shift: float, across: float
) -> float:
    """Return W_k, the span across `across` teeth, normal to the flanks.

    W_k = m_n cos α_n [(k − ½) π + z inv α_t] + 2 x m_n sin α_n, without thinning for backlash.
    """
    turned = involute(transverse_angle(angle, helix))
    return module * cos(angle) * ((across - 0.5) * pi + teeth * turned) + (
        2 * shift * module * sin(angle)
    )


def span_contact(teeth: float, module: float, angle: float, helix: float, spanned: float) -> float:
    """Return the diameter at which the jaws of a span touch: √(d_b² + (W cos β_b)²)."""
    return hypot(
        base_diameter(teeth, module, angle, helix), spanned * cos(base_helix(angle, helix))
    )


def span_for_contact(
    teeth: float, module: float, angle: float, helix: float, diameter: float
) -> float:
    """Return the span whose jaws touch at `diameter`; 0 at or inside the base circle."""
    base = base_diameter(teeth, module, angle, helix)
    reach = diameter**2 - base**2
    return sqrt(reach) / cos(base_helix(angle, helix)) if reach > 0 else 0.0


def teeth_across(
    teeth: float, module: float, angle: float, helix: float, shift: float, spanned: float
) -> float:
    """Return how many teeth, not whole, a span of length `spanned` lies across: `span` solved."""
    turned = involute(transverse_angle(angle, helix))
    flank = (spanned - 2 * shift * module * sin(angle)) / (module * cos(angle))
    return (flank - teeth * turned) / pi + 0.5


def teeth_to_span(teeth: int, module: float, angle: float, helix: float, shift: float) -> int:
    """Return the k at which the jaws touch nearest to half height, at d + 2 x m_n; at least 1."""
    middle = reference_diameter(teeth, module, helix) + 2 * shift * module
    length = span_for_contact(teeth, module, angle, helix, middle)
    return max(1, round(teeth_across(teeth, module, angle, helix, shift, length)))


def span_width(angle: float, helix: float, spanned: float) -> float:
    """Return W · sin β_b: a wheel must be wider than this for both jaws to touch."""
    return spanned * sin(base_helix(angle, helix))


def form_diameter(
    teeth: float, module: float, angle: float, helix: float, shift: float, depth: float = 1.0
) -> float:
    """Return d_Ff, where the involute of a hobbed wheel begins above the root.

    `depth`: how far the rack's straight flank reaches below its datum line, in modules. Where the
    rack undercuts the tooth, the base diameter stands for it.
    """
    transverse = transverse_angle(angle, helix)
    base = base_diameter(teeth, module, angle, helix)
    reference = reference_diameter(teeth, module, helix)
    along = reference / 2 * sin(transverse) - (depth - shift) * module / sin(transverse)
    return hypot(base, 2 * along) if along > 0 else base


def least_shift(teeth: float, angle: float, helix: float, depth: float = 1.0) -> float:
    """Return the shift below which a rack of this depth undercuts: h − z sin² α_t / (2 cos β)."""
    return depth - teeth * sin(transverse_angle(angle, helix)) ** 2 / (2 * cos(helix))


def tooth_thickness(
    teeth: float, module: float, angle: float, helix: float, shift: float, diameter: float
) -> float:
    """Return the transverse arc thickness of a tooth at `diameter`, negative beyond its point.

    s_y = d_y (s_t / d + inv α_t − inv α_y); ValueError inside the base circle.
    """
    transverse = transverse_angle(angle, helix)
    base = base_diameter(teeth, module, angle, helix)
    if diameter < base:
        raise ValueError("there is no involute inside the base circle")
    half_turn = (pi / 2 + 2 * shift * tan(angle)) / teeth
    return diameter * (half_turn + involute(transverse) - involute(acos(base / diameter)))


def working_angle(
    sum_of_teeth: float, module: float, angle: float, helix: float, centres: float
) -> float:
    """Return α_wt of two wheels at a centre distance: cos α_wt = (d_b1 + d_b2) / 2a.

    ValueError where the centres stand closer than the two base circles.
    """
    nearest = base_diameter(sum_of_teeth, module, angle, helix) / 2
    if not centres >= nearest:
        raise ValueError("the base circles would overlap")
    return acos(nearest / centres)


def working_angle_of_shifts(
    sum_of_teeth: float, angle: float, helix: float, shifts: float
) -> float:
    """Return α_wt at which two wheels run without backlash.

    inv α_wt = inv α_t + 2 (x1 + x2) tan α_n / (z1 + z2); ValueError where that is below 0.
    """
    transverse = transverse_angle(angle, helix)
    return involute_angle(involute(transverse) + 2 * shifts * tan(angle) / sum_of_teeth)


def centre_distance(
    sum_of_teeth: float, module: float, angle: float, helix: float, shifts: float = 0.0
) -> float:
    """Return the centre distance a of two wheels without backlash, `shifts` being x1 + x2."""
    working = working_angle_of_shifts(sum_of_teeth, angle, helix, shifts)
    return base_diameter(sum_of_teeth, module, angle, helix) / (2 * cos(working))


def sum_of_shifts(
    sum_of_teeth: float, module: float, angle: float, helix: float, centres: float
) -> float:
    """Return the x1 + x2 that leaves no backlash at a centre distance; ValueError if too close."""
    working = working_angle(sum_of_teeth, module, angle, helix, centres)
    turned = involute(working) - involute(transverse_angle(angle, helix))
    return turned * sum_of_teeth / (2 * tan(angle))
