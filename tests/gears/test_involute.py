"""Laws of the involute that no table is needed for."""

from math import asin, cos, degrees, pi, radians, sin, sqrt

import pytest
from hypothesis import given, strategies as st

from cogtally.gears.callipers import standards as inv

MODULES = st.floats(0.5, 12)
ANGLES = st.floats(radians(14), radians(26))
HELICES = st.floats(0, radians(45))
SHIFTS = st.floats(-0.5, 0.8)
TEETH = st.integers(8, 120)


@given(TEETH, MODULES, ANGLES, HELICES, SHIFTS, st.integers(1, 15))
def test_one_tooth_more_adds_a_base_pitch(teeth, module, angle, helix, shift, across):
    """W(k+1) − W(k) = π m cos α, whatever the teeth, helix and shift."""
    shape = inv.Shape(teeth, module, angle, helix, shift)
    more, less = shape.span(across + 1), shape.span(across)
    assert more - less == pytest.approx(pi * module * cos(angle), rel=1e-9)
    assert more - less == pytest.approx(inv.base_pitch(module, angle), rel=1e-9)


@given(TEETH, MODULES, ANGLES, HELICES)
def test_base_pitch_across_and_along(teeth, module, angle, helix):
    """The base circle is z base pitches round: π d_b cos β_b = z p_bn."""
    shape = inv.Shape(teeth, module, angle, helix)
    round_it = teeth * inv.base_pitch(module, angle)
    assert pi * shape.base * cos(shape.base_helix) == pytest.approx(round_it)


@given(TEETH, MODULES, ANGLES, HELICES, SHIFTS)
def test_thickness_and_span_agree(teeth, module, angle, helix, shift):
    """A span is base pitches and one tooth at the base circle: W = (k−1) p_bn + s_b cos β_b."""
    shape = inv.Shape(teeth, module, angle, helix, shift)
    tooth, along = shape.thickness(shape.base), cos(shape.base_helix)
    expected = 2 * inv.base_pitch(module, angle) + tooth * along
    assert shape.span(3) == pytest.approx(expected, abs=1e-9)


def test_centres_without_shift_are_half_the_diameters():
    """Without shift a = m (z1 + z2) / (2 cos β)."""
    shape = inv.Shape(50, 2, radians(20), radians(25))
    assert shape.sum_of_shifts(shape.reference / 2) == pytest.approx(0)
    assert shape.reference / 2 == pytest.approx(50 / cos(radians(25)))


def test_centres_inside_the_base_circles():
    """Shafts nearer than the base circles have no working angle."""
    with pytest.raises(ValueError, match="base circles"):
        inv.Shape(40, 2, radians(20)).sum_of_shifts(30)


def test_no_tooth_inside_the_base_circle():
    """Inside the base circle there is no thickness."""
    with pytest.raises(ValueError, match="base circle"):
        inv.Shape(20, 2, radians(20)).thickness(30)


def test_thickness_at_the_reference_circle():
    """An unshifted tooth is half a pitch thick at the reference circle."""
    thick = inv.Shape(24, 3, radians(20)).thickness(72)
    assert thick == pytest.approx(3 * pi / 2)


def test_undercut_begins_at_seventeen_teeth():
    """At 20° and full height 18 teeth need no shift and 17 a little: z = 2 / sin² α = 17.1."""
    more, fewer = (inv.Shape(z, 1, radians(20)).least_shift for z in (18, 17))
    assert more < 0 < fewer


def test_the_flank_begins_at_the_base_circle_when_undercut():
    """Where the rack undercuts, the flank is taken to begin at the base circle."""
    few, many = (inv.Shape(z, 2, radians(20)) for z in (10, 40))
    assert few.form == few.base
    assert many.form > many.base


@given(st.integers(9, 120), HELICES, st.floats(-0.2, 0.6))
def test_the_best_span_touches_near_half_height(teeth, helix, shift):
    """The k to take touches nearer to d + 2xm than one tooth more or less does, or as near."""
    shape = inv.Shape(teeth, 1, radians(20), helix, shift)
    across, middle = shape.best_span, shape.reference + 2 * shift
    touching = sqrt(max(0.0, middle**2 - shape.base**2)) / cos(shape.base_helix)
    exact = (touching - shape.span(0)) / inv.base_pitch(1, radians(20))
    assert across == 1 or abs(across - exact) <= 0.5 + 1e-9


def test_the_width_of_a_span():
    """A span of 20 mm at a base helix of 30° needs 10 mm of width."""
    assert inv.Shape(20, 2, radians(20)).width(20) == 0
    helix = asin(sin(radians(30)) / cos(radians(20)))
    assert inv.Shape(20, 2, radians(20), helix).width(20) == pytest.approx(10)


def test_a_helix_is_steeper_at_the_tip():
    """Helix angles go with diameter: tan β_a / d_a = tan β / d."""
    shape = inv.Shape(20, 2, radians(20), radians(30))
    assert degrees(shape.helix_at(shape.reference * sqrt(3))) == pytest.approx(45)
