"""The train in plain characters: every layout kept as a plain file, and only on a terminal."""

import pytest

from cli.terminal import Terminal
from cogtally.evidence.laws import likeliest_teeth
from cogtally.gears.notation import FEWEST_TEETH, MOST_TEETH, parse_seen
from cogtally.gears.ratios import RatioTable, ratio_table
from cogtally.show.train import table_lines

FOUR = ("input=17/28", "1=14/31", "2=19/26", "3=24/21", "R=12/20/28")
#: A train by name: what was counted, its layout, its direct gear.
TRAINS: dict[str, tuple[tuple[str, ...], str | None, str | None]] = {
    "layshaft": (FOUR, None, "4"),
    "not-counted": (("input=17/28", "1=14/_", "2=_/26"), None, None),
    "two-shaft": (("1=12/41", "2=18/35", "R=12/20/36", "final=17/71"), "two-shaft", None),
    "sleeve": (("1=20/24", "2=25/20", "output=18/30"), "sleeve", "3"),
    "axle": (("final=9/41",), "axle", None),
}


def table(name: str) -> RatioTable:
    words, layout, direct = TRAINS[name]
    every = range(FEWEST_TEETH, MOST_TEETH + 1)
    return ratio_table(
        parse_seen(words), lambda c: likeliest_teeth(c, every), layout=layout, direct=direct
    )


@pytest.mark.parametrize("name", list(TRAINS))
def test_picture(name, snapshot):
    """Each picture is what its kept file shows, and no wider than the narrowest screen."""
    lines = table_lines(table(name), 60)
    assert lines
    assert max(map(len, lines)) <= 60
    snapshot(f"train-text/{name}", "\n".join(lines) + "\n")


def test_no_room_is_said():
    """A train too wide for the screen is drawn narrower; one too wide even so is told in a row."""
    narrow = table_lines(table("layshaft"), 40)
    assert max(map(len, narrow)) <= 40
    assert any("to fit 40 columns" in line for line in narrow)
    row = table_lines(table("layshaft"), 30)
    assert " ".join(row[:2]).startswith("The train is too wide to draw in 30 columns")
    for pair in table("layshaft").pairs:
        assert any(all(f"-{w.teeth}-" in line for w in pair.wheels) for line in row)


def test_no_gear_no_picture():
    """Pairs that are no gear make no picture, and no error."""
    every = range(FEWEST_TEETH, MOST_TEETH + 1)
    seen = parse_seen(["input=17/28"])
    assert table_lines(ratio_table(seen, lambda c: likeliest_teeth(c, every)), 60) == []


@pytest.mark.parametrize("command", ["ratios", "turning"])
def test_only_on_a_terminal(command, cogtally_process):
    """A terminal shows the picture, a pipe does not."""
    assert "in mesh" not in cogtally_process(command, *FOUR).out
    terminal = Terminal(command, *FOUR, columns=60, env={})
    terminal.wait_for("fixed on its shaft")
    terminal.close()


def test_an_answer_shows_it_where_there_is_room():
    """On a high terminal `identify` ends with the train, what disagrees marked in it."""
    words = ("identify", "--demo", "input=17/28", "1=14/31", "2=19/26", "3=24/22x2")
    terminal = Terminal(*words, columns=80, rows=60, env={})
    terminal.wait_for("-22-!")
    terminal.wait_for("-22-! does not agree, -?- not counted")
    terminal.close()
