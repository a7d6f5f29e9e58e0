from fractions import Fraction

import pytest
from hypothesis import given, strategies as st

from cogtally.gears.errors import UserError
from cogtally.gears.printed import READINGS, exactly, interval, parse_ratio

F = Fraction


@pytest.mark.parametrize(
    ("text", "units", "decimals"),
    [
        ("3.90", 390, 2),
        ("3.9", 39, 1),
        ("4", 4, 0),
        ("3,65", 365, 2),
        ("3.65:1", 365, 2),
        (" 3,65 : 1 ", 365, 2),
        (".70", 70, 2),
        ("0.7", 7, 1),
        ("50", 50, 0),
        ("03.650000", 3650000, 6),
    ],
)
def test_digits_count_as_written(text, units, decimals):
    """A ratio is its digits: units of the last place, and as many decimals as were written."""
    printed = parse_ratio(text)
    assert (printed.units, printed.decimals) == (units, decimals)
    assert printed.value == F(units, 10**decimals)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "an empty ratio was read"),
        (" :1", "an empty ratio was read"),
        ("three", "this is not a number"),
        ("nan", "this is not a number"),
        ("3.6.5", "this is not a number"),
        ("3.", "this is not a number"),
        ("18/30", "this is not a number"),
        ("1:3.65", "this is not a number"),
        ("3_6", "this is not a number"),
        ("+3.65", "this is not a number"),
        ("3.65:1.0", "this is not a number"),
        ("3.6\x1b[31m", "this is not a number"),
        ("0", "a ratio cannot be zero"),
        ("0.00", "a ratio cannot be zero"),
        ("-3.65", "a ratio cannot be negative"),
        ("−3.65", "a ratio cannot be negative"),
        ("inf", "a ratio cannot be infinite"),
        ("-Infinity", "a ratio cannot be infinite"),
        ("∞", "a ratio cannot be infinite"),
        ("3.65e0", "a ratio has no exponent"),
        ("1E3", "a ratio has no exponent"),
        ("3.6500000", "a ratio has at most 6 decimals"),
        ("365", "a ratio is at most 50"),
        ("50.01", "a ratio is at most 50"),
        ("9" * 5000, "a ratio is at most 50"),
        ("٣.٦٥", "the digits are of another script"),
        ("３.65", "the digits are of another script"),
        ("3.6²", "the digits are of another script"),
    ],
)
def test_what_is_no_ratio_is_refused_in_one_line(text, sentence):
    """What cannot be a printed ratio is refused with its own sentence, in one printable line."""
    with pytest.raises(UserError) as refused:
        parse_ratio(text)
    assert refused.value.sentence == sentence
    assert refused.value.mend
    assert str(refused.value).isprintable()
    assert len(str(refused.value)) < 160


@pytest.mark.parametrize(
    ("reading", "low", "high", "low_in", "high_in"),
    [
        ("rounded", F("3.895"), F("3.905"), True, True),
        ("cut", F("3.90"), F("3.91"), True, False),
        ("either", F("3.895"), F("3.91"), True, False),
        ("misprint", F("3.885"), F("3.915"), True, True),
    ],
)
def test_a_reading_has_its_ends(reading, low, high, low_in, high_in):
    """Each reading of 3.90 ends where its words say, with the ends in or out."""
    within = interval(parse_ratio("3.90"), reading)
    tiny = F(1, 10**12)
    assert (low in within) is low_in
    assert (high in within) is high_in
    assert low - tiny not in within
    assert high + tiny not in within
    assert low + tiny in within
    assert high - tiny in within


def test_an_interval_never_goes_below_zero():
    """The lower end of a misprinted 0.1 is 0, since no ratio is less."""
    assert interval(parse_ratio("0.1"), "misprint").low == 0


def test_an_unknown_reading_names_the_known_ones():
    """A misspelt reading is refused with the list of readings."""
    with pytest.raises(UserError, match="rounded, cut, either, misprint"):
        interval(parse_ratio("3.9"), "round")


@given(st.integers(1, 10**6), st.integers(0, 6))
def test_every_reading_holds_the_digits_themselves(units, decimals):
    """Whatever the reading, a ratio equal to the printed number is possible."""
    text = f"{units // 10**decimals}.{units % 10**decimals:0{decimals}d}".rstrip(".")
    if decimals == 0:
        text = str(units)
    if F(units, 10**decimals) > 50:
        return
    printed = parse_ratio(text)
    assert all(printed.value in interval(printed, reading) for reading in READINGS)


@given(st.fractions(F(1, 10), F(40), max_denominator=500), st.integers(0, 4))
def test_a_ratio_is_in_the_interval_of_what_it_prints_as(ratio, decimals):
    """Rounding a ratio or cutting it off gives digits whose interval holds the ratio."""
    scale = 10**decimals
    for reading, units in (("rounded", round(ratio * scale)), ("cut", ratio * scale // 1)):
        if not units:
            continue
        whole, rest = divmod(int(units), scale)
        text = f"{whole}.{rest:0{decimals}d}" if decimals else str(whole)
        assert ratio in interval(parse_ratio(text), reading)
        assert ratio in interval(parse_ratio(text), "either")


def test_a_shifted_ratio_keeps_its_decimals():
    """Five units on from 3.98 is 4.03, and one on from 0.09 is 0.10."""
    assert parse_ratio("3.98").shifted(5) == parse_ratio("4.03")
    assert parse_ratio("0.09").shifted(1) == parse_ratio("0.10")
    assert parse_ratio("4").shifted(-1) == parse_ratio("3")


def test_an_exact_interval_holds_one_ratio():
    """The interval of exactly 62/17 holds that ratio and not its neighbours."""
    assert F(62, 17) in exactly(F(62, 17))
    assert F(3647, 1000) not in exactly(F(62, 17))
