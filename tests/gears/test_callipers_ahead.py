"""From a standard to what it measures."""

import pytest
from hypothesis import given, strategies as st

from cogtally.gears.callipers.standards import find_standard, standards
from cogtally.gears.callipers.wheel import expected_span, gauge, wheel
from cogtally.gears.errors import UserError

from .random_wheels import measured

MODULE_2 = find_standard("2")


def test_a_table_over_teeth():
    """Each row is a tooth more, one module more in diameter, and stands in order."""
    rows = [wheel(MODULE_2, z) for z in range(20, 31)]
    assert [row.teeth for row in rows] == list(range(20, 31))
    assert [row.outside for row in rows] == pytest.approx([2 * (z + 2) for z in range(20, 31)])
    assert [row.root for row in rows] == pytest.approx([2 * (z - 2.5) for z in range(20, 31)])


def test_readings_across_odd_teeth():
    """A table says what callipers will read, lower only across odd teeth."""
    even, odd = wheel(MODULE_2, 20), wheel(MODULE_2, 21)
    assert even.points == even.flat == even.outside
    assert odd.flat < odd.points < odd.outside


@given(st.sampled_from(standards()), st.integers(20, 60), st.floats(0.0, 0.4))
def test_there_and_back(standard, teeth, shift):
    """What a standard measures is explained by that standard, soundly, with its shift."""
    row = wheel(standard, teeth, 0, shift)
    spans = [(s.across, s.length) for s in row.spans if s.touches_flank]
    if not spans:
        return
    answer = gauge(measured(teeth, outside=row.outside, jaws="true", spans=spans, helix=0))
    held = [e for e in answer.fitting if e.standard == standard and e.state == "sound"]
    assert held
    assert held[0].fit.shift == pytest.approx(shift, abs=0.03)


def test_warnings():
    """Undercut and pointed teeth are said, a sound wheel has none."""
    assert wheel(MODULE_2, 24).warnings == ()
    assert wheel(MODULE_2, 10).warnings == ("undercut at the root",)
    assert wheel(MODULE_2, 10, 0, 0.9).warnings == ("pointed below its full height",)
    assert wheel(MODULE_2, 12, 0, 0.75).warnings == ("tips nearly pointed",)


def test_a_span_off_the_flank():
    """Spans across far too few or too many teeth do not touch the flank."""
    touching = [expected_span(MODULE_2, 40, 0, 0, k).touches_flank for k in range(1, 12)]
    assert touching == [False, False, *[True] * 4, *[False] * 5]


@pytest.mark.parametrize(
    ("teeth", "helix", "shift", "words"),
    [
        (3, 0, 0, "teeth are"),
        (24, -5, 0, "helix"),
        (24, 70, 0, "helix"),
        (24, float("nan"), 0, "helix"),
        (24, 0, 3, "not in mm"),
        (24, 0, float("nan"), "shift"),
    ],
)
def test_no_such_wheel(teeth, helix, shift, words):
    """Values that no wheel has are refused in one line."""
    with pytest.raises(UserError, match=words):
        wheel(MODULE_2, teeth, helix, shift)
