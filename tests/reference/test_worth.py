"""The judge judged: loose pieces by hand, and worths against asking again after every reading."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from reference.boxes import random_box
from reference.enumeration import Reference
from reference.laws import HANDS
from reference.loose import identify_piece, places, posterior, read_piece
from reference.plain import count_law, rho
from reference.worlds import world
from reference.worth import best_turn, entropy, position_worth, turn_worths, wheel_worth
from reference.written import read_words

CLUSTER: dict[str, Any] = {
    "family": {
        "id": "reed",
        "name": "Reed",
        "layout": "two-shaft",
        "pieces": {"shaft": ["1.driver", "2.driver", "3.driver"]},
    },
    "set": [
        {"id": "a", "pairs": {"1": "15/45", "2": "20/40", "3": "25/35"}, "commonness": 3},
        {"id": "b", "pairs": {"1": "16/44", "2": "20/40", "3": "15/45"}},
        {"id": "c", "ratios": {"1": "2.75", "2": "2.00", "3": "1.40"}},
    ],
}
AXLE: dict[str, Any] = {
    "family": {"id": "beam", "name": "Beam", "layout": "axle"},
    "set": [
        {"id": "low", "pairs": {"final": "9/41"}, "commonness": 3},
        {"id": "high", "pairs": {"final": "11/43"}},
        {"id": "sheet", "ratios": {"final": "4.11"}},
    ],
}


def bits(answer: dict[str, Any]) -> float:
    shares = [one["probability"] for one in answer["answers"]]
    shares += [answer["uncatalogued"]] if "uncatalogued" in answer else []
    return -math.fsum(share * math.log2(share) for share in shares if share > 0)


def fall(before: dict[str, Any], after: list[dict[str, Any]]) -> float:
    masses = [math.exp(one["log_evidence"] - before["log_evidence"]) for one in after]
    left = math.fsum(m * bits(one) for m, one in zip(masses, after, strict=True))
    return bits(before) - left / math.fsum(masses)


def test_places_both_ways_round():
    """Whole pieces fit from either end; `..` asks for at least one wheel beyond."""

    def fit(words: str, size: int) -> list[list[int]]:
        return sorted(places(size, read_piece(words.split())))

    assert fit("20 _ 15", 3) == [[0, 1, 2], [2, 1, 0]]
    assert fit("20 15", 3) == []
    assert fit(".. 20 15", 3) == [[1, 0], [1, 2]]
    assert fit("20 15 ..", 3) == [[0, 1], [2, 1]]
    assert fit(".. 20 ..", 3) == [[1], [1]]
    assert fit(".. 20 15 ..", 3) == []


def test_whole_piece_by_hand():
    """Three counts from the far end: listed, one wheel changed, new, and ρ of all for no type."""
    answer = identify_piece(Reference([CLUSTER]), ["25", "20", "15"])
    pools = [{15: 3.0, 16: 1.0}, {20: 4.0}, {25: 3.0, 15: 1.0}]
    spreads = [rho(pool) for pool in pools]
    # a (3): 15 20 25 with 45 40 35; b (1): 16 20 15 with 44 40 45.
    law = rho({15: 4.0, 20: 4.0, 25: 3.0, 16: 1.0, 45: 4.0, 40: 4.0, 35: 3.0, 44: 1.0})
    sums = {"a": 0.0, "b": 0.0, "unlisted": 0.0, "none": 0.0}
    for hand, q in HANDS.values():
        for name, share, kind in (("a", 0.75, (15, 20, 25)), ("b", 0.25, (16, 20, 15))):
            for order in (kind, kind[::-1]):
                read = list(zip((25, 20, 15), order, strict=True))
                right = [count_law(c, t, q) for c, t in read]
                sums[name] += hand * 0.9 * 0.96 * share / 2 * math.prod(right)
                places = [0, 1, 2] if order == kind else [2, 1, 0]
                for i, (place, (c, t)) in enumerate(zip(places, read, strict=True)):
                    other = rho(pools[place], [t])
                    changed = math.fsum(x * count_law(c, n, q) for n, x in other.items())
                    rest = math.prod(x for j, x in enumerate(right) if j != i)
                    sums["unlisted"] += hand * 0.9 * 0.02 * share / 2 / 3 * changed * rest
                new = 1.0
                for place, (c, _) in zip(places, read, strict=True):
                    listed = math.fsum(w * count_law(c, n, q) for n, w in pools[place].items()) / 4
                    drawn = math.fsum(x * count_law(c, n, q) for n, x in spreads[place].items())
                    new *= 0.25 * listed + 0.75 * drawn
                sums["unlisted"] += hand * 0.9 * 0.02 * share / 2 * new
        sums["none"] += (
            hand
            * 0.1
            * math.prod(
                math.fsum(x * count_law(c, t, q) for t, x in law.items()) for c in (25, 20, 15)
            )
        )
    total = math.fsum(sums.values())
    found = {
        one["sets"][0] if one["type"] else "unlisted": one["probability"]
        for one in answer["answers"]
    }
    expected = {k: sums[k] / total for k in ("a", "b", "unlisted")}
    assert found == pytest.approx(expected, rel=1e-11)
    assert answer["uncatalogued"] == pytest.approx(sums["none"] / total, rel=1e-11)


def test_a_piece_that_fits_nothing_is_uncatalogued():
    """Four wheels, or a role that no family has, leave no candidate."""
    judge = Reference([CLUSTER])
    assert identify_piece(judge, ["15", "20", "25", "30"])["uncatalogued"] == pytest.approx(1)
    assert identify_piece(judge, ["15"], role="laygear")["uncatalogued"] == pytest.approx(1)
    # three pieces of one wheel, of two, one and two types, and each unlisted
    assert len(identify_piece(judge, ["15"])["answers"]) == 5 + 3
    assert len(identify_piece(judge, ["45"], role="1-driven")["answers"]) == 2 + 1


@pytest.mark.parametrize(
    ("words", "wheel"),
    [
        ([], "1.driver"),
        (["1.driver=15"], "2.driven"),
        (["1=15/44", "2=20u/40", "3.driver=15x2"], "3.driver"),
        (["8=20/30"], "1.driver"),
    ],
)
def test_a_count_is_worth_what_asking_again_says(words, wheel):
    """The expected fall is that of the whole posterior over every next count of 4…200."""
    judge = Reference([CLUSTER])
    after = [judge.identify([*words, f"{wheel}={count}"]) for count in range(4, 201)]
    expected = fall(judge.identify(words), after)
    assert wheel_worth(judge, read_words(words), wheel) == pytest.approx(expected, abs=1e-10)


@pytest.mark.parametrize("words", [["20", "_", "15"], ["..", "20x2", "16u"]])
def test_a_position_is_worth_what_asking_again_says(words):
    """A loose piece's position likewise, a recount where it has a count already."""
    judge = Reference([CLUSTER])
    seen = read_piece(words)
    before = posterior(judge, seen)
    for position in range(len(seen.counts)):
        after = []
        for count in range(4, 201):
            more = list(seen.counts)
            more[position] = (*more[position], (count, False))
            after.append(posterior(judge, replace(seen, counts=tuple(more))))
        expected = fall(before, after)
        assert position_worth(judge, seen, position) == pytest.approx(expected, abs=1e-10)


def test_a_turn_is_worth_what_asking_again_says():
    """One turn of an axle: the whole posterior asked again at readings a 240th apart."""
    judge = Reference([AXLE])
    after = [judge.identify([f"final@1:{k}/240"]) for k in range(12, 1201)]
    after[0]["log_evidence"] -= math.log(2)
    after[-1]["log_evidence"] -= math.log(2)
    expected = fall(judge.identify([]), after)
    assert turn_worths(judge, read_words([]), "final")[1] == pytest.approx(expected, abs=1e-3)


def test_more_turns_tell_more_of_close_ratios():
    """Ten turns part two axles better than one, and a gear that nobody has parts nothing."""
    judge = Reference([AXLE])
    worths = turn_worths(judge, read_words([]), "final")
    assert worths[10] > worths[1]
    assert best_turn(worths)[0] > 1
    assert turn_worths(judge, read_words([]), "9")[1] == pytest.approx(0, abs=1e-9)
    assert best_turn({1: 0.2, 2: 0.4, 3: 0.4}) == (2, 0.4)


def test_entropy_by_hand():
    """Half, a quarter, a quarter: one and a half bits, whatever they add up to."""
    assert float(entropy(np.array([4.0, 2.0, 2.0]))) == pytest.approx(1.5)
    assert float(entropy(np.array([1.0, 0.0]))) == 0


@pytest.mark.parametrize("seed", range(4))
def test_no_count_is_expected_to_confuse(seed):
    """In random worlds no count has a worth below zero."""
    docs = world(seed, families=2)
    judge = Reference(docs)
    seen = read_words(random_box(docs, seed)["words"])
    counted = next(iter(judge.counted.values()), None)
    names = list(counted.names)[:2] if counted else ["1.driver"]
    for name in [*names, "8.idler"]:
        assert wheel_worth(judge, seen, name) > -1e-9
