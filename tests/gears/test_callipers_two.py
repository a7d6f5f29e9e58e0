"""Whether two gauged wheels can run together, and how they are written."""

import pytest

from cogtally.gears.callipers.standards import find_standard
from cogtally.gears.callipers.two import Together, expected_of, parse_pair, together
from cogtally.gears.callipers.wheel import wheel
from cogtally.gears.callipers.words import Taken, parse_wheel
from cogtally.gears.errors import UserError

#: Module 3, 20°, 24 teeth with shift 0.4 and 31 with none, as callipers read them.
PINION = "teeth=24,outside=80.41,span=3:23.94,span=4:32.82,helix=0"
WHEEL = "teeth=31,outside=99,jaws=true,span=4:32.3,span=5:41.15,helix=0"


def meet(first: str, second: str, centres: str) -> Together:
    return together(parse_pair([first, second], Taken()), centres)


@pytest.mark.parametrize(
    ("centres", "verdict", "sign"),
    [("83.75", "yes", 1), ("83.4", "no", -1), ("83.645", "open", None)],
)
def test_measured_wheels(centres, verdict, sign):
    """Measured wheels run where the centres leave backlash; finer than callipers it is open."""
    found = meet(PINION, WHEEL, centres)
    first = found.meetings[0]
    assert found.verdict == verdict
    assert sign in (None, first.mesh.backlash_sign)
    assert first.first.gear.standard == first.second.gear.standard == find_standard("3")
    assert first.mesh.shifts == pytest.approx(0.4, abs=0.02)


def test_shares_add_up():
    """Shares of all meetings, and of what they come to, add up to one, and fall."""
    found = meet("teeth=24,outside=80.41,helix=0", "teeth=31,standard=3", "83.75")
    shares = [meeting.share for meeting in found.meetings]
    assert len(shares) > 3
    assert sum(shares) == pytest.approx(1)
    assert shares == sorted(shares, reverse=True)
    assert sum(found.share(runs) for runs in (True, False, None)) == pytest.approx(1)


def test_much_backlash_is_said():
    """A millimetre too far apart two wheels still turn, with more backlash than wheels have."""
    near, far = (
        meet("teeth=24,standard=3", "teeth=31,standard=3", at).meetings[0]
        for at in ("82.6", "83.5")
    )
    assert (near.runs, near.is_slack) == (True, False)
    assert (far.runs, far.is_slack) == (True, True)


def test_hands_must_oppose():
    """Two left hands cannot run on parallel shafts, left and right can."""
    left = "teeth=24,standard=3,helix=20,hand=left"
    assert meet(left, "teeth=31,standard=3,helix=20,hand=left", "90").verdict == "no"
    assert meet(left, "teeth=31,standard=3,helix=20,hand=right", "88").verdict == "yes"


def test_helices_known_to_a_degree_are_not_called_different():
    """Helices 0.7 degrees apart, one of them measured to a degree, leave the question open."""
    known = "teeth=24,standard=2.5,helix=22.7,hand=left"
    measured = "teeth=31,outside=88.09,jaws=true,helix=22,hand=right"
    assert meet(known, measured, "75").verdict == "open"
    far = "teeth=24,standard=2.5,helix=28,hand=left"
    assert meet(far, measured, "75").verdict == "no"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("teeth=24,x=3", "nothing of that name"),
        ("teeth=24,teeth=25", "teeth is there twice"),
        ("teeth=24,outside", "a name, '=' and a value"),
        ("outside=80", "its teeth are missing"),
        ("teeth=24,standard=3,outside=80", "do not go together"),
        ("teeth=24,shift=0.2", "shift goes with a standard"),
        ("teeth=24,standard=3,hand=up", "left or right"),
        ("", "a name, '=' and a value"),
    ],
)
def test_what_is_no_wheel_is_refused(text, said):
    """A wheel of two is written with the options' names, each once."""
    with pytest.raises(UserError) as raised:
        parse_wheel(text, "--pair 2")
    assert said in str(raised.value)
    assert str(raised.value).startswith("--pair 2")


def test_a_measured_wheel_says_its_helix():
    """A wheel that is to run says whether its teeth are straight."""
    with pytest.raises(UserError, match="helix=0"):
        meet("teeth=24,outside=80", "teeth=31,standard=3", "83.6")


def test_expected_of_a_standard_by_its_words():
    """Words give the same table as numbers; a diametral pitch is shown in inches."""
    rows, unit, width = expected_of(Taken(standard="8dp", teeth="24,30", helix="20", width="1in"))
    assert rows == tuple(wheel(find_standard("8dp"), z, 20) for z in (24, 30))
    assert (unit, width) == ("in", 25.4)
