"""The judge judged: what must hold of any posterior, of any world, of any cluster of wheels."""

import math
import random
import tomllib

import numpy as np
import pytest

from reference.boxes import random_box
from reference.counted import CountedFamily
from reference.enumeration import Reference, identify
from reference.examples import TWO_SHAFT, by_name, family
from reference.laws import log_counts
from reference.layout import build_family, build_rho
from reference.sums import loop_sums, root_sums
from reference.worlds import toml_text, world
from reference.written import read_words

# -- what must hold of all -------------------------------------------------------------------------


def test_trees_and_loops_of_wheels_agree():
    """Passing sums along the meshes is the same as one product over all teeth."""
    dice = np.random.default_rng(2)
    vectors = {wheel: dice.random(n) for wheel, n in zip("abcd", (5, 1, 7, 4), strict=True)}
    matrices = {
        (a, b): dice.random((len(vectors[a]), len(vectors[b]))) for a, b in ("ab", "cb", "cd")
    }
    for root in vectors:
        assert root_sums(root, vectors, matrices) == pytest.approx(
            loop_sums(root, vectors, matrices)
        )


@pytest.mark.parametrize("seed", [1, 3, 7, 11])
def test_whole_posteriors_do_not_hang_on_how_meshes_are_summed(seed, monkeypatch):
    """A box's answers are the same where every cluster of wheels is summed as one product."""
    docs = world(seed)
    boxes = [random_box(docs, number)["words"] for number in range(2)]
    first = [Reference(docs).identify(words) for words in boxes]
    for room in ("counted", "new_set"):
        monkeypatch.setattr(f"reference.{room}.root_sums", loop_sums)
    again = [Reference(docs).identify(words) for words in boxes]
    for one, other in zip(first, again, strict=True):
        for a, b in zip(one["answers"], other["answers"], strict=True):
            assert a["probability"] == pytest.approx(b["probability"], abs=1e-12)


@pytest.mark.parametrize("seed", range(12))
def test_laws_of_any_posterior(seed):
    """Answers, hands, families add up to 1, pieces to their family, in any order of the words."""
    docs = world(seed)
    judge = Reference(docs)
    for number in range(3):
        words = random_box(docs, 10 * seed + number)["words"]
        answer = judge.identify(words)
        assert math.fsum(a["probability"] for a in answer["answers"]) == pytest.approx(1)
        assert math.fsum(answer["hands"].values()) == pytest.approx(1)
        stranger = answer["answers"][-1]["probability"]
        assert math.fsum(answer["families"].values()) + stranger == pytest.approx(1)
        for counted in judge.counted.values():
            only = all(
                "pairs" in s
                for d in docs
                if d["family"]["id"] == counted.family.id
                for s in d["set"]
            )
            shares = [
                math.fsum(
                    one["probability"]
                    for one in answer["pieces"]
                    if (one["family"], one["piece"]) == (counted.family.id, piece)
                )
                for piece in counted.pieces
            ]
            assert shares == pytest.approx([shares[0]] * len(shares), abs=1e-13)
            if only:
                assert shares[0] == pytest.approx(answer["families"][counted.family.id], abs=1e-13)
        random.Random(seed).shuffle(words)
        again = judge.identify(words)
        for one, other in zip(answer["answers"], again["answers"], strict=True):
            assert one["probability"] == pytest.approx(other["probability"], abs=1e-12)


@pytest.mark.parametrize("seed", range(6))
def test_prior_adds_up_for_every_base_set(seed):
    """Nothing seen: a family has .9 of its sets' share, its new set .04 of the counted ones'."""
    docs = world(seed)
    answer = identify(docs, [])
    total = math.fsum(s.get("commonness", 1) for d in docs for s in d["set"])
    for doc in docs:
        own = math.fsum(s.get("commonness", 1) for s in doc["set"])
        assert answer["families"][doc["family"]["id"]] == pytest.approx(0.9 * own / total)
        counted = math.fsum(s.get("commonness", 1) for s in doc["set"] if "pairs" in s)
        new = [a["probability"] for a in answer["answers"]
               if a["kind"] == "new" and a["family"] == doc["family"]["id"]]  # fmt: skip
        assert new == pytest.approx([0.036 * counted / total] if counted else [])


def test_evidence_of_all_counts_adds_up():
    """Over every count that can be written the evidence adds up to the laws' whole mass."""
    judge = Reference([TWO_SHAFT])
    mass = math.fsum(
        math.exp(judge.identify([f"1.driver={c}"])["log_evidence"]) for c in range(4, 201)
    )
    assert 0.99 < mass <= 1 + 1e-12
    assert mass == pytest.approx(1, abs=1e-4)


def test_a_thousand_counts_do_not_underflow():
    """A wheel counted 1,090 times, a tenth of them wrong, still gives an answer adding up to 1."""
    words = ["1.driver=15x99"] * 10 + ["1.driver=16x99", "1.driver=200"]
    answer = identify([TWO_SHAFT], words)
    assert math.fsum(a["probability"] for a in answer["answers"]) == pytest.approx(1)
    assert answer["hands"]["hasty"] > 0.99
    assert math.isfinite(answer["log_evidence"])


def test_repeats_are_the_same_however_written():
    """`x3`, three words, and a pair with a gap say the same."""
    ways = (["1=15x3/45"], ["1=15/45", "1.driver=15", "1=15/_"], ["1=15x2/_", "1=15/45"])
    first, *others = [by_name(identify([TWO_SHAFT], words)) for words in ways]
    for other in others:
        assert other == pytest.approx(first)


def test_a_stranger_counted_twice_is_tied():
    """Counting unknown teeth twice alike speaks for the stranger more than counting once."""
    once = by_name(identify([TWO_SHAFT], ["1.driver=22"]))
    twice = by_name(identify([TWO_SHAFT], ["1.driver=22x2"]))
    assert twice["a"] + twice["b"] + twice["c"] < (once["a"] + once["b"] + once["c"]) / 10


@pytest.mark.parametrize("seed", range(8))
def test_worlds_are_repeatable_files(seed):
    """The same seed makes the same catalog, and its TOML text reads back as it was."""
    docs = world(seed)
    assert docs == world(seed)
    assert [tomllib.loads(toml_text(doc)) for doc in docs] == docs
    assert 2 <= len(docs) <= 6


def test_the_shared_wheel_pools_its_names():
    """Counts under both names of one wheel are counts of one wheel."""
    head = {"layout": "layshaft", "direct": "2", "same": {"R.driver": "1.driver"}}
    doc = family(head, {"id": "s", "pairs": {"input": "17/28", "1": "14/31", "R": "14/20/28"}})
    judge = Reference([doc])
    counted: CountedFamily = judge.counted["f"]
    assert counted.family.pieces["laygear"] == ["input.driven", "1.driver"]
    assert counted.wheel_logs(read_words(["1.driver=14", "R.driver=14x2"]), "steady")[
        "1.driver"
    ] == pytest.approx(log_counts([(14, False)] * 3, "steady"))


def test_gears_of_spelled_out_paths():
    """A pair inside another gear's path is no gear unless its name is a number."""
    head = {"layout": "layshaft", "direct": "2", "paths": {"R": ["input", "1", "R1", "R2"]}}
    head["pieces"] = {
        "rest": ["input.driver", "input.driven", "1.driver", "1.driven"],
        "r": ["R1.driver", "R1.driven", "R2.driver", "R2.driven"],
    }
    pairs = {"input": "17/28", "1": "14/31", "R1": "14/20", "R2": "15/28"}
    made = build_family(family(head, {"id": "s", "pairs": pairs}))
    assert made.gears == {"1": ["input", "1"], "R": ["input", "1", "R1", "R2"], "2": []}


def test_rho_counts_a_wheel_under_both_its_names():
    """A wheel with two names lends its teeth to both names in other families."""
    head = {"layout": "layshaft", "same": {"R.driver": "1.driver"}}
    doc = family(head, {"id": "s", "pairs": {"input": "17/28", "1": "14/31", "R": "14/20/28"}})
    made = build_rho([build_family(doc)])
    assert np.array_equal(made.of("R.driver"), made.of("1.driver"))
    assert made.of("R.driver")[14 - 4] > 0.14
