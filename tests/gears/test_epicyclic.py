"""Sun, planets and annulus."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cogtally.gears.errors import UserError
from cogtally.gears.trains import MEMBERS, epicyclic

TRAINS = st.builds(
    lambda sun, more, planets: epicyclic(sun, sun + more, planets),
    st.integers(10, 60),
    st.integers(2, 120),
    st.integers(1, 6),
)


@given(TRAINS)
def test_every_way_obeys_willis(train):
    """S·sun + A·annulus = (S + A)·carrier, whichever member is held and whichever drives."""
    for held, driver in train.ratios():
        turns = train.speeds(held, driver)
        left = train.sun * turns["sun"] + train.annulus * turns["annulus"]
        assert left == (train.sun + train.annulus) * turns["carrier"]
        assert turns[held] == 0
        assert turns[driver] == 1


@given(TRAINS)
def test_turning_it_round_inverts_the_ratio(train):
    """Driving the member that was driven gives one over the ratio."""
    for (held, driver), ratio in train.ratios().items():
        (driven,) = set(MEMBERS) - {held, driver}
        assert train.ratio(held, driven) * ratio == 1


@given(TRAINS)
def test_an_overdrive_is_faster_out_than_in(train):
    """With the sun held and the carrier driving, the annulus turns faster, up to twice."""
    assert Fraction(1, 2) < train.overdrive < 1


@given(TRAINS)
def test_six_ratios_hold_their_signs(train):
    """Only with the carrier held does the output run the other way."""
    for (held, _), ratio in train.ratios().items():
        assert (ratio < 0) == (held == "carrier")


def test_planets_that_can_be_put_in():
    """24/84 takes three planets: 108/3 is whole, 60 is even, and they clear each other."""
    assert epicyclic(24, 84, 3).problems() == ()
    assert epicyclic(24, 84).planet == 30


def test_planets_that_do_not_divide():
    """18/82 does not take three evenly spaced planets, since 100/3 is not whole; it takes four."""
    assert "100" in epicyclic(18, 82, 3).problems()[0]
    assert epicyclic(18, 82).possible_planets() == (2, 4)


def test_planets_of_half_a_tooth():
    """An odd difference leaves no whole planet."""
    assert any("odd" in reason for reason in epicyclic(24, 85, 1).problems())


def test_planets_that_touch():
    """Six planets of thirty teeth do not fit round a sun of 24."""
    assert any("touch" in reason for reason in epicyclic(24, 84, 6).problems())


def test_planets_just_clear():
    """Six planets of 20 teeth stand round a sun of 26 as 46·sin 30° = 23 clears 22."""
    assert epicyclic(26, 66, 6).problems() == (
        "66 and 26 add to 92, which 6 does not divide: 6 evenly spaced planets cannot mesh",
    )


@pytest.mark.parametrize(
    ("sun", "annulus", "words"),
    [
        (84, 24, "did you mean 24/84"),
        (24, 24, "more teeth"),
        (0, 84, "outside"),
        (-3, 84, "outside"),
        (24, 999, "outside"),
    ],
)
def test_counts_that_cannot_be(sun, annulus, words):
    """Counts of no sun and annulus get one line with what would be right."""
    with pytest.raises(UserError, match=words) as error:
        epicyclic(sun, annulus)
    assert "\n" not in str(error.value)


def test_no_planets():
    """A train without planets is refused."""
    with pytest.raises(UserError, match="planets"):
        epicyclic(24, 84, 0)


def test_members_are_named():
    """A member that is none, or the same twice, is a mistake of the program."""
    with pytest.raises(ValueError, match="two of"):
        epicyclic(24, 84).ratio("sun", "sun")
    with pytest.raises(ValueError, match="two of"):
        epicyclic(24, 84).ratio("sun", "planet")
