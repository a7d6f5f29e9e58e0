"""How many bits one more count of each place of a loose piece is expected to bring.

The sums behind an entropy's fall are left to `worth`, the weight of each answer to `loose_weighed`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import prod

from cogtally.evidence.likelihood import HASTY, STEADY, TEETH_RANGE
from cogtally.evidence.loose_frames import HANDS, Alike, LooseCatalog, Pair, Place, ready_for_pieces
from cogtally.evidence.loose_weighed import Question
from cogtally.evidence.worth import Joint, expected_fall

#: Teeth of one wheel to their weight.
Spread = Mapping[int, float]
#: The weight of (hand, place, teeth) under one answer.
_OfAnswer = tuple[list[dict[int, float]], list[dict[int, float]]]


def worth_of_places(question: Question) -> tuple[float, ...]:
    """Return the expected fall of the entropy of the answer, in bits, from a count of each place.

    Every type is an answer of its own.
    """
    ready = ready_for_pieces(question.catalog)
    answers = []
    for number, group in enumerate(question.frame.groups):
        teeth = _teeth(group, ready)
        each = question.frame.priors[number]
        ways = [wheels for wheels, _ in question.frame.ways[number]]
        for kind in group.kinds:
            joint = _nothing(question)
            for wheels in ways:
                also = question.also.of(group.family, kind, wheels) if question.also else (1.0, 1.0)
                steady, hasty = (each * kind.weight * also[h] * question.hands[h] for h in HANDS)
                _add(joint, [teeth[i] for i in wheels], question.seen, (steady, hasty))
            answers.append(joint)
    answers.append(_unknown(question, ready))
    return tuple(
        expected_fall([Joint(joint[STEADY][i], joint[HASTY][i]) for joint in answers])
        for i in range(len(question.seen))
    )


def _unknown(question: Question, ready: LooseCatalog) -> _OfAnswer:
    """An uncatalogued piece: every wheel from ρ over all wheels of the catalog together."""
    joint = _nothing(question)
    pool = dict(zip(TEETH_RANGE, ready.pool, strict=True))
    _add(joint, [pool] * len(question.seen), question.seen, question.prior_of_unknown)
    return joint


def _nothing(question: Question) -> _OfAnswer:
    return [{} for _ in question.seen], [{} for _ in question.seen]


def _teeth(group: Alike, ready: LooseCatalog) -> list[Spread]:
    """What each wheel of a type has: its teeth, or ρ for a gap."""
    return [
        dict(zip(TEETH_RANGE, ready.rho.of(wheel), strict=True)) if teeth is None else {teeth: 1.0}
        for wheel, teeth in zip(group.piece.wheels, group.teeth, strict=True)
    ]


def _add(
    joint: _OfAnswer, wheels: Sequence[Spread], seen: Sequence[Place | None], weights: Pair
) -> None:
    """Add one place of one answer to its joint of (hand, place, teeth)."""
    for hand in HANDS:
        spreads = [
            dict(wheel)
            if place is None
            else {t: weight * place.by_code[hand][t] for t, weight in wheel.items()}
            for wheel, place in zip(wheels, seen, strict=True)
        ]
        totals = [sum(spread.values()) for spread in spreads]
        for i, spread in enumerate(spreads):
            rest = weights[hand] * prod(totals[:i]) * prod(totals[i + 1 :])
            into = joint[hand][i]
            for teeth, weight in spread.items():
                into[teeth] = into.get(teeth, 0.0) + rest * weight
