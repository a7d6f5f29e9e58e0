"""Laws of the involute that no table is needed for."""

from __future__ import annotations

from math import asin, cos, degrees, pi, radians, sin, sqrt

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from cogtally.gears.callipers import involute as inv

MODULES = st.floats(0.5, 12)
ANGLES = st.floats(radians(14), radians(26))
HELICES = st.floats(0, radians(45))
SHIFTS = st.floats(-0.5, 0.8)
TEETH = st.integers(8, 120)


@given(TEETH, MODULES, ANGLES, HELICES, SHIFTS, st.integers(1, 15))
def test_one_tooth_more_adds_a_base_pitch(
    teeth: int, module: float, angle: float, helix: float, shift: float, across: int
) -> None:
    """W(k+1) − W(k) = π m cos α, whatever the teeth, helix and shift."""
    more = inv.span(teeth, module, angle, helix, shift, across + 1)
    less = inv.span(teeth, module, angle, helix, shift, across)
    assert more - less == pytest.approx(pi * module * cos(angle), rel=1e-9)
    assert more - less == pytest.approx(inv.base_pitch(module, angle), rel=1e-9)


@given(st.floats(0, 1.5))
def test_the_involute_is_inverted(angle: float) -> None:
    """The angle of an involute is the angle again."""
    assert inv.involute_angle(inv.involute(angle)) == pytest.approx(angle, abs=1e-6)


@given(st.floats(1e-9, 1e6))
def test_the_inverse_is_an_involute(value: float) -> None:
    """The involute of the inverse is the value again."""
    found = inv.involute_angle(value)
    assert inv.involute(found) == pytest.approx(value, rel=1e-6, abs=1e-15)


@pytest.mark.parametrize("value", [-1e-9, float("nan"), float("inf")])
def test_no_angle_has_such_an_involute(value: float) -> None:
    """Below zero, without end or no number: refused."""
    with pytest.raises(ValueError, match="involute"):
        inv.involute_angle(value)


@given(ANGLES, HELICES)
def test_normal_and_transverse(angle: float, helix: float) -> None:
    """Going to the transverse section and back changes nothing, and it is never flatter."""
    across = inv.transverse_angle(angle, helix)
    assert inv.normal_angle(across, helix) == pytest.approx(angle)
    assert across >= angle - 1e-12


@given(TEETH, MODULES, ANGLES, HELICES)
def test_base_pitch_across_and_along(teeth: int, module: float, angle: float, helix: float) -> None:
    """The base circle is z base pitches round: π d_b cos β_b = z p_bn."""
    base = inv.base_diameter(teeth, module, angle, helix)
    along = cos(inv.base_helix(angle, helix))
    assert pi * base * along == pytest.approx(teeth * inv.base_pitch(module, angle))


@given(TEETH, MODULES, ANGLES, HELICES, SHIFTS)
def test_thickness_and_span_agree(
    teeth: int, module: float, angle: float, helix: float, shift: float
) -> None:
    """A span is base pitches and one tooth at the base circle: W = (k−1) p_bn + s_b cos β_b."""
    base = inv.base_diameter(teeth, module, angle, helix)
    tooth = inv.tooth_thickness(teeth, module, angle, helix, shift, base)
    along = cos(inv.base_helix(angle, helix))
    expected = 2 * inv.base_pitch(module, angle) + tooth * along
    assert inv.span(teeth, module, angle, helix, shift, 3) == pytest.approx(expected, abs=1e-9)


@given(TEETH, MODULES, ANGLES, HELICES, SHIFTS, st.floats(0.1, 2))
def test_contact_is_inverted(
    teeth: int, module: float, angle: float, helix: float, shift: float, up: float
) -> None:
    """The span that touches at a diameter touches there, and lies over its number of teeth."""
    diameter = inv.base_diameter(teeth, module, angle, helix) + up * module
    length = inv.span_for_contact(teeth, module, angle, helix, diameter)
    assert inv.span_contact(teeth, module, angle, helix, length) == pytest.approx(diameter)
    across = inv.teeth_across(teeth, module, angle, helix, shift, length)
    assert inv.span(teeth, module, angle, helix, shift, across) == pytest.approx(length)


@given(st.integers(20, 160), MODULES, ANGLES, HELICES, st.floats(-0.4, 1.5))
def test_centres_and_shifts_are_inverse(
    total: int, module: float, angle: float, helix: float, shifts: float
) -> None:
    """The sum of shifts at the centre distance of shifts is those shifts."""
    turned = inv.involute(inv.transverse_angle(angle, helix))
    assume(turned + 2 * shifts * sin(angle) / cos(angle) / total > 1e-4)
    centres = inv.centre_distance(total, module, angle, helix, shifts)
    found = inv.sum_of_shifts(total, module, angle, helix, centres)
    assert found == pytest.approx(shifts, abs=1e-6)


def test_unshifted_centres_are_half_the_diameters() -> None:
    """Without shift a = m (z1 + z2) / (2 cos β)."""
    helix = radians(25)
    centres = inv.centre_distance(50, 2, radians(20), helix)
    assert centres == pytest.approx(50 / cos(helix))


def test_centres_inside_the_base_circles() -> None:
    """Shafts nearer than the base circles have no working angle."""
    with pytest.raises(ValueError, match="base circles"):
        inv.sum_of_shifts(40, 2, radians(20), 0, 30)


def test_no_tooth_inside_the_base_circle() -> None:
    """Inside the base circle there is no thickness."""
    with pytest.raises(ValueError, match="base circle"):
        inv.tooth_thickness(20, 2, radians(20), 0, 0, 30)


def test_thickness_at_the_reference_circle() -> None:
    """An unshifted tooth is half a pitch thick at the reference circle."""
    thick = inv.tooth_thickness(24, 3, radians(20), 0, 0, 72)
    assert thick == pytest.approx(3 * pi / 2)


def test_undercut_begins_at_seventeen_teeth() -> None:
    """At 20° and full height 18 teeth need no shift and 17 a little: z = 2 / sin² α = 17.1."""
    assert inv.least_shift(18, radians(20), 0) < 0 < inv.least_shift(17, radians(20), 0)


def test_the_flank_begins_at_the_base_circle_when_undercut() -> None:
    """Where the rack undercuts, the flank is taken to begin at the base circle."""
    base = inv.base_diameter(10, 2, radians(20), 0)
    assert inv.form_diameter(10, 2, radians(20), 0, 0) == pytest.approx(base)
    assert inv.form_diameter(40, 2, radians(20), 0, 0) > inv.base_diameter(40, 2, radians(20), 0)


@given(st.integers(9, 120), HELICES, st.floats(-0.2, 0.6))
def test_the_best_span_touches_near_half_height(teeth: int, helix: float, shift: float) -> None:
    """The k to take touches nearer to d + 2xm than one tooth more or less does, or as near."""
    angle = radians(20)
    across = inv.teeth_to_span(teeth, 1, angle, helix, shift)
    exact = inv.teeth_across(
        teeth,
        1,
        angle,
        helix,
        shift,
        inv.span_for_contact(
            teeth, 1, angle, helix, inv.reference_diameter(teeth, 1, helix) + 2 * shift
        ),
    )
    assert across == 1 or abs(across - exact) <= 0.5 + 1e-9


def test_the_width_of_a_span() -> None:
    """A span of 20 mm at a base helix of 30° needs 10 mm of width."""
    assert inv.span_width(radians(20), 0, 20) == 0
    helix = asin(sin(radians(30)) / cos(radians(20)))
    assert inv.span_width(radians(20), helix, 20) == pytest.approx(10)


def test_a_helix_is_steeper_at_the_tip() -> None:
    """Helix angles go with diameter: tan β_a / d_a = tan β / d."""
    assert degrees(inv.helix_at(2 * sqrt(3), 2, radians(30))) == pytest.approx(45)
