"""`cogtally catalog apart`, run as a person runs it: screens at two widths, piped, and JSON."""

import json
from collections.abc import Callable
from dataclasses import replace
from functools import partial

import pytest

import cogtally.catalog.apart.sets as apart_room
from cogtally.catalog.apart.key import identification_key
from cogtally.catalog.apart.sets import fewest_wheels
from cogtally.catalog.files.writers import toml_of
from cogtally.catalog.model import Family, RatioSet
from conftest import refused
from small_catalog import pairs

STANDARD = pairs(input="22/34", g1="17/39", g2="23/33", g3="29/27", g5="37/19", R="15/22/36")
CLOSE = pairs(input="24/32", g1="19/37", g2="25/31", g3="29/27", g5="34/22", R="16/21/36")
HANDS = {"2.driver": {"hand": "left"}, "3.driver": {"hand": "left"}}
FAMILIES = (
    Family(
        "rowan-5",
        "layshaft",
        name="Rowan five-speed",
        aliases=("Row-5",),
        direct="4",
        sets=(
            RatioSet("standard", "Standard", STANDARD, {}, 6, marks={"laygear": ("R 81",)}),
            RatioSet(
                *("standard-late", "Standard, other laygear", STANDARD, {}, 2),
                marks={"laygear": ("R 82",)},
                features=HANDS,
            ),
            RatioSet("long-fifth", "[/5th] long", STANDARD | pairs(g5="38/18"), {}, 3),
            RatioSet("hill", "Hill first", STANDARD | pairs(g1="16/40", R="15/21/36"), {}, 2),
            RatioSet("close", "Close ratio", CLOSE, {}, 1.5),
            RatioSet("half-seen", "Opened at the side", CLOSE | pairs(g5="_/_")),
            RatioSet("brochure", ratios={"1": "3.55", "2": "2.22"}),
        ),
        given_pieces={
            "laygear": ("input.driven", "3.driver", "2.driver", "1.driver", "R.driver"),
            "5-driver": ("5.driver",),
        },
    ),
    Family(
        "sorrel-axle",
        "axle",
        name="Sorrel axle",
        sets=tuple(
            RatioSet(known, pairs=pairs(final=teeth))
            for known, teeth in (("low", "9/41"), ("low-late", "9/43"), ("high", "10/37"))
        ),
    ),
    Family("printed-4", "two-shaft", sets=(RatioSet("a", ratios={"1": "3.55"}),)),
)


@pytest.fixture
def folder(tmp_path) -> str:
    """Return a folder that holds three families."""
    for number, family in enumerate(FAMILIES):
        sets = tuple(replace(known, source="invented") for known in family.sets)
        text = toml_of([replace(family, sets=sets)])
        (tmp_path / f"{number}.toml").write_text(text, encoding="utf-8")
    return str(tmp_path)


@pytest.fixture
def apart(cogtally, folder) -> Callable:
    """Return a function that asks about the families of the folder."""

    def ask(*words: str, columns: int | None = None) -> str:
        ran = cogtally("catalog", "apart", *words, "--catalog", folder, columns=columns)
        assert (ran.code, ran.err) == (0, "")
        return ran.out

    return ask


@pytest.mark.parametrize("columns", [60, 100, None])
@pytest.mark.parametrize("family", ["rowan-5", "sorrel-axle", "printed-4", ""])
def test_screens(apart, snapshot, family, columns):
    """The screen is what was read and found good, and no line is wider than the screen."""
    out = apart(*([family] if family else []), columns=columns)
    assert max(map(len, out.splitlines())) <= (columns or 80)
    assert "\x1b" not in out
    snapshot(f"apart/{family or 'all'}-{columns or 'piped'}", out)


def test_a_family_by_its_alias(apart):
    """A family may be asked for by name or alias."""
    assert apart("row-5") == apart("rowan-5") == apart("Rowan five-speed")


def test_json_of_one(apart):
    """The JSON has all that the screen says: wheels, what falls short, close pairs, the key."""
    document = json.loads(apart("rowan-5", "--json"))
    assert (document["format"], document["catalog"]["sets"]) == (1, 11)
    (found,) = document["families"]
    tell, _, mend = found["choices"]
    assert (tell["wheels"], tell["at_least"], tell["exact"]) == (["1.driver", "5.driver"], 2, True)
    assert tell["instead"] == {"1.driver": ["1.driven"], "5.driver": ["5.driven"]}
    assert tell["falls_short_for"] == [["standard", "standard-late"], ["close", "half-seen"]]
    assert ["standard", "long-fifth"] in mend["falls_short_for"]
    assert found["stay_together"] == ["standard", "standard-late", "close", "half-seen"]
    assert found["ratio_only"] == ["brochure"]
    assert found["close"][0] == {
        "sets": ["standard", "standard-late"],
        "differ_in": [],
        "gaps": [],
        "marks": [{"of": "laygear", "feature": None, "values": ["R 81", "R 82"]}],
    }
    key = found["key"]
    assert (key["exact"], key["most"], key["average_ratio"]) == (True, 2, "53/31")
    assert [node["wheel"] for node in key["nodes"]] == ["1.driver", "5.driver"]
    assert key["nodes"][0]["branches"][1] == {
        "teeth": 17,
        "sets": ["standard", "standard-late", "long-fifth"],
        "node": 1,
    }


def test_json_of_all(apart):
    """Without a family the JSON has all of them, without keys."""
    families = json.loads(apart("--json"))["families"]
    assert [found["family"] for found in families] == ["rowan-5", "sorrel-axle", "printed-4"]
    assert all(found["key"] is None for found in families)


def test_the_demo_is_said(cogtally):
    """An answer from the invented catalog says so, for one family and for all."""
    for words in ([], ["alder-4"]):
        ran = cogtally("catalog", "apart", *words, "--demo", columns=100)
        assert ran.code == 0
        assert "demo" in ran.out
    assert json.loads(cogtally("catalog", "apart", "--demo", "--json").out)["catalog"]["demo"]


def test_errors_are_one_line(cogtally, folder):
    """A misspelt family and two catalogs at once are a line each, and nothing is printed."""
    for words, told in (
        (["rowan-4", "--catalog", folder], "did you mean rowan-5?"),
        (["--demo", "--catalog", folder], "two different catalogs"),
        (["", "--catalog", folder], "no family"),
    ):
        refused(cogtally("catalog", "apart", *words), told)


@pytest.fixture
def triangle(tmp_path) -> str:
    """Return a file of three sets, each two of which differ in another two of three wheels."""
    rows = {"a": ("20/30", "40/50"), "b": ("21/31", "40/50"), "c": ("21/30", "41/50")}
    text = '[family]\nid = "three"\nlayout = "two-shaft"\n' + "".join(
        f'[[set]]\nid = "{known}"\nsource = "invented"\n'
        f'pairs = {{ 1 = "{first}", 2 = "{second}" }}\n'
        for known, (first, second) in rows.items()
    )
    path = tmp_path / "three.toml"
    path.write_text(text, encoding="utf-8")
    return str(path)


def test_a_search_cut_short_is_said(cogtally, triangle, monkeypatch):
    """Where no search came to its end, no number is called the fewest; the bounds are told."""
    whole = cogtally("catalog", "apart", "three", "--catalog", triangle).out
    assert "To tell the sets apart: 2 wheels\n" in whole
    assert "No key has fewer on average" in whole
    monkeypatch.setattr(apart_room, "fewest_wheels", partial(fewest_wheels, most_visited=0))
    monkeypatch.setattr(
        apart_room, "identification_key", partial(identification_key, most_looked_at=0)
    )
    cut = " ".join(cogtally("catalog", "apart", "three", "--catalog", triangle).out.split())
    assert "at most 2 wheels (the search was cut short; at least 1)" in cut
    assert "too large to find the shortest key" in cut
    assert "No key has fewer" not in cut
    table = cogtally("catalog", "apart", "--catalog", triangle).out
    assert "≤2" in table
    assert "≤ at most so many" in table


def test_a_family_too_large_is_said(cogtally, triangle, monkeypatch):
    """A family past the bound is named as such, alone and in the table, with exit code 0."""
    monkeypatch.setattr(apart_room, "MOST_COMPARED", 0)
    for words in (["three"], []):
        ran = cogtally("catalog", "apart", *words, "--catalog", triangle)
        assert (ran.code, ran.err) == (0, "")
        assert "Too many sets to compare each with each" in ran.out


def test_a_deep_key_goes_on_further_down(cogtally, tmp_path, snapshot):
    """A key too deep for a narrow screen goes on in numbered trees, no line cut or too wide."""
    sets = "".join(
        f'[[set]]\nid = "s{number}"\nsource = "invented"\npairs = {{ '
        + ", ".join(
            f'{p + 1} = "{21 if 2 * p == number else 20}/{31 if 2 * p + 1 == number else 30}"'
            for p in range(6)
        )
        + " }\n"
        for number in range(13)
    )
    path = tmp_path / "deep.toml"
    path.write_text(f'[family]\nid = "deep"\nlayout = "two-shaft"\n{sets}', encoding="utf-8")
    out = cogtally("catalog", "apart", "deep", "--catalog", str(path), columns=60).out
    assert max(map(len, out.splitlines())) <= 60
    snapshot("apart/deep-60", out)
