"""The nearest sets found in arrays, beside those found set by set."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.evidence.prepared import prepare
from cogtally.evidence.reading import least_difference, nearest_sets
from cogtally.evidence.stacked_near import near_families
from cogtally.gears.notation import parse_seen

from .test_stacked import WORDS, made


def beside(catalog: Catalog) -> Catalog:
    """Return the catalog with families that do not stack: a gap, printed ratios, a shared wheel."""
    gap = Family("gap", "two-shaft", sets=(RatioSet("g", pairs={"1": (15, None), "2": (21, 24)}),))
    printed = Family("printed", "layshaft", sets=(RatioSet("p", ratios={"1": "3.65"}),))
    first = replace(catalog.families[0], id="both")
    both = replace(first, sets=(*first.sets, RatioSet("printed", ratios={"1": "3.65"})))
    return Catalog((gap, *catalog.families, printed, both))


def with_a_ninth(catalog: Catalog) -> Catalog:
    """Return the catalog with a set that prints the ratio of a gear that nothing is known of."""
    first, *others = catalog.families[1].sets
    printing = replace(catalog.families[1], sets=(replace(first, ratios={"9": "2.1"}), *others))
    return Catalog((catalog.families[0], printing, *catalog.families[2:]))


@settings(max_examples=40, deadline=None)
@given(
    st.integers(0, 50),
    st.lists(st.sampled_from(WORDS), max_size=4, unique=True),
    st.lists(st.sampled_from(["1@4:1.1", "2@3:1.6", "4@1:1", "9@3:1.4"]), max_size=2),
    st.booleans(),
)
def test_the_nearest_sets_are_the_same(
    seed: int, words: list[str], tests: list[str], prints: bool
) -> None:
    """Sets, their order, and the least difference are those of a catalog asked set by set."""
    catalog, seen = beside(made(seed, 8)), parse_seen([*words, *tests])
    if prints:
        catalog = with_a_ninth(catalog)
    expected, least = nearest_sets(catalog, seen), least_difference(catalog, seen)
    prepare(catalog).stacked()
    assert nearest_sets(catalog, seen) == expected
    assert least_difference(catalog, seen) == least


@pytest.mark.parametrize(
    ("words", "most"),
    [
        ([], 5),
        (["1.driver=15"], 5),
        (["1=14/31", "2=21/24"], 8),
        (["1@4:1.1"], 8),
        (["1@4:1.1", "2=21/_"], 8),
        (["final@4:1.1/held"], 5),
    ],
)
def test_few_families_are_found(words: list[str], most: int) -> None:
    """Of families that tie no more are read than it takes, where no ratio tells them apart."""
    catalog = made(5, 60)
    found = near_families(prepare(catalog).stacked(), parse_seen(words), 5)
    assert found is not None
    assert 0 < len(found) <= most


def test_where_fewer_sets_have_counts_any_family_may_be_near() -> None:
    """Sets known by printed ratios come behind: where they are needed nothing is left out."""
    catalog = beside(made(5, 1))
    assert near_families(prepare(catalog).stacked(), parse_seen(["1=14/31"]), 50) is None
