"""A family or a set as text to be edited, and what comes back of it."""

from dataclasses import replace

import pytest

from cogtally.catalog.changes.keep import decoded, from_edited, read_text, to_edit
from cogtally.catalog.files.reading import demo_catalog
from cogtally.catalog.problem import CatalogError
from cogtally.gears.errors import UserError
from small_catalog import BIRCH

ALDER = demo_catalog().by_id["alder-4"]
EVERY = [(family, known) for family in demo_catalog().families for known in (None, *family.sets)]


@pytest.mark.parametrize(
    ("family", "known"), EVERY, ids=[f"{f.id}/{s.id if s else ''}" for f, s in EVERY]
)
def test_unchanged(family, known):
    """A text that nobody changed gives the family that it was made of."""
    editing = to_edit(family, known)
    assert from_edited(editing, editing.text, "a.toml") == family


def test_one_set():
    """The text of one set has that set alone, and a change of it leaves the others."""
    editing = to_edit(ALDER, ALDER.sets[2])
    assert editing.text.startswith('[[set]]\nid = "late"\n')
    assert editing.text.count("[[set]]") == 1
    found = from_edited(editing, editing.text.replace('"Late"', '"Later"'), "a.toml")
    later = replace(ALDER.sets[2], name="Later")
    assert found == replace(ALDER, sets=(*ALDER.sets[:2], later, *ALDER.sets[3:]))


def test_two_in_place_of_one():
    """Two sets in the text of one stand where it stood."""
    editing = to_edit(BIRCH, BIRCH.sets[1])
    twice = editing.text + editing.text.replace('"sport"', '"sport-2"').replace("23/28", "24/27")
    found = from_edited(editing, twice, "a.toml")
    assert [known.id for known in found.sets] == ["early", "sport", "sport-2", "haul"]


@pytest.mark.parametrize(
    ("old", "new", "line", "said"),
    [
        ("id = ", "idd = ", 2, "did you mean id?"),
        ('"18/27"', '"3/27"', 5, "not a whole number from 4 to 200"),
        ('R = "12/20/28" }', 'R = "12/20/28 }', 5, "the text has no quote"),
        ('input = "18/27", ', "", 5, "pair input is missing"),
        ('id = "late"', 'id = "wide"', 2, "used twice"),
        ("[[set]]", "[[sett]]", None, "there is no set in the text"),
        ("[[set]]\n", "", None, "there is no set in the text"),
        ("[[set]]", '[family]\nid = "x"\n[[set]]', 1, "says nothing of its family"),
        ("[[set]]", 'name = "x"\n[[set]]', 1, "at the top of a file"),
    ],
)
def test_wrong(old, new, line, said):
    """What is wrong in the text of a set is said with the line in that text."""
    late = replace(ALDER.sets[2], commonness=1.0)
    family = replace(ALDER, sets=(*ALDER.sets[:2], late, *ALDER.sets[3:]))
    editing = to_edit(family, late)
    assert old in editing.text
    with pytest.raises(CatalogError) as caught:
        from_edited(editing, editing.text.replace(old, new, 1), "a.toml")
    lines = [(p.line, str(p)) for p in caught.value.problems if said in str(p)]
    assert lines, [str(p) for p in caught.value.problems]
    assert lines[0][0] == line
    assert lines[0][1].startswith("a.toml")


def test_wrong_in_another_set():
    """What a change makes wrong in another set has no line, for that set is not in the text."""
    family = replace(BIRCH, sets=BIRCH.sets[:2])
    editing = to_edit(family, family.sets[0])
    text = editing.text.replace('R = "14/18/32"', 'R = "14/32"')
    with pytest.raises(CatalogError) as caught:
        from_edited(editing, text, "a.toml")
    assert {p.line for p in caught.value.problems} <= {None, *range(1, text.count("\n") + 1)}


def test_two_families():
    """The text of a family stays one family."""
    text = '[[family]]\nid = "a"\nlayout = "axle"\n[[family]]\nid = "b"\nlayout = "axle"\n'
    with pytest.raises(CatalogError, match="several families"):
        from_edited(to_edit(BIRCH), text, "a.toml")


def test_text_of_a_file(tmp_path):
    """A text may begin with a mark and have line ends of two characters; it is UTF-8."""
    file = tmp_path / "a.toml"
    file.write_bytes(b"\xef\xbb\xbfa = 1\r\nb = 2\r\n")
    assert read_text(file) == "a = 1\nb = 2\n"
    with pytest.raises(CatalogError, match="not UTF-8"):
        decoded(b"a\n\xff", "x")
    with pytest.raises(UserError, match="no such file"):
        read_text(tmp_path / "none")
