"""The judge judged: a family's new set against plain sums, and the figures that the model names."""

import math

import numpy as np
import pytest

from reference.enumeration import Reference, identify
from reference.examples import by_name, family
from reference.plain import SPAN, count_law, rho

HANDS = ((0.8, 0.01), (0.2, 0.06))
SPORT = {"input": "17/26", "1": "15/28", "2": "19/24", "3": "23/20", "R": "11/19/27"}
TOUR = {"input": "16/27", "1": "13/30", "2": "18/25", "3": "23/20", "R": "11/19/27"}


def odds(answer: dict[str, float]) -> float:
    return answer["new"] / answer["uncatalogued"]


def test_gaps_are_left_out_of_what_is_listed():
    """A quarter is as the sets that give a wheel have it, nothing where none does."""
    head = {"layout": "axle"}
    sets = [{"id": "a", "pairs": {"final": "_/41"}, "commonness": 5}]
    sets += [{"id": "b", "pairs": {"final": "_/43"}, "commonness": 3}]
    sets += [{"id": "c", "pairs": {"final": "_/_", "OD": "9/20"}, "commonness": 2}]
    for one in sets[:2]:
        one["pairs"] = {**one["pairs"], "OD": "_/_"}
    doc = family(head, *sets)
    assert odds(by_name(identify([doc], ["final.driver=9"]))) == pytest.approx(0.36)
    law = rho({41: 5.0, 43: 3.0})
    new = stranger = 0.0
    for hand, q in HANDS:
        drawn = math.fsum(x * count_law(41, t, q) for t, x in law.items())
        listed = 5 / 8 * count_law(41, 41, q) + 3 / 8 * count_law(41, 43, q)
        new += hand * 0.036 * (0.25 * listed + 0.75 * drawn)
        stranger += hand * 0.1 * drawn
    got = by_name(identify([doc], ["final.driven=41"]))
    assert odds(got) == pytest.approx(new / stranger, rel=1e-11)


def test_a_star_of_wheels_against_one_sum():
    """One driver in two meshes, counted by both its names and turned: over all three at once."""
    head = {"layout": "two-shaft", "same": {"2.driver": "1.driver"}}
    doc = family(
        head,
        {"id": "a", "pairs": {"1": "15/45", "2": "15/40"}, "commonness": 3},
        {"id": "b", "pairs": {"1": "18/43", "2": "18/38"}},
    )
    words = ["1.driver=16", "2=16/40", "1.driven=44", "2@4:1.60", "1@3:1.09", "7@2:1"]
    teeth = np.arange(4, 201)
    pools = [{15: 3.0, 18: 1.0}, {45: 3.0, 43: 1.0}, {40: 3.0, 38: 1.0}]
    laws, spreads = [], [rho(pool) for pool in pools]
    for pool, spread in zip(pools, spreads, strict=True):
        laws.append(np.array([0.75 * spread.get(t, 0) + pool.get(t, 0) / 16 for t in teeth]))

    def kept(given: set[int]) -> np.ndarray:
        off = np.min([abs(teeth[:, None] + teeth[None, :] - s) for s in given], axis=0)
        return np.select([off == 0, off == 1, off == 2], [1.0, 0.03, 0.003], 0.001)

    prior = laws[0][:, None, None] * laws[1][None, :, None] * laws[2][None, None, :]
    prior = prior * kept({60, 61})[:, :, None] * kept({55, 56})[:, None, :]
    prior /= prior.sum()
    new = stranger = 0.0
    for hand, q in HANDS:
        seen = [np.array([count_law(c, t, q) for t in teeth]) for c in (16, 44, 40)]
        seen[0] = seen[0] ** 2
        new += hand * 0.036 * float(np.einsum("abc,a,b,c", prior, *seen))
        alone = [
            math.fsum(spreads[i][t] * count_law(c, t, q) for t in SPAN)
            for i, c in ((0, 16), (1, 44), (0, 16), (2, 40))
        ]
        stranger += hand * 0.1 * math.prod(alone)
    got = by_name(identify([doc], words))
    # The turns of 1 and 2 are at the same teeth in a box of no family; gear 7 costs .001 here.
    assert odds(got) == pytest.approx(0.001 * new / stranger, rel=1e-10)


def test_looks_say_nothing_of_a_new_set():
    """A mark and a feature that fit a set leave a new set's odds against no family as they were."""
    hands = [{"1.driven": {"hand": side}} for side in ("left", "right")]
    one = {"id": "a", "pairs": {"1": "15/45"}, "marks": {"1-driver": ["X 17"]}}
    other = {"id": "b", "pairs": {"1": "15/46"}, "features": hands[1]}
    judge = Reference([family({"layout": "two-shaft"}, {**one, "features": hands[0]}, other)])
    plain = by_name(judge.identify(["1=15/45"]))
    looked = by_name(judge.identify(["1=15/45"], ["1-driver:X 17"], ["1.driven.hand=left"]))
    assert looked["a"] / looked["new"] > 1000 * plain["a"] / plain["new"]
    assert odds(looked) == pytest.approx(odds(plain), rel=1e-11)


@pytest.mark.parametrize(
    ("counted", "expected"),
    [
        ({"1": "14/29", "3": "24/19"}, {"new": 0.962, "sport": 0.038}),
        ({"1": "14x2/29x2"}, {"new": 0.998}),
        ({}, {"sport": 0.996}),
        ({"1": "15/30x2"}, {"mixed": 0.980}),
    ],
)
def test_figures_of_a_layshaft_family(counted, expected):
    """Sums kept by teeth that no set has are a new set, sums not kept are mixed pieces."""
    head = {"layout": "layshaft", "direct": "4"}
    doc = family(head, {"id": "sport", "pairs": SPORT}, {"id": "tour", "pairs": TOUR})
    words = [f"{pair}={text}" for pair, text in {**SPORT, **counted}.items()]
    got = by_name(identify([doc], words))
    assert {key: got[key] for key in expected} == pytest.approx(expected, abs=5e-4)


def test_a_family_of_brochures_has_no_new_set():
    """Only a counted set that was drawn can name the family of a new one."""
    brochure = {"id": "s", "ratios": {"1": "2.50"}, "commonness": 3}
    alone = by_name(identify([family({"layout": "two-shaft"}, brochure)], []))
    assert alone == pytest.approx({"s": 0.9, "mixed": 0, "variant": 0, "uncatalogued": 0.1})
    both = family({"layout": "two-shaft"}, brochure, {"id": "c", "pairs": {"1": "15/45"}})
    named = by_name(identify([both], []))
    assert (named["s"], named["new"]) == pytest.approx((0.9 * 3 / 4, 0.9 * 0.04 / 4))
