"""`cogtally catalog show` and `list`, run as a person runs them."""

import io
import json

import pytest
from rich.console import Console

from cli.book_of import small_book
from cogtally.catalog.apart import tell_apart
from cogtally.catalog.files.reading import demo_catalog
from cogtally.show.catalog import show_apart, show_family, show_list
from conftest import refused

EVERY = [f.id for f in demo_catalog().families]
SCREENS = {
    **{
        what.replace("/", "-"): ("show", what)
        for what in ("alder-4", "osier-4", "pellgate-axle", "alder-4/wide")
    },
    "beside-wide-close": ("show", "alder-4/wide", "alder-4/close"),
    "beside-wide-late-medium": ("show", "alder-4/wide", "alder-4/late", "alder-4/medium"),
    "list": ("list",),
}


@pytest.mark.parametrize("columns", [60, 100])
@pytest.mark.parametrize("name", SCREENS)
def test_screen(cogtally, snapshot, name, columns):
    """Sets side by side, gears and pieces, what changes, a line a family: as wide as the screen."""
    ran = cogtally("catalog", *SCREENS[name], "--demo", columns=columns)
    assert (ran.code, ran.err) == (0, "")
    # Off a terminal the list is for other programs: each family is one line, however long.
    assert name == "list" or max(map(len, ran.out.splitlines())) <= columns
    snapshot(f"catalog-show/{name}-{columns}", ran.out)


def test_sets_side_by_side_for_machines(cogtally):
    """The JSON has each piece as every set has it, and whether it is that of the first."""
    ran = cogtally("catalog", "show", "alder-4/wide", "alder-4/late", "--demo", "--json")
    found = json.loads(ran.out)
    pieces = {p["piece"]: p for p in found["pieces"]}
    assert pieces["3-gear"]["types"] == [[21], [22]]
    assert pieces["3-gear"]["from_first"] == ["stays", "changes"]
    assert found["ratios"][0] == {"gear": "1", "ratios": ["62/17", "93/28"]}


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


def test_piped(cogtally_process, snapshot, tmp_path):
    """Piped, nothing steers a terminal, and a set of printed ratios shows them without pieces."""
    book = str(small_book(tmp_path))
    ran = cogtally_process("catalog", "show", "twin-2", "--catalog", book)
    assert (ran.code, ran.err) == (0, "")
    assert "\x1b" not in ran.out
    snapshot("catalog-show/twin-2-piped", ran.out)
    printed = cogtally_process("catalog", "show", "twin-2/print", "--catalog", book).out
    assert "3.10" in printed
    assert "Pieces" not in printed


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
        (["aldr-4"], "did you mean alder-4"),
        (["alder-4/wdie"], "did you mean wide"),
        ([""], "FAMILY is missing"),
        (["alder-4/wide", "elder-5/late"], "sets of two families have no piece in common"),
        (["alder-4/wide", "alder-4"], "alder-4"),
    ],
)
def test_refused(cogtally, what, said):
    """What is not there gets the nearest right one, sets of two families no table: one line."""
    refused(cogtally("catalog", "show", *what, "--demo"), said)


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
