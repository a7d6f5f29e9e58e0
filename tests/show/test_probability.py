"""Probabilities in words and per cent."""

import pytest
from hypothesis import given, strategies as st

from cogtally.show.screen import SCALE, in_words, per_cent, said


@pytest.mark.parametrize(
    ("probability", "text"),
    [
        (1.0, "over 99.9 %"),
        (0.9996, "over 99.9 %"),
        (0.9994, "99.9 %"),
        (0.99, "99.0 %"),
        (0.97, "97 %"),
        (0.90, "90 %"),
        (0.8999, "89.9 %"),
        (0.8951, "89.5 %"),
        (0.5, "50 %"),
        (0.0049, "0.5 %"),
        (0.0005, "0.1 %"),
        (0.0004, "under 0.1 %"),
        (0.0, "under 0.1 %"),
    ],
)
def test_per_cent_is_rounded_as_a_person_reads_it(probability, text):
    """Whole per cents in the middle, tenths near the ends, and never 0 or 100 %."""
    assert per_cent(probability) == text


@pytest.mark.parametrize(("least", "word"), SCALE)
def test_each_word_begins_at_its_own_probability(least, word):
    """A word of the scale holds from its probability on, and not just below."""
    assert in_words(least) == word
    assert least == 0 or in_words(least - 1e-12) != word


@given(st.floats(0, 1), st.floats(0, 1))
def test_what_is_sure_is_never_read_as_less_than_090(one, other):
    """No probability below 0.90 reads as 90 %, and none from there on as less."""
    for probability in (one, other):
        text = said(probability)
        assert ("very likely" in text or "certain" in text) == (probability >= 0.90)
        if 0.5 < probability < 0.90:
            assert float(text.split(", ")[1].removesuffix(" %")) < 90
