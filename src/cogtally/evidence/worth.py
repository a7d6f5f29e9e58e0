"""How many bits one more count is expected to bring, from a joint of answer, teeth and hand.

Where the joint comes from is left to `loose` and `advice`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from math import log2
from operator import mul

from cogtally.evidence.likelihood import HASTY, Q_OF_HAND, STEADY, count_law
from cogtally.gears.notation import FEWEST_TEETH, MOST_TEETH

#: "printed as 0 below 1e-9"
LEAST_WORTH = 1e-9
#: Answers rarer than this are taken together, teeth rarer than this left out; it changes no worth
#: by 1e-8 bit.
TOO_RARE = 1e-12


@dataclass(frozen=True, slots=True)
class Joint:
    """One answer: the weight of each number of teeth of the wheel, with each hand."""

    steady: Mapping[int, float]
    hasty: Mapping[int, float]


@cache
def _law(hand: int, count: int) -> list[float]:
    """The probability of one plain count from a hand, by teeth 0…200."""
    law = _by_off(hand)
    return law[count:0:-1] + law[: MOST_TEETH + 1 - count]


@cache
def _by_off(hand: int) -> list[float]:
    return [count_law(off, Q_OF_HAND[hand]) for off in range(MOST_TEETH + 1)]


def expected_fall(answers: Sequence[Joint]) -> float:
    """Return the expected fall of the entropy of the answer, in bits, from one more plain count.

    Counts 4…200 are weighted by their predictive probability and divided by the total predictive
    mass. 0 below LEAST_WORTH.
    """
    weights = [sum(a.steady.values()) + sum(a.hasty.values()) for a in answers]
    total = sum(weights)
    answers = [_common(answer, TOO_RARE * total) for answer in answers]
    common = [a for a, w in zip(answers, weights, strict=True) if w > TOO_RARE * total]
    rare = [a for a, w in zip(answers, weights, strict=True) if w <= TOO_RARE * total]
    if rare:
        common.append(_together(rare))
    columns = [_predictive(answer) for answer in common]
    now = entropy([sum(w.steady.values()) + sum(w.hasty.values()) for w in common])
    mass = fall = 0.0
    for shares in zip(*columns, strict=True):
        chance = sum(shares)
        mass += chance
        fall += chance * (now - entropy(shares))
    worth = fall / mass
    return worth if worth >= LEAST_WORTH else 0.0


def entropy(weights: Sequence[float]) -> float:
    """Return the entropy in bits of weights that need not add up to 1."""
    total = sum(weights)
    if total <= 0:
        return 0.0
    return -sum([w / total * log2(w / total) for w in weights if w > 0])


def _common(answer: Joint, least: float) -> Joint:
    """An answer without the teeth that hardly can be."""
    return Joint(
        {t: w for t, w in answer.steady.items() if w > least},
        {t: w for t, w in answer.hasty.items() if w > least},
    )


def _together(answers: Sequence[Joint]) -> Joint:
    sums: tuple[dict[int, float], dict[int, float]] = ({}, {})
    for answer in answers:
        for into, spread in zip(sums, (answer.steady, answer.hasty), strict=True):
            for teeth, weight in spread.items():
                into[teeth] = into.get(teeth, 0.0) + weight
    return Joint(*sums)


def _predictive(answer: Joint) -> list[float]:
    """The weight of each count 4…200 under one answer."""
    found = [0.0] * (MOST_TEETH - FEWEST_TEETH + 1)
    for hand, spread in ((STEADY, answer.steady), (HASTY, answer.hasty)):
        if len(spread) == 1:
            ((teeth, weight),) = spread.items()
            law = _law(hand, teeth)[FEWEST_TEETH:]
            found = [f + weight * p for f, p in zip(found, law, strict=True)]
        elif spread:
            low, high = min(spread), max(spread) + 1
            dense = [spread.get(t, 0.0) for t in range(low, high)]
            found = [
                f + sum(map(mul, dense, _law(hand, count)[low:high]))
                for f, count in zip(found, range(FEWEST_TEETH, MOST_TEETH + 1), strict=True)
            ]
    return found
