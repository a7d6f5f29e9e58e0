"""How printed ratios, counts and ranges are read where teeth are sought."""

import pytest
from hypothesis import given, strategies as st

from cogtally.gears.errors import UserError
from cogtally.gears.recover.problem import Span, parse_sought, parse_span, parse_whole, pose
from cogtally.gears.recover.rank import beside
from cogtally.gears.recover.solutions import counts_by_spread


@pytest.mark.parametrize(
    ("words", "gears"),
    [
        (["3.65", "2.25", "1.44"], {"1": "3.65", "2": "2.25", "3": "1.44"}),
        (["3.65", "R=3.84", "2.25"], {"1": "3.65", "R": "3.84", "2": "2.25"}),
        (["2=2.25", "3.65", "1.44"], {"2": "2.25", "1": "3.65", "3": "1.44"}),
        (["1=3,65:1", "2.25:1"], {"1": "3,65:1", "2": "2.25:1"}),
    ],
)
def test_ratios_are_of_their_gears(words, gears):
    """Those without a name are gears 1, 2, 3 in their order; the numbers of named ones are left."""
    found = parse_sought(words).gears
    assert (dict(found), list(found)) == (gears, list(gears))


def test_counts_stand_among_the_ratios():
    """A pair half counted, one wheel, one that was counted twice the same, and an unsure one."""
    found = parse_sought(["3.65", "1=14/_", "input.driver=17u", "input.driver=17", "2=_/26u"])
    assert found.gears == {"1": "3.65"}
    assert found.counted == {"1.driver": 14, "input.driver": 17, "2.driven": 26}
    assert found.unsure == ("2.driven",)


@pytest.mark.parametrize(
    ("word", "says"),
    [
        ("abc", "abc: this is not a number"),
        ("2=x", "2=x: this is not a number; write 2=3.65"),
        ("2=", "2=: an empty ratio"),
        ("=3", "=3: at character 1"),
        ("2=-3", "2=-3: a ratio cannot be negative"),
        ("a b=3.65", "a b: at character 2"),
        ("1@4:1.1", "a turn test is no printed ratio"),
        ("1.driver=15", "1.driver was counted 14 and 15"),
        ("1.drivn=15", "no wheel of a pair is called that"),
        ("1=2.2", "gear 1 has two ratios"),
    ],
)
def test_what_is_neither_a_ratio_nor_a_count(word, says):
    """A word that cannot be read, or says another thing than an earlier one, is refused."""
    with pytest.raises(UserError) as caught:
        parse_sought(["1=3.65", "1=14/_", word])
    assert says in str(caught.value)


@given(st.text(max_size=12))
def test_no_word_makes_the_reader_fall(word):
    """Whatever is typed, it is read or refused as a user's error."""
    try:
        found = parse_sought([word])
    except UserError:
        return
    assert found.gears or found.counted or "_" in word


@given(st.integers(0, 300), st.integers(0, 300))
def test_a_range_is_read_as_written(low, high):
    """Two numbers are its ends, in that order; one number is both."""
    assert parse_span(f"{low}-{high}", "--drivers") == Span(low, high)
    assert parse_span(str(low), "--sum") == Span(low, low)


@pytest.mark.parametrize(
    "text", ["", "-", "11-", "-40", "11-40-50", "11–40", "1e3", "١١-٤٠", "9" * 99]
)
def test_what_is_no_range(text):
    """Anything but one or two whole numbers is refused, with its option."""
    with pytest.raises(UserError, match="--drivers"):
        parse_span(text, "--drivers")


def test_what_is_no_whole_number():
    """A number given to an option is whole and plain."""
    assert parse_whole("2", "--spread", 2) == 2
    for text in ("", "two", "1.5", "-1", "9" * 5000):
        with pytest.raises(UserError, match="--spread"):
            parse_whole(text, "--spread", 2)


def test_beside_is_the_same_problem_with_the_input_pair_the_other_way():
    """Its counts are those that asking for it gives; both ways round; none without input pair."""
    ratios = {"1": "3.65", "2": "2.25", "3": "1.44"}
    tied, free = pose(ratios), pose(ratios, free_input=True)
    for asked, other in ((tied, free), (free, tied)):
        found = beside(asked)
        assert found.free is other.free_input
        assert found.counts == counts_by_spread(other)
        assert found.chance is not None
    assert beside(pose(ratios, layout="two-shaft")) is None
