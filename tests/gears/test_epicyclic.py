"""Sun, planets and annulus."""

from fractions import Fraction

import pytest
from hypothesis import given, strategies as st

from cogtally.gears.errors import UserError
from cogtally.gears.trains import epicyclic


@given(st.integers(10, 60), st.integers(2, 120))
def test_an_overdrive_obeys_willis(sun, more):
    """S·sun + A·annulus = (S + A)·carrier: the sun held, the annulus is faster, up to twice."""
    train = epicyclic(sun, sun + more)
    assert train.annulus * (1 / train.overdrive) == train.sun + train.annulus
    assert Fraction(1, 2) < train.overdrive < 1


@pytest.mark.parametrize(
    ("sun", "annulus", "planets"),
    [
        # 24/84 takes three: 108/3 is whole, 60 is even, they clear each other; six would touch.
        (24, 84, (2, 3, 4)),
        # 100/3 is not whole.
        (18, 82, (2, 4)),
        # An odd difference leaves no whole planet.
        (24, 85, ()),
        # Six planets of 20 teeth would clear each other, but do not divide 92.
        (26, 66, (2, 4)),
    ],
)
def test_planets_that_can_be_put_in(sun, annulus, planets):
    """Evenly spaced planets are whole, mesh, and clear each other."""
    assert epicyclic(sun, annulus).possible_planets() == planets


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
