"""The worth of a count from families worked out in arrays, beside the plain path."""

from __future__ import annotations

import numpy as np
import pytest

from cogtally.catalog.model import Catalog, Family
from cogtally.evidence import joints, stacked_worth, worth
from cogtally.evidence.advice import advise
from cogtally.evidence.prepared import Prepared
from cogtally.evidence.seen import SeenBox
from cogtally.evidence.stacked_asked import ask_stacks
from cogtally.evidence.stacked_outside import around_all, around_common
from cogtally.evidence.stacked_ready import star_tables
from cogtally.evidence.stacked_spread import Spreads
from cogtally.evidence.weighed import weigh
from cogtally.gears.notation import parse_seen

from .test_stacked import WORDS, made, stacked_only, with_looks

CLOSE = 1e-12
SEEN = [(), WORDS[:2], WORDS[:6], WORDS[4:9], WORDS[7:10]]


def without_cut_offs(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let neither path leave out what it knows to be too rare to matter."""
    monkeypatch.setattr(worth, "TOO_RARE", 0.0)
    monkeypatch.setattr(joints, "TOO_SMALL", 0.0)
    monkeypatch.setattr(stacked_worth, "TOO_RARE", -1.0)
    monkeypatch.setattr(stacked_worth, "TOO_SMALL", 0.0)


def plain_worths(catalog: Catalog, words: list[str], wheels: tuple[str, ...]) -> dict[str, float]:
    found = joints.joint_with_teeth(weigh(catalog, parse_seen(words), stack=False), wheels)
    return {wheel: worth.expected_fall(list(joint.values())) for wheel, joint in found.items()}


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("words", SEEN)
def test_worths_are_those_of_the_plain_path(
    seed: int, words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every wheel, also one that most families lack, is worth the same to 1e-12 bit."""
    stacked_only(monkeypatch)
    without_cut_offs(monkeypatch)
    catalog = made(seed, 8)
    wheels = ("input.driver", "1.driver", "2.driven", "R.idler", "R.driver", "5.driven")
    wheels += ("final.driver", "9.driver")
    plain = plain_worths(catalog, list(words), wheels)
    stacked = weigh(catalog, parse_seen(list(words)))
    assert stacked.stacked
    found = stacked_worth.worth_of_wheels(stacked, wheels)
    assert found == pytest.approx(plain, abs=CLOSE)


@pytest.mark.parametrize("words", SEEN)
def test_what_is_left_out_changes_no_worth(
    words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """With both paths' cut-offs as they are, worths differ by less than 1e-6 bit."""
    stacked_only(monkeypatch)
    catalog = made(4, 20)
    wheels = ("input.driven", "1.driver", "R.driven")
    found = stacked_worth.worth_of_wheels(weigh(catalog, parse_seen(list(words))), wheels)
    assert found == pytest.approx(plain_worths(catalog, list(words), wheels), abs=1e-6)


@pytest.mark.parametrize("words", SEEN)
def test_the_teeth_of_every_wheel_add_up_to_the_whole(words: tuple[str, ...]) -> None:
    """However the teeth of a wheel are spread, they add up to the sum that they are spread from."""
    ready = Prepared(made(6, 12))
    for asked in ask_stacks(ready.stacked(), SeenBox(parse_seen(list(words)), ready.rho)):
        for block in asked.stack.blocks:
            worked = asked.work(block)
            tables = [star_tables(block, s, asked.question) for s in block.block.shape.stars]
            weights = np.broadcast_to(block.weights, (2, *block.weights.shape))
            for around, whole in ((around_all, worked.value), (around_common, worked.related)):
                outs = around(block.block, tables, weights)
                spreads = Spreads(block, asked.question)
                for number, star in enumerate(block.block.shape.stars):
                    for place in range(len(star.hub)):
                        spreads.add(star, place, outs[number][place])
                for spread in spreads.done().values():
                    assert spread.sum(axis=1) == pytest.approx(whole.sum(axis=1), rel=1e-11)
                    assert spread.min() > -1e-13 * whole.sum()


def test_advice_of_a_large_catalog_is_that_of_the_plain_path(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """`advise` names the same wheels and gears with the same worth, stacked or not."""
    catalog = made(10, 12)
    plain = advise(catalog, parse_seen(["2=21/_"]))
    again = Catalog(tuple(Family(**vars_of(f)) for f in catalog.families))
    stacked_only(monkeypatch)
    stacked = advise(again, parse_seen(["2=21/_"]))
    assert weigh(again, parse_seen(["2=21/_"])).stacked
    assert {w.wheel: w.bits for w in stacked.wheels} == pytest.approx(
        {w.wheel: w.bits for w in plain.wheels}, abs=1e-6
    )
    assert {w.gear: w.turns for w in stacked.turns} == {w.gear: w.turns for w in plain.turns}
    assert {w.gear: w.bits for w in stacked.turns} == pytest.approx(
        {w.gear: w.bits for w in plain.turns}, abs=1e-3
    )


def test_a_look_is_worth_the_same_from_arrays(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where few families matter, marks and features are worth what they are on the plain path."""
    seen = parse_seen(["2=21/_"])
    catalog = with_looks(made(10, 6), 10)
    plain = advise(catalog, seen, turns=False)
    stacked_only(monkeypatch)
    again = with_looks(made(10, 6), 10)
    found = advise(again, seen, turns=False)
    assert weigh(again, seen).stacked
    assert plain.looks[0].bits > 0.01
    assert {(w.owner, w.feature): w.bits for w in found.looks} == pytest.approx(
        {(w.owner, w.feature): w.bits for w in plain.looks}, abs=1e-3
    )


def vars_of(family: Family) -> dict[str, object]:
    return {
        "id": family.id,
        "layout": family.layout,
        "sets": family.sets,
        "given_pieces": family.given_pieces,
    }
