"""What every command that answers has alike: screens kept as files, refusals, the options in help.

The tables stand beside the other tests of each command.
"""

import pytest

from cli import (
    test_gauge,
    test_looks,
    test_picture,
    test_piece,
    test_ratios,
    test_recover,
    test_road,
    test_sheet,
    test_turning,
)
from cogtally.show.screen import CAUTION, DEMO_CAUTION

#: Of each folder of kept screens: how its command lines begin, and its screens by name.
TABLES = {
    "gauge": (("gauge",), test_gauge.SCREENS),
    "looks": (("--demo",), test_looks.SCREENS),
    "piece": (("piece", "--demo"), test_piece.SCREENS),
    "ratios": (("ratios",), test_ratios.SCREENS),
    "recover": (("recover",), test_recover.SCREENS),
    "road": (("road",), test_road.SCREENS),
    "turning": (("turning",), test_turning.SCREENS),
}
SCREENS = {
    f"{place}/{name}": (*words, *begin) if place == "looks" else (*begin, *words)
    for place, (begin, screens) in TABLES.items()
    for name, words in screens.items()
}
#: Of these the words of a screen may come with a note on standard error.
NOTED = ("ratios/", "road/")
PIPED = {
    **{
        name: SCREENS[name]
        for name in (
            *("gauge/not-settled", "piece/miscount", "ratios/behind-the-box"),
            *("recover/two-decimals", "turning/noise"),
        )
    },
    "road/ratios": ("road", *test_road.RATIOS, *test_road.BEHIND, *test_road.ASKED),
}
REFUSED = [
    *((("gauge", *words), says) for words, says in test_gauge.REFUSED.values()),
    *(((*words, "--demo"), says) for words, says in test_looks.REFUSED),
    *(
        (("piece", *words, *(() if "--catalog" in words else ("--demo",))), says)
        for words, says in test_piece.REFUSED
    ),
    *(
        ((*begin, *words), says)
        for begin in test_picture.COMMANDS.values()
        for words, says in test_picture.REFUSED
    ),
    *((("ratios", *words), says) for words, says in test_ratios.REFUSED),
    *((("recover", *words), says) for words, says in test_recover.REFUSED),
    *((("road", *words), says) for words, says in test_road.REFUSED),
    *((("sheet", *words), says) for words, says in test_sheet.REFUSED),
    *((("turning", *words), says) for words, says in test_turning.REFUSED),
]
NOTES = [
    ((command, *words), says)
    for command, notes in (
        ("ratios", test_ratios.NOTES),
        ("recover", test_recover.NOTES),
        ("road", test_road.NOTES),
        ("turning", test_turning.NOTES),
    )
    for words, says in notes
]
OPTIONS = {
    "piece": "COUNT --role --catalog --demo --json",
    "ratios": "SEEN --layout --direct --axle --overdrive --path --json",
    "recover": "RATIO --layout --direct --spread --free-input --reading --drivers --driven --sum "
    "--planets --json",
    "road": "--set --axle --tyre --overdrive --overdriven --rpm --speed --band --units --chart "
    "--catalog --demo --json",
    "turning": "SEEN --layout --direct --path --sliding --noise --json",
}


@pytest.mark.parametrize("columns", [60, 100])
@pytest.mark.parametrize("name", SCREENS)
def test_screen(name, columns, cogtally, snapshot):
    """Each screen is what its kept file shows, nothing is cut, and the caution ends it."""
    ran = cogtally(*SCREENS[name], columns=columns)
    assert ran.code == 0
    assert ran.err == "" or name.startswith(NOTED)
    lines = ran.out.splitlines()
    assert max(map(len, lines)) <= columns
    assert all(line == line.rstrip() for line in lines)
    assert "…" not in ran.out
    said = " ".join(ran.out.split())
    assert said.endswith(CAUTION)
    assert (DEMO_CAUTION in said) == ("--demo" in SCREENS[name])
    assert len(lines) <= test_piece.LINES or not name.startswith("piece/")
    snapshot(f"{name}-{columns}", ran.out)


@pytest.mark.parametrize("name", PIPED)
def test_screen_of_a_pipe(name, cogtally_process, snapshot):
    """Piped, as a process of its own: plain text without colour, art or trailing spaces."""
    ran = cogtally_process(*PIPED[name])
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.replace("°", "").isascii()
    assert not {"\x1b", "|"} & set(ran.out)
    assert all(line == line.rstrip() for line in ran.out.splitlines())
    snapshot(f"{name}-piped", ran.out)


@pytest.mark.parametrize(("words", "says"), REFUSED)
def test_refusal(words, says, cogtally, tmp_path, monkeypatch):
    """What cannot be understood is one plain line, exit code 2, no answer and no file."""
    monkeypatch.chdir(tmp_path)
    ran = cogtally(*words)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.count("\n") == 1
    assert ran.err.startswith("cogtally")
    assert says in ran.err
    assert "\x1b" not in ran.err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("words", "note"), NOTES)
def test_note(words, note, cogtally):
    """What may have been meant otherwise is one note on standard error, with the answer given."""
    ran = cogtally(*words, columns=100)
    said = " ".join(ran.err.split())
    assert (ran.code, said.count("Note: ")) == (0, 1)
    assert note in said
    assert "Note" not in ran.out


@pytest.mark.parametrize("command", OPTIONS)
def test_help_names_every_option(command, cogtally):
    """The help lists all that the command takes."""
    out = cogtally(command, "--help").out
    assert [option for option in OPTIONS[command].split() if option not in out] == []
