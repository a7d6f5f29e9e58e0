"""Families asked again and again, worked out by their frames, beside the plain path."""

from __future__ import annotations

import random
from dataclasses import replace
from math import exp, log

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cogtally.catalog.files.reading import demo_catalog
from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.evidence import framed, framed_plan, prepared
from cogtally.evidence.advice import advise
from cogtally.evidence.assembled import posterior
from cogtally.evidence.framed import FramedPart
from cogtally.evidence.likelihood import TEETH_RANGE, count_law, wheel_likelihood
from cogtally.evidence.parts import HANDS, Counted
from cogtally.evidence.posterior import Posterior
from cogtally.evidence.prepared import Prepared
from cogtally.evidence.seen import SeenBox
from cogtally.evidence.weighed import weigh
from cogtally.gears.notation import Seen, parse_seen
from cogtally.gears.words import Count

from .test_stacked import WORDS, made, with_looks

CLOSE = 1e-12
Q = {False: (0.01, 0.06), True: (0.20, 0.20)}


def plain_and_framed(ready: Prepared, family: Family, seen: Seen) -> tuple[Counted, Counted]:
    box = SeenBox(seen, ready.rho)
    plain = Counted(ready, family, box, ready.commonness)
    quick = framed.Frames(ready).part(family, box, ready.commonness)
    plain.work()
    quick.work()
    return plain, quick


def assert_same_part(plain: Counted, quick: Counted) -> None:
    """Every sum, answer and piece of a family is that of the plain path, beside the whole."""
    for hand in HANDS:
        whole = plain.values[hand]
        assert quick.values[hand] == pytest.approx(whole, rel=CLOSE)
        assert quick.scales[hand] == pytest.approx(plain.scales[hand], abs=CLOSE)
        groups = pytest.approx(plain.sums[hand].groups, abs=CLOSE * whole)
        assert quick.sums[hand].groups == groups
    assert [sets for sets, _ in quick.groups or ()] == [sets for sets, _ in plain.groups or ()]
    by_hand = [0.5 / value for value in plain.values]
    assert quick.answers(by_hand) == pytest.approx(plain.answers(by_hand), abs=CLOSE)
    for one, other in zip(plain.pieces(by_hand), quick.pieces(by_hand), strict=True):
        assert replace(other, probability=0.0) == replace(one, probability=0.0)
        assert other.probability == pytest.approx(one.probability, abs=CLOSE)


def assert_same_posterior(one: Posterior, other: Posterior) -> None:
    assert other.log_evidence == pytest.approx(one.log_evidence, abs=CLOSE)
    assert other.steady == pytest.approx(one.steady, abs=CLOSE)
    assert other.families == pytest.approx(one.families, abs=CLOSE)
    for mine, theirs in ((one.answers, other.answers), (one.so_far, other.so_far)):
        shares = {(s.kind, s.family, s.sets): s.probability for s in mine}
        found = {(s.kind, s.family, s.sets): s.probability for s in theirs}
        assert found == pytest.approx(shares, abs=CLOSE)
    pieces = {(p.piece, p.teeth, p.sets): p.probability for p in one.pieces}
    found_pieces = {(p.piece, p.teeth, p.sets): p.probability for p in other.pieces}
    assert found_pieces == pytest.approx(pieces, abs=CLOSE)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10**6), st.lists(st.sampled_from(WORDS), max_size=6, unique=True))
def test_a_frame_says_what_the_plain_path_says(seed: int, words: list[str]) -> None:
    """Sums, answers and pieces of framed families of every layout agree to 1e-12 of the whole."""
    ready = Prepared(made(seed, 3))
    for family in ready.catalog.families:
        assert_same_part(*plain_and_framed(ready, family, parse_seen(words)))


@settings(max_examples=8, deadline=None)
@given(st.integers(0, 10**6), st.lists(st.sampled_from(WORDS), max_size=5, unique=True))
def test_types_alike_in_teeth_stay_apart(seed: int, words: list[str]) -> None:
    """Families whose types differ in marks and features alone are framed as the plain path does."""
    ready = Prepared(with_looks(made(seed, 2), seed))
    for family in ready.catalog.families:
        assert_same_part(*plain_and_framed(ready, family, parse_seen(words)))


def words_of(family: Family, dice: random.Random) -> list[str]:
    """Some counts of a seeded set of a family, some of them unsure, repeated or a tooth off."""
    pairs = dice.choice(family.counted_sets).pairs
    found = []
    for pair, teeth in pairs.items():
        counts = [
            "_"
            if t is None or dice.random() < 0.3
            else f"{t + (dice.random() < 0.1)}{dice.choice(['', '', 'u', 'x3'])}"
            for t in teeth
        ]
        found.append(f"{pair}={'/'.join(counts)}")
    return dice.sample(found, dice.randint(1, len(found)))


@pytest.mark.parametrize("number", range(len(demo_catalog().families)))
def test_any_arrangement_has_a_frame(number: int) -> None:
    """Gaps, clashes, wheels of two names, sliders, pieces of several wheels: the same sums."""
    dice = random.Random(number)
    ready = Prepared(demo_catalog())
    family = ready.catalog.families[number]
    for other in (family, family, dice.choice(ready.catalog.families)):
        seen = parse_seen(words_of(other, dice))
        plain, quick = plain_and_framed(ready, family, seen)
        assert isinstance(quick, FramedPart)
        assert quick._sums is not None
        assert_same_part(plain, quick)


def ring(teeth: int) -> RatioSet:
    return RatioSet(f"s{teeth}", pairs={"1": (15, teeth), "R": (15, 20, teeth)})


def test_what_has_no_frame_goes_the_plain_way(monkeypatch: pytest.MonkeyPatch) -> None:
    """A family whose meshes close a ring, or that is too large, is worked out all the same."""
    same = {"R.driver": "1.driver", "R.driven": "1.driven"}
    closed = Family("ring", "layshaft", sets=(ring(30), ring(33)), same=same)
    ready = Prepared(Catalog((closed, *demo_catalog().families)))
    for family in ready.catalog.families[:2]:
        plain, quick = plain_and_framed(ready, family, parse_seen(["1=15/30", "R=15/20/_"]))
        assert isinstance(quick, FramedPart)
        assert quick._sums is None
        assert_same_part(plain, quick)
        monkeypatch.setattr(framed_plan, "MOST_NUMBERS", 10)


@pytest.mark.parametrize("words", [("1=14/31",), ("R=13/20/30", "2=21/24", "3=20/20")])
def test_frames_are_really_used(words: tuple[str, ...]) -> None:
    """Every seeded family has a frame, so that the comparisons compare something."""
    ready = Prepared(made(7, 12))
    frames = framed.Frames(ready)
    box = SeenBox(parse_seen(words), ready.rho)
    assert all(frames.made(family, box) is not None for family in ready.catalog.families)


def test_a_contradiction_told_often_keeps_its_digits() -> None:
    """Counts that leave next to nothing of a family are worked out the plain way."""
    ready = Prepared(made(7, 3))
    words = ("1=14/31x99", "1=31x99/14", "2=60x99/_", "2=21/24x99", "input=80x99/8x99")
    for family in ready.catalog.families:
        assert_same_part(*plain_and_framed(ready, family, parse_seen(words)))


def test_a_catalog_asked_again_has_frames() -> None:
    """Some questions on, a catalog is framed, and its posterior stays that of a first question."""
    again = made(11, 3)
    words = ["1=14/31", "R=13/20/30", "2=21/24", "input=17/28", "3.driver=20"]
    for number in range(prepared.ASKED_AGAIN + 1):
        seen = parse_seen(words[: number + 1])
        found = posterior(again, seen)
        framed_now = any(isinstance(p, FramedPart) for p in weigh(again, seen).worked)
        assert framed_now == (number + 1 >= prepared.ASKED_AGAIN)
        assert_same_posterior(posterior(made(11, 3), seen), found)


@pytest.mark.parametrize("count", [3, 9])
def test_the_demo_is_framed_as_it_is(count: int) -> None:
    """The demo catalog says the same of seeded boxes the first time and ever after."""
    dice = random.Random(count)
    again = demo_catalog()
    prepared.prepare(again)._asked = prepared.ASKED_AGAIN
    for _ in range(3):
        seen = parse_seen(words_of(dice.choice(again.families), dice)[:count])
        first = Catalog(again.families)
        assert_same_posterior(posterior(first, seen), posterior(again, seen))


def test_advice_is_that_of_a_first_question() -> None:
    """What is read off a framed family beside its answers is worked out the plain way."""
    seen = parse_seen(["1=14/31", "input=17/28"])
    again, first = made(3, 2), made(3, 2)
    prepared.prepare(again)._asked = prepared.ASKED_AGAIN
    assert isinstance(weigh(again, seen).worked[0], FramedPart)
    mine, theirs = advise(again, seen), advise(first, seen)
    for one, other in ((mine.wheels, theirs.wheels), (mine.turns, theirs.turns)):
        bits = {worth.wheel + worth.gear: worth.bits for worth in other}
        found = {worth.wheel + worth.gear: worth.bits for worth in one}
        assert found == pytest.approx(bits, abs=1e-9)


def test_few_patterns_are_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    """However many families and combinations of wheels are asked, only so many are kept."""
    monkeypatch.setattr(framed, "PATTERNS_KEPT", 4)
    monkeypatch.setattr(framed, "FRAMES_KEPT", 2)
    ready = Prepared(made(7, 3))
    frames = framed.Frames(ready)
    for number, word in enumerate(WORDS):
        box = SeenBox(parse_seen([word]), ready.rho)
        for family in ready.catalog.families:
            frames.made(family, box)
            assert len(frames._patterns) <= 4, number
            assert len(frames._frames) <= 2, number


counts = st.builds(
    Count, st.just("1.driver"), st.integers(4, 200), st.booleans(), st.sampled_from([1, 1, 3, 99])
)


@given(st.lists(counts, min_size=1, max_size=3), st.sets(st.integers(1, 200), max_size=4))
def test_the_likelihood_of_a_wheel_is_the_product_of_its_counts(
    seen: list[Count], also: set[int]
) -> None:
    """Whatever is kept between questions, each count weighs by its own law, and the best is 1."""
    in_question = sorted({*TEETH_RANGE, *also})
    for hand in HANDS:
        found = wheel_likelihood(seen, hand, also)
        logs = [0.0] * 201
        for count in seen:
            law = [count_law(abs(count.teeth - t), Q[count.unsure][hand]) for t in range(201)]
            logs = [a + count.times * log(b) for a, b in zip(logs, law, strict=True)]
        best = max(logs[t] for t in in_question)
        assert found.log_scale == pytest.approx(best, abs=1e-9)
        for t in in_question:
            assert found.by_teeth[t] == pytest.approx(exp(logs[t] - best), rel=1e-9)
        assert max(found.by_teeth[t] for t in in_question) == 1.0
