"""Gear geometry beside published tables, worked examples and an outline that was drawn."""

from fractions import Fraction
from math import radians

import pytest

from cogtally.gears.callipers.fit import Fit
from cogtally.gears.callipers.standards import MODULES_I, MODULES_II, Shape, find_standard, involute
from cogtally.gears.callipers.two import run_together
from cogtally.gears.callipers.wheel import wheel


@pytest.mark.parametrize(
    ("angle", "printed"), [(14.5, 0.0055448), (20, 0.0149044), (25, 0.0299753)]
)
def test_involute_table(angle, printed):
    """The involute function prints as in the tables (from memory)."""
    assert involute(radians(angle)) == pytest.approx(printed, abs=0.5e-7)


@pytest.mark.parametrize(
    ("teeth", "across", "angle", "drawn"),
    [
        (18, 2, 20, 4.680297),
        (25, 3, 20, 7.730467),
        (40, 5, 20, 13.844813),
        (60, 7, 25, 20.137138),
        (27, 3, 14.5, 7.748756),
        (40, 4, 14.5, 10.860068),
    ],
)
def test_span_of_a_drawn_outline(teeth, across, angle, drawn):
    """A span is the widest extent of so many teeth as mechanism 1.1.10 draws them, at 1 DP.

    The extents were taken off its outline once, without any span formula.
    """
    assert Shape(teeth, 1, radians(angle), 0, 0).span(across) == pytest.approx(drawn, abs=2e-6)


@pytest.mark.parametrize(
    ("teeth", "across", "angle"),
    [(18, 2, 20), (25, 3, 20), (40, 5, 20), (60, 7, 25), (27, 3, 14.5)],
)
@pytest.mark.filterwarnings("ignore:The dedendum circle")
def test_span_of_an_outline_drawn_now(teeth, across, angle):
    """The same extents come off the outline when mechanism draws it again."""
    np = pytest.importorskip("numpy")
    gears = pytest.importorskip("mechanism.gears")
    drawn = gears.SpurGear(N=teeth, pd=1, pressure_angle=angle, a=1, b=1.25, size=4000)
    tooth = drawn.tooth_profile
    turns = (np.arange(across) - (across - 1) / 2) * 2 * np.pi / teeth
    outline = np.concatenate([tooth * np.exp(1j * turn) for turn in turns])
    extent = float(outline.real.max() - outline.real.min())
    assert Shape(teeth, 1, radians(angle), 0, 0).span(across) == pytest.approx(extent, abs=1e-5)


@pytest.mark.parametrize(
    ("teeth", "across", "printed"),
    [(18, 3, 7.6324), (27, 4, 10.7106), (36, 5, 13.7888), (45, 6, 16.8670)],
)
def test_handbook_spans(teeth, across, printed):
    """Spans at module 1 and 20° print as in metric handbooks (from memory)."""
    assert Shape(teeth, 1, radians(20), 0, 0).span(across) == pytest.approx(printed, abs=0.5e-4)


def test_profile_shifted_pair():
    """The shifted pair of SDP/SI, Elements of Metric Gear Technology, comes out as printed."""
    standard = find_standard("3")
    assert standard.shape(36).sum_of_shifts(54.000) == pytest.approx(0, abs=1e-9)
    mesh = run_together(Fit(standard, 12, 0, 0.6), Fit(standard, 24, 0, 0.36), 56.4999)
    assert mesh.working_angle == pytest.approx(26.0886, abs=1e-3)
    assert mesh.shifts_needed == pytest.approx(0.96, abs=1e-4)


def test_profile_shifted_span():
    """The spur span of SDP/SI, Elements of Metric Gear Technology (from memory)."""
    assert Shape(24, 3, radians(20), 0, 0.4).span(4) == pytest.approx(32.8266, abs=0.5e-4)


@pytest.mark.parametrize(("teeth", "pitch", "inches"), [(24, 8, 3.25), (17, 10, 1.9), (30, 8, 4.0)])
def test_outside_diameter_of_full_teeth(teeth, pitch, inches):
    """OD = (N + 2) / DP, the rule and examples of a US Navy training manual."""
    assert wheel(find_standard(f"{pitch}dp"), teeth).outside / 25.4 == pytest.approx(inches)


def test_outside_diameter_of_stub_teeth():
    """Stub teeth a/b: OD = N/a + 2/b; 24 teeth of 6/8 measure 4.25 in (from memory)."""
    assert wheel(find_standard("6/8dp"), 24).outside / 25.4 == pytest.approx(4.25)


def test_modules_of_iso_54():
    """Series I of ISO 54 as printed there; series II (from memory) without 6.5, 3.25 and 3.75."""
    series = "1 1.25 1.5 2 2.5 3 4 5 6 8 10 12 16 20"
    second = "1.125 1.375 1.75 2.25 2.75 3.5 4.5 5.5 7 9 11 14 18"
    assert " ".join(MODULES_I) == series
    assert " ".join(MODULES_II) == second


def test_rack_of_iso_53():
    """Profile A of ISO 53: addendum 1, dedendum 1.25 (from memory)."""
    assert (find_standard("3").addendum, find_standard("3").dedendum) == (1, Fraction(5, 4))
