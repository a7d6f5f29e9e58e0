"""Turn tests that were seen, brought into the sums of families in arrays, beside the plain path."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cogtally.catalog.model import Catalog
from cogtally.evidence import joints, stacked_turns, weighed
from cogtally.evidence.assembled import read_posterior
from cogtally.evidence.parts import Counted
from cogtally.evidence.prepared import Prepared
from cogtally.evidence.seen import SeenBox
from cogtally.evidence.stacked_asked import ask_stacks
from cogtally.evidence.stacked_tested import fitting
from cogtally.evidence.stacked_turns import turned_stacks
from cogtally.evidence.stacked_worth import worth_of_wheels
from cogtally.evidence.weighed import weigh
from cogtally.gears.notation import parse_seen

from .test_stacked import (
    WORDS,
    assert_alike,
    assert_posteriors_alike,
    assert_same_sums,
    both,
    gone_through,
    made,
    stacked_only,
    with_printed,
)
from .test_stacked_turns import arranged, assert_speeds_alike
from .test_stacked_worth import plain_worths, without_cut_offs

CLOSE = 1e-12
#: Tests of gears that some of these boxes lack, that are direct in some, that were held, or of two
#: gears one after the other.
TESTS = (
    *("1@4:1.1", "1@4:1.2", "2@3:1.6", "R@4:1.3", "2@2.7:1", "4@1:1.02", "3@2:2.3/held"),
    *("9@3:1.4", "1@10:2.75", "1+final@8:0.6", "2@1:4.9", "final@4:1.1"),
)
#: Boxes with a turn test of each kind, with and without counts of what was turned.
SEEN: tuple[tuple[str, ...], ...] = (
    ("1@4:1.1",),
    ("1@4:1.1", "2@3:1.6", "4@1:1.02"),
    ("1@4:1.1", "input=17/28"),
    ("2@3:1.6", "1@4:1.2", "input=_/28", "2.driver=24x3"),
    ("R@4:1.3", "9@3:1.4", "R=13/20/30", "1=14/31u"),
    ("1+final@8:0.6", "3@2:2.3/held", "3.driven=25"),
    ("2@3:1.6", "output=20/25", "2=17/28"),
)


@settings(max_examples=30, deadline=None)
@given(
    st.integers(0, 10**6),
    st.lists(st.sampled_from((*WORDS, "output=20/25", "input=_/28")), max_size=4, unique=True),
    st.lists(st.sampled_from(TESTS), min_size=1, max_size=3),
)
def test_sums_are_those_of_the_plain_path(seed: int, words: list[str], tests: list[str]) -> None:
    """Whole, matched, related and so-far sums agree to 1e-12 of the whole, whatever was turned."""
    ready = Prepared(arranged(seed))
    box = SeenBox(parse_seen([*words, *tests]), ready.rho)
    for asked in ask_stacks(fitting(ready.stacked(), box), box):
        for block in asked.stack.blocks:
            assert_same_sums(ready, box, asked.work(block))


@settings(max_examples=20, deadline=None)
@given(
    st.integers(0, 10**6),
    st.lists(st.sampled_from(WORDS), max_size=3, unique=True),
    st.lists(st.sampled_from(TESTS), min_size=1, max_size=3),
)
def test_the_bounds_hold(seed: int, words: list[str], tests: list[str]) -> None:
    """No family has a greater sum than its bounds say, nor a lesser than its sets have alone."""
    ready = Prepared(arranged(seed))
    box = SeenBox(parse_seen([*words, *tests]), ready.rho)
    for asked in ask_stacks(fitting(ready.stacked(), box), box):
        for block in asked.stack.blocks:
            logs = np.log(asked.work(block).value) + np.array(asked.scales)[:, None]
            assert (asked.bound(block) >= logs - 1e-9).all()
            assert (asked.quick_bound(block) >= logs - 1e-9).all()
            assert (asked.least(block, np.arange(logs.shape[1])) <= logs + 1e-9).all()


def test_what_does_not_fit_is_asked_alone() -> None:
    """A path of three pairs, and tests that share no pair, leave a family out of the arrays."""
    ready = Prepared(arranged(1))
    stacks = ready.stacked()
    every = stacks.ids

    def left_out(*words: str) -> frozenset[str]:
        fit = fitting(stacks, SeenBox(parse_seen(list(words)), ready.rho))
        numbers = set(fit.other_numbers) - set(stacks.other_numbers)
        assert {stacks.roll.family_ids[number] for number in numbers} == every - fit.ids
        return every - fit.ids

    assert fitting(stacks, SeenBox(parse_seen(["1=14/31"]), ready.rho)) is stacks
    assert left_out("1@4:1.1") == frozenset()
    assert left_out("R@4:1.1") == {"a1"}
    assert "a0" in left_out("1+2@4:1.1")


@pytest.mark.parametrize("words", SEEN)
@pytest.mark.parametrize("printed", [False, True])
def test_posteriors_are_alike(
    words: tuple[str, ...], printed: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The posterior is the plain one to 1e-12: answers, groups, families, pieces and the hand."""
    stacked_only(monkeypatch)
    catalog = Catalog((*made(5, 30).families, *arranged(2).families[4:]))
    ours, theirs = both(with_printed(catalog) if printed else catalog, list(words))
    assert_posteriors_alike(ours, theirs)


@pytest.mark.parametrize("words", SEEN[:4])
def test_however_families_are_gone_through_the_posterior_is_the_same(
    words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Picked or all, in few parts or in many, on two cores, nothing left out: the same to 1e-12."""
    stacked_only(monkeypatch)
    found, plain = gone_through(made(5, 40), list(words), monkeypatch)
    for each in found:
        assert_alike(each.answers, plain.answers)
        assert_alike(each.so_far, plain.so_far)


def test_the_pieces_of_the_leading_family_were_turned(monkeypatch: pytest.MonkeyPatch) -> None:
    """What each piece is weighs the tests too: its types add up to the share of the family."""
    stacked_only(monkeypatch)
    found = read_posterior(weigh(made(5, 30), parse_seen(["1@4:1.1", "2@3:1.6"])))
    by_piece: dict[str, float] = {}
    for share in found.pieces:
        by_piece[share.piece] = by_piece.get(share.piece, 0.0) + share.probability
    assert len(by_piece) > 1
    for whole in by_piece.values():
        assert whole == pytest.approx(found.families[found.leading], abs=CLOSE)


@pytest.mark.parametrize("words", SEEN)
def test_counts_are_worth_the_same(words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch) -> None:
    """After turn tests every further count is worth what it is on the plain path, to 1e-12 bit."""
    stacked_only(monkeypatch)
    without_cut_offs(monkeypatch)
    catalog = arranged(3)
    wheels = ("input.driver", "1.driver", "2.driven", "R.idler", "R.driven", "5.driven")
    wheels += ("output.driven", "9.driver")
    found = weigh(catalog, parse_seen(list(words)))
    assert found.stacked
    plain = plain_worths(replace(catalog), list(words), wheels)
    assert worth_of_wheels(found, wheels) == pytest.approx(plain, abs=CLOSE)


@pytest.mark.parametrize("words", [*SEEN[:4], SEEN[6]])
def test_speeds_are_those_of_the_plain_path(
    words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """After turn tests every answer has every speed of every gear with the same weight."""
    stacked_only(monkeypatch)
    for room, name in ((joints, "TOO_SMALL"), (joints, "TOO_RARE")):
        monkeypatch.setattr(room, name, 0.0)
    monkeypatch.setattr(stacked_turns, "TOO_RARE", 0.0)
    monkeypatch.setattr(stacked_turns, "TOO_SMALL", 0.0)
    catalog, seen, gears = arranged(1), parse_seen(list(words)), ("1", "2", "4", "R", "final")
    stacked = weigh(catalog, seen)
    assert stacked.stacked
    assert not any(isinstance(part, Counted) for part in stacked.parts)
    plain = weigh(replace(catalog), seen, stack=False)
    found, _ = turned_stacks(stacked, gears)
    assert_speeds_alike(found, plain, gears)


def test_some_tests_pay_for_arrays_at_once() -> None:
    """Of as many families as pay for numpy, those that were turned are stacked without asking."""
    assert weigh(made(8, weighed.ENOUGH), parse_seen(["1@4:1.1"])).stacked
    assert not weigh(made(8, weighed.ENOUGH - 1), parse_seen(["1@4:1.1"])).stacked
