"""Marks, features and an overdrive's turns in `cogtally session`."""

import io
import json
import shlex
import sys
from collections.abc import Callable

import pytest

from conftest import Ran

#: Of the demo's willow-4: three sets have these teeth.
TWINS = "input=19/29 1=15/33 2=20/28 3=25/23"
OVERDRIVE = """
[family]
id = "linnet-od"
layout = "overdrive"

[[set]]
id = "early"
source = "counted on the bench"
pairs = { OD = "21/75" }
"""


@pytest.fixture
def script(cogtally, folder, monkeypatch) -> Callable[..., Ran]:
    """Run a session in this process, each line an entry, then the end of input."""

    def run(*lines: str, words: tuple[str, ...] = ("--demo",), columns: int = 100) -> Ran:
        monkeypatch.setattr(sys, "stdin", io.StringIO("".join(f"{line}\n" for line in lines)))
        return cogtally("session", *words, columns=columns)

    return run


def test_twins_in_teeth_are_told_by_the_look_that_is_asked_for(script):
    """Where no count parts what is left, the look worth most is asked for, and names the box."""
    ran = script(TWINS, "W 1?4")
    assert "Look at the mark of the willow-4 input-shaft (W 114: ten-spline; W 121:" in ran.err
    assert "input-shaft.mark> " in ran.err
    assert "mark input-shaft:W 1?4: willow-4/ten-spline, " in ran.out
    assert "Settled: this answer has reached 90 %." in ran.err


def test_a_look_left_out_gives_way_to_the_next(script):
    """A mark that cannot be seen is not asked for again; the feature next to it is."""
    ran = script(TWINS, "skip", "23")
    assert "input-shaft.splines> " in ran.err
    assert "feature input-shaft.splines=23: willow-4/twenty-three-spline, " in ran.out


def test_it_ends_in_the_answer_of_identify(script, cogtally):
    """The one-line command at the end has marks and features, quoted, and gives the same answer."""
    ran = script("R.driver=13", "mark cluster: W*", "feature 3.driver.hand=left", "quit")
    line = next(line for line in ran.out.splitlines() if line.startswith("cogtally identify"))
    assert line.endswith("R.driver=13 --mark 'laygear:W*' --feature 3.driver.hand=left")
    answer = cogtally(*shlex.split(line)[1:], columns=100).out
    assert answer.strip()
    assert answer in ran.out


def test_a_mark_is_on_the_piece_that_is_asked_for(script):
    """Without the name of a piece a mark is on that of the wheel asked for."""
    ran = script("3.driver", "mark LG 3?02")
    assert "mark laygear:LG 3?02: alder-4/wide, " in " ".join(ran.out.split())


def test_looks_are_taken_up_again_and_taken_back(script):
    """A resumed session has its marks and features; back takes the last of them out."""
    script("mark laygear: LG*", "feature laygear.splines=99")
    ran = script("back", words=("--resume",))
    assert "Seen so far: mark laygear:LG*; feature laygear.splines=99" in ran.err
    assert "Taken back: feature laygear.splines=99. Now " in ran.out
    assert ran.out.rstrip().endswith("cogtally identify --demo --mark 'laygear:LG*'")


def test_the_list_has_looks(script, cogtally):
    """The list counts marks and features as seen; as JSON it has them as typed."""
    script("R.driver=13", "mark laygear: LG*", "feature laygear.splines=10", "quit")
    assert "3 seen; quick; demo" in cogtally("session", "--list").out
    (listed,) = json.loads(cogtally("session", "--list", "--json").out)["sessions"]
    assert (listed["marks"], listed["features"]) == (["laygear:LG*"], ["laygear.splines=10"])


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("mark laygaer: LG", "mark laygaer: LG: no family of the catalog has a piece 'laygaer'"),
        ("feature 9.driver.hand=left", "feature 9.driver.hand=left: no family of the catalog has"),
        ("feature laygear.spline=1", "there is no feature 'spline'; did you mean splines?"),
        ("mark", "mark: the mark has no letter or digit"),
    ],
)
def test_a_look_at_what_is_not_there_is_one_line(script, folder, line, said):
    """What no family has costs one line and is not kept."""
    ran = script(line)
    assert said in ran.err
    assert ran.code == 0
    assert not folder.exists()


def test_a_turn_test_of_an_overdrive_is_refused(script, tmp_path):
    """A session takes no turn test of an overdrive, says what to do, and goes on."""
    path = tmp_path / "od.toml"
    path.write_text(OVERDRIVE, encoding="utf-8")
    ran = script("OD@4:1.1", "OD=21/75", words=("--catalog", str(path)))
    assert "a turn test of an overdrive is not weighed; count sun and annulus" in ran.err
    assert ran.out.startswith("OD=21/75: linnet-od/early, ")


def test_a_session_with_looks_at_60_columns(script, snapshot):
    """Questions, moves and help about marks read well at 60 columns."""
    ran = script("?", TWINS, "how", "skip", "how", "back", "W 1?4", columns=60)
    assert max(map(len, ran.err.splitlines())) <= 60
    shown, _, _ = ran.err.partition("The session is kept")
    snapshot("session/looks-60", shown)
