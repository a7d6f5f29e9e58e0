"""The saw of engine speed over road speed, and engine speeds at a road speed."""

import itertools
from fractions import Fraction

import pytest

from cogtally.gears.road.speed import Drive, Tyre, drive, saw_tooth


def car() -> Drive:
    ratios = {"R": Fraction(4), "1": Fraction(31, 9), "2": Fraction(2), "3": Fraction(4, 3)}
    return drive([*ratios.items(), ("4", Fraction(1))], Fraction(4), Tyre("", 1500))


def test_the_saw():
    """From rest each gear climbs to the change, and falls to what the change keeps."""
    found = saw_tooth(car(), 4000)
    assert [tooth.gear for tooth in found] == ["1", "2", "3", "4"]
    assert (found[0].from_speed, found[0].from_rpm) == (0, 0)
    assert found[3].from_rpm == pytest.approx(3000)
    assert found[3].to_speed == pytest.approx(90)
    for before, after in itertools.pairwise(found):
        assert before.to_speed == after.from_speed
        assert after.to_rpm == 4000
