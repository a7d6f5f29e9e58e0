"""`cogtally catalog show` and `list`, run as a person runs them."""

import io
import json
from collections.abc import Callable
from pathlib import Path

import pytest
from rich.console import Console

from cli.book_of import small_book
from cogtally.catalog.apart import tell_apart
from cogtally.catalog.files.reading import demo_catalog
from cogtally.show.catalog import show_apart, show_family, show_list

EVERY = [f.id for f in demo_catalog().families]
HOSTILE = """
[family]
id = "elm-4"
name = "[red]El\\u001B[2Jm[/red]"
aliases = ["a\\u0007b"]
layout = "two-shaft"
note = "one\\ntwo\\u202Ethree"
[[set]]
id = "x"
name = "[/5th]"
source = "\\u001B]0;title\\u0007"
pairs = { 1 = "13/40", 2 = "20/33" }
marks = { 1-driver = ["M\\u009B1"] }
features = { 1-driver = { "sp\\u001Bl" = "\\u001B[31mred" } }
"""


@pytest.mark.parametrize("columns", [60, 100])
@pytest.mark.parametrize("what", ["alder-4", "osier-4", "pellgate-axle", "alder-4/wide"])
def test_show(cogtally, snapshot, what, columns):
    """A family shows its sets side by side, a set its gears and pieces, as wide as the screen."""
    ran = cogtally("catalog", "show", what, "--demo", columns=columns)
    assert (ran.code, ran.err) == (0, "")
    assert max(map(len, ran.out.splitlines())) <= columns
    snapshot(f"catalog-show/{what.replace('/', '-')}-{columns}", ran.out)


@pytest.mark.parametrize("columns", [60, 100])
@pytest.mark.parametrize("sets", [("wide", "close"), ("wide", "late", "medium")], ids="-".join)
def test_sets_side_by_side(cogtally, snapshot, sets, columns):
    """Of several sets: which pieces change and which stay, and what that does to each ratio."""
    what = [f"alder-4/{known}" for known in sets]
    ran = cogtally("catalog", "show", *what, "--demo", columns=columns)
    assert (ran.code, ran.err) == (0, "")
    assert max(map(len, ran.out.splitlines())) <= columns
    snapshot(f"catalog-show/beside-{'-'.join(sets)}-{columns}", ran.out)


def test_sets_side_by_side_for_machines(cogtally):
    """The JSON has each piece as every set has it, and whether it is that of the first."""
    ran = cogtally("catalog", "show", "alder-4/wide", "alder-4/late", "--demo", "--json")
    found = json.loads(ran.out)
    pieces = {p["piece"]: p for p in found["pieces"]}
    assert pieces["3-gear"]["types"] == [[21], [22]]
    assert pieces["3-gear"]["from_first"] == ["stays", "changes"]
    assert found["ratios"][0] == {"gear": "1", "ratios": ["62/17", "93/28"]}


@pytest.mark.parametrize(
    ("other", "says"),
    [("elder-5/late", "sets of two families have no piece in common"), ("alder-4", "alder-4")],
)
def test_what_cannot_stand_side_by_side(cogtally, other, says):
    """Only sets of one family stand side by side."""
    ran = cogtally("catalog", "show", "alder-4/wide", other, "--demo")
    assert (ran.code, ran.out) == (2, "")
    assert says in ran.err


def test_what_differs_is_marked_and_bold_and_what_is_alike_stands_once():
    """A pair unlike the first set's has a star, bold on a terminal; a gap has none; alike is a row.

    `apart` sets the wheels in bold in which two sets differ, and names those that all have alike.
    """
    demo = demo_catalog()
    stream = io.StringIO()
    console = Console(file=stream, width=90, force_terminal=True, color_system="standard")
    show_family(demo.by_id["alder-4"], True, console)
    shown = stream.getvalue()
    assert "\x1b[1m*18/27\x1b[0m" in shown
    assert " 12/_/28" in shown
    assert "* differs from wide" in shown
    assert "All sets, ratio: 4 1.000." in shown
    stream.truncate(0)
    show_apart(tell_apart(demo.by_id["rowan-5"]), True, console)
    shown = stream.getvalue()
    assert "differ in \x1b[1m5.driver\x1b[0m and \x1b[1m5.driven\x1b[0m only" in shown
    assert "Alike in all sets: 3.driver 29, 3.driven 27, R.driven 36." in shown


@pytest.mark.parametrize("family", EVERY)
def test_no_line_is_too_long(cogtally, family):
    """No family of the demo is wider than a narrow screen."""
    ran = cogtally("catalog", "show", family, "--demo", columns=60)
    assert max(map(len, ran.out.splitlines())) <= 60


def test_piped(cogtally_process, snapshot):
    """Piped, nothing steers a terminal."""
    ran = cogtally_process("catalog", "show", "twin-2", "--catalog", _small(snapshot))
    assert (ran.code, ran.err) == (0, "")
    assert "\x1b" not in ran.out
    snapshot("catalog-show/twin-2-piped", ran.out)


def _small(_: Callable) -> str:
    import tempfile

    return str(small_book(Path(tempfile.mkdtemp())))


def test_printed_only(cogtally, tmp_path):
    """A set known by printed ratios shows them as they are printed, and no pieces."""
    ran = cogtally("catalog", "show", "twin-2/print", "--catalog", str(small_book(tmp_path)))
    assert "3.10" in ran.out
    assert "Pieces" not in ran.out


def test_json(cogtally):
    """The JSON has exact ratios, gaps as null, and which sets share a piece."""
    ran = cogtally("catalog", "show", "alder-4", "--demo", "--json")
    found = json.loads(ran.out)
    assert found["format"] == 1
    assert found["catalog"]["demo"] is True
    wide, *_, medium = found["sets"]
    assert wide["pairs"]["R"] == [12, 20, 28]
    assert medium["pairs"]["R"] == [12, None, 28]
    first = next(g for g in wide["gears"] if g["gear"] == "1")
    assert first == {"gear": "1", "ratio": "62/17", "decimal": 62 / 17, "printed": "3.65"}
    laygear = next(p for p in found["pieces"] if p["piece"] == "laygear")
    assert laygear["types"][0]["teeth"] == [28, 24, 19, 14, 12]
    assert laygear["types"][0]["sets"] == ["wide"]


def test_json_of_a_set(cogtally):
    """The JSON of a set has that set, and all that share its pieces."""
    found = json.loads(cogtally("catalog", "show", "alder-4/low-first", "--demo", "--json").out)
    assert [known["id"] for known in found["sets"]] == ["low-first"]
    kinds = {piece["piece"]: piece["types"] for piece in found["pieces"]}
    assert all(len(kind) == 1 for kind in kinds.values())
    assert kinds["input-shaft"][0]["sets"] == ["wide", "low-first"]


@pytest.mark.parametrize(
    ("what", "said"),
    [
        ("aldr-4", "did you mean alder-4"),
        ("alder-4/wdie", "did you mean wide"),
        ("", "FAMILY is missing"),
    ],
)
def test_near_miss(cogtally, what, said):
    """A family or a set that is not there gets the nearest right one, in one line."""
    ran = cogtally("catalog", "show", what, "--demo")
    assert (ran.code, ran.out) == (2, "")
    assert said in ran.err
    assert len(ran.err.splitlines()) == 1


@pytest.mark.parametrize(
    "words", [("show", "elm-4"), ("show", "elm-4/x"), ("list",), ("find", "x")]
)
def test_strangers(cogtally, tmp_path, words):
    """Text of strangers neither steers the terminal nor is read as markup."""
    file = tmp_path / "elm.toml"
    file.write_text(HOSTILE, encoding="utf-8")
    ran = cogtally("catalog", *words, "--catalog", str(file))
    assert ran.code == 0
    assert all(c.isprintable() or c == "\n" for c in ran.out)
    if words[0] == "show":
        assert "[/5th]" in ran.out


@pytest.mark.parametrize("columns", [60, 100])
def test_list(cogtally, snapshot, columns):
    """Every family is one line."""
    ran = cogtally("catalog", "list", "--demo", columns=columns)
    assert (ran.code, ran.err) == (0, "")
    assert len(ran.out.splitlines()) == len(EVERY) + 2
    snapshot(f"catalog-show/list-{columns}", ran.out)


def test_list_on_a_narrow_terminal():
    """On a terminal a long name goes on below, in its own column."""
    stream = io.StringIO()
    show_list(
        demo_catalog(), Console(file=stream, width=48, force_terminal=True, color_system=None)
    )
    lines = stream.getvalue().splitlines()
    assert max(map(len, lines[:-1])) <= 48
    assert len(lines) > len(EVERY) + 2


def test_list_json(cogtally):
    """The JSON of the list has every family."""
    found = json.loads(cogtally("catalog", "list", "--demo", "--json").out)
    assert [family["id"] for family in found["families"]] == EVERY
    assert found["families"][0]["layout"] == "layshaft"
