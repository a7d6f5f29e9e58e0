"""The bits of a turn test beside the sum over the grid as the model's page writes it."""

import math
import random
from collections.abc import Mapping, Sequence
from fractions import Fraction

import numpy as np
import pytest

from cogtally.evidence.advice.turn_worth import OWN, SpeedJoint

#: "to 1e-3 bits"; found to be below 1e-5.
CLOSE = 1e-4
#: Between two ratios, or one, or none.
Ratio = tuple[Fraction, Fraction] | Fraction | None
Answers = Sequence[dict[Ratio, float]]


def joint_of(answers: Answers, alone: Answers = ()) -> SpeedJoint:
    rows = []
    for number, answer in enumerate([*answers, *alone]):
        for ratio, weight in answer.items():
            ends = ratio if isinstance(ratio, tuple) else (ratio, ratio)
            low, high = (math.nan if end is None else float(end) for end in ends)
            rows.append((number if number < len(answers) else OWN, low, high, weight))
    numbers, low, high, weights = map(np.array, zip(*rows, strict=True))
    return SpeedJoint(numbers, low, high, weights)


def by_the_page(answers: Answers, turns: int) -> float:
    """Return the expected fall on the grid of 1/960 turn, density by density."""
    low, high = math.ceil(turns / 20 * 960), math.floor(turns / 0.2 * 960 + 1e-9)
    chance = fall = 0.0
    weights = [sum(answer.values()) for answer in answers]
    now = entropy(weights)
    for place in range(low, high + 1):
        x = place / 960
        step = (0.5 if place in (low, high) else 1.0) / 960
        densities = [
            sum(weight * density(ratio, turns, x) for ratio, weight in answer.items())
            for answer in answers
        ]
        chance += step * sum(densities)
        fall += step * sum(densities) * (now - entropy(densities))
    return fall / chance


def density(ratio: Ratio, turns: int, x: float) -> float:
    flat = 1 / (x * math.log(100))
    if ratio is None:
        return flat
    if isinstance(ratio, tuple):
        ends = [float(turns / ratio[1]), float(turns / ratio[0])]
        above, below = (math.erf((x - end) * 48 / math.sqrt(2)) / 2 for end in ends)
        return 0.995 * (above - below) / (ends[1] - ends[0]) + 0.005 * flat
    off = (x - float(turns / ratio)) * 48
    return 0.995 * 48 * math.exp(-off * off / 2) / math.sqrt(2 * math.pi) + 0.005 * flat


def entropy(weights: list[float]) -> float:
    total = sum(weights)
    return -sum(w / total * math.log2(w / total) for w in weights if w > 0)


def made(seed: int) -> Answers:
    """Return answers of one ratio, of several, of an interval, of none, at both ends of a range."""
    dice = random.Random(seed)

    def ratio() -> Fraction:
        return Fraction(dice.randint(13, 40), dice.randint(13, 40))

    answers: Answers = [{ratio(): dice.random()} for _ in range(4)]
    answers += [{ratio(): 0.2, None: 0.1}, {None: dice.random()}]
    answers.append({ratio(): dice.random() / 9 for _ in range(9)})
    low = Fraction(dice.randint(60, 400), 100)
    answers += [{(low, low + Fraction(1, width)): 0.3} for width in (100, 10)]
    return [
        *answers,
        {Fraction(20): 0.1},
        {Fraction(1, 5): 0.1},
        {answers[0].copy().popitem()[0]: 1},
    ]


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("turns", [1, 3])
def test_bits_are_those_of_the_page(seed, turns):
    """The coarser grid and the shared sums give what the page's grid gives."""
    answers = made(seed)
    bits = joint_of(answers).expected_falls()[turns - 1]
    assert bits == pytest.approx(by_the_page(answers, turns), abs=CLOSE)


def test_ratios_beyond_the_allowed_range_are_never_read():
    """Of a gear that turns more than 20 times in for one out, a reading is a slip."""
    answers: Answers = [{Fraction(60): 0.5}, {None: 0.3}, {Fraction(1, 9): 0.2}]
    falls = joint_of(answers).expected_falls()
    assert falls[9] == pytest.approx(by_the_page(answers, 10), abs=CLOSE)
    assert joint_of([{Fraction(60): 0.5}, {Fraction(60): 0.5}]).best_turns() == (0.0, 1)


def test_answers_of_their_own_are_worth_the_same():
    """Answers of one speed each, and those of none, need no numbers."""
    answers = made(5)
    lone = [a for a in answers if len(a) == 1 and not isinstance(next(iter(a)), tuple)]
    joint = joint_of([a for a in answers if a not in lone], lone)
    bits, turns = joint_of(answers).best_turns()
    assert joint.best_turns() == (pytest.approx(bits, abs=1e-9), turns)


def test_one_answer_alone_leaves_nothing_to_learn():
    """Where there is one answer only, or all say the same, a turn test is worth 0."""
    one: Mapping[Ratio, float] = {Fraction(3, 2): 0.7, None: 0.3}
    assert joint_of([dict(one)]).best_turns() == (0.0, 1)
    assert joint_of([dict(one), dict(one)]).best_turns() == (0.0, 1)
