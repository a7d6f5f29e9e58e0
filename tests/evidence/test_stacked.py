"""Families worked out in arrays beside the plain path, and beside the brute-force enumeration."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from math import fsum
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.evidence import stacked_work, weighed
from cogtally.evidence.assembled import read_posterior
from cogtally.evidence.parts import HANDS, Counted
from cogtally.evidence.posterior import Posterior, Share
from cogtally.evidence.prepared import Prepared, prepare
from cogtally.evidence.seen import SeenBox
from cogtally.evidence.stacked_asked import Worked, ask_stacks
from cogtally.evidence.stacked_ready import part_of
from cogtally.evidence.weighed import weigh
from cogtally.gears.notation import parse_seen
from reference.worlds import world

from . import test_against_reference

CLOSE = 1e-12
HUB = {"laygear": ("input.driven", "2.driver", "1.driver", "R.driver")}
SHAPES: tuple[tuple[str, dict[str, int], dict[str, tuple[str, ...]]], ...] = (
    ("layshaft", {"input": 2, "1": 2, "2": 2, "R": 3}, {}),
    ("layshaft", {"input": 2, "1": 2, "2": 2, "3": 2, "4": 2, "5": 2, "R": 2}, {}),
    ("two-shaft", {"1": 2, "2": 2, "R": 3}, {}),
    ("two-shaft", {"1": 2, "2": 2, "3": 2}, {"shaft": ("1.driver", "2.driver", "3.driver")}),
    ("axle", {"final": 2}, {}),
)
#: Words that these boxes may be described by, some of them of wheels that not all have.
WORDS = (
    *("input=17/28", "1=14/31u", "1.driver=15x3", "2=21/_", "R=13/20/30", "R=_/19/_"),
    *("R.driven=29", "3=24/21", "final=9/40", "8=20/20", "input.driven=27", "2.driven=24x30"),
    "1=200/4",
)


def made(seed: int, families: int) -> Catalog:
    """Return a catalog of families of several shapes, some of whose sets share types."""
    dice = random.Random(seed)
    found = []
    for number in range(families):
        layout, pairs, pieces = dice.choice(SHAPES)
        whole = dice.randint(40, 50)
        sets: list[RatioSet] = []
        for index in range(dice.randint(1, 4)):
            teeth: dict[str, tuple[int | None, ...]] = {}
            for pair, size in pairs.items():
                driver = dice.randint(12, 24)
                other = whole - driver + dice.choice([0, 0, 0, 1])
                teeth[pair] = (driver, 20, other - 6) if size == 3 else (driver, other)
            if sets:
                kept = dice.sample(list(pairs), dice.randint(0, len(pairs) - 1))
                teeth.update({pair: sets[-1].pairs[pair] for pair in kept})
            sets.append(RatioSet(f"s{index}", pairs=teeth, commonness=dice.choice([1, 2, 0.5])))
        found.append(Family(f"f{number}", layout, sets=tuple(sets), given_pieces=pieces))
    return Catalog(tuple(found))


def with_looks(catalog: Catalog, seed: int, hand: str = "right") -> Catalog:
    """Return the catalog with marks and features that part sets alike in teeth.

    `hand`: of every driven wheel of first gear, beside a left driver.
    """
    dice = random.Random(seed)

    def of(known: RatioSet) -> RatioSet:
        wheels = [f"{pair}.{end}" for pair in known.pairs for end in ("driver", "driven")]
        features: dict[str, dict[str, str | int | float]] = {
            wheel: {"splines": dice.choice([10, 12])} for wheel in dice.sample(wheels, 2)
        }
        if "1" in known.pairs:
            features.setdefault("1.driver", {})["hand"] = "left"
            features.setdefault("1.driven", {})["hand"] = hand
        return replace(known, features=features, marks={"laygear": (dice.choice("AB"),)})

    families = []
    for family in catalog.families:
        twin = replace(family.sets[0], id="twin")
        sets = tuple(map(of, [*family.sets, twin, replace(twin, id="other-twin")]))
        families.append(replace(family, sets=sets))
    return Catalog(tuple(families))


def stacked_only(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(weighed, "ENOUGH", 1)
    monkeypatch.setattr(weighed, "MANY", 0)


def assert_same_sums(ready: Prepared, box: SeenBox, worked: Worked) -> None:
    """Every sum of every family of a block is that of the plain path, beside the family's whole."""
    block = worked.ready.block
    commonness = sum(s.commonness for f in ready.catalog.families for s in f.sets)
    for place, family in enumerate(block.families):
        part = Counted(ready, family, box, commonness)
        part.work()
        for hand in HANDS:
            whole, sums = part.values[hand], part.sums[hand]
            close = pytest.approx(whole, rel=CLOSE)
            assert worked.value[hand, place] == close
            related = fsum(sums.masks.values())
            assert worked.related[hand, place] == pytest.approx(related, abs=CLOSE * whole)
            for base, members in enumerate(block.members[place]):
                mask = part.prior.listed_bit | sum(1 << m for m in members)
                matched = pytest.approx(sums.masks.get(mask, 0.0), abs=CLOSE * whole)
                assert worked.matched[hand, base, place] == matched
            mine = worked.so_far[hand][worked.groups[0] == place]
            assert list(mine) == pytest.approx(sums.groups, abs=CLOSE * whole)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10**6), st.lists(st.sampled_from(WORDS), max_size=5, unique=True))
def test_sums_are_those_of_the_plain_path(seed: int, words: list[str]) -> None:
    """Whole, matched, related and so-far sums of stacked families agree to 1e-12 of the whole."""
    ready = Prepared(made(seed, 4))
    stacks = ready.stacked()
    box = SeenBox(parse_seen(words), ready.rho)
    assert stacks.ids
    for asked in ask_stacks(stacks, box):
        for block in asked.stack.blocks:
            assert_same_sums(ready, box, asked.work(block))


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 10**6), st.lists(st.sampled_from(WORDS), max_size=5, unique=True))
def test_looks_that_nobody_took_only_part_types(seed: int, words: list[str]) -> None:
    """Families whose types differ in marks and features alone are summed as the plain path does."""
    catalog = with_looks(made(seed, 4), seed)
    ready = Prepared(catalog)
    stacks = ready.stacked()
    assert stacks.ids == Prepared(made(seed, 4)).stacked().ids
    box = SeenBox(parse_seen(words), ready.rho)
    for asked in ask_stacks(stacks, box):
        for block in asked.stack.blocks:
            assert_same_sums(ready, box, asked.work(block))


def test_families_with_clashing_wheels_do_not_stack() -> None:
    """Two listed wheels in mesh of one hand weigh less, evidence or not: they go the plain way."""
    catalog = made(3, 20)
    stacks = Prepared(with_looks(catalog, 3, "left")).stacked()
    assert stacks.ids == {f.id for f in catalog.families if "1" not in f.sets[0].pairs}


def test_a_family_of_many_sets_does_not_stack() -> None:
    """A family with more base sets than there is room for goes the plain way."""
    sets = tuple(RatioSet(f"s{n}", pairs={"1": (10 + n, 40 - n)}) for n in range(17))
    few, many = (Family(f"f{n}", "two-shaft", sets=sets[:n]) for n in (16, 17))
    assert Prepared(Catalog((few, many))).stacked().ids == {"f16"}


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10**6), st.lists(st.sampled_from(WORDS), max_size=5, unique=True))
def test_the_bound_holds(seed: int, words: list[str]) -> None:
    """No stacked family has a greater sum than either of its bounds says."""
    ready = Prepared(made(seed, 6))
    for asked in ask_stacks(ready.stacked(), SeenBox(parse_seen(words), ready.rho)):
        for block in asked.stack.blocks:
            values = asked.work(block).value
            logs = np.log(values) + np.array(asked.scales)[:, None]
            assert (asked.bound(block) >= logs - 1e-9).all()
            assert (asked.quick_bound(block) >= logs - 1e-9).all()


def test_a_block_cut_down_gives_the_same_sums() -> None:
    """Families taken out of a block have the sums that they have in it."""
    ready = Prepared(made(3, 40))
    box = SeenBox(parse_seen(["1=14/31", "R=_/19/_"]), ready.rho)
    for asked in ask_stacks(ready.stacked(), box):
        for block in asked.stack.blocks:
            chosen = np.arange(0, len(block.block.families), 2)
            whole, part = asked.work(block), asked.work(part_of(block, chosen))
            assert np.allclose(part.value, whole.value[:, chosen], rtol=CLOSE, atol=0)
            assert np.allclose(part.related, whole.related[:, chosen], rtol=CLOSE, atol=0)
            assert np.allclose(part.matched, whole.matched[:, :, chosen], rtol=CLOSE, atol=0)
            kept = np.isin(whole.groups[0], chosen)
            assert np.allclose(part.so_far, whole.so_far[:, kept], rtol=CLOSE, atol=0)


def by_answer(shares: Sequence[Share]) -> dict[tuple[str, str, tuple[str, ...]], float]:
    return {(s.kind, s.family, s.sets): s.probability for s in shares}


def assert_alike(ours: Sequence[Share], theirs: Sequence[Share]) -> None:
    mine, others = by_answer(ours), by_answer(theirs)
    for key in {*mine, *others}:
        assert mine.get(key, 0.0) == pytest.approx(others.get(key, 0.0), abs=CLOSE)


def both(catalog: Catalog, words: list[str]) -> tuple[Posterior, Posterior]:
    seen = parse_seen(words)
    stacked, plain = weigh(catalog, seen), weigh(catalog, seen, stack=False)
    assert stacked.stacked
    assert not plain.stacked
    return read_posterior(stacked), read_posterior(plain)


def assert_posteriors_alike(ours: Posterior, theirs: Posterior) -> None:
    """Answers, groups, families, pieces, the hand and the evidence are alike, and add up to 1."""
    assert_alike(ours.answers, theirs.answers)
    assert_alike(ours.so_far, theirs.so_far)
    assert ours.leading == theirs.leading
    assert ours.steady == pytest.approx(theirs.steady, abs=CLOSE)
    assert ours.log_evidence == pytest.approx(theirs.log_evidence, abs=CLOSE * 100)
    for mine, other in zip(ours.pieces, theirs.pieces, strict=True):
        assert (mine.piece, mine.sets) == (other.piece, other.sets)
        assert mine.probability == pytest.approx(other.probability, abs=CLOSE)
    for family, share in theirs.families.items():
        assert ours.families[family] == pytest.approx(share, abs=CLOSE)
    assert fsum(a.probability for a in ours.answers) == pytest.approx(1, abs=CLOSE)


def gone_through(
    catalog: Catalog, words: list[str], monkeypatch: pytest.MonkeyPatch, **more: float
) -> tuple[list[Posterior], Posterior]:
    """The posterior with families picked together, in many parts, and unpruned; the plain one."""
    joined, plain = both(catalog, words)
    parts = {"FEW": 3, "FAR_BELOW": -100.0, "JOINED": 1, "SHARED": 1, "AT_A_TIME": 40}
    for name, value in {**parts, **more}.items():
        monkeypatch.setattr(stacked_work, name, value)
    apart, _ = both(replace(catalog), words)
    monkeypatch.setattr(weighed, "PART_LEFT_OUT", 0.0)
    unpruned, _ = both(replace(catalog), words)
    return [joined, apart, unpruned], plain


def with_printed(catalog: Catalog) -> Catalog:
    """Return the catalog with a set known by printed ratios in every third family."""
    printed = RatioSet("sheet", ratios={"1": "3.21", "2": "2.0"})
    return Catalog(
        tuple(
            replace(family, sets=(*family.sets, printed)) if number % 3 == 0 else family
            for number, family in enumerate(catalog.families)
        )
    )


@pytest.mark.parametrize("words", [["1=14/31"], ["8=12/13"], ["3=20/30", "2=19/_"]])
def test_printed_sets_stand_beside_stacked_ones(
    words: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Sets known by printed ratios in a stacked family keep their shares, so far ones included."""
    stacked_only(monkeypatch)
    ours, theirs = both(with_printed(made(11, 12)), words)
    assert any(share.sets == ("sheet",) for share in ours.answers)
    assert_alike(ours.answers, theirs.answers)
    assert_alike(ours.so_far, theirs.so_far)


@pytest.mark.parametrize("words", [(), WORDS[:2], WORDS[:6], WORDS[4:9], WORDS[7:10]])
def test_posteriors_are_alike(words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch) -> None:
    """The posterior of a catalog with stacked families is the plain one, to 1e-12."""
    stacked_only(monkeypatch)
    ours, theirs = both(made(5, 60), list(words))
    assert_posteriors_alike(ours, theirs)


@pytest.mark.parametrize("words", [(), WORDS[:2], WORDS[4:9], ("1=14/31", "2=21/20", "3=24/20")])
@pytest.mark.parametrize("most", [0.0, 0.5, 2.0])
def test_however_families_are_gone_through_the_posterior_is_the_same(
    words: tuple[str, ...], most: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Picked or all, in few parts or in many, together or not, on two cores: the same to 1e-12."""
    stacked_only(monkeypatch)
    found, plain = gone_through(made(5, 60), list(words), monkeypatch, MOST=most)
    for each in found:
        assert_alike(each.answers, plain.answers)
        assert_alike(each.so_far, plain.so_far)
        assert fsum(each.families.values()) == pytest.approx(
            fsum(plain.families.values()), abs=CLOSE
        )


def bare_world(seed: int) -> list[dict[str, Any]]:
    """Return a random catalog whose sets say nothing but teeth and printed ratios."""
    docs = world(seed)
    for doc in docs:
        doc["set"] = [
            {k: v for k, v in one.items() if k not in ("marks", "features")} for one in doc["set"]
        ]
    return docs


@pytest.mark.parametrize("seed", range(2000, 2024))
def test_every_probability_agrees(
    seed: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With every family stacked that can be, the page's enumeration is met to 1e-9 as before."""
    stacked_only(monkeypatch)
    monkeypatch.setattr(test_against_reference, "world", bare_world)
    test_against_reference.compare(seed, tmp_path)


def test_a_small_catalog_stays_plain() -> None:
    """Fewer families than pay for it are never stacked."""
    catalog = made(7, weighed.ENOUGH - 1)
    assert not weigh(catalog, parse_seen(["1=14/31"])).stacked
    assert prepare(catalog).stacks is None


def test_a_large_catalog_is_stacked_where_many_families_matter() -> None:
    """With nothing seen every family matters; the same catalog stays stacked for what follows."""
    catalog = made(8, 2 * weighed.ENOUGH)
    assert weigh(catalog, parse_seen([])).stacked
    assert weigh(catalog, parse_seen(["1=14/31"])).stacked


def test_a_thousand_counts_do_not_underflow(monkeypatch: pytest.MonkeyPatch) -> None:
    """A wheel counted a thousand times leaves finite logs and probabilities that add up to 1."""
    stacked_only(monkeypatch)
    ours, theirs = both(made(9, 10), ["1.driver=15x99"] * 11)
    assert ours.log_evidence == pytest.approx(theirs.log_evidence, rel=CLOSE)
    assert_alike(ours.answers, theirs.answers)
