"""Pitches and racks, and how they are written."""

from fractions import Fraction

import pytest

from cogtally.gears.callipers.standards import (
    ANGLES,
    MODULES_I,
    MODULES_II,
    STUBS,
    diametral,
    find_standard,
    heights,
    module,
    pitches,
    standards,
    stub_of_two,
)
from cogtally.gears.errors import UserError


def test_pitches_are_exact():
    """A diametral pitch is a module of 25.4/DP exactly, and pitches stand finest first."""
    assert diametral("10").module == Fraction(127, 50)
    assert module("2.25").module == Fraction(9, 4)
    sizes = [pitch.module for pitch in pitches()]
    assert sizes == sorted(sizes)


def test_no_standard_stands_twice():
    """No two standards are the same, in name or in shape."""
    assert len({s.name for s in standards()}) == len(standards())
    shapes = {(s.pitch.module, s.angle_deg, s.addendum) for s in standards()}
    assert len(shapes) == len(standards())


def test_every_pitch_has_every_angle_and_height():
    """Each pitch is looked for at the five angles, full and stub."""
    for pitch in pitches():
        for angle in (20, 14.5, 17.5, 22.5, 25):
            found = [s for s in standards() if s.pitch == pitch and s.angle_deg == angle]
            assert {s.is_stub for s in found} == {True, False}


def test_stub_teeth_of_two_pitches():
    """6/8 teeth are 6/8 of a module high; 8/10 stand for the plain stub of 8 DP."""
    assert stub_of_two(6, 8).addendum == Fraction(3, 4)
    assert [s.tooth for s in heights(diametral("6"), ANGLES[0])] == ["full", "stub", "6/8"]
    assert [s.tooth for s in heights(diametral("8"), ANGLES[0])] == ["full", "8/10"]
    assert [s.tooth for s in heights(module("2.5"), ANGLES[0])] == ["full", "stub"]
    for wide, high in STUBS:
        assert any(s.tooth == f"{wide}/{high}" for s in standards())


@pytest.mark.parametrize(
    ("pitch", "angle", "tooth", "name"),
    [
        ("2.5", "20", "full", "module 2.5, 20°, full teeth"),
        ("m2,5", "14.5", "stub", "module 2.5, 14.5°, stub teeth"),
        ("10dp", "14.5°", "full", "10 DP, 14.5°, full teeth"),
        ("5.5 DP", "20", "full", "5.5 DP, 20°, full teeth"),
        ("module 2.5", "20", "full", "module 2.5, 20°, full teeth"),
        ("6/8dp", "20", "full", "6/8 DP, 20°, stub teeth"),
        ("2.1", "20", "full", "module 2.1, 20°, full teeth"),
    ],
)
def test_written_standards(pitch, angle, tooth, name):
    """A standard is read as people write it, in or out of any series."""
    assert find_standard(pitch, angle, tooth).name == name


@pytest.mark.parametrize("text", [*MODULES_I, *MODULES_II])
def test_series_are_found(text):
    """A written module of a series is the pitch of that series, with its row."""
    assert find_standard(text).pitch in pitches()


@pytest.mark.parametrize(
    ("pitch", "angle", "tooth", "words"),
    [
        ("", "20", "full", "pitch was expected"),
        ("abc", "20", "full", "pitch was expected"),
        ("-2", "20", "full", "pitch was expected"),
        ("0", "20", "full", "0.1 to 200"),
        ("1e3", "20", "full", "pitch was expected"),
        ("٢", "20", "full", "pitch was expected"),
        ("nan", "20", "full", "pitch was expected"),
        ("2.5", "200", "full", "10 to 35"),
        ("2.5", "x", "full", "pressure angle was expected"),
        ("2.5", "20", "half", "full or stub"),
        ("8/6dp", "20", "full", "finer"),
        ("6/", "20", "full", "a/b"),
    ],
)
def test_misread_standards(pitch, angle, tooth, words):
    """What is no standard gets one line with what would be right."""
    with pytest.raises(UserError, match=words) as error:
        find_standard(pitch, angle, tooth)
    assert error.value.mend
