"""Laws that every posterior of a box keeps, whatever was seen."""

import math
from dataclasses import replace
from functools import cache
from importlib import import_module

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from cogtally.catalog.files.reading import demo_catalog
from cogtally.catalog.model import Catalog, Family
from cogtally.evidence.engine import posterior, that_matter
from cogtally.evidence.posterior import Posterior
from cogtally.gears.notation import parse_seen

FAMILIES = ("alder-4", "hornbeam-4", "tarnholt-3", "osier-4", "pellgate-axle")


@cache
def catalog() -> Catalog:
    """A part of the demo catalog, every layout but one in it, small enough to be asked often."""
    demo = demo_catalog()
    return Catalog(tuple(f for f in demo.families if f.id in FAMILIES), "part of the demo", True)


def ask(words: list[str], of: Catalog | None = None) -> Posterior:
    return posterior(of or catalog(), parse_seen(words))


def table(found: Posterior) -> dict[tuple[str, str, tuple[str, ...]], float]:
    return {(a.kind, a.family, a.sets): a.probability for a in found.answers}


counts = st.builds(
    lambda teeth, mark: f"{teeth}{mark}", st.integers(10, 48), st.sampled_from(["", "u", "x2"])
)
pair_words = st.builds(
    lambda pair, a, b: f"{pair}={a}/{b}",
    st.sampled_from(["input", "1", "2", "3", "4", "R", "final", "output"]),
    counts,
    st.one_of(counts, st.just("_")),
)
turn_words = st.builds(
    lambda gear, n, out: f"{gear}@{n}:{out / 10}",
    st.sampled_from(["1", "2", "3", "R", "9"]),
    st.integers(1, 4),
    st.integers(8, 40),
)
boxes = st.lists(st.one_of(pair_words, pair_words, turn_words), max_size=6)
few = settings(max_examples=20, deadline=None)


@few
@given(boxes)
def test_answers_add_up_to_one(words):
    """The answers of any box add up to 1, and none is outside 0…1."""
    found = ask(words)
    assert math.isclose(sum(a.probability for a in found.answers), 1, abs_tol=1e-12)
    shares = [*found.answers, *found.so_far, *found.pieces]
    assert all(-1e-15 <= share.probability <= 1 + 1e-12 for share in shares)


@few
@given(boxes, st.randoms())
def test_order_does_not_matter(words, dice):
    """What was seen may be written in any order."""
    shuffled = sorted(words, key=lambda _: dice.random())
    before, after = table(ask(words)), table(ask(shuffled))
    for answer in {*before, *after}:
        assert math.isclose(before.get(answer, 0), after.get(answer, 0), abs_tol=1e-12)


@few
@given(boxes)
def test_an_uncounted_wheel_changes_nothing(words):
    """A pair of which nothing was counted is worth nothing, known to the family or not."""
    assert table(ask([*words, "2=_/_", "9=_/_/_"])) == table(ask(words))


@few
@given(boxes)
def test_a_repeat_is_two_counts(words):
    """`24x2` says what `24` said twice says."""
    once = table(ask([*words, "3.driver=24x2"]))
    twice = table(ask([*words, "3.driver=24", "3.driver=24"]))
    for answer, share in once.items():
        assert math.isclose(share, twice.get(answer, 0), abs_tol=1e-12)


@few
@given(boxes)
def test_pieces_add_up_to_their_family(words):
    """The types of each piece of the leading family, unlisted among them, add up to the family."""
    found = ask(words)
    by_piece: dict[str, float] = {}
    for share in found.pieces:
        by_piece[share.piece] = by_piece.get(share.piece, 0) + share.probability
    counted = found.families[found.leading] - sum(
        a.probability
        for a in found.answers
        if a.family == found.leading
        and a.sets
        and a.sets[0] in {s.id for s in catalog().by_id[a.family].ratio_only_sets}
    )
    for total in by_piece.values():
        assert math.isclose(total, counted, abs_tol=1e-12)


def reordered(family: Family) -> Family:
    return replace(family, sets=tuple(reversed(family.sets)))


@few
@given(boxes)
def test_order_of_the_catalog_does_not_matter(words):
    """Families and sets may stand in any order; the answers go with their sets."""
    turned = Catalog(tuple(reordered(f) for f in reversed(catalog().families)))
    before, after = table(ask(words)), table(ask(words, turned))
    alike = {(kind, family, frozenset(sets)): p for (kind, family, sets), p in after.items()}
    for (kind, family, sets), share in before.items():
        other = alike.get((kind, family, frozenset(sets)), 0)
        assert math.isclose(share, other, abs_tol=1e-12)


@few
@given(boxes)
def test_twins_share(words):
    """A set written twice, at half the commonness each, changes nothing but its group's name."""
    alder = catalog().by_id["alder-4"]
    first, *rest = alder.sets
    half = replace(first, commonness=first.commonness / 2)
    doubled = replace(alder, sets=(half, replace(half, id="twin"), *rest))
    other = Catalog(tuple(doubled if f is alder else f for f in catalog().families))
    before, after = table(ask(words)), table(ask(words, other))
    for (kind, family, sets), share in before.items():
        named = tuple(x for s in sets for x in ([s, "twin"] if s == first.id else [s]))
        key = (kind, family, named if family == "alder-4" else sets)
        assert math.isclose(share, after.get(key, 0), abs_tol=1e-12)


@few
@given(boxes)
def test_an_agreeing_count_never_hurts_against_a_rival_it_contradicts(words):
    """One more count that fits set A, where set B has other teeth, does not lower A against B."""
    before, after = ask(words), ask([*words, "1.driver=14"])
    a, b = ("matched", "alder-4", ("wide",)), ("matched", "alder-4", ("low-first",))
    lower = table(before)
    if lower.get(a, 0) > 1e-9 and lower.get(b, 0) > 1e-9:
        higher = table(after)
        assert higher[a] / max(higher.get(b, 0), 1e-300) >= lower[a] / lower[b] * (1 - 1e-9)


@few
@given(boxes)
def test_leaving_families_out_changes_nothing(words):
    """What a bound leaves out is below 1e-12: the answers equal those of every family worked."""
    pruned = table(ask(words))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(import_module("cogtally.evidence.engine.weigh"), "LEFT_OUT", 0.0)
        whole = table(ask([*words, "9=_/_"]))
    for answer, share in whole.items():
        assert math.isclose(share, pruned.get(answer, 0), abs_tol=1e-12)


@given(st.lists(st.lists(st.floats(0, 1), max_size=6), max_size=4), st.floats(0, 0.5))
def test_what_does_not_matter_is_little_in_all(parts, left_out):
    """All that is left out adds up to no more than may be, and is less than anything that stays."""
    rows = that_matter([np.array(shares) for shares in parts], left_out)
    stays = [shares[row] for shares, some in zip(parts, rows, strict=True) for row in some]
    goes = sorted(share for shares in parts for share in shares)[: -len(stays) or None]
    assert sum(goes) <= left_out * (1 + 1e-12)
    assert not stays or max(goes, default=0.0) <= min(stays)
    assert not stays or sum(goes) + min(stays) > left_out * (1 - 1e-12)


def test_a_thousand_counts():
    """A thousand right counts settle the box; nothing underflows."""
    words = [f"{w}x99" for w in ("input=17/28", "1=14/31", "2=19/26", "3=24/21")] * 2
    words = [word.replace("/", "x99/") for word in words]
    found = ask(words)
    assert table(found)["matched", "alder-4", ("wide",)] > 0.98
    assert math.isclose(sum(a.probability for a in found.answers), 1, abs_tol=1e-12)
    assert found.log_evidence < -20


def test_a_thousand_contrary_counts():
    """A thousand counts that fit nothing listed still have an answer: no total is ever zero."""
    words = [f"{pair}=61x99/67x99" for pair in ("input", "1", "2", "3", "R")]
    found = ask(words)
    assert math.isclose(sum(a.probability for a in found.answers), 1, abs_tol=1e-12)
    assert table(found)["uncatalogued", "", ()] > 0.9


def test_counts_beyond_what_teeth_can_be():
    """Counts of 150 and 5, repeated, have an answer too."""
    found = ask(["1=150x99/5x99", "final=200x99/4x99", "2=150/150"])
    assert math.isclose(sum(a.probability for a in found.answers), 1, abs_tol=1e-12)


def test_nothing_seen_is_the_prior():
    """Before anything is seen a box is of no family with probability 0.10."""
    found = ask([])
    assert math.isclose(found.of_kind("uncatalogued"), 0.10)
    assert list(found.so_far) == []
    assert math.isclose(found.steady, 0.8)


def test_an_empty_catalog():
    """With no sets every box is of no family."""
    found = ask(["1=14/31"], Catalog((), "nothing"))
    assert found.of_kind("uncatalogued") == pytest.approx(1)
    assert found.leading == ""


def test_a_family_asked_for_takes_all_of_the_prior():
    """`--family` shares 0.90 among that family's sets alone."""
    found = posterior(catalog(), parse_seen([]), "osier-4")
    shares = {name: share for name, share in found.families.items() if share}
    assert shares == {"osier-4": pytest.approx(0.90)}
