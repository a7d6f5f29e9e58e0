"""From counts to the pairs of a set: what is kept, what is a gap, what is refused."""

import pytest

from cogtally.catalog.changes.made import box_pairs, written_pairs
from cogtally.catalog.model import Family, RatioSet
from cogtally.gears.errors import UserError
from cogtally.gears.notation import parse_seen
from small_catalog import BIRCH, pairs

#: One wheel has two names: that of first gear and that of reverse.
SHARED = Family(
    "elm-3",
    "layshaft",
    direct="3",
    given_pieces={"1-gear": ("1.driven", "R.driven")},
    same={"R.driver": "1.driver"},
    sets=(RatioSet("a", pairs=pairs(input="17/28", g1="14/31", g2="20/25", R="14/20/28")),),
)


def test_box():
    """A counted box has the pairs of its family; what nobody counted is a gap."""
    found = box_pairs(parse_seen(["1=15/36", "2.driver=21", "input=20/31"]), BIRCH)
    assert found.pairs == pairs(input="20/31", g1="15/36", g2="21/_", g3="_/_", R="_/_/_")
    assert list(found.pairs) == ["input", "1", "2", "3", "R"]
    assert found.gaps == ("2.driven", "3.driver", "3.driven", "R.driver", "R.idler", "R.driven")
    assert found.doubtful == ()


@pytest.mark.parametrize(
    ("words", "teeth"),
    [
        (["1.driver=15"], 15),
        (["1.driver=15u"], None),
        (["1.driver=15", "1.driver=16"], None),
        (["1.driver=15x2", "1.driver=16"], 15),
        (["1.driver=15", "1.driver=16", "1.driver=16"], 16),
        (["1.driver=15u", "1.driver=16"], 16),
        (["1.driver=15x2", "1.driver=16", "1.driver=17"], None),
    ],
)
def test_doubtful(words, teeth):
    """A count is kept where it was found for sure more often than all others together."""
    found = box_pairs(parse_seen([*words, "1.driven=36"]), BIRCH)
    assert found.pairs["1"] == (teeth, 36)
    assert found.doubtful == (() if teeth else ("1.driver",))


def test_shared_wheel():
    """A wheel of two names has its count under both."""
    found = box_pairs(parse_seen(["R.driver=14"]), SHARED)
    assert found.pairs == pairs(input="_/_", g1="14/_", g2="_/_", R="14/_/_")


def test_pair_that_the_family_lacks():
    """A pair that the family does not have is kept, for the rules to refuse."""
    assert box_pairs(parse_seen(["5=30/20"]), BIRCH).pairs["5"] == (30, 20)


@pytest.mark.parametrize("words", [["1@4:1.1"], ["1=15u/36u"], []])
def test_box_without_counts(words):
    """A box of which no count is sure makes no set."""
    with pytest.raises(UserError):
        box_pairs(parse_seen(words), BIRCH)


def test_written():
    """A set that is written down has the pairs that were written, in its family's order."""
    words = ["R=14/18/32", "1=15x2/_", "input=20/31"]
    found = written_pairs(parse_seen(words), BIRCH)
    assert list(found.pairs.items()) == list(pairs(input="20/31", g1="15/_", R="14/18/32").items())
    assert found.typed == {"R": "14/18/32", "1": "15x2/_", "input": "20/31"}
    assert found.gaps == ("1.driven",)


def test_written_wheel_by_wheel():
    """A pair written wheel by wheel has as many wheels as the family's, and no typed text."""
    found = written_pairs(parse_seen(["R.driver=14", "1.driver=15", "1=_/36"]), BIRCH)
    assert found.pairs == pairs(g1="15/36", R="14/_/_")
    assert found.typed == {}
    assert written_pairs(parse_seen(["1.idler=20"]), None).pairs == pairs(g1="_/20/_")
