"""Engine speed and road speed."""

from fractions import Fraction

import pytest
from hypothesis import given, strategies as st

from cogtally.gears.errors import UserError
from cogtally.gears.road.speed import (
    Drive,
    Tyre,
    bands,
    changes,
    drive,
    engine_speed,
    highest_gear,
    road_speed,
    with_overdrive,
)

ONE_METRE_AND_A_HALF = Tyre("1500mm", 1500)
RATIOS = {
    "R": Fraction(4),
    "4": Fraction(1),
    "1": Fraction(31, 9),
    "2": Fraction(2),
    "3": Fraction(4, 3),
}


def car(final: Fraction = Fraction(4)) -> Drive:
    return drive(RATIOS.items(), final, ONE_METRE_AND_A_HALF)


def test_speed_by_hand():
    """4000 turns, 4:1, 1.5 m a turn: 1000 turns a minute, 1500 m, 90 km an hour."""
    assert road_speed(4000, Fraction(4), ONE_METRE_AND_A_HALF) == pytest.approx(90)


def test_changes_up():
    """Each change keeps road speed: 3 to 4 at 4000 leaves three quarters, exactly."""
    found = changes(car(), 4000)
    assert [(c.lower, c.upper) for c in found] == [("1", "2"), ("2", "3"), ("3", "4")]
    assert found[2].keeps == Fraction(3, 4)
    assert found[2].after == pytest.approx(3000)
    assert found[2].drop == pytest.approx(1000)


@given(st.floats(1000, 7000))
def test_drops_multiply(rpm):
    """What all changes keep, multiplied, is top over bottom; none depends on engine speed."""
    kept = Fraction(1)
    for change in changes(car(), rpm):
        kept *= change.keeps
    assert kept == Fraction(9, 31)


def test_bands_overlap_or_leave_a_gap():
    """Between 2000 and 4000 all gears overlap; from 3000 to 4000 the wide step leaves a gap."""
    wide = bands(car(), 2000, 4000)
    assert wide[3].slowest == pytest.approx(45)
    assert wide[3].fastest == pytest.approx(90)
    assert wide[3].overlap is None
    assert all(band.overlap > 0 for band in wide[:3] if band.overlap is not None)
    narrow = bands(car(), 3000, 4000)
    assert narrow[0].overlap < 0


@given(st.floats(5, 160), st.floats(1000, 3000), st.floats(100, 3000))
def test_the_highest_gear_that_holds(speed, low, width):
    """The gear named holds the band, and no higher one does; none is named only where none does."""
    found = highest_gear(car(), speed, low, low + width)
    holding = [gear for gear, rpm in found.rpm if low <= rpm <= low + width]
    assert found.gear == (max(holding) if holding else None)


def test_a_band_holds_at_its_ends():
    """At exactly the lower end of the band the gear still holds."""
    exact = engine_speed(45, Fraction(4), ONE_METRE_AND_A_HALF)
    assert highest_gear(car(), 45, exact, 4000).gear == "4"
    assert highest_gear(car(), 44, exact, 4000).gear == "3"
    assert highest_gear(car(), 500, 1000, 2000).gear is None


def test_an_overdrive_makes_gears_of_its_own():
    """Overdriven gears stand among the others by their ratios."""
    both = with_overdrive(car(), Fraction(7, 9), ["3", "4"])
    assert [gear for gear, _ in both.forward] == ["1", "2", "3", "3+od", "4", "4+od"]
    assert dict(both.forward)["4+od"] == Fraction(28, 9)


def refused(call: object, *arguments: object) -> str:
    with pytest.raises(UserError) as error:
        call(*arguments)
    assert error.value.mend
    assert "\n" not in str(error.value)
    return str(error.value)


@pytest.mark.parametrize("value", [0.0, -1.0, float("nan"), float("inf"), 1e9])
def test_no_speed(value):
    """What is no engine or road speed is refused everywhere."""
    tyre = ONE_METRE_AND_A_HALF
    refused(road_speed, value, Fraction(4), tyre)
    refused(engine_speed, value, Fraction(4), tyre)
    refused(changes, car(), value)
    refused(bands, car(), value, 4000)
    refused(highest_gear, car(), value, 1000, 2000)


def test_misread_drives():
    """Bands the wrong way round, ratios that cannot be: one line, and the slip."""
    assert "did you mean 2000-4000" in refused(bands, car(), 4000, 2000)
    assert "other way round" in refused(
        drive, [("1", Fraction(9, 310))], Fraction(4), ONE_METRE_AND_A_HALF
    )
