"""The judge judged: hand arithmetic, a second plain way, and what must hold of any posterior."""

import math
from fractions import Fraction
from itertools import product
from typing import Any

import numpy as np
import pytest

from reference.enumeration import identify
from reference.examples import TWO_SHAFT, by_name, family, matched
from reference.laws import Rho, likeliest, log_counts
from reference.plain import SPAN, count_law, rho, two_wheel_family

AXLE: dict[str, Any] = {
    "family": {"id": "beam", "name": "Beam", "layout": "axle"},
    "set": [
        {"id": "low", "pairs": {"final": "9/41"}, "commonness": 3},
        {"id": "high", "pairs": {"final": "11/103"}},
    ],
}
# -- the laws -----------------------------------------------------------------------------------


def test_count_law_by_hand():
    """A steady count that is right weighs .995·.99/1.01 + .005/197, one off a hundredth of it."""
    log = log_counts([(20, False)], "steady")
    assert math.exp(log[20 - 4]) == pytest.approx(0.9752970297 + 0.0000253807, abs=1e-9)
    assert math.exp(log[21 - 4]) == pytest.approx(0.0097529703 + 0.0000253807, abs=1e-9)


def test_unsure_is_the_same_from_both_hands():
    """A count marked unsure does not ask who counted: .995·.8/1.2 + .005/197 where right."""
    assert math.exp(log_counts([(20, True)], "steady")[20 - 4]) == pytest.approx(
        0.6633333333 + 0.0000253807, abs=1e-9
    )
    assert np.array_equal(log_counts([(20, True)], "steady"), log_counts([(20, True)], "hasty"))


def test_rho_by_hand():
    """One catalogued 20: at 20 teeth .2/95 + .8·.3/(1 + .7 − .7^16 − .7^80)."""
    law = Rho([("1.driver", 20, 2.0)]).of("1.driver")
    # Σ .7^k for k=0…79 above and 1…15 below is (1 − .7^80)/.3 + .7(1 − .7^15)/.3.
    assert law[20 - 4] == pytest.approx(0.2 / 95 + 0.8 * 0.3 / (1 + 0.7 - 0.7**16 - 0.7**80))
    assert law.sum() == pytest.approx(1)
    assert law[4 - 4] == law[96:].sum() == 0 < min(law[5 - 4], law[99 - 4])


def test_likeliest_takes_the_lower_on_a_tie():
    """Two counts two apart make either likelier than the one between."""
    assert likeliest([(22, False), (20, False)]) == 20
    assert likeliest([(20, True), (22, False)]) == 22
    assert likeliest([(100, False)]) == 99


# -- small families by hand ----------------------------------------------------------------------


def test_prior_of_one_set_by_hand():
    """Nothing seen, one set, no mesh: new .9·.04, matched .9·.96·.994², variant the rest of .9."""
    names = by_name(
        identify([family({"layout": "axle"}, {"id": "s", "pairs": {"final": "9/41"}})], [])
    )
    assert names == pytest.approx(
        {
            "s": 0.864 * 0.994**2,
            "new": 0.036,
            "mixed": 0.0,
            "variant": 0.864 * (1 - 0.994**2),
            "uncatalogued": 0.1,
        }
    )


def test_prior_of_two_sets_by_hand():
    """Nothing seen, two sets 3:1 that share no type: each set also comes of the other's base."""
    names = by_name(identify([AXLE], []))
    assert names["low"] == pytest.approx(0.864 * (0.75 * 0.97**2 + 0.25 * 0.024**2))
    assert names["high"] == pytest.approx(0.864 * (0.25 * 0.97**2 + 0.75 * 0.024**2))
    assert names["mixed"] == pytest.approx(0.864 * 2 * 0.97 * 0.024)
    assert names["variant"] == pytest.approx(0.864 * (2 * 0.006 - 0.006**2))


@pytest.mark.parametrize(
    ("words", "drivers", "drivens"),
    [
        (["final=9/41"], [9], [41]),
        (["final=9x2/42", "final.driven=41"], [9, 9], [42, 41]),
        (["final=14/_"], [14], []),
        (["final=150/40"], [150], [40]),
    ],
)
def test_axle_against_plain_loops(words, drivers, drivens):
    """A pair without a mesh factor agrees with two loops over teeth."""
    plain = two_wheel_family([(9, 41), (11, 103)], [3, 1], drivers, drivens, meshed=False)
    plain["low"], plain["high"] = plain.pop("0"), plain.pop("1")
    assert by_name(identify([AXLE], words)) == pytest.approx(plain, rel=1e-11)


@pytest.mark.parametrize(
    ("words", "drivers", "drivens"),
    [
        (["1=15/45"], [15], [45]),
        (["1=15/44"], [15], [44]),
        (["1=20/40"], [20], [40]),
        (["1.driven=46x3"], [], [46, 46, 46]),
    ],
)
def test_mesh_against_plain_loops(words, drivers, drivens):
    """A pair in mesh, known and unknown, agrees with two loops over teeth."""
    sets = [(15, 45), (16, 44), (15, 46)]
    plain = two_wheel_family(sets, [2, 1, 0.5], drivers, drivens, meshed=True)
    for number, name in enumerate("abc"):
        plain[name] = plain.pop(str(number))
    assert by_name(identify([TWO_SHAFT], words)) == pytest.approx(plain, rel=1e-11)


def normal(x: float, mean: float) -> float:
    return 48 / math.sqrt(2 * math.pi) * math.exp(-((48 * (x - mean)) ** 2) / 2)


def test_turns_against_plain_loops():
    """Output read, input read, one wheel held, and a ratio that only counts can give."""
    readings = {
        "final@4:0.88": (0.88, lambda r: 4 / r),
        "final@4.5:1": (4.5, lambda r: r),
        "final@4:1.75/held": (1.75, lambda r: 8 / r),
        "final@2.3:1/held": (2.3, lambda r: r / 2),
    }
    for (word, (x, mean)), counts in product(readings.items(), ([], [17])):

        def density(ratio: Fraction | None, x: float = x, mean: Any = mean) -> float:
            slip = 1 / (x * math.log(100))
            return slip if ratio is None else 0.995 * normal(x, mean(float(ratio))) + 0.005 * slip

        plain = two_wheel_family([(9, 41), (11, 103)], [3, 1], counts, [41], False, density)
        plain["low"], plain["high"] = plain.pop("0"), plain.pop("1")
        words = [word, "final.driven=41", *(f"final.driver={c}" for c in counts)]
        assert by_name(identify([AXLE], words)) == pytest.approx(plain, rel=1e-11), word


def test_missing_pair_by_hand():
    """A pair that no family has costs .001 against ρ², leaves no set matched and new ones new."""
    doc = family({"layout": "axle"}, {"id": "s", "pairs": {"final": "9/41"}})
    names = by_name(identify([doc], ["5=20/30"]))
    # ρ is uniform for both wheels in both cases and cancels: .9·.001 against .1.
    assert names["uncatalogued"] == pytest.approx(0.1 / (0.1 + 0.9 * 0.001))
    assert names["s"] == 0
    assert names["new"] == pytest.approx(0.04 * (1 - names["uncatalogued"]))
    assert names["variant"] == pytest.approx(0.96 * (1 - names["uncatalogued"]))
    assert by_name(identify([doc], ["5=_/_"]))["uncatalogued"] == pytest.approx(0.1)


def test_missing_gear_by_hand():
    """A turn test of a gear that a family lacks costs .001, of two such gears at once no more."""
    doc = family({"layout": "axle"}, {"id": "s", "pairs": {"final": "9/41"}})
    for word in ("1@4:1.1", "1+2@4:1.1", "1+final@4:1.1"):
        names = by_name(identify([doc], [word]))
        assert names["uncatalogued"] == pytest.approx(0.1 / (0.1 + 0.9 * 0.001))


def test_cluster_states_by_hand():
    """Half of an unlisted cluster has one wheel changed; a new set's is unlisted too."""
    head = {"layout": "two-shaft", "pieces": {"shaft": ["1.driver", "2.driver"]}}
    doc = family(head, {"id": "s", "pairs": {"1": "15/_", "2": "20/_"}})
    answer = identify([doc], ["1.driver=15", "2.driver=20"])
    r1, r2 = rho({15: 1.0}), rho({20: 1.0})
    n1, n2 = rho({15: 1.0}, [15]), rho({20: 1.0}, [20])
    listed = unlisted = stranger = 0.0
    for hand, q in ((0.8, 0.01), (0.2, 0.06)):
        p = {t: (count_law(15, t, q), count_law(20, t, q)) for t in SPAN}

        def at(law: dict[int, float], side: int, p: Any = p) -> float:
            return math.fsum(x * p[t][side] for t, x in law.items())

        listed += hand * 0.864 * 0.994 * p[15][0] * p[20][1]
        changed = 0.25 * at(n1, 0) * p[20][1] + 0.25 * p[15][0] * at(n2, 1)
        unlisted += hand * 0.864 * 0.006 * (changed + 0.5 * at(r1, 0) * at(r2, 1))
        designed = math.prod(
            0.25 * p[t][side] + 0.75 * at(law, side)
            for side, (t, law) in enumerate(((15, r1), (20, r2)))
        )
        unlisted += hand * 0.036 * designed
        stranger += hand * 0.1 * at(r1, 0) * at(r2, 1)
    shaft = {
        one["type"] is None: one["probability"]
        for one in answer["pieces"]
        if one["piece"] == "shaft"
    }
    total = listed + unlisted + stranger
    assert shaft[False] == pytest.approx(listed / total, rel=1e-11)
    assert shaft[True] == pytest.approx(unlisted / total, rel=1e-11)
    assert answer["so_far"][0]["probability"] == pytest.approx(listed / total, rel=1e-11)


def test_two_sets_alike_are_one_group_and_marks_part_them():
    """Twins share an answer; unlike marks make two; a mark that nobody else gives is filled in."""
    one = {"id": "a", "pairs": {"final": "9/41"}}
    marked = {**one, "id": "b", "marks": {"final-crown": ["X 1"]}}
    other = {**one, "id": "c", "marks": {"final-crown": ["X 2"]}}
    head = {"layout": "axle"}
    groups = lambda *sets: matched(identify([family(head, *sets)], []))  # noqa: E731
    assert groups(one, {**one, "id": "d"}) == [["a", "d"]]
    assert groups(one, marked) == [["a", "b"]]
    assert sorted(groups(one, marked, other)) == [["a"], ["b"], ["c"]]


def test_a_gap_equals_a_gap_and_no_number():
    """Two sets with a gap at the same wheel are one answer, one with a count there another."""
    teeth = {"a": "9/_", "b": "9/_", "c": "9/41"}
    sets = [{"id": name, "pairs": {"final": text}} for name, text in teeth.items()]
    answer = identify([family({"layout": "axle"}, *sets)], ["final=9/41"])
    assert sorted(one["sets"] for one in answer["so_far"]) == [["a", "b"], ["c"]]
    assert sorted(matched(answer)) == [["a", "b"], ["c"]]


def test_an_unknown_mark_equals_an_unknown_one():
    """Where two sets' marks differ, two more that give none are one type, of unknown mark."""
    one = {"pairs": {"final": "9/41"}}
    marked = [
        {**one, "id": n, "marks": {"final-crown": [m]}} for n, m in (("a", "X 1"), ("b", "X 2"))
    ]
    sets = [*marked, {**one, "id": "c"}, {**one, "id": "d"}]
    answer = identify([family({"layout": "axle"}, *sets)], [])
    assert sorted(matched(answer)) == [["a"], ["b"], ["c", "d"]]
