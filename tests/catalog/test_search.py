"""What a search of a catalog finds: by words, teeth, ratios and source."""

import pytest
from hypothesis import given, strategies as st

from cogtally.catalog.files.reading import demo_catalog
from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.catalog.search.plain import Hit, compact, parse_query, search, tokens_of
from cogtally.gears.errors import UserError
from small_catalog import SMALL, pairs

DEMO = demo_catalog()
MARKS = [
    (f"{family.id}/{known.id}", mark)
    for family in DEMO.families
    for known in family.sets
    for marks in known.marks.values()
    for mark in marks
]


def ids(hits: tuple[Hit, ...]) -> list[str]:
    """What was found, as it is written."""
    return [h.family.id if h.known is None else f"{h.family.id}/{h.known.id}" for h in hits]


def found(*words: str, catalog: Catalog = DEMO, ratios: tuple[str, ...] = ()) -> list[str]:
    """What these words find."""
    return ids(search(catalog, parse_query(words, ratios)))


@pytest.mark.parametrize(
    ("query", "first"),
    [
        ("alder", "alder-4"),
        ("aldr", "alder-4"),
        ("Pelgate", "pellgate-axle"),
        ("motorcycle", "osier-4"),
        ("synchronisd", "alder-4"),
        ("saloom", "alder-4/wide"),
        ("late tourng", "alder-4/late-touring"),
        ("LG 3117", "alder-4/late"),
        ("lg3117", "alder-4/late"),
        ("LG 31?7", "alder-4/late"),
        ("311?", "alder-4/late"),
        ("G 3l21", "alder-4/wide"),
        ("box paper", "alder-4/close"),
    ],
)
def test_words(query, first):
    """A name, an alias, a mark or a note is found, misspelt or half legible, before all else."""
    assert found(*query.split())[0] == first


def test_words_in_one():
    """Words written as one word of the shell are the same question."""
    assert found("late touring") == found("late", "touring")


def slip(word: str, place: int, how: int) -> str:
    """A word with one slip of the keyboard at a place."""
    at = place % len(word)
    if how == 0:
        return word[:at] + word[at + 1 :]
    if how == 1:
        return word[:at] + word[at : at + 2][::-1] + word[at + 2 :]
    return word[:at] + "x" + word[at + 1 :]


@given(st.sampled_from(DEMO.families), st.integers(0, 30), st.sampled_from([0, 1, 2]))
def test_misspelt_family(family, place, how):
    """A family with one slip in its name still comes first."""
    assert found(slip(family.name, place, how))[0].split("/")[0] == family.id


@given(st.sampled_from(MARKS), st.integers(0, 10))
def test_half_legible_mark(marked, place):
    """A mark with one character nobody can read finds the set that has it among the first."""
    subject, mark = marked
    at = place % len(mark)
    if mark[at].isalnum():
        hits = search(DEMO, parse_query([mark[:at] + "?" + mark[at + 1 :]]))
        best = [ids((hit,))[0] for hit in hits if hit.likeness == hits[0].likeness]
        assert subject in best


@given(st.text(max_size=20))
def test_any_text(text):
    """Whatever is looked for, the likeliest comes first and nothing breaks."""
    try:
        query = parse_query([text])
    except UserError:
        return
    likeness = [hit.likeness for hit in search(SMALL, query)]
    assert likeness == sorted(likeness, reverse=True)


def test_nothing_like_it():
    """What is like nothing finds nothing."""
    assert found("qqqqqq") == []
    assert found("?") == []


@pytest.mark.parametrize(
    ("words", "sets"),
    [
        (["23/_"], ["birch-4/sport"]),
        (["_/39"], ["birch-4/haul"]),
        (["14/32"], ["birch-4/early", "birch-4/sport", "birch-4/haul"]),
        (["14/18/_"], ["birch-4/early", "birch-4/sport", "birch-4/haul"]),
        (["2=20/33"], ["twin-2/a", "twin-2/b"]),
        (["1=20/33"], []),
        (["3.driver=28"], ["twin-2/b"]),
        (["13/40", "28/_"], ["twin-2/b"]),
        (["haul", "14/18/32"], ["birch-4/haul"]),
    ],
)
def test_teeth(words, sets):
    """Teeth find every set that has all of them in one pair, and no other."""
    assert found(*words, catalog=SMALL) == sets


def test_gap_is_no_count():
    """A wheel that nobody counted has no teeth that could be looked for."""
    family = Family("a-1", "two-shaft", sets=(RatioSet("x", pairs=pairs(g1="13/_")),))
    assert found("13/40", catalog=Catalog((family,))) == []
    assert found("13/_", catalog=Catalog((family,))) == ["a-1/x"]


@pytest.mark.parametrize(
    ("ratio", "sets"),
    [
        ("1=3.08", ["twin-2/a", "twin-2/b"]),
        ("1=3.1", ["twin-2/a", "twin-2/b", "twin-2/print"]),
        ("1=3.10", ["twin-2/print"]),
        ("2=3.08", []),
        ("4=1.0", ["birch-4/early", "birch-4/sport", "birch-4/haul"]),
        ("final=4.56", ["sorrel-axle/low"]),
        ("4.556", ["sorrel-axle/low"]),
        ("3,7", ["birch-4/early", "birch-4/haul", "sorrel-axle/high"]),
    ],
)
def test_ratio(ratio, sets):
    """A printed ratio finds the sets of which a gear rounds to it, or is printed so."""
    hits = search(SMALL, parse_query([], [ratio]))
    assert [i for i, hit in zip(ids(hits), hits, strict=True) if hit.likeness == 100] == sets


def test_ratio_beside():
    """A ratio one unit of the last place off is found behind those that have it."""
    hits = search(SMALL, parse_query([], ["final=4.57"]))
    assert [(i, hit.likeness < 100) for i, hit in zip(ids(hits), hits, strict=True)] == [
        ("sorrel-axle/low", True)
    ]


@pytest.mark.parametrize("source", ["box paper", "BOX PAPER", "losoe set"])
def test_source(source):
    """Sets are found by where they come from, misspelt too."""
    assert ids(search(DEMO, parse_query([], [], source)))[0] == "alder-4/close"
    assert search(SMALL, parse_query([], [], source)) == ()


@pytest.mark.parametrize("word", ["1=_/_", "_/_", "28/", "28/300", "1=28"])
def test_teeth_without_counts(word):
    """Teeth that say nothing, or cannot be read, are an error of one line."""
    with pytest.raises(UserError):
        parse_query([word])


def test_tokens():
    """A word is a run of letters and digits; a `?` in it is a letter that cannot be read."""
    assert tokens_of("LG-31?7, [/5th]") == ("lg", "31?7", "5th")
    assert tokens_of("?102 3??") == ("?102", "3??")
    assert compact("LG 31-02") == "lg3102"
