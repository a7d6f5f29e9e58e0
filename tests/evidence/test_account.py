"""The account: its rows add up to the log of the posterior odds, whatever was seen."""

import json
import re
from math import log2

import pytest

from cogtally.catalog.files.reading import demo_catalog
from cogtally.catalog.model import Catalog
from cogtally.evidence.reading import Account, identify
from cogtally.gears.notation import parse_seen

FAMILIES = ("alder-4", "osier-4", "larch-4", "pellgate-axle")
BOXES = {
    "matched": "input=17/28 1=14/31 2=19/26 3=24/21",
    "narrowed": "input=17/28 2=19/26",
    "mixed": "input=17/28 1=14/31 2=19/26 3=24/22x2 1@4:1.1",
    "variant": "input=17/28 1=14/31 2=19/26 3=24/21 5=30/20",
    "uncatalogued": "input=29/33 1=37/11 2=41/22 3=17/17 R=40/40",
    "turned": "1@4:1.1 2@9:4",
    "two-shaft": "1=13/44 2=20/37 final=15/61u",
    "printed": "1=14/43 2=21/36 3=26/31 4=31/26 final=14/62",
    "one word": "3.driven=22ux2",
}


@pytest.fixture(scope="module")
def catalog() -> Catalog:
    demo = demo_catalog()
    return Catalog(tuple(f for f in demo.families if f.id in FAMILIES), "part", demo=True)


def account_of(catalog: Catalog, words: str) -> Account:
    found = identify(catalog, parse_seen(words.split()), why=True).account
    assert found is not None
    return found


@pytest.mark.parametrize("name", BOXES)
def test_rows_add_up(name, catalog):
    """Prior and rows add up to log2 of the odds of headline against rival, to 1e-9."""
    found = account_of(catalog, BOXES[name])
    odds = log2(found.headline.probability / found.rival.probability)
    assert sum(row.bits for row in found.rows) == pytest.approx(odds, abs=1e-9)
    assert found.total == pytest.approx(odds, abs=1e-9)


@pytest.mark.parametrize("name", BOXES)
def test_rows_are_what_was_seen_in_order(name, catalog):
    """The first row is the prior, then comes each thing seen, in the order it was written."""
    words = BOXES[name].split()
    rows = account_of(catalog, BOXES[name]).rows
    assert [row.seen for row in rows[: len(words) + 1]] == ["prior", *words]
    assert all(row.bits == 0.0 and "not counted" in row.because for row in rows[len(words) + 1 :])


def test_both_sides_are_of_one_kind(catalog):
    """So-far groups stand against so-far groups, answers against answers."""
    assert account_of(catalog, BOXES["one word"]).so_far
    mixed = account_of(catalog, BOXES["mixed"])
    assert not mixed.so_far
    assert mixed.headline.kind == "mixed"


@pytest.mark.parametrize("name", BOXES)
def test_the_rival_stands_among_the_answers_shown(name, catalog):
    """What is explained is what the headline says, against an answer that is shown beside it."""
    answer = identify(catalog, parse_seen(BOXES[name].split()), why=True)
    found = answer.account
    assert found is not None
    shown = [rival.share for rival in answer.rivals]
    assert any(a.kind == found.rival.kind and set(a.sets) <= set(found.rival.sets) for a in shown)
    said = answer.verdict
    kind = "matched" if said.names_sets else said.leaning
    assert found.headline.kind == kind
    assert not said.names_sets or set(found.headline.sets) <= set(said.sets)


def test_the_sentence_of_a_count(catalog):
    """A row says what was counted and what each side has there."""
    rows = account_of(catalog, "input=17/28 3.driven=22").rows
    assert "3.driven counted 22: " in rows[2].because
    assert "has 21" in rows[2].because


def test_table_and_json_tell_the_same(cogtally):
    """The rows of the screen are those of the JSON, and add up to the total that it shows."""
    words = BOXES["matched"].split()
    why = json.loads(cogtally("identify", "--demo", "--json", *words).out)["why"]
    screen = cogtally("identify", "--demo", "--why", *words, columns=100).out
    shown = [float(bits) for bits in re.findall(r"^ *([+-]\d+\.\d\d) +-*\|", screen, re.MULTILINE)]
    assert shown == [
        round(row["bits"], 2) for row in why["rows"] if "not counted" not in row["because"]
    ]
    total = re.search(r"^ *([+-]\d+\.\d\d)  total", screen, re.MULTILINE)
    assert total is not None
    assert float(total[1]) == round(why["total"], 2)
    assert sum(row["bits"] for row in why["rows"]) == pytest.approx(why["total"], abs=1e-9)
