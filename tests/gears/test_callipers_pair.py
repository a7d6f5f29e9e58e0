"""Two wheels at a centre distance."""

from math import cos, pi, radians, sin

import pytest
from hypothesis import given, strategies as st

from cogtally.gears.callipers.fit import Fit
from cogtally.gears.callipers.standards import find_standard
from cogtally.gears.callipers.two import contact_ratio, run_together

from .random_wheels import centres_of

MODULE_2 = find_standard("2")


@pytest.mark.parametrize(
    ("centres", "sign", "backlash"),
    [(50.0, 0, 0), (50.1, 1, 0.2 * sin(radians(20))), (49.9, -1, 0)],
)
def test_centres_decide_the_backlash(centres, sign, backlash):
    """Unshifted wheels at half the sum of their diameters just run, wider loosely, nearer not."""
    mesh = run_together(Fit(MODULE_2, 20), Fit(MODULE_2, 30), centres)
    assert mesh.runs == (sign >= 0)
    assert mesh.backlash_sign == sign
    assert max(mesh.backlash, 0) == pytest.approx(backlash, rel=0.02, abs=1e-9)
    assert any("bind" in reason for reason in mesh.reasons) == (sign < 0)
    if not sign:
        assert mesh.working_angle == pytest.approx(20)
        assert mesh.clearances == pytest.approx((0.5, 0.5))


def test_thinned_teeth_give_backlash():
    """Teeth cut thinner leave their thinning as backlash."""
    mesh = run_together(Fit(MODULE_2, 20, thinning=0.04), Fit(MODULE_2, 30, thinning=0.03), 50)
    assert mesh.backlash == pytest.approx(0.07)


@given(
    st.integers(17, 60),
    st.integers(17, 60),
    st.floats(0, 40),
    st.floats(-0.1, 0.6),
    st.floats(-0.1, 0.6),
    st.floats(-0.2, 0.2),
)
def test_backlash_is_the_shift_that_lacks(one, two, helix, first, second, more):
    """Normal backlash is 2 m sin α times the shifts that the centres need beyond theirs."""
    needed = first + second + more
    centres = centres_of(MODULE_2.shape(one + two, helix), needed)
    mesh = run_together(
        Fit(MODULE_2, one, helix, first), Fit(MODULE_2, two, helix, second), centres
    )
    assert mesh.shifts == pytest.approx(first + second)
    assert mesh.shifts_needed == pytest.approx(needed, abs=1e-6)
    assert mesh.backlash == pytest.approx(4 * sin(MODULE_2.angle) * more, abs=1e-6)


@given(st.integers(17, 60), st.integers(17, 60), st.floats(49, 80))
def test_it_does_not_matter_which_is_first(one, two, centres):
    """Exchanging the wheels changes nothing but the order of the clearances."""
    first, second = Fit(MODULE_2, one), Fit(MODULE_2, two)
    there, back = run_together(first, second, centres), run_together(second, first, centres)
    assert there.runs == back.runs
    assert there.backlash == pytest.approx(back.backlash)
    assert there.contact_ratio == pytest.approx(back.contact_ratio)


def test_a_module_is_no_pitch():
    """Module 2.5 and 10 DP look alike and do not run."""
    mesh = run_together(Fit(find_standard("2.5"), 20), Fit(find_standard("10dp"), 30), 63)
    assert not mesh.runs
    assert "not of one pitch" in mesh.reasons[0]
    assert mesh.backlash_sign is None


def test_two_standards_of_one_base_pitch():
    """Module 5 at 20° and 5 DP at 22.5° share a base pitch and can run, with a warning."""
    mesh = run_together(
        Fit(find_standard("5"), 22, 0, 0.0), Fit(find_standard("5dp", "22.5"), 30), 131.6
    )
    assert mesh.runs
    assert mesh.shifts_needed is None
    assert "two standards" in mesh.warnings[0]


def test_helices_must_agree():
    """Straight teeth do not run with a helix, nor two helices of one hand."""
    straight = run_together(Fit(MODULE_2, 20), Fit(MODULE_2, 30, 20.0), 52)
    assert "helices differ" in straight.reasons[0]
    centres = 25 * 2 / cos(radians(20))
    alike = [Fit(MODULE_2, z, 20.0, thinning=0.05, hand="left") for z in (20, 30)]
    assert "left-handed" in run_together(alike[0], alike[1], centres).reasons[0]
    other = Fit(MODULE_2, 30, 20.0, thinning=0.05, hand="right")
    assert run_together(alike[0], other, centres).runs
    unknown = Fit(MODULE_2, 30, 20.0, thinning=0.05)
    assert any("hands" in w for w in run_together(alike[0], unknown, centres).warnings)


def test_shafts_too_near_or_too_far():
    """Base circles that meet, and tips that do not reach each other, are no mesh."""
    near = run_together(Fit(MODULE_2, 20), Fit(MODULE_2, 30), 40)
    assert "base circles" in near.reasons[0]
    far = run_together(Fit(MODULE_2, 20), Fit(MODULE_2, 30), 60)
    assert "do not reach" in far.reasons[0]


def test_contact_ratio_of_racks_limit():
    """20 and 30 teeth at 20° overlap by 1.60, as path of contact over base pitch gives."""
    ratio = contact_ratio(Fit(MODULE_2, 20), Fit(MODULE_2, 30), 50)
    first = ((22**2 - (20 * cos(radians(20))) ** 2) ** 0.5) + (
        (32**2 - (30 * cos(radians(20))) ** 2) ** 0.5
    )
    pitch = 2 * pi * cos(radians(20))
    assert ratio == pytest.approx((first - 50 * sin(radians(20))) / pitch)
    assert 1.5 < ratio < 1.7


@pytest.mark.parametrize(
    ("first", "second", "said"), [(-1.2, 0.0, "root"), (2.4, 2.4, "contact ratio")]
)
def test_tips_too_high_or_too_low(first, second, said):
    """Tips that strike the other's root, or leave too early, are a reason not to run."""
    mesh = run_together(Fit(MODULE_2, 20, cut=first), Fit(MODULE_2, 30, cut=second), 50)
    assert any(said in reason for reason in mesh.reasons)


def test_helix_of_the_mate_is_its_own():
    """Wheels of one base helix agree though their reference helices are a little apart."""
    first, second = Fit(MODULE_2, 20, 20.0, thinning=0.1), Fit(MODULE_2, 30, 20.3, thinning=0.1)
    mesh = run_together(first, second, 25 * 2 / cos(radians(20.15)) + 0.05)
    assert mesh.runs
