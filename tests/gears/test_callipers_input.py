"""Measurements at the door."""

from math import cos, pi

import pytest
from hypothesis import given, strategies as st

from cogtally.gears.callipers.measured import across_odd, jaws_question
from cogtally.gears.errors import UserError

from .random_wheels import measured


def refused(**kw: object) -> str:
    """The one line with which measurements are refused."""
    with pytest.raises(UserError) as error:
        measured(**kw)
    line = str(error.value)
    assert "\n" not in line
    assert error.value.mend
    return line


def test_inches_are_kept_as_mm():
    """Lengths in inches become mm, and the tolerance with them."""
    seen = measured(24, outside=3.25, spans=[(3, 0.965)], unit="in", tolerance=0.001)
    assert seen.outside == pytest.approx(82.55)
    assert seen.spans[0].length == pytest.approx(24.511)
    assert seen.tolerance == pytest.approx(0.0254)


def test_odd_teeth_are_asked_about():
    """A diameter across an odd number of teeth is not taken before it says how it was taken."""
    question = jaws_question(17, 50.0, None)
    assert "17 teeth" in question
    assert question in refused(teeth=17, outside=50.0)
    assert jaws_question(18, 50.0, None) is None
    assert jaws_question(17, None, None) is None
    assert jaws_question(17, 50.0, "flat") is None


@given(st.integers(2, 60), st.sampled_from(["points", "flat", "true"]))
def test_even_teeth_read_true(half, jaws):
    """Callipers read true across an even number of teeth, and never high across an odd one."""
    assert across_odd(2 * half, jaws) == 1
    assert across_odd(2 * half + 1, jaws) <= 1


@given(st.integers(3, 60))
def test_the_correction_is_that_of_a_polygon(half):
    """Tip to tip is the longest diagonal of the polygon, tip to flat its height."""
    teeth = 2 * half + 1
    tips = [(cos(2 * pi * i / teeth), cos(2 * pi * i / teeth - pi / 2)) for i in range(teeth)]
    longest = max(((x - 1) ** 2 + y**2) ** 0.5 for x, y in tips) / 2
    height = (1 - min(x for x, _ in tips)) / 2
    assert across_odd(teeth, "points") == pytest.approx(longest)
    assert across_odd(teeth, "flat") == pytest.approx(height)


@pytest.mark.parametrize(
    ("kw", "words"),
    [
        ({"teeth": 24, "outside": 82.55, "spans": [(3, 0.965)]}, "span 3: 0.965 mm"),
        ({"teeth": 24, "outside": 82.55, "spans": [(3, 0.965)]}, "did you mean 0.965 in?"),
        ({"teeth": 24, "outside": 3.25, "unit": "mm"}, "did you mean 3.25 in?"),
        ({"teeth": 24, "outside": 82.55, "unit": "in"}, "did you mean 82.55 mm?"),
        ({"teeth": 24, "outside": 1200.0, "helix": 0}, "did you mean 120 mm?"),
        ({"teeth": 200, "outside": 0.001}, "measure it again"),
        ({"teeth": 3, "outside": 10.0}, "outside 5 to 200"),
        ({"teeth": 24, "outside": 82.55, "helix": 70}, "it would be 20"),
        ({"teeth": 24, "outside": 82.55, "helix": 20, "helix_tolerance": 0}, "tolerance"),
        ({"teeth": 24, "spans": [(13, 82.0)]}, "more than half"),
        ({"teeth": 24, "spans": [(3, 24.5), (4, 24.5)]}, "not longer"),
        ({"teeth": 24, "outside": 24.0, "spans": [(3, 24.5)]}, "exchanged"),
        ({"teeth": 24, "centres": 80.0}, "without the other wheel's teeth"),
        ({"teeth": 24}, "nothing was measured"),
        ({"outside": 82.55, "jaws": "true"}, "count the teeth"),
        ({"outside": 82.55, "jaws": "true", "spans": [(3, 24.5)]}, "count the teeth"),
    ],
)
def test_refused(kw, words):
    """Each of these gets one line that says what would be right."""
    assert words in refused(**kw)
