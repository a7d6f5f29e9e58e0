"""Keys to follow: every set comes to its end, by as few counts as trying all keys finds."""

from fractions import Fraction
from itertools import combinations

import pytest
from hypothesis import assume, given, strategies as st

from cogtally.catalog.apart.key import Branch, Key, Node, identification_key
from cogtally.catalog.apart.sets import tell_apart

from .apart_brute import Rows, all_rows, boxes, differing, ends, family_of, fewest_counts, wheels_of

SHARES = st.sampled_from([0.5, 1.0, 2.0, 3.0, 0.1])


def key_of(rows: Rows, commonness: tuple[float, ...], most_looked_at: int = 10**6) -> Key:
    sets = [f"s{number}" for number in range(len(rows))]
    return identification_key(wheels_of(rows), sets, rows, commonness, most_looked_at)


def is_partable(rows: Rows) -> bool:
    return any(differing(rows, a, b) for a, b in combinations(range(len(rows)), 2))


@pytest.mark.parametrize("most_looked_at", [0, 10**6])
@given(rows=all_rows(), data=st.data())
def test_every_set_comes_to_its_end(most_looked_at, rows, data):
    """Whatever the gaps turn out to be, a box ends at sets with its own that no count parts."""
    assume(is_partable(rows))
    key = key_of(rows, (1.0,) * len(rows), most_looked_at)
    assert key.is_exact == (most_looked_at > 0)
    for number, row in enumerate(rows):
        fill = [data.draw(st.integers(20, 23)) if t is None else t for t in row]
        taken = list(ends(key, wheels_of(rows), tuple(fill)))
        assert len(taken) <= key.most
        assert all(f"s{number}" in branch.sets for branch in taken)
        last = [int(known[1:]) for known in taken[-1].sets]
        assert not any(differing(rows, a, b) for a, b in combinations(last, 2))


@given(rows=all_rows(most_sets=5, most_wheels=4), data=st.data())
def test_fewest_counts_of_all_keys(rows, data):
    """No key asks for fewer counts on average, over every box that there can be."""
    assume(is_partable(rows))
    commonness = tuple(data.draw(SHARES) for _ in rows)
    drawn = boxes(rows, commonness)
    total = sum((share for _, _, share in drawn), Fraction(0))
    key = key_of(rows, commonness)
    assert key.average == fewest_counts(rows, drawn) / total
    assert key.average <= key.most


@pytest.mark.parametrize("most_looked_at", [0, 10**6])
@given(rows=all_rows(most_sets=5, most_wheels=4), data=st.data())
def test_average_is_that_of_following_it(most_looked_at, rows, data):
    """The average told is that of following the key with every box that there can be."""
    assume(is_partable(rows))
    commonness = tuple(data.draw(SHARES) for _ in rows)
    key = key_of(rows, commonness, most_looked_at)
    drawn = boxes(rows, commonness)
    counted = [(share, len(list(ends(key, wheels_of(rows), teeth)))) for _, teeth, share in drawn]
    total = sum((share for share, _ in counted), Fraction(0))
    assert key.average == sum((share * n for share, n in counted), Fraction(0)) / total


@given(rows=all_rows(gaps=False), data=st.data())
def test_wheel_by_wheel_is_no_shorter(rows, data):
    """The key that takes the most telling wheel each time is never shorter than the best."""
    assume(is_partable(rows))
    commonness = tuple(data.draw(SHARES) for _ in rows)
    greedy, best = key_of(rows, commonness, 0), key_of(rows, commonness)
    assert (best.average, best.most) <= (greedy.average, greedy.most)


def test_common_sets_come_soon():
    """A common set is found by its one wheel first, where even shares would halve the sets."""
    rows = ((21, 20, 20, 20), (20, 20, 21, 20), (20, 21, 20, 20), (20, 21, 21, 20))
    even = key_of(rows, (1.0,) * 4)
    assert (even.nodes[0].wheel, even.average, even.most) == ("1.driven", 2, 2)
    common = key_of(rows, (20.0, 1.0, 1.0, 1.0))
    assert (common.nodes[0].wheel, common.average, common.most) == ("1.driver", Fraction(28, 23), 3)


def test_of_keys_as_short_the_one_of_fewest_at_most():
    """Where the average is the same, no way through the key is longer than it has to be."""
    rows = ((20, 20), (21, 20), (22, 20), (22, 21))
    key = key_of(rows, (1.0,) * 4)
    assert key.nodes == (
        Node(
            "1.driver",
            (Branch(20, ("s0",), None), Branch(21, ("s1",), None), Branch(22, ("s2", "s3"), 1)),
        ),
        Node("1.driven", (Branch(20, ("s2",), None), Branch(21, ("s3",), None))),
    )
    assert (key.average, key.most) == (Fraction(6, 4), 2)


def test_a_gap_goes_down_every_branch():
    """A set with a gap still fits after any count, and is all that fits after a strange one."""
    key = key_of(((20, 30), (21, 30), (None, 30)), (1.0, 1.0, 1.0))
    assert key.nodes == (
        Node(
            "1.driver",
            (
                Branch(20, ("s0", "s2"), None),
                Branch(21, ("s1", "s2"), None),
                Branch(None, ("s2",), None),
            ),
        ),
    )


def test_twins_end_together():
    """Twins stand at one end of the key; where there are only twins there is no key."""
    found = tell_apart(family_of(((20, 30), (20, 30), (21, 30))))
    assert found.key.nodes[0].branches[0].sets == ("s0", "s1")
    assert tell_apart(family_of(((20, 30), (20, 30)))).key is None
