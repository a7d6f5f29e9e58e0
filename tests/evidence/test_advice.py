"""What to count next: the worth of counts and turn tests, beside the brute-force reference."""

from pathlib import Path

import pytest

from cogtally.catalog.files.reading import demo_catalog
from cogtally.evidence.advice import advise
from cogtally.evidence.engine import sums
from cogtally.gears.notation import parse_seen
from reference.boxes import random_box
from reference.enumeration import Reference
from reference.worlds import world
from reference.worth import turn_worths, wheel_worth
from reference.written import read_words

from .test_against_reference import ALIKE, at_once, catalog_of, ready

CLOSE_COUNT = 1e-6
CLOSE_TURN = 1e-2


def compare_counts(seed: int, folder: Path) -> None:
    docs = world(seed, 2)
    words = random_box(docs, seed)["words"]
    advice = advise(catalog_of(docs, folder), parse_seen(words), turns=False)
    judge, seen = Reference(docs), read_words(words)
    assert list(advice.wheels) == sorted(advice.wheels, key=lambda w: -w.bits)
    for worth in advice.wheels:
        expected = wheel_worth(judge, seen, worth.wheel)
        assert worth.bits == pytest.approx(expected, abs=CLOSE_COUNT), (words, worth)


# Box 10, with paths known by print alone, takes the reference longer than all others together.
@pytest.mark.parametrize("seed", [*range(10), 11])
def test_the_worth_of_every_wheel(seed, tmp_path):
    """Every wheel of the leading family is worth what asking again for each count would tell."""
    compare_counts(seed, tmp_path)


@pytest.mark.long
@pytest.mark.parametrize("seed", [10, *range(110, 127)])
def test_the_worth_of_every_wheel_at_length(seed, tmp_path):
    """The same on 18 more boxes."""
    compare_counts(seed, tmp_path)


@pytest.mark.parametrize("seed", range(4))
def test_the_worth_of_a_turn_test(seed, tmp_path):
    """The best number of whole turns brings what the grid of 1/960 turn says, to 1e-2 bits."""
    docs = world(seed, 2)
    words = random_box(docs, seed)["words"]
    advice = advise(catalog_of(docs, tmp_path), parse_seen(words))
    judge, seen = Reference(docs), read_words(words)
    for worth in advice.turns[:2]:
        expected = turn_worths(judge, seen, worth.gear)
        assert worth.bits == pytest.approx(max(expected.values()), abs=CLOSE_TURN)
        assert expected[worth.turns] == pytest.approx(worth.bits, abs=CLOSE_TURN)


@at_once
def test_how_many_families_are_worked_on_at_once_changes_no_worth(
    numbers, room, tmp_path, monkeypatch
):
    """Families with fewer sets and types than their stack has room for are worth the same."""
    monkeypatch.setattr(sums, "AT_ONCE", numbers)
    monkeypatch.setattr(ready, "PART_ROOM", room)
    words = ["1.driver=14", "2.driven=26u"]
    advice = advise(catalog_of(ALIKE, tmp_path), parse_seen(words))
    judge, seen = Reference(ALIKE), read_words(words)
    assert {"input.driven", "2.driver", "1.driver"} <= {worth.wheel for worth in advice.wheels}
    for worth in advice.wheels:
        expected = wheel_worth(judge, seen, worth.wheel)
        assert worth.bits == pytest.approx(expected, abs=CLOSE_COUNT), worth
    for worth in advice.turns:
        expected = turn_worths(judge, seen, worth.gear)[worth.turns]
        assert worth.bits == pytest.approx(expected, abs=CLOSE_TURN), worth


def test_the_worth_of_a_wheel_of_very_many_teeth(tmp_path):
    """Counts far beyond the usual are told apart where a set has a wheel of so many teeth."""
    pairs = [{"input": "17/28", "1": f"14/{wheel}", "2": "19/26"} for wheel in (148, 151)]
    sets = [{"id": f"s{n}", "pairs": each} for n, each in enumerate(pairs)]
    docs = [{"family": {"id": "great", "layout": "layshaft", "direct": "3"}, "set": sets}]
    words = ["input=17/28", "1.driver=14"]
    advice = advise(catalog_of(docs, tmp_path), parse_seen(words), turns=False)
    expected = wheel_worth(Reference(docs), read_words(words), "1.driven")
    (found,) = [worth.bits for worth in advice.wheels if worth.wheel == "1.driven"]
    assert found == pytest.approx(expected, abs=CLOSE_COUNT)
    assert found > 0.5


def test_a_settled_box_has_nothing_left_to_count():
    """Nothing is worth more than the entropy of the answer, and of a settled box that is little."""
    words = ["input=17/28", "1=14/31", "2=19/26", "3=24/21", "R=12/20/28"]
    advice = advise(demo_catalog(), parse_seen(words), turns=False)
    assert advice.at_most < 0.2
    assert all(worth.bits <= advice.at_most for worth in advice.wheels)
    assert not advice.count_all_again


def test_the_third_gear_tells_late_from_wide():
    """Where two sets differ in one wheel only, that wheel is worth most."""
    words = ["input=17/28", "1=_/31", "2=19/26", "3=24/21", "R=12/20/28"]
    advice = advise(demo_catalog(), parse_seen(words), "alder-4", turns=False)
    assert advice.best is not None
    assert advice.best.wheel == "1.driver"


def test_a_hasty_hand_is_told_to_count_again():
    """Where every count contradicts the next, one more brings little: count all of it again."""
    words = [f"{w}={n}" for w in ("input.driver", "1.driver", "2.driver") for n in (14, 22, 31, 40)]
    advice = advise(demo_catalog(), parse_seen(words), turns=False)
    assert advice.count_all_again == (
        max(w.bits for w in advice.wheels) < 0.05 and advice.at_most > 0.3
    )
