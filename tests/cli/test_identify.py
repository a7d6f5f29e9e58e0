"""`cogtally identify` through the real entry point, its screens kept as plain files."""

import json

import pytest

from cli.book_of import birch_file
from cogtally.catalog.model import RatioSet
from small_catalog import EARLY

LEAFLET = RatioSet(
    "leaflet", ratios={"1": "3.29", "2": "2.06", "3": "1.32"}, source="a leaflet, two decimals"
)

#: A screen by name, and the words that it answers.
SCREENS: dict[str, tuple[str, ...]] = {
    "matched": EARLY,
    "miscount": (*EARLY[:3], "3=27/25", EARLY[4]),
    "recount": (*EARLY[:3], "3=27/21", EARLY[4]),
    "mixed": (*EARLY[:3], "3=27/21", EARLY[4], "3.driven=21"),
    "variant": (*EARLY[:3], "3=29x3/24", EARLY[4]),
    "fifth-pair": (*EARLY, "5=30/21"),
    "turned-round": (*EARLY[:3], "3=24/27", EARLY[4]),
    "half-counted": ("input=20/31", "3=27/_", "1.driver=15u"),
    "different-results": (*EARLY[:3], "3=27/24", "3.driven=25", "3.driven=24"),
    "new-set": ("input=22/29", "1=17/34", "2=23/28", "3=29/22", "R=14/18/32"),
    "several-off": (*EARLY[:3], "3=26/25", EARLY[4], "R.driven=32"),
    "uncatalogued": ("input=40/41", "1=33/60", "2=50/20"),
    "turned-by-hand": ("1@4:1.08", "2@1:0.45"),
    "printed": ("input=17/28", "1=15/30", "2=20/25", "3=25/20", "R=14/18/32"),
    "name-like-markup": ("input=23/28", "1=18/33", "2=24/27", "3=30/21", "R=14/18/32"),
}


@pytest.fixture
def catalog(tmp_path) -> str:
    """Return the path of a small catalog file."""
    return str(birch_file(tmp_path, LEAFLET))


@pytest.mark.parametrize("columns", [60, 80, 100])
@pytest.mark.parametrize("name", SCREENS)
def test_the_screen_is_as_it_was_read(name, columns, cogtally, snapshot, catalog):
    """Each kind of answer looks as in its kept file, is never cut, and from 80 on has 24 lines."""
    ran = cogtally("identify", "--catalog", catalog, *SCREENS[name], columns=columns)
    assert (ran.code, ran.err) == (0, "")
    assert max(map(len, ran.out.splitlines())) <= columns
    assert "…" not in ran.out
    if columns == 80:
        # What is pinned at the two other widths is only measured at this one.
        assert len(ran.out.splitlines()) <= 24
    else:
        assert columns < 80 or len(ran.out.splitlines()) <= 24
        snapshot(f"identify/{name}-{columns}", ran.out)


def test_the_piped_screen_is_as_it_was_read(cogtally_process, snapshot, catalog):
    """Piped, it is 80 columns without colour or boxes, whatever the terminal's colours."""
    coloured = {"TERM": "xterm-256color", "FORCE_COLOR": "1"}
    words = ("identify", "--catalog", catalog, *SCREENS["mixed"])
    ran = cogtally_process(*words, env=coloured)
    assert (ran.code, ran.err) == (0, "")
    snapshot("identify/mixed-piped", ran.out)


def test_what_makes_a_box_whole_gives_way_to_24_lines(cogtally):
    """A stranger, recounts and two remedies fit in 24 lines; --why tells the rest."""
    recounted = ("1=15/31", "1.driver=14x2", "2=19/27", "2.driven=26x2")
    seen = ("input=17/28", *recounted, "3=24/22x3", "R=12/20/28")
    screen = cogtally("identify", "--demo", *seen, columns=80).out
    assert len(screen.splitlines()) <= 24
    assert "More: --why." in screen
    whole = cogtally("identify", "--demo", *seen, "--why", columns=80).out
    assert "More: --why." not in whole
    assert "comes out serves in" in " ".join(whole.split())
    assert "comes out serves in" not in " ".join(screen.split())


def test_a_narrow_encoding_does_not_stop_the_answer(cogtally_process, tmp_path):
    """A name of letters that the output cannot hold is written with question marks."""
    file = birch_file(tmp_path, LEAFLET)
    text = file.read_text(encoding="utf-8").replace("Birch four-speed", "Бук")
    file.write_text(text, encoding="utf-8")
    ran = cogtally_process(
        "identify", "--catalog", str(file), *EARLY, env={"PYTHONIOENCODING": "ascii"}
    )
    assert ran.code == 0
    assert ran.out.startswith("MATCHED: ???, Early (birch-4/early)")


def test_the_json_holds_what_the_screen_says(cogtally, catalog):
    """The JSON has the keys of its format, probabilities that add up, and exact ratios."""
    ran = cogtally("identify", "--catalog", catalog, "--json", *SCREENS["mixed"], columns=60)
    assert ran.code == 0
    found = json.loads(ran.out)
    assert found["format"] == 1
    assert found["catalog"] == {"name": "birch.toml", "families": 1, "sets": 3, "demo": False}
    assert found["gears"][0] == {"gear": "1", "ratio": "93/25", "decimal": 3.72}
    assert found["meshes"][3] == {
        "wheels": ["3.driver", "3.driven"],
        "teeth": [27, 21],
        "sum": 48,
        "expected_sums": [51],
        "agrees": False,
    }
    verdict = found["verdict"]
    assert (verdict["kind"], verdict["family"], verdict["sets"]) == (
        "undecided",
        "birch-4",
        ["early"],
    )
    assert verdict["leaning"] == "mixed"
    assert verdict["foreign"][0]["piece"] == "3-gear"
    assert verdict["foreign"][0]["from_sets"] == ["sport"]
    assert sum(a["probability"] for a in found["answers"]) == pytest.approx(1, abs=1e-5)
    assert [a["kind"] for a in found["answers"][-3:]] == ["mixed", "variant", "uncatalogued"]
    assert found["hands"]["steady"] + found["hands"]["hasty"] == pytest.approx(1)
    assert found["nearest"][0]["tooth_differences"] == 3
    assert found["turned_round"] is None


@pytest.mark.parametrize(
    ("expect", "words", "code", "says"),
    [
        ("birch-4/early", EARLY, 0, "MATCHED: yes, it is birch-4/early"),
        ("birch four-speed/early", EARLY, 0, "MATCHED: yes, it is birch-4/early"),
        ("birch-4/sport", EARLY, 1, "MATCHED: no, it is not birch-4/sport"),
        (
            "birch-4/early",
            EARLY[:1],
            3,
            "MATCHED: whether it is birch-4/early cannot be settled yet",
        ),
    ],
)
def test_an_expectation_has_its_sentence_and_exit_code(
    expect, words, code, says, cogtally, catalog
):
    """--expect answers yes with 0, no with 1 and not settled with 3, in the first words."""
    ran = cogtally("identify", "--catalog", catalog, "--expect", expect, *words)
    assert ran.code == code
    assert ran.out.startswith(says)


ALDER = ("input=17/28", "1=14/31", "2=19/26", "3=24/21", "R=12/20/28")


@pytest.mark.parametrize(
    "words",
    [
        ("input=16/29", "1=15/30", "2=18/27", "3=25/20", "R=12/20/28"),
        (*ALDER[:3], "3=10/60", ALDER[4]),
        (*ALDER[:3], "3=24/20", ALDER[4]),
        (*ALDER, "3.driven=14"),
    ],
    ids=["eight-off", "two-off", "one-off", "counted-twice"],
)
def test_no_yes_and_no_match_while_a_wheel_disagrees(words, cogtally):
    """However probable the set is: no exit code 0, no matched, and each wheel that is off named."""
    ran = cogtally("identify", "--demo", "--json", "--expect", "alder-4/wide", *words)
    found = json.loads(ran.out)
    assert ran.code in (1, 3)
    assert found["expect"]["answer"] in ("no", "open")
    assert found["verdict"]["kind"] not in ("matched", "narrowed")
    off = [w["wheel"] for w in found["checked"]["wheels"] if w["agrees"] is False]
    assert off == [d["wheel"] for d in found["expect"]["disagrees"]] != []


@pytest.mark.parametrize("columns", [60, 100])
def test_the_verification_sheet(columns, cogtally, snapshot):
    """--expect lists every wheel as agreeing, disagreeing or not counted, and concludes."""
    words = (*ALDER[:3], "3=24/_", "R=12/20/27")
    ran = cogtally("identify", "--demo", "--expect", "alder-4/wide", *words, columns=columns)
    assert ran.code == 3
    snapshot(f"identify/sheet-{columns}", ran.out)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--shut", "4@1:1"), "Nothing is learnt from turning gear 4: it is direct."),
        (("--shut", "1@1:3.6"), "1@1:3.6: did you mean 1@3.6:1?"),
        ((*ALDER, "--mark", "1-2-sleeve:AB"), "The mark is of a 1-2-sleeve: alder-4 has none."),
        ((*ALDER, "3.driven=14"), "3.driven was counted 21 and 14: count it a third time."),
        ((*ALDER[:4], "R=12/20/29"), "Next: count R.driven again."),
    ],
)
def test_what_is_odd_is_told(words, says, cogtally):
    """What was seen and tells nothing, or cannot be as it was written, is said in a sentence."""
    assert says in " ".join(cogtally("identify", "--demo", *words).out.split())


def test_a_shut_box_gets_no_mark_to_look_at_first(cogtally):
    """After turn tests alone no look comes first, and a look that is advised names its family."""
    out = " ".join(cogtally("identify", "--demo", "--shut", "1@4:1.1").out.split())
    assert "Next, worth most: in gear 2 turn" in out
    assert "the mark of the alder-4 laygear" in out


def test_a_new_set_says_how_it_is_kept(cogtally, catalog):
    """A set that the family has and the catalog lacks is told with the option that keeps it."""
    ran = cogtally("identify", "--catalog", catalog, *SCREENS["new-set"])
    text = " ".join(ran.out.split())
    assert text.startswith("NEW SET: a set of Birch four-speed (birch-4) that the catalog lacks")
    assert "the same with --keep-as birch-4/NAME" in text


def test_options_may_stand_among_the_words(cogtally, catalog):
    """Options are taken before, among and behind the words."""
    before = cogtally("identify", "--catalog", catalog, *EARLY).out
    assert cogtally("identify", *EARLY[:2], "--catalog", catalog, *EARLY[2:]).out == before
    assert cogtally("identify", *EARLY, "--catalog", catalog).out == before


def test_the_variable_is_used_where_no_catalog_is_named(cogtally, catalog, monkeypatch):
    """COGTALLY_CATALOG names the catalog; --demo goes before it."""
    monkeypatch.setenv("COGTALLY_CATALOG", catalog)
    assert "Birch" in cogtally("identify", *EARLY).out
    assert "invented demo catalog" in cogtally("identify", "--demo", *EARLY).out


@pytest.mark.parametrize("words", [("--help",), ("-h",), ("identify", "--help"), ()])
def test_help_is_plain_text(words, cogtally):
    """Help goes to standard output as plain text, also where no command was written."""
    ran = cogtally(*words)
    assert (ran.code, ran.err) == (0, "")
    assert "Usage: cogtally" in ran.out
    assert not any("─" <= c <= "╿" for c in ran.out)


def test_the_version_is_printed(cogtally):
    """--version prints the program's name and version."""
    from cogtally import __version__

    assert cogtally("--version").out == cogtally("version").out == f"cogtally {__version__}\n"
