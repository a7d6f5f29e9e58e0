"""Sizes of tyres, and what else says how far a wheel rolls."""

from math import pi

import pytest
from hypothesis import given, strategies as st

from cogtally.gears.errors import UserError
from cogtally.gears.road.speed import parse_tyre


def test_a_radial_size():
    """165/80R15 stands 381 + 2 × 132 = 645 mm high, and rolls 2π · 3.05/6.28 of that."""
    tyre = parse_tyre("165/80R15")
    assert tyre.outside_mm == pytest.approx(645)
    assert tyre.rolled_mm == pytest.approx(2 * pi * 3.05 / 6.28 * 645)
    assert tyre.radial
    assert tyre.note is None


@pytest.mark.parametrize(
    "text", ["165/80 R 15", "165/80r15", "165/80SR15", "165/80R15 87T", "P165/80R15", " 165/80R15 "]
)
def test_the_same_size_otherwise(text):
    """Spaces, case, speed and load letters change nothing."""
    assert parse_tyre(text).rolled_mm == parse_tyre("165/80R15").rolled_mm


def test_a_cross_ply_size():
    """5.60-15 is cross-ply, rolls by the cross-ply factor, and is said to be estimated."""
    tyre = parse_tyre("5.60-15")
    assert tyre.radial is False
    assert tyre.outside_mm == pytest.approx((15 + 2 * 5.6 * 0.96) * 25.4)
    assert tyre.rolled_mm == pytest.approx(2 * pi * 3.0 / 6.28 * tyre.outside_mm)
    assert "roll the wheel" in tyre.note
    assert parse_tyre("5,60x15").rolled_mm == tyre.rolled_mm


def test_radials_without_a_height():
    """165R15 and 6.00R16 are radial, their height a usual one, and that is said."""
    assert parse_tyre("165R15").outside_mm == pytest.approx(381 + 2 * 165 * 0.82)
    assert parse_tyre("165SR15").rolled_mm == parse_tyre("165R15").rolled_mm
    for text in ("165R15", "6.00R16"):
        assert parse_tyre(text).radial
        assert parse_tyre(text).estimated


def test_a_circumference():
    """A circumference is what the wheel rolls, with or without its unit."""
    assert parse_tyre("1935mm").rolled_mm == 1935
    assert parse_tyre("1935").rolled_mm == 1935
    assert parse_tyre("1935,5 mm").rolled_mm == 1935.5


@given(st.floats(450, 1250))
def test_turns_are_read_back(turns):
    """Turns per mile and per km are read back from what was written."""
    text = f"{turns:.3f}"
    assert parse_tyre(f"{text}/mile").turns_per_mile == pytest.approx(float(text))
    km = f"{turns / 1.609344:.3f}"
    assert parse_tyre(f"{km}/km").turns_per_km == pytest.approx(float(km))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no size"),
        ("tyre", "no size"),
        ("80/165R15", "did you mean 165/80R15"),
        ("165/80R38", "then 15 inches"),
        ("560-15", r"did you mean 5\.60-15"),
        ("165-15", "did you mean 165R15"),
        ("165/8R15", "no size"),
        ("165/15R15", "no tyre is"),
        ("700/80R15", "no tyre is"),
        ("28", "a diameter in inches"),
        ("76", "in inches"),
        ("640mm", "a diameter"),
        ("1.935", "in metres"),
        ("0", "rolls"),
        ("-1935", "no size"),
        ("nan", "no size"),
        ("1e3", "no size"),
        ("١٩٣٥", "no size"),
        ("830/km", "did you mean 830/mile"),
        ("0/km", "more than 0"),
        ("165/80R15\x1b[31m", "no size"),
    ],
)
def test_misread_tyres(text, words):
    """What is no tyre gets one printable line with the likely slip."""
    with pytest.raises(UserError, match=words) as error:
        parse_tyre(text)
    assert str(error.value).isprintable()
    assert error.value.mend
