"""`cogtally gauge` as a person runs it: screens, JSON, the question, and refusals."""

import json

import pytest

HELICAL = ("--teeth", "24", "--outside", "70.71", "--span", "4:27.22", "--span", "5:34.60")
PLAIN = ("--teeth", "24", "--outside", "80.40", "--span", "4:32.83", "--span", "5:41.70")
PINION = "teeth=24,outside=80.41,span=3:23.94,span=4:32.82,helix=0"
WHEEL = "teeth=31,outside=99,jaws=true,span=4:32.3,span=5:41.15,helix=0"


def pair(first: str, second: str, centres: str) -> tuple[str, ...]:
    return ("--pair", first, "--pair", second, "--centres", centres)


SCREENS = {
    "named": (*PLAIN, "--helix", "0"),
    "one-outweighs": PLAIN,
    "helical": (*HELICAL, "--helix", "22", "--width", "16", "--centres", "75", "--mate", "31"),
    "not-settled": ("--teeth", "24", "--outside", "70.71", "--span", "4:27.22"),
    "diameter-alone": ("--teeth", "24", "--outside", "3+1/4in", "--helix", "0"),
    "odd-teeth": ("--teeth", "25", "--outside", "80.84", "--jaws", "points", "--span", "3:23.20"),
    "no-teeth": ("--outside", "80.4", "--jaws", "true", "--span", "3:23.95", "--span", "4:32.8"),
    "turned-down": (
        *("--teeth", "30", "--outside", "63.70", "--span", "4:21.50", "--span", "5:27.41"),
        *("--helix", "0"),
    ),
    "worn": (
        *("--teeth", "30", "--outside", "64.00", "--span", "4:21.30", "--span", "5:27.21"),
        *("--helix", "0", "--depth", "4.5"),
    ),
    "none": ("--teeth", "24", "--outside", "81.3", *PLAIN[4:], "--helix", "22"),
    "ahead": ("--standard", "2.5", "--teeth", "18-24", "--helix", "22", "--shift", "0.2"),
    "ahead-inches": ("--standard", "6/8dp", "--teeth", "12,18,24"),
    "ahead-narrow": ("--standard", "2.5", "--teeth", "23-25", "--helix", "22", "--width", "11"),
    "pair": pair(PINION, WHEEL, "83.75"),
    "pair-binds": pair("teeth=24,standard=3,shift=0.4", "teeth=31,standard=3", "83.6"),
    "pair-open": pair(
        "teeth=24,standard=2.5,helix=22.7,hand=left",
        "teeth=31,outside=88.09,jaws=true,helix=22,hand=right",
        "75",
    ),
    "pair-slack": pair("teeth=24,standard=3", "teeth=31,standard=3", "83.5"),
    "pair-not-settled": pair("teeth=24,outside=81.6,helix=0", "teeth=31,standard=3", "84.3"),
}


def test_json_of_measurements(cogtally):
    """Format 1: every explanation with what it expects, in mm, and what to measure next."""
    found = json.loads(cogtally("gauge", *SCREENS["not-settled"], "--json").out)
    assert set(found) == {
        *("format", "seen", "named", "sentence", "standards", "explanations", "next", "slips")
    }
    assert (found["format"], found["named"]) == (1, None)
    assert sum(s["share"] for s in found["standards"]) == pytest.approx(1)
    first = found["explanations"][0]
    assert set(first) >= {"standard", "module", "pressure_angle", "tooth", "helix", "shift", "fits"}
    assert [at["what"] for at in first["expected"]] == ["outside", "span 4"]
    assert found["next"][0]["measure"].startswith("span")
    named = json.loads(cogtally("gauge", *SCREENS["named"], "--json").out)
    assert (named["named"]["module"], named["next"]) == ("3", [])


def test_json_is_in_mm_whatever_was_written(cogtally):
    """Inches are written in, mm come out, and the unit that was written is said."""
    found = json.loads(cogtally("gauge", *SCREENS["diameter-alone"], "--json").out)
    assert found["seen"]["outside"] == pytest.approx(82.55)
    assert found["seen"]["written_in"] == "in"


def test_json_of_two_wheels(cogtally):
    """Two wheels: the verdict, and of every meeting the shifts and the sign of the backlash."""
    found = json.loads(cogtally("gauge", *SCREENS["pair-binds"], "--json").out)
    assert (found["format"], found["verdict"], found["centres"]) == (1, "no", 83.6)
    (meeting,) = found["meetings"]
    assert meeting["backlash_sign"] == -1
    assert meeting["shifts"] == pytest.approx(0.4)
    assert len(meeting["wheels"]) == 2


def test_all_shows_every_standard_that_fits(cogtally):
    """`--all` lists what the screen otherwise only counts."""
    short, long = (cogtally("gauge", *SCREENS["not-settled"], *w).out for w in ((), ("--all",)))
    assert "see --all" in short
    assert "see --all" not in long
    assert len(long.splitlines()) > len(short.splitlines()) + 20


def test_units_may_be_mixed(cogtally):
    """An inch written in inches is 25.4 mm written in mm."""
    inches = cogtally("gauge", "--teeth", "24", "--outside", "3.25in", "--unit", "mm").out
    assert inches == cogtally("gauge", "--teeth", "24", "--outside", "82.55").out


def test_a_mate_without_centres_is_noted(cogtally):
    """A mate's teeth alone are not used, and that is said beside the answer."""
    ran = cogtally("gauge", *PLAIN, "--mate", "31")
    assert ran.code == 0
    assert ran.err.startswith("Note: ")
    assert "--centres" in ran.err


REFUSED = {
    "nothing": ((), "--teeth 24 --outside"),
    "mm as inches": (
        ("--teeth", "24", "--outside", "81.3", "--unit", "in"),
        "did you mean 81.3 mm?",
    ),
    "steering": (("--teeth", "24", "--outside", "\x1b[31m8"), "a length was expected"),
    "odd teeth": (("--teeth", "25", "--outside", "81.3"), "--jaws points"),
    "unknown jaws": (("--teeth", "25", "--outside", "81.3", "--jaws", "wide"), "points (narrow"),
    "falling spans": (
        ("--teeth", "24", "--span", "4:32.83", "--span", "5:30"),
        "--span 5: the span across 5 teeth is not longer",
    ),
    "no such unit": (("--teeth", "24", "--outside", "81.3", "--unit", "cm"), "write mm or in"),
    "tolerance in mm": (
        ("--teeth", "24", "--outside", "3.25", "--unit", "in", "--tolerance", "0.03"),
        "did you mean 0.03mm?",
    ),
    "too narrow": (
        (*HELICAL, "--helix", "22", "--width", "11"),
        "--width: a span of 34.6 across 5 teeth needs a wheel wider than 12.2 mm, and it is 11; "
        "span 4 teeth",
    ),
    "shift without standard": ((*PLAIN, "--shift", "0.2"), "--standard 2.5"),
    "standard without teeth": (("--standard", "2.5"), "add --teeth"),
    "no standard": (("--standard", "x", "--teeth", "24"), "--standard x: a pitch was expected"),
    "too steep": (("--standard", "2.5", "--teeth", "24", "--helix", "80"), "--helix 80"),
    "shift in mm": (("--standard", "2.5", "--teeth", "24", "--shift", "5"), "--shift 5"),
    "two jobs": (("--standard", "2.5", *PLAIN), "does not go with --standard"),
    "one of two": (("--pair", PINION, "--centres", "80"), "give --pair twice"),
    "two without centres": (("--pair", PINION, "--pair", WHEEL), "the centre distance is missing"),
    "two and a diameter": (
        (*pair(PINION, WHEEL, "83.7"), "--outside", "80"),
        "does not go with --pair",
    ),
    "wheel of two": (
        pair(PINION, "teeth=24,outside=3,helix=0", "80"),
        "--pair 2 outside: 3 mm would make this a module of 0.12 mm; did you mean 3 in?",
    ),
    "diameter of a ship's wheel": (
        ("--teeth", "24", "--outside", "99999"),
        "99999 mm would make this a module of 3846 mm; measure it again",
    ),
    "odd wheel of two": (pair(PINION, "teeth=25,outside=80,helix=0", "80"), "add jaws=points"),
    "unexplained wheel of two": (
        pair(PINION, "teeth=24,outside=81.3,span=4:32.83,span=5:41.7,helix=22", "80"),
        "--pair 2: no standard here explains these measurements",
    ),
}


def test_at_a_terminal_the_jaws_are_asked_for():
    """Across odd teeth a person is asked how the diameter was taken, and then answered."""
    pytest.importorskip("termios")
    from cli.terminal import Terminal

    odd = ("gauge", "--teeth", "25", "--outside", "80.84", "--span", "3:23.20")
    terminal = Terminal(*odd, env={})
    terminal.wait_for("25 teeth are odd in number")
    terminal.wait_for("jaws>")
    terminal.type("points")
    assert terminal.close() == 0
    assert "tip to tip with narrow jaws" in " ".join(terminal.text.split())


def test_an_unanswered_question_is_a_refusal():
    """Return alone at the question is no answer: one line, exit 2."""
    pytest.importorskip("termios")
    from cli.terminal import Terminal

    terminal = Terminal("gauge", "--teeth", "25", "--outside", "80.84", env={})
    terminal.wait_for("jaws>")
    terminal.type("")
    assert terminal.close() == 2
    assert "add --jaws points" in " ".join(terminal.text.split())


def test_contact_ratio_is_explained(cogtally):
    """The contact ratio of a pair is said to be of full tips, of helical teeth the transverse."""
    of = "standard=2.5,helix=22"
    helical = cogtally("gauge", *pair(f"teeth=24,{of}", f"teeth=31,{of}", "74.2")).out
    straight = cogtally("gauge", *SCREENS["pair"]).out
    assert "the contact ratio of full tips" in " ".join(straight.split())
    assert "transverse" in helical
    assert "transverse" not in straight
