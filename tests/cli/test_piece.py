"""`cogtally piece` through the real entry point, its screens kept as plain files."""

import json

import pytest

from conftest import refused

LAYGEAR = ("28", "24", "19", "14", "12")
#: "At most 24 lines" on a screen of 100 columns.
LINES = 24

#: A screen by name, and the words that it answers.
SCREENS: dict[str, tuple[str, ...]] = {
    "laygear": LAYGEAR,
    "from-the-other-end": LAYGEAR[::-1],
    "one-not-counted": ("28", "24", "19", "_", "12"),
    "open-end": ("..", "19", "14", "12"),
    "miscount": ("28", "24", "20", "14", "12"),
    "alike-in-teeth": ("29", "25", "20", "15", "13"),
    "alike-in-marks": ("38x3", "--role", "final-crown"),
    "one-wheel": ("20",),
    "one-wheel-of-a-role": ("19", "--role", "first-motion-shaft"),
    "one-wheel-of-a-larger-piece": ("..", "20", ".."),
    "nothing-counted": ("_",),
    "dog-ring": ("24", *LAYGEAR),
    "dog-ring-of-one-wheel": ("21", "27"),
    "too-many": (*LAYGEAR, "30", "40", "7"),
    "too-few": ("28", "24", "19", "--role", "laygear"),
    "uncatalogued": ("44", "20"),
    "unlisted": ("28x3", "25x3", "19x3", "14x3", "12x3"),
    "far-from-all": ("80",),
    "part-of-a-longer": ("28", "24", "19"),
    "of-another-role": (*LAYGEAR, "--role", "third"),
    "of-one-family": ("22", "--family", "alder-4"),
    "unsure": ("27u", "23u", "20u", "14u", "13u"),
}


def box(number: int) -> str:
    """A family in which three pieces of one wheel have 22 teeth, in each of its five sets."""
    firsts = "\n".join(
        f'[[set]]\nid = "set-{first}"\nsource = "counted on the bench"\n'
        f'pairs = {{ input = "17/28", 1 = "{first}/{45 - first}", 2 = "23/22", 3 = "23/22", '
        'R = "12/22/28" }'
        for first in range(12, 17)
    )
    head = f'[family]\nid = "gorse-{number}"\nname = "Gorse {number}"\nlayout = "layshaft"'
    return f'{head}\ndirect = "4"\n\n{firsts}\n'


@pytest.fixture
def thirty(tmp_path) -> str:
    """A folder of ten families in which thirty pieces have 22 teeth."""
    for number in range(10):
        (tmp_path / f"gorse-{number}.toml").write_text(box(number), encoding="utf-8")
    return str(tmp_path)


@pytest.mark.parametrize("columns", [60, 100])
def test_screen_of_thirty_that_fit(columns, thirty, cogtally, snapshot):
    """One wheel that thirty listed pieces have is still one screen, and says how many are not."""
    ran = cogtally("piece", "22", "--catalog", thirty, columns=columns)
    lines = ran.out.splitlines()
    assert len(lines) <= LINES
    assert "30 listed pieces of 10 families" in " ".join(lines[:2])
    assert "--role" in ran.out
    snapshot(f"piece/thirty-{columns}", ran.out)


@pytest.mark.parametrize("columns", [60, 100])
@pytest.mark.parametrize("name", ["one-not-counted", "open-end", "one-wheel", "unsure"])
def test_what_it_may_be_adds_up(name, columns, cogtally):
    """Nothing is left out unsaid: the per cents of an unsettled screen add up to 100."""
    lines = cogtally("piece", *SCREENS[name], "--demo", columns=columns).out.splitlines()
    rows = lines[lines.index("What it may be") + 1 :]
    rows = rows[: rows.index("")]
    shares = [float(row.split()[0]) for row in rows if " %  " in row]
    assert sum(shares) == pytest.approx(100, abs=0.25 + 0.5 * sum(s >= 1 for s in shares))


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        ((*LAYGEAR, "--expect", "alder-4/wide"), 0, "Yes, it is of alder-4/wide:"),
        ((*LAYGEAR, "--expect", "Alder four-speed/late"), 1, "No, it is not of alder-4/late:"),
        (("22", "--expect", "alder-4/late"), 3, "Whether it is of alder-4/late is not settled:"),
        (("22x3", "--expect", "alder-4/late", "--family", "alder-4"), 0, "Yes, it is of"),
        (("28", "24", "20", "14", "12", "--expect", "alder-4/wide"), 3, "counted 20, listed 19"),
    ],
)
def test_is_this_the_gear_i_need(words, code, says, cogtally):
    """What was expected is answered first, and by the exit code: yes 0, no 1, not settled 3."""
    ran = cogtally("piece", *words, "--demo")
    assert (ran.code, ran.err) == (code, "")
    assert says in " ".join(ran.out.splitlines()[:2])
    told = json.loads(cogtally("piece", *words, "--demo", "--json").out)["expect"]
    assert told["answer"] == {0: "yes", 1: "no", 3: "open"}[code]


@pytest.mark.parametrize(
    ("role", "piece"),
    [
        ("cluster", "laygear"),
        ("lay gear", "laygear"),
        ("Countershaft", "laygear"),
        ("input", "input-shaft"),
        ("third", "3-gear"),
        ("3rd gear", "3-gear"),
        ("reverse idler", "R-idler"),
    ],
)
def test_roles_in_the_words_of_the_trade(role, piece, cogtally):
    """The trade's other words, in any case and with spaces, are the pieces that they mean."""
    ran = cogtally("piece", "22", "--role", role, "--demo", "--json")
    assert {answer["piece"] for answer in json.loads(ran.out)["answers"]} <= {piece}
    assert ran.code == 0


def test_json_of_an_unlisted_piece(cogtally):
    """An unlisted piece has type null, no sets, and where it differs from the nearest type."""
    document = json.loads(cogtally("piece", *SCREENS["unlisted"], "--demo", "--json").out)
    assert document["verdict"]["kind"] == "unlisted"
    assert document["verdict"]["off"] == [{"place": 2, "counted": 25, "listed": 24}]
    first = document["answers"][0]
    assert (first["piece"], first["type"], first["sets"]) == ("laygear", None, [])


def test_json(cogtally):
    """Format 1: every type of 1e-6 or more, falling; hands add up; places as typed, falling."""
    ran = cogtally("piece", "..", "19", "_", "12", "--demo", "--json")
    document = json.loads(ran.out)
    assert (ran.code, ran.err) == (0, "")
    keys = ["format", "catalog", "verdict", "answers", "uncatalogued", "hands", "next", "wanted"]
    assert list(document) == keys
    assert document["format"] == 1
    assert document["catalog"] == {"name": "demo", "families": 10, "sets": 55, "demo": True}
    shares = [answer["probability"] for answer in document["answers"]]
    assert shares == sorted(shares, reverse=True)
    assert min(shares) >= 1e-6
    assert sum(shares) + document["uncatalogued"] == pytest.approx(1, abs=1e-4)
    assert {k: v for k, v in document["answers"][0].items() if k != "probability"} == {
        "family": "alder-4",
        "piece": "laygear",
        "type": [28, 24, 19, 14, 12],
        "sets": ["wide"],
    }
    assert sum(document["hands"].values()) == pytest.approx(1)
    assert document["next"][0]["position"] == 2
    assert {worth["position"] for worth in document["next"]} == {1, 2, 3}
    worths = [worth["bits"] for worth in document["next"]]
    assert worths == sorted(worths, reverse=True)


def test_json_of_what_fits_nowhere(cogtally):
    """Without any piece of so many wheels there is no answer, and uncatalogued is certain."""
    document = json.loads(cogtally("piece", *SCREENS["too-many"], "--demo", "--json").out)
    assert (document["answers"], document["uncatalogued"]) == ([], 1.0)


def test_text_of_strangers_is_shown_as_it_is(tmp_path, cogtally):
    """Names, marks and features that look like markup or steer a terminal do neither."""
    text = box(1).replace('"Gorse 1"', '"[/b]\\u001b[31m"')
    text = text.replace('"set-12"', '"set-12"\nmarks = { 2-gear = ["[bold]"] }')
    text = text.replace('"set-13"', '"set-13"\nmarks = { 2-gear = ["[/]\\u0007"] }')
    (tmp_path / "gorse.toml").write_text(text, encoding="utf-8")
    ran = cogtally("piece", "22x9", "--role", "2-gear", "--catalog", str(tmp_path), columns=100)
    assert ran.code == 0
    assert "[/b]" in ran.out
    assert "[bold]: set-12" in ran.out
    assert not {"\x1b", "\x07"} & set(ran.out)


REFUSED = [
    ((), "no wheel was written; write the counts along the axis"),
    (("..",), "no wheel was written"),
    (("28", "3"), "3: at character 1 read '3': a count is 4 to 200 teeth"),
    (("28", "24x"), "24x: at character 4"),
    (("28", "1=14/31"), "pairs and turns go to 'cogtally identify'"),
    (("28", "..", "12"), "'..' stands between two wheels"),
    (("12", "--role", "laygaer"), "--role laygaer: no family of the catalog has a piece"),
    (("12", "--role", "laygaer"), "did you mean laygear?"),
    (("12", "--role", ""), "--role : no family of the catalog has a piece"),
    (("12", "--role", "[/x]\x1b"), "--role [/x]"),
    (("12", "--rule", "laygear"), "--rule"),
    (("-12",), "-1"),
    (("12", "--catalog", "there/is/none"), "there/is/none"),
    (("22", "--family", "alder-5"), "did you mean alder-4"),
    (("22", "--expect", "alder-4/lite"), "alder-4 has no set called that"),
    (("22", "--expect", "alder-4/late", "--family", "elder-5"), "leave --family out"),
    (("28", "--mark", "countershaft:LG 31"), "say what piece it is with --role"),
]


def test_without_a_catalog(cogtally, tmp_path, monkeypatch):
    """Somebody without a catalog is told how to begin one."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    monkeypatch.setenv("HOME", str(tmp_path))
    refused(cogtally("piece", "28"), "no catalog yet")
