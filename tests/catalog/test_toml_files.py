"""TOML: what is no TOML, with line and column, several families in a file, and lines of keys.

What is said word for word stands in tests/snapshots/catalog/toml.txt.
"""

import pytest

from catalog.sound import SOUND, listing, problems_of, read_text, spoilt

MANY = """\
[[family]]
id = "one"
layout = "axle"
[[family.set]]
id = "a"
source = "counted"
pairs = { final = "9/41" }
[[family.set]]
id = "b"
source = "counted"
pairs = { final = "10/41" }

[[family]]
id = "two"
layout = "axle"
[[family.set]]
id = "a"
source = "counted"
pairs = { final = "11/41" }
[[family.set]]
id = "b"
source = "counted"
pairs = { final = "12/41" }
"""
NESTED = "[" * 100_000
DOTTED = ".".join("a" * 20_000) + " = 1"

CASES = {
    "quote_left_out": spoilt(SOUND, ('"wide"', '"wide')),
    "quotes_left_out": spoilt(SOUND, ('"14/31"', "14/31")),
    "equals_left_out": spoilt(SOUND, ('id = "wide"', 'id "wide"')),
    "value_left_out": spoilt(SOUND, ('id = "wide"', "id = ")),
    "value_left_out_at_the_end": "[family]\nid = ",
    "bracket_left_out": spoilt(SOUND, ("[family]", "[family")),
    "list_left_open": spoilt(SOUND, ('direct = "4"', 'aliases = ["a"\nnote = "b"')),
    "two_values": spoilt(SOUND, ('direct = "4"', 'direct = "4" "5"')),
    "key_twice": spoilt(SOUND, ('direct = "4"', 'direct = "4"\ndirect = "4"')),
    "pair_twice": spoilt(SOUND, ('2 = "19/26"', '1 = "19/26"')),
    "table_twice": SOUND + "[family]\n",
    "backslash": spoilt(SOUND, ('"wide"', '"wi\\de"')),
    "no_date": spoilt(SOUND, ('"4"', "2041-19-39")),
    "control_character": spoilt(SOUND, ('"wide"', '"wi\x1b[31mde"')),
    "enormous_number": spoilt(SOUND, ('"4"', "9" * 5000)),
    "nested": f"a = {NESTED}",
    "dotted": DOTTED,
    "nothing": "",
    "no_family": SOUND[SOUND.index("[[set]]") :],
    "misspelt_family": spoilt(SOUND, ("[family]", "[famly]")),
    "misspelt_set": spoilt(SOUND[: SOUND.rindex("[[set]]")], ("[[set]]", "[[sets]]")),
    "family_no_table": "family = 3\n",
    "sets_apart": MANY + '[[set]]\nid = "x"\n',
}


def test_words(snapshot):
    """What is no TOML, or no catalog, is said in one problem, with its line and column."""
    snapshot("catalog/toml", listing(CASES))


def test_many_families():
    """A file may hold several families, each with sets of its own."""
    catalog, problems = read_text(MANY)
    assert problems == ()
    sets = {f.id: [s.pairs["final"][0] for s in f.sets] for f in catalog.families}
    assert sets == {"one": [9, 10], "two": [11, 12]}


@pytest.mark.parametrize(
    ("old", "new", "line", "family", "known"),
    [
        ('"12/41"', '"3/41"', 23, "two", "b"),
        ('"10/41"', '"3/41"', 11, "one", "b"),
        ('id = "two"', "", 13, "", ""),
    ],
)
def test_lines_of_many(old, new, line, family, known):
    """A problem in one of several families has the line, the family and the set it stands in."""
    (problem,) = problems_of(spoilt(MANY, (old, new)))
    assert (problem.line, problem.family, problem.set) == (line, family, known)


@pytest.mark.parametrize(
    ("written", "line"),
    [
        ("features = { laygear = { splines = true } }", 14),
        ("[set.features]\nlaygear = { splines = true }", 15),
        ('[set.features.laygear]\n\n# a remark\n"splines" = true', 17),
        ("[set.features]\nlaygear.bore_mm = 19.05\n'laygear'.\"splines\" = true", 16),
        ('note_ = """\n[set.features]\nlaygear = { splines = true }\n"""', 14),
    ],
)
def test_lines_of_keys(written, line):
    """The line of a key is found however its table is written, and not inside a long text."""
    text = SOUND[: SOUND.rindex("source")] + SOUND[SOUND.rindex("pairs") :] + written + "\n"
    text = spoilt(text, ('id = "late"\n', 'id = "late"\nsource = "counted"\n'))
    (problem,) = problems_of(text)
    assert problem.line == line + 2


def test_mark_at_the_start():
    """A file with a byte order mark and ends of lines of another system reads as any other."""
    text = "\ufeff" + SOUND.replace("\n", "\r\n")
    assert read_text(text)[0].families == read_text(SOUND)[0].families


def test_unquoted_names():
    """An unquoted first key of digits is the pair or gear of that name."""
    (family,) = read_text(spoilt(SOUND, ("1 =", '"1" =')))[0].families
    assert family.sets[0].pairs["1"] == (14, 31)
