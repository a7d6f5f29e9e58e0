"""Families and sets by id, name and alias, and the words near to a misspelt one."""

import pytest
from hypothesis import given, strategies as st

from cogtally.catalog.find import find_any, find_family, find_set, find_set_of, nearest
from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.gears.errors import UserError

ALDER = Family(
    "alder-4",
    "layshaft",
    name="Alder four-speed",
    aliases=("Ald-4", "Alder"),
    sets=(
        RatioSet("wide", name="Wide ratio", aliases=("saloon",)),
        RatioSet("close", name="Close ratio"),
        RatioSet("8-38", name="8/38, early"),
        RatioSet("a", name="Twin"),
        RatioSet("b", name="twin"),
    ),
)
ROWAN = Family("rowan-5", "layshaft", name="Box 5/4", aliases=("Alder-4",))
TWO = Family("rowan-4", "layshaft", name="Box 5/4", aliases=("five",), sets=(RatioSet("x"),))
CATALOG = Catalog((ALDER, ROWAN, TWO))


@pytest.mark.parametrize("text", ["alder-4", "ALDER-4", "Alder four-speed", "ald-4", " Alder "])
def test_family(text):
    """A family is found by id, name or alias, in capitals or not; an id goes before an alias."""
    assert find_family(CATALOG, text) is ALDER


@pytest.mark.parametrize(
    ("text", "id"),
    [
        ("alder-4/wide", "wide"),
        ("Alder/Saloon", "wide"),
        ("Alder four-speed/Close ratio", "close"),
        ("ald-4/8/38, early", "8-38"),
    ],
)
def test_set(text, id):
    """A set is found by its family's and its own id, name or alias, strokes in names and all."""
    family, known = find_set(CATALOG, text)
    assert (family, known.id) == (ALDER, id)


@pytest.mark.parametrize(
    ("find", "text", "said"),
    [
        (find_family, "aldr-4", "aldr-4: no family of the catalog is called that; did you mean al"),
        (find_family, "zzz", "zzz: no family of the catalog is called that; there are alder-4"),
        (find_family, "", "no family of the catalog is called that; there are alder-4"),
        (find_family, "Box 5/4", "Box 5/4: several families are called that; say rowan-5"),
        (find_family, "al\x1b[31mder", "al\ufffd[31mder: no family of the catalog is called that"),
        (find_set, "alder-4/wdie", "wdie: alder-4 has no set called that; did you mean wide"),
        (find_set, "alder-4/Twin", "Twin: alder-4 has several sets called that; say a or b"),
        (find_set, "aldr-4/wide", "aldr-4: no family of the catalog is called that; did you mean"),
        (find_set, "wide", "wide: a set is named with its family; write FAMILY/SET, for example"),
        (find_set, "alder", "alder: a set is named with its family; write FAMILY/SET"),
        (find_set, "nothing", "nothing: a set is named with its family; write FAMILY/SET"),
        (find_any, "wide", "wide: a set is named with its family; write FAMILY/SET, for example"),
        (find_any, "aldr", "aldr: no family of the catalog is called that; did you mean"),
        (find_any, "alder/wdie", "wdie: alder-4 has no set called that; did you mean wide"),
    ],
)
def test_not_found(find, text, said):
    """What is not found is said with the nearest right ones, or with how it is written."""
    with pytest.raises(UserError) as caught:
        find(CATALOG, text)
    assert str(caught.value).startswith(said)


@pytest.mark.parametrize(
    ("text", "family", "set_id"),
    [
        ("alder", "alder-4", None),
        ("alder/saloon", "alder-4", "wide"),
        ("Box 5/4/x", "rowan-4", "x"),
        ("box 5/4", "rowan-4", None),
        ("five", "rowan-4", None),
    ],
)
def test_any(text, family, set_id):
    """A family is named alone, a set behind its family."""
    found, known = find_any(Catalog((ALDER, TWO)), text)
    assert (found.id, known.id if known else None) == (family, set_id)


def test_no_set_of_family():
    """A family without sets says no more than that."""
    with pytest.raises(UserError, match=r"^x: rowan-5 has no set called that$"):
        find_set_of(ROWAN, "x")


def test_nearest():
    """The likeliest word comes first, one that is much less like it not at all."""
    assert nearest("layot", ["layout", "name", "note"]) == ["layout"]
    assert nearest("1.drivn", ["2.driven", "1.driven"])[0] == "1.driven"
    assert nearest("Layshaft", ["layshaft"]) == ["layshaft"]
    assert nearest("alder", ["Alder four-speed"]) == ["Alder four-speed"]
    assert nearest("xyz", ["layout", "name"]) == []
    assert nearest("x" * 1000, ["x" * 999]) == []


words = st.text(st.characters(codec="utf-8"), max_size=12)


@given(words, st.lists(words, max_size=8))
def test_nearest_are_candidates(word, candidates):
    """Only candidates are offered, each once, three at most."""
    found = nearest(word, candidates)
    assert set(found) <= set(candidates)
    assert len(found) == len(set(found)) <= 3


@given(st.text(st.characters(min_codepoint=33, max_codepoint=126), min_size=2, max_size=12))
def test_nearest_knows_itself(word):
    """A word that is right is nearest to itself."""
    assert nearest(word, ["another", word])[0] == word
