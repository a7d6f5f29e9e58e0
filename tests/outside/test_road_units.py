"""Road speed beside the units of a general-purpose library and published rules for tyres."""

from fractions import Fraction
from functools import cache
from math import pi
from typing import Any

import pytest
from hypothesis import given, strategies as st

from cogtally.gears.road.speed import (
    FASTEST_SPEED,
    KMH,
    MPH,
    Tyre,
    engine_speed,
    parse_tyre,
    road_speed,
)


@cache
def _registry(pint: Any) -> Any:
    return pint.UnitRegistry()


def test_miles_an_hour_by_definition():
    """Mph per 1000 rpm is 2.974993 × diameter in inches / ratio, constant 336.135 (from memory)."""
    speed = road_speed(1000, Fraction(1), Tyre("", pi * 25.4 * 30), MPH)
    assert speed / 30 == pytest.approx(2.974993, abs=0.5e-6)
    assert speed / 30 == pytest.approx(1000 * 60 * pi / 63360)
    assert 1000 / (speed / 30) == pytest.approx(336.135, abs=0.5e-3)


def test_units_of_pint():
    """1000 rpm, 28 in, 3.42 × 0.70: 34.795240 mph, as pint 0.25.3 has it."""
    overall = Fraction("3.42") * Fraction("0.70")
    speed = road_speed(1000, overall, Tyre("", pi * 25.4 * 28), MPH)
    assert speed == pytest.approx(34.795240, abs=0.5e-6)


@given(
    st.floats(500, 8000),
    st.builds(Fraction, st.integers(30, 400), st.integers(10, 90)),
    st.floats(400, 1100),
)
def test_units_of_pint_everywhere(rpm, overall, diameter):
    """Any engine speed, ratio and diameter give the speed that pint gives, there and back."""
    pint = pytest.importorskip("pint")
    unit = _registry(pint)
    rolled = pi * diameter * unit.millimeter / unit.turn
    moved = (rpm * unit.turn / unit.minute) * rolled / float(overall)
    tyre = Tyre("", pi * diameter)
    for name, its in ((MPH, unit.mile / unit.hour), (KMH, unit.kilometer / unit.hour)):
        ours = road_speed(rpm, overall, tyre, name)
        assert ours == pytest.approx(moved.to(its).magnitude, rel=1e-12)
        if ours <= FASTEST_SPEED:
            assert engine_speed(ours, overall, tyre, name) == pytest.approx(rpm, rel=1e-12)


@pytest.mark.parametrize(
    ("size", "outside", "radius"),
    [
        ("205/60R16", 652.4, 0.316850),
        ("155/80R13", 578.2, 0.280814),
        ("175/70R14", 600.6, 0.291693),
    ],
)
def test_dynamic_radius_of_radial_tyres(size, outside, radius):
    """3.05 / (2 · 3.14) × outside diameter, the rule of the JRC's open vehicle model."""
    tyre = parse_tyre(size)
    assert tyre.outside_mm == pytest.approx(outside)
    assert tyre.rolled_mm / (2 * pi) / 1000 == pytest.approx(radius, abs=0.5e-6)
