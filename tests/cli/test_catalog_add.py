"""`cogtally catalog add` and `identify --keep-as`: sets written into the user's own book."""

import json
from dataclasses import replace
from pathlib import Path

import pytest

from cli.book_of import families_of
from cogtally.catalog.files.writers import toml_of
from cogtally.catalog.model import RatioSet
from cogtally.catalog.words import read_words
from conftest import refused
from small_catalog import BIRCH, EARLY, SMALL, pairs

TOUR = ("input=21/30", "1=16/35", "2=22/29", "3=28/23", "R=14/18/32")


def test_add(cogtally, book):
    """A set goes into its family with all that was said of it, a comma in a ratio too."""
    ran = cogtally(
        *("catalog", "add", "Birch four-speed/tour", *TOUR, "--name", "Tour"),
        *("--source", "one box", "--commonness", "2.5", "--ratio", "1=3,13", "--ratio", "2=1.88"),
        *("--mark", "laygear:LG 1", "--mark", "Cluster: LG=2:3 ", "--alias", "Tourer"),
        *("--feature", "laygear.splines=10", "--feature", "3.driver.hand=Left"),
        *("--feature", "3-gear.od_mm=94.20", "--feature", "laygear.thrust_washers=2"),
        *("--feature", "cluster.paint=green=red"),
    )
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.startswith("birch-4/tour: new\n")
    assert families_of(book).by_id["birch-4"].sets[-1] == RatioSet(
        "tour",
        "Tour",
        pairs(input="21/30", g1="16/35", g2="22/29", g3="28/23", R="14/18/32"),
        {"1": "3.13", "2": "1.88"},
        2.5,
        "one box",
        ("Tourer",),
        {"laygear": ("LG 1", "LG=2:3")},
        {
            "laygear": {"splines": 10, "thrust_washers": 2, "paint": "green=red"},
            "3.driver": {"hand": "left"},
            "3-gear": {"od_mm": 94.2},
        },
    )


def test_add_and_undo(cogtally, book):
    """An added set is in the log, and undo takes it back; so do the words for completion."""
    cogtally("catalog", "add", "birch-4/tour", *TOUR, "--source", "x")
    assert "tour" in read_words(book).sets["birch-4"]
    assert "catalog add birch-4/tour" in cogtally("log").out
    assert cogtally("undo").code == 0
    assert families_of(book).families == SMALL.families
    assert "tour" not in read_words(book).sets["birch-4"]


def test_new_family(cogtally, tmp_path):
    """A new family is begun by its layout, called as --family-name says, the book by it."""
    book = tmp_path / "new" / "own.db"
    ran = cogtally(
        *("catalog", "add", "ash-4/wide", *TOUR, "--layout", "layshaft", "--direct", "4"),
        *("--family-name", "Ash four-speed", "--catalog", str(book)),
    )
    assert ran.code == 0
    assert "Written into a new book" in ran.out
    assert "no source" not in ran.out
    assert len(ran.err.splitlines()) == 2, "one set alone, and no source"
    ash = families_of(book).by_id["ash-4"]
    assert (ash.direct, ash.title) == ("4", "Ash four-speed")


@pytest.mark.parametrize("columns", [60, 100])
def test_screen(cogtally, book, snapshot, columns):
    """What was written is shown, and how to take it back."""
    ran = cogtally("catalog", "add", "birch-4/tour", *TOUR, columns=columns)
    text = ran.out.replace(str(book), "BOOK") + ran.err
    snapshot(f"catalog-add/tour-{columns}", text)


def test_json(cogtally, book):
    """The JSON has what was written and what is odd about it."""
    ran = cogtally("catalog", "add", "birch-4/tour", *TOUR, "--json")
    found = json.loads(ran.out)
    assert found["written"] is True
    assert [w["code"] for w in found["warnings"]] == ["no-source"]
    assert found["differences"][0]["keys"]["pairs.1"] == {"before": None, "after": "16/35"}


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "FAMILY/SET is missing"),
        (["birch-4/x"], "neither teeth nor ratios"),
        (["birch-4", *TOUR], "a set is named with its family"),
        (["brich-4/x", *TOUR], "did you mean birch-4? --layout LAYOUT"),
        (["birch-4/early", *TOUR], "birch-4 has a set called that already"),
        (["birch-4/x", "1=16/35"], "pair input is missing"),
        (["birch-4/x", *TOUR, "1.driver=17"], "16 and 17 were written"),
        (["birch-4/x", *TOUR, "--ratio", "1=9.99"], "9.99 is printed, the teeth"),
        (["birch-4/x", *TOUR, "--ratio", "1"], "'=' with a text on both sides"),
        (["birch-4/x", *TOUR, "--ratio", "1=3.1", "--ratio", "1=3.1"], "two ratios of one gear"),
        (["birch-4/x", *TOUR, "--mark", "laygaer:1"], "did you mean laygear"),
        (["birch-4/x", *TOUR, "--mark", "laygear=LG 1"], "write PIECE:TEXT"),
        (["birch-4/x", *TOUR, "--mark", "laygear: "], "write PIECE:TEXT"),
        (["birch-4/x", *TOUR, "--mark", "laygear:\udcff"], "the text is not UTF-8"),
        (["birch-4/x", *TOUR, "--alias", "\udcff"], "the text is not UTF-8"),
        (["birch-4/x", *TOUR, "--feature", "splines=10"], "write OF.FEATURE=VALUE"),
        (["birch-4/x", *TOUR, "--feature", "laygear.splines"], "write OF.FEATURE=VALUE"),
        (["birch-4/x", *TOUR, "--feature", "laygear.splines=ten"], "'ten' is no number"),
        (["birch-4/x", *TOUR, "--feature", "laygear.splines=10u"], "no unsure"),
        (["birch-4/x", *TOUR, "--feature", "3.driver.hand=lft"], "did you mean left"),
        (["birch-4/x", *TOUR, "--feature", "9.driver.hand=left"], "no wheel and no piece"),
        (
            [
                *("birch-4/x", *TOUR, "--feature", "laygear.splines=9"),
                *("--feature", "laygear.splines=10"),
            ],
            "two values of one feature",
        ),
        (["birch-4/x", *TOUR, "--commonness", "0"], "no positive number"),
        (["birch-4/x", *TOUR, "--commonness", "nan"], "no positive number"),
        (["birch-4/x", *TOUR, "--commonness", "inf"], "no positive number"),
        (["birch-4/x", *TOUR, "--layout", "axle"], "birch-4 has layshaft already"),
        (["birch-4/x", *TOUR, "--direct", "3"], "birch-4 has 4 already"),
        (["ash-4/x", *TOUR, "--layout", "layshft"], "did you mean layshaft"),
        (["Ash 4/x", *TOUR, "--layout", "layshaft"], "for example ash-4"),
        (["birch-4/x", "1=14u/31"], "a catalog has no unsure counts"),
        (["birch-4/x", "1@4:1.1"], "a turn test gives no teeth"),
        (["birch-4/x", *TOUR, "--demo"], "demo catalog cannot be written"),
        (["birch-4/x", *TOUR, "--source", "\udcff"], "the text is not UTF-8"),
    ],
)
def test_wrong(cogtally, book, words, said):
    """One error, and nothing is written; it is said with what would be right."""
    refused(cogtally("catalog", "add", *words), said)
    assert families_of(book).families == SMALL.families


def test_no_book(cogtally, tmp_path):
    """A file of TOML is no book, and without a book there is nothing to add to."""
    file = tmp_path / "a.toml"
    file.write_text("")
    ran = cogtally("catalog", "add", "a-1/x", "1=13/40", "--catalog", str(file))
    assert (ran.code, file.read_text()) == (2, "")
    ran = cogtally("catalog", "add", "a-1/x", "1=13/40", "--catalog", str(tmp_path / "none.db"))
    assert ran.code == 2
    assert list(tmp_path.iterdir()) == [file]


def test_keep_as(cogtally, book):
    """A counted box becomes a set with its source; what nobody counted is a gap, and said."""
    ran = cogtally(
        *("identify", "1=15/36", "2=21/_", "input=20/31u", "3@1:1", "--keep-as", "birch-4/mine"),
        *("--source", "the blue box"),
    )
    assert ran.code == 0
    end = ran.out[ran.out.index("Kept as") :]
    assert end.startswith(f"Kept as birch-4/mine in {book}\n")
    assert "Not counted, kept as gaps: 2.driven, 3.driver, 3.driven," in end
    assert "Counted in doubt, kept as gaps: input.driven." in end
    assert "Turn tests were not kept" in end
    assert families_of(book).by_id["birch-4"].sets[-1] == RatioSet(
        "mine",
        pairs=pairs(input="20/_", g1="15/36", g2="21/_", g3="_/_", R="_/_/_"),
        source="the blue box",
    )


def test_keep_as_is_known(cogtally, book):
    """A box that was kept is named by its own set from then on."""
    counts = ("input=19/32", "1=17/34", "2=25/26", "3=29/22", "R=13/18/33")
    assert "birch-4/mine" not in cogtally("identify", *counts).out
    cogtally("identify", *counts, "--keep-as", "birch-4/mine")
    again = json.loads(cogtally("identify", *counts, "--json").out)
    assert (again["verdict"]["kind"], again["verdict"]["sets"]) == ("matched", ["mine"])


def test_keep_as_json(cogtally, book):
    """The JSON of an answer says under which name the box was kept."""
    ran = cogtally("identify", *EARLY, "--keep-as", "birch-4/mine", "--json")
    found = json.loads(ran.out)
    assert found["kept_as"] == {
        "family": "birch-4",
        "set": "mine",
        "book": str(book),
        "gaps": [],
        "doubtful": [],
    }
    assert "the teeth of 'early' in every wheel" in ran.err


@pytest.mark.parametrize(
    "times", [10, pytest.param(200, marks=pytest.mark.long)], ids=["few", "many"]
)
@pytest.mark.parametrize("how", ["add", "keep-as", "edit"])
def test_killed(book, tmp_path, how, times):
    """Killed at any moment, the book is as before the command or as after it."""
    from cogtally.cli.main import run
    from store.killing import kill_often

    file = tmp_path / "new.toml"
    changed = replace(BIRCH, id="birch-5", sets=(replace(BIRCH.sets[0], name="Later"),))
    file.write_text(toml_of([changed]), encoding="utf-8")
    words = {
        "add": ["catalog", "add", "birch-4/tour", *TOUR],
        "keep-as": ["identify", *EARLY, "--keep-as", "birch-4/mine"],
        "edit": ["catalog", "edit", "birch-4", "--from", str(file)],
    }[how]

    def do(copy: Path) -> None:
        assert run([*words, "--catalog", str(copy)]) == 0

    killed = kill_often(book, do, lambda copy: families_of(copy).families, times)
    assert killed.before + killed.after == times


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["1@4:1.1", "--keep-as", "birch-4/mine"], "turn tests alone give no teeth"),
        (["1@4:1.1", "--shut", "--keep-as", "birch-4/mine"], "turn tests alone give no teeth"),
        (["1=15u/_", "--keep-as", "birch-4/mine"], "no count is sure"),
        (["1=15/36", "--keep-as", "birch-4/early"], "has a set called that already"),
        (["1=15/36", "--keep-as", "brich-4/mine"], "did you mean birch-4?"),
        (["1=15/36", "--keep-as", "birch-4"], "a set is named with its family"),
        (["5=15/36", "--keep-as", "birch-4/mine"], "pair 5 is in no other set"),
        (["1=15/36", "--source", "x"], "--source goes with --keep-as"),
        (["1=15/36", "--keep-as", "birch-4/mine", "--demo"], "cannot be written"),
    ],
)
def test_keep_as_refused(cogtally, book, words, said):
    """What makes no set is refused in one line, and nothing is written."""
    refused(cogtally("identify", *words), said)
    assert families_of(book).families == SMALL.families
