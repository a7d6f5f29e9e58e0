"""Random wheels, measured within 0.02 mm, and what is found of them: two hundred in long runs."""

import random

import pytest

from cogtally.gears.callipers.wheel import Gauging, gauge

from .random_wheels import TrueWheel, measured, random_wheel

numbers = [50, pytest.param(200, marks=pytest.mark.long)]


def found(true: TrueWheel, *missing: str) -> Gauging:
    read = {name: value for name, value in true.read.items() if name not in missing}
    return gauge(measured(true.teeth, **read))


@pytest.fixture(scope="module", params=numbers)
def wheels(request) -> list[TrueWheel]:
    rng = random.Random(54)
    return [random_wheel(rng, by_commonness=True) for _ in range(request.param)]


@pytest.fixture(scope="module")
def all_measured(wheels) -> list[tuple[TrueWheel, Gauging]]:
    return [(true, found(true)) for true in wheels]


def places(answers: list[tuple[TrueWheel, Gauging]]) -> list[int | None]:
    """The place of the truth among the explanations, 0 the first, None where it is missing."""
    return [
        next((i for i, e in enumerate(answer.explanations) if true.is_held_by(e)), None)
        for true, answer in answers
    ]


def test_all_measured(all_measured):
    """The truth is always an answer, and first in nine of ten, with everything measured."""
    placed = places(all_measured)
    assert None not in placed
    assert placed.count(0) >= 0.9 * len(placed)


def test_without_centre_distance(wheels):
    """The same without a centre distance."""
    placed = places([(true, found(true, "centres", "mate")) for true in wheels])
    assert None not in placed
    assert placed.count(0) >= 0.9 * len(placed)


@pytest.mark.parametrize("number", numbers)
def test_every_standard_alike(number):
    """The same of wheels drawn evenly from all standards, rare ones as often as common ones."""
    rng = random.Random(53)
    drawn = [random_wheel(rng, by_commonness=False) for _ in range(number)]
    placed = places([(true, found(true)) for true in drawn])
    assert None not in placed
    assert placed.count(0) >= 0.9 * number


def test_both_spans_without_helix(wheels):
    """With both spans but no helix angle the truth is always an answer, and first where it is spur.

    A helical wheel's angle is then found from outside diameter and spans, so standards whose base
    pitches lie within the noise can all explain it. No ranking puts the truth first more often
    than the shares say, and these say as much as happens.
    """
    answers = [
        (true, found(true, "helix", "helix_tolerance", "centres", "mate")) for true in wheels
    ]
    placed = places(answers)
    assert None not in placed
    straight = [place for place, (true, _) in zip(placed, answers, strict=True) if not true.helix]
    assert straight.count(0) >= 0.9 * len(straight)
    leading = [answer.standards[0] for _, answer in answers]
    right = sum(
        standard == true.standard for (standard, _), (true, _) in zip(leading, answers, strict=True)
    )
    expected = sum(share for _, share in leading)
    spread = sum(share * (1 - share) for _, share in leading) ** 0.5
    assert abs(right - expected) <= 3 * spread
    assert expected < 0.9 * len(wheels)


@pytest.mark.parametrize(
    "missing",
    [
        ("helix", "centres", "mate"),
        ("outside", "centres", "mate"),
        ("spans", "centres", "mate"),
        ("spans", "helix"),
    ],
)
def test_something_missing(wheels, missing):
    """The truth is an answer whatever was not measured."""
    some = wheels[:4]
    answers = [(true, found(true, *missing)) for true in some]
    assert all(
        any(e.standard == true.standard and e.fits for e in answer.explanations)
        for true, answer in answers
    )


def test_a_named_standard_is_the_true_one(all_measured):
    """What is named is true in at least 99 of 100, and half of the wheels are named."""
    named = [(answer.named, true) for true, answer in all_measured if answer.named]
    right = sum(standard == true.standard for standard, true in named)
    assert right >= 0.99 * len(named)
    assert len(named) >= 0.5 * len(all_measured)


@pytest.mark.parametrize("number", [20, pytest.param(60, marks=pytest.mark.long)])
def test_turned_down_tips(number):
    """With the tips turned down by 0.3 mm the truth is still an answer, and so is said."""
    rng = random.Random(52)
    worn = [random_wheel(rng, by_commonness=True, cut=0.3) for _ in range(number)]
    for true in worn:
        answer = found(true, "centres", "mate")
        held = [e for e in answer.explanations if e.standard == true.standard]
        assert held, true
        if true.helix == 0:
            low = [e for e in held if true.is_held_by(e)]
            assert any("turned down" in note for e in low for note in e.notes), true
