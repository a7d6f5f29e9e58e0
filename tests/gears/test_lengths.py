"""How a measurement is written, by example and by law."""

from contextlib import suppress
from fractions import Fraction

import pytest
from hypothesis import given, strategies as st

from cogtally.gears.callipers.words import (
    Length,
    parse_angle,
    parse_length,
    parse_signed,
    parse_span,
    parse_teeth,
    parse_teeth_range,
    unit_of,
)
from cogtally.gears.errors import UserError


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("94.2", "94.2", None),
        ("94.2mm", "94.2", "mm"),
        ("94.2 mm", "94.2", "mm"),
        ("94.", "94", None),
        (".5in", "0.5", "in"),
        ("3.25in", "3.25", "in"),
        ("3.25IN", "3.25", "in"),
        ('3.25"', "3.25", "in"),
        ("3+1/4in", "3.25", "in"),
        ("3 1/4 in", "3.25", "in"),
        ("13/16in", "13/16", "in"),
    ],
)
def test_a_length_is_read_exactly(text, value, unit):
    """Decimals, fractions, whole numbers with a fraction, with or without a unit, are exact."""
    assert parse_length(text) == Length(Fraction(value), unit)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("-81.3", "did you mean 81.3?"),
        ("81,3", "did you mean 81.3?"),
        ("8.13cm", "did you mean 81.3mm?"),
        ("0", "leave out what was not measured"),
        ("0.00in", "leave out what was not measured"),
        ("nan", "a length was expected"),
        ("inf", "a length was expected"),
        ("1e5", "a unit is mm or in"),
        ("", "the word ends"),
        ("81.3x", "a unit is mm or in"),
        ("81.3mm2", "nothing more was expected"),
        ("3+1/0in", "nothing can be divided by 0"),
        ("3+1in", "'/' of a fraction was expected"),
        ("3/in", "the lower half of a fraction"),
        ("1.5+1/4", "nothing more was expected"),
        ("9" * 40, "too long"),
        ("٣", "a length was expected"),
    ],
)
def test_what_is_no_length_is_refused(text, said):
    """What is no length gets one line that names the option, the text and the slip."""
    with pytest.raises(UserError) as raised:
        parse_length(text, "--outside")
    assert said in str(raised.value)
    assert str(raised.value).startswith("--outside")
    assert "\n" not in str(raised.value)


@given(st.integers(1, 999), st.integers(0, 127), st.sampled_from([2, 4, 8, 16, 32, 64, 128]))
def test_inches_and_a_fraction_are_exact(whole, above, below):
    """W+a/b is W + a/b for any of them, and 25.4 times as much in mm."""
    length = parse_length(f"{whole}+{above}/{below}in")
    assert length.value == whole + Fraction(above, below)
    assert length.within("mm") == float(length.value * Fraction("25.4"))
    assert length.within("in") == float(length.value)


@given(st.decimals("0.001", "9999", places=3, allow_nan=False, allow_infinity=False))
def test_a_unit_that_is_not_written_is_the_one_asked_for(value):
    """A bare number is in whatever unit is asked for; one with a unit never changes its length."""
    bare, millimetres = parse_length(f"{value}"), parse_length(f"{value}mm")
    assert bare.within("in") == bare.within("mm") == float(value)
    assert millimetres.within("in") * 25.4 == pytest.approx(millimetres.within("mm"))


@given(st.text(max_size=12))
def test_any_text_is_read_or_refused(text):
    """Whatever is typed is a length above 0 or a UserError, nothing else."""
    with suppress(UserError):
        assert parse_length(text).value > 0


def test_the_unit_of_several_lengths():
    """Inches only where every length is written in inches and nothing else was asked for."""
    inch, bare = Length(Fraction(3), "in"), Length(Fraction(3))
    assert unit_of(None, [inch, inch]) == "in"
    assert unit_of(None, [inch, bare]) == "mm"
    assert unit_of(None, []) == "mm"
    assert unit_of("in", [bare]) == "in"


def test_a_span():
    """A span is how many teeth, a colon and a length in any form."""
    assert parse_span("4:32.83") == (4, Length(Fraction("32.83")))
    assert parse_span("3:1+1/4in") == (3, Length(Fraction(5, 4), "in"))


@pytest.mark.parametrize(
    ("text", "angle"), [("22", 22), ("22.5", 22.5), ("22+1/2", 22.5), ("22°", 22), ("0", 0)]
)
def test_an_angle(text, angle):
    """An angle is a number of degrees; 0 is one."""
    assert parse_angle(text) == angle


@pytest.mark.parametrize(("text", "shift"), [("0.2", 0.2), ("-0.15", -0.15), ("+1/4", 0.25)])
def test_a_shift_may_be_negative(text, shift):
    """A shift has a sign."""
    assert parse_signed(text) == shift


def test_a_list_of_teeth():
    """Ranges and single counts are put together, each count once."""
    assert parse_teeth_range("24") == (24,)
    assert parse_teeth_range("18-20,24,19") == (18, 19, 20, 24)


@pytest.mark.parametrize(
    ("read", "text", "said"),
    [
        *(
            (parse_span, text, "--teeth")
            for text in ("32.83", "4", "4:", ":32", "0:32", "4:0", "4:nan", "4:-3", "x:3")
        ),
        (parse_angle, "-22", "without its hand"),
        (parse_teeth, "24.5", "whole number"),
        (parse_teeth, "18-24", "a range goes with --standard"),
        (parse_teeth, "", "a count of teeth was expected"),
        (parse_teeth_range, "24-18", "did you mean 18-24?"),
        (parse_teeth_range, "1-999999999", "more than 200 rows"),
        (parse_teeth_range, "18,", "a count of teeth was expected"),
        (parse_teeth_range, "18;24", "nothing more was expected"),
    ],
)
def test_what_is_none_of_these_is_refused(read, text, said):
    """A span has teeth and a length, an angle no hand; counts are whole, a range runs upwards."""
    with pytest.raises(UserError) as raised:
        read(text, "--teeth")
    assert said in str(raised.value)
