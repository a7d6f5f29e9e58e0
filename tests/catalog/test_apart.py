"""Which wheels tell sets apart, against trying all choices, and what no count can part."""

from itertools import combinations

import pytest
from hypothesis import given, settings, strategies as st

from cogtally.catalog.apart.sets import MEND, NOTICE, TELL, Mark, fewest_wheels, tell_apart
from cogtally.catalog.model import Family, RatioSet

from .apart_brute import (
    STRANGE,
    Rows,
    all_rows,
    differing,
    family_of,
    first_choice,
    is_enough,
    wheels_of,
)

each_demand = pytest.mark.parametrize("differences", [TELL, NOTICE, MEND])


@each_demand
@given(rows=all_rows())
def test_fewest_of_all_choices(differences, rows):
    """The choice is, of all that are enough, the smallest, and of those the first as written."""
    wheels = wheels_of(rows)
    choice = tell_apart(family_of(rows), with_key=False).choices[differences - 1]
    assert choice.wheels == tuple(wheels[w] for w in first_choice(rows, differences))
    assert choice.is_exact


@each_demand
@given(rows=all_rows())
def test_instead(differences, rows):
    """A wheel is named to stand in for a chosen one where the choice is then enough still."""
    wheels = wheels_of(rows)
    choice = tell_apart(family_of(rows), with_key=False).choices[differences - 1]
    chosen = {wheels.index(w) for w in choice.wheels}
    for wheel, instead in zip(choice.wheels, choice.instead, strict=True):
        rest = chosen - {wheels.index(wheel)}
        assert instead == tuple(
            wheels[w]
            for w in range(len(wheels))
            if w not in chosen and is_enough(rows, rest | {w}, differences)
        )


@given(rows=all_rows(), order=st.randoms(use_true_random=False))
def test_order_of_sets(rows, order):
    """The order in which sets are written does not change the wheels."""
    other = list(rows)
    order.shuffle(other)
    first, second = (tell_apart(family_of(r), with_key=False) for r in (rows, tuple(other)))
    assert first.choices == second.choices


def sets_within(rows: Rows, chosen: list[int], counts: list[int], wrong: int) -> set[int]:
    """The sets that have all but at most `wrong` of the counts, gaps having any."""
    return {
        number
        for number, row in enumerate(rows)
        if sum(row[w] is not None and row[w] != c for w, c in zip(chosen, counts, strict=True))
        <= wrong
    }


@settings(max_examples=100)
@given(rows=all_rows(most_sets=4), a_set=st.integers(0, 3), place=st.integers(0, 5), data=st.data())
def test_what_a_miscount_does(rows, a_set, place, data):
    """With one count wrong: two differences, no wrong set fits; three, the right is alone near."""
    right = a_set % len(rows)
    teeth = [data.draw(st.integers(20, 22)) if t is None else t for t in rows[right]]
    wheels = wheels_of(rows)
    found = tell_apart(family_of(rows), with_key=False)
    for differences in (NOTICE, MEND):
        chosen = [wheels.index(w) for w in found.choices[differences - 1].wheels]
        if not chosen:
            continue
        counts = [teeth[w] for w in chosen]
        counts[place % len(chosen)] = data.draw(st.sampled_from([20, 21, 22, STRANGE]))
        far = {o for o in range(len(rows)) if len(differing(rows, right, o)) >= differences}
        if differences == NOTICE:
            assert not sets_within(rows, chosen, counts, 0) & far
        else:
            near = sets_within(rows, chosen, counts, 1)
            assert right in near
            assert not near & far


def test_two_differences_do_not_mend():
    """Sets that differ in two wheels are both one wrong count from a miscount of one of them."""
    rows = ((20, 30), (21, 31))
    assert sets_within(rows, [0, 1], [20, 31], 0) == set()
    assert sets_within(rows, [0, 1], [20, 31], 1) == {0, 1}
    found = tell_apart(family_of(rows))
    assert [len(pair.differ_in) for pair in found.short_of(MEND)] == [2]
    assert found.short_of(NOTICE) == ()


@given(rows=all_rows())
def test_close_pairs(rows):
    """Every two sets that differ in fewer than three wheels are listed, with those wheels."""
    wheels = wheels_of(rows)
    found = {pair.sets: pair for pair in tell_apart(family_of(rows), with_key=False).close}
    for a, b in combinations(range(len(rows)), 2):
        expected = differing(rows, a, b)
        pair = found.pop((f"s{a}", f"s{b}"), None)
        assert (pair is None) == (len(expected) >= MEND)
        if pair is not None:
            assert set(pair.differ_in) == {wheels[w] for w in expected}
            assert pair.is_alike == (rows[a] == rows[b])
    assert not found


@each_demand
@given(rows=all_rows())
def test_search_cut_short(differences, rows):
    """A search without a step to spend gives a choice that is enough and a bound that holds."""
    masks = [
        sum(1 << w for w in differing(rows, a, b)) for a, b in combinations(range(len(rows)), 2)
    ]
    found = fewest_wheels(masks, differences, most_visited=0)
    chosen = {w for w in range(len(rows[0])) if found.chosen >> w & 1}
    fewest = len(first_choice(rows, differences))
    assert is_enough(rows, chosen, differences)
    assert found.at_least <= fewest <= len(chosen)


def test_a_cut_search_says_so():
    """Where the bound comes first, the proven number stays below the number chosen."""
    ring = [1 << w | 1 << (w + 1) % 5 for w in range(5)]
    cut, whole = fewest_wheels(ring, 1, most_visited=0), fewest_wheels(ring, 1)
    assert (cut.at_least, cut.chosen.bit_count()) == (2, 3)
    assert (whole.at_least, whole.chosen) == (3, 0b01011)


def test_twins_stay_together():
    """Twins are told with what parts them beside teeth; the rest is parted by one wheel."""
    pairs = {"final": (9, 41)}
    family = Family(
        "sorrel",
        "axle",
        sets=(
            RatioSet("a", pairs=pairs, marks={"final-pinion": ("P 1",)}),
            RatioSet(
                "b",
                pairs=pairs,
                marks={"final-pinion": ("P 2", "X")},
                features={"final-crown": {"bolts": 8}, "final.driver": {"hand": "left"}},
            ),
            RatioSet("c", pairs={"final": (10, 41)}, features={"final-crown": {"bolts": 10}}),
            RatioSet("d", pairs=pairs, features={"final-crown": {"bolts": 10}}),
        ),
    )
    found = tell_apart(family)
    assert found.together == ("a", "b", "d")
    assert found.choices[0].wheels == ("final.driver",)
    marks = {pair.sets: pair.marks for pair in found.short_of(TELL)}
    assert marks["a", "b"] == (Mark("final-pinion", "", ("P 1", "P 2, X")),)
    # Nobody says what is on the pinion of d.
    assert marks["b", "d"] == (Mark("final-crown", "bolts", (8, 10)),)
    assert marks["a", "d"] == ()


def test_gaps_part_nothing():
    """A set with a gap is parted from none by that wheel, though others are parted there."""
    found = tell_apart(family_of(((20, 30), (None, 30), (21, 30), (None, 30))))
    assert found.choices[0].wheels == ("1.driver",)
    alike = {pair.sets: (pair.gaps, pair.is_alike) for pair in found.short_of(TELL)}
    assert alike == {
        ("s0", "s1"): (("1.driver",), False),
        ("s0", "s3"): (("1.driver",), False),
        ("s1", "s2"): (("1.driver",), False),
        ("s1", "s3"): ((), True),
        ("s2", "s3"): (("1.driver",), False),
    }


def test_two_names_of_one_wheel():
    """A wheel with two names is counted once, under the name that is kept."""
    sets = tuple(
        RatioSet(i, pairs={"1": (t, 40), "R": (t, 20, 40)}) for i, t in (("a", 13), ("b", 14))
    )
    found = tell_apart(Family("hip", "two-shaft", sets=sets, same={"R.driver": "1.driver"}))
    assert found.choices[0].wheels == ("1.driver",)
    assert found.short_of(NOTICE)[0].differ_in == ("1.driver",)


def test_ratio_only_sets():
    """Sets known by printed ratios are listed and take no part, and may be all that there is."""
    printed = RatioSet("p", ratios={"1": "3.65"})
    found = tell_apart(Family("f", "axle", sets=(printed, RatioSet("a", pairs={"final": (9, 41)}))))
    assert (found.sets, found.ratio_only, found.key) == (("a",), ("p",), None)
    assert [choice.wheels for choice in found.choices] == [(), (), ()]
    alone = tell_apart(Family("f", "two-shaft", sets=(printed,)))
    assert (alone.sets, alone.ratio_only) == ((), ("p",))


def test_many_sets_each_with_a_wheel_of_its_own():
    """A family as deep as can be is answered: each set is parted by a wheel that it alone has."""
    rows = tuple(tuple(21 if w == n else 20 for w in range(60)) for n in range(60))
    found = tell_apart(family_of(rows))
    assert len(found.choices[0].wheels) == 59
    assert found.key.most == 59
