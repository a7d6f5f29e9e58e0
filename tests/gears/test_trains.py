"""Trains: layouts, paths, gears, meshes, ratios, sums and the hunting tooth."""

from itertools import pairwise, product
from math import lcm

import pytest
from hypothesis import given, strategies as st

from cogtally.gears.trains import (
    Train,
    common_factors,
    gear_order,
    is_hunting,
    is_numbered,
    pair_of,
    pair_ratio,
    role_of,
    roles,
    same_shafts,
    tooth_sums,
    train_ratio,
    wheel_names,
)

TEETH = st.integers(4, 200)
PAIRS = st.lists(st.tuples(TEETH, TEETH), max_size=5)

FOUR_SPEED = Train("layshaft", {"input": 2, "1": 2, "2": 2, "3": 2, "R": 3}, direct="4")


@given(driver=TEETH, driven=TEETH, idler=st.none() | TEETH)
def test_idler_changes_no_ratio(driver, driven, idler):
    """A pair has the same ratio with any idler between its wheels, counted or not."""
    assert pair_ratio((driver, idler, driven)) == pair_ratio((driver, driven))


@given(pairs=PAIRS)
def test_train_is_the_product_of_all_driven_over_all_drivers(pairs):
    """The ratio of pairs in a row, or of none, times all drivers is all driven, exactly."""
    drivers = driven = 1
    for a, b in pairs:
        drivers, driven = drivers * a, driven * b
    ratio = train_ratio(pairs)
    assert ratio.numerator * drivers == driven * ratio.denominator


@pytest.mark.parametrize("pair", [(None, 31), (14, None), (None, None), (None, 20, 31)])
def test_uncounted_end_wheel_leaves_no_ratio(pair):
    """A pair with an end wheel that nobody counted has no ratio, nor has a train with it."""
    assert pair_ratio(pair) is None
    assert train_ratio([(17, 28), pair]) is None


@given(teeth=st.lists(st.none() | TEETH, min_size=2, max_size=3))
def test_sums_and_factors_go_by_mesh(teeth):
    """Each mesh has its own sum and factor, and neither where one of its wheels is unknown."""
    meshes = list(pairwise(teeth))
    known = [a is not None and b is not None for a, b in meshes]
    assert [s is not None for s in tooth_sums(teeth)] == known
    assert [f is not None for f in common_factors(teeth)] == known
    for (a, b), total, factor in zip(meshes, tooth_sums(teeth), common_factors(teeth), strict=True):
        if a is not None and b is not None and factor is not None:
            assert total == a + b
            assert (a % factor, b % factor) == (0, 0)
            assert a // factor * b == lcm(a, b)


@given(driver=st.integers(4, 24), driven=st.integers(4, 24))
def test_hunting_means_that_every_tooth_meets_every_tooth(driver, driven):
    """A pair is hunting exactly if rolling it on brings every two teeth together."""
    met = {(turn % driver, turn % driven) for turn in range(driver * driven)}
    assert is_hunting((driver, driven)) == (met == set(product(range(driver), range(driven))))


def test_hunting_asks_both_meshes_of_an_idler():
    """With an idler both meshes must be hunting; one count missing and nothing is said."""
    assert is_hunting((12, 19, 28)) is True
    assert is_hunting((12, 20, 27)) is False
    assert is_hunting((12, 19, 38)) is False
    assert is_hunting((12, None, 29)) is None


def test_names_of_wheels():
    """A wheel's name is its pair and its role, and can be taken apart again."""
    assert wheel_names("R1", 2) == ("R1.driver", "R1.driven")
    assert wheel_names("R", 3) == ("R.driver", "R.idler", "R.driven")
    assert [role_of(w) for w in wheel_names("R", 3)] == list(roles(3))
    assert {pair_of(w) for w in wheel_names("R", 3)} == {"R"}


def test_gears_stand_in_the_order_of_the_lever():
    """Numbered gears come by number, then others as written, reverse last."""
    names = ["R", "10", "crawler", "2", "a", "1"]
    assert sorted(names, key=gear_order) == ["1", "2", "10", "crawler", "a", "R"]


@pytest.mark.parametrize("name", ["²", "٣", "３", "", "1a", "-1"])
def test_only_plain_digits_number_a_gear(name):
    """A digit of another script, or none, makes no numbered gear and breaks no order."""
    assert not is_numbered(name)
    assert gear_order(name) == (1, 0)


@pytest.mark.parametrize(
    ("layout", "path", "group"),
    [
        ("layshaft", ("input", "2"), (("input", "1", "2", "3"),)),
        ("sleeve", ("2", "output"), (("output", "1", "2", "3"),)),
        ("two-shaft", ("2",), (("1", "2", "3"),)),
        ("axle", ("2",), ()),
    ],
)
def test_layout_gives_the_path_and_the_shafts(layout, path, group):
    """Each layout's rule says which pairs carry a gear, and which stand on the same shafts."""
    pairs = {"input": 2, "output": 2, "1": 2, "2": 2, "3": 2, "R": 3, "final": 2}
    train = Train(layout, pairs)
    assert (train.path("2"), same_shafts(train)) == (path, group)


def test_direct_gear_runs_through_no_pair():
    """Direct is a gear with an empty path; a gear that is not there has no path at all."""
    assert FOUR_SPEED.gears == ("1", "2", "3", "4", "R")
    assert FOUR_SPEED.path("4") == ()
    assert FOUR_SPEED.path("5") is None
    assert FOUR_SPEED.path("input") is None


def test_pair_on_a_spelled_path_alone_is_no_gear():
    """Pairs inside another gear's spelled-out path are no gears, unless a number names them."""
    pairs = {"input": 2, "1": 2, "R1": 2, "R2": 2}
    train = Train("layshaft", pairs, paths={"R": ("input", "R1", "R2")})
    assert train.gears == ("1", "R")
    assert train.path("R") == ("input", "R1", "R2")
    through_first = Train("layshaft", pairs, paths={"R": ("input", "1", "R1", "R2")})
    assert through_first.gears == ("1", "R")
    assert through_first.path("1") == ("input", "1")


def test_pair_with_a_spelled_path_of_its_own_is_a_gear():
    """A pair on a path is a gear all the same where a path is spelled out for it."""
    paths = {"low": ("input", "low"), "R": ("input", "low", "R")}
    train = Train("layshaft", {"input": 2, "low": 2, "R": 2}, paths=paths)
    assert train.gears == ("low", "R")


def test_wheel_of_two_names_is_one_wheel():
    """A wheel under two names is listed once, and both names lead to it."""
    train = Train("layshaft", {"1": 2, "R": 3}, same={"R.driver": "1.driver"})
    assert train.wheels == ("1.driver", "1.driven", "R.idler", "R.driven")
    assert train.names["R.driver"] == train.names["1.driver"] == "1.driver"
    assert train.path_wheels(("R",)) == (("1.driver", "R.driven"),)


def test_names_that_go_in_a_circle_come_to_an_end():
    """Two names given as each other's first are kept under one of them."""
    train = Train("two-shaft", {"1": 2}, same={"1.driver": "1.driven", "1.driven": "1.driver"})
    assert train.canonical("1.driver") == train.canonical("1.driven")


def test_meshes_stand_once():
    """An idler makes two meshes, and one mesh under two names is one."""
    train = Train(
        "layshaft", {"1": 2, "R": 3, "L": 2}, same={"L.driver": "1.driver", "L.driven": "1.driven"}
    )
    assert train.meshes == (
        ("1.driver", "1.driven"),
        ("R.driver", "R.idler"),
        ("R.idler", "R.driven"),
    )


def test_pairs_of_a_spelled_path_stand_on_shafts_of_their_own():
    """A pair on a spelled-out path alone is not compared; a number on one is."""
    train = Train(
        "layshaft",
        {"input": 2, "1": 2, "2": 2, "R1": 2, "R2": 2},
        paths={"R": ("input", "1", "R1", "R2")},
    )
    assert same_shafts(train) == (("input", "1", "2"),)
