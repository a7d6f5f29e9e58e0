"""Knows what one more count, or one more turn test, is worth: the expected fall of the entropy.

Leaves the posterior itself to `enumeration` and `loose`. Bits throughout, not rounded to 0.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping
from fractions import Fraction

import numpy as np

from .enumeration import Answer, Reference, class_keys, unknown_ratio
from .laws import (
    FIRST,
    HANDS,
    LAST,
    PLACES,
    TURN_SD,
    TURN_SLIP,
    TURN_SPAN,
    UNCATALOGUED,
    between_density,
    log_counts,
)
from .loose import Kind, Piece, look_log, piece_rows
from .printed import PrintedFamilySet
from .written import Seen, Turn

#: The grid of readings: so many points a turn.
GRID = 960
#: Whole turns in that a test may have.
TURNS = range(1, 11)
#: log weights by (answer, hand) over the teeth 4…200 of one wheel.
Joint = dict[tuple[Hashable, str], np.ndarray]
#: A ratio, an interval of ratios, or none.
Ratio = Fraction | tuple[Fraction, Fraction] | None


def entropy(weights: np.ndarray) -> np.ndarray:
    """Return the entropy in bits along the first axis, of weights that need not add up to 1."""
    shares = weights / weights.sum(axis=0)
    return -(shares * np.log2(shares, out=np.zeros_like(shares), where=shares > 0)).sum(axis=0)


def _more(joint: Joint, key: tuple[Hashable, str], logs: np.ndarray) -> None:
    joint[key] = np.logaddexp(joint.get(key, np.full(PLACES, -np.inf)), logs)


def expected_fall(joint: Joint) -> float:
    """Return the expected fall of the answers' entropy from one more plain count of the wheel."""
    top = max(float(logs.max()) for logs in joint.values())
    answers = list(dict.fromkeys(answer for answer, _ in joint))
    now = np.zeros(len(answers))
    after = np.zeros((len(answers), PLACES))
    laws = {
        hand: np.exp(
            np.array([log_counts([(count, False)], hand) for count in range(FIRST, LAST + 1)])
        )
        for hand in HANDS
    }
    for (answer, hand), logs in joint.items():
        weights = np.exp(logs - top)
        now[answers.index(answer)] += weights.sum()
        after[answers.index(answer)] += laws[hand] @ weights
    predictive = after.sum(axis=0)
    return float(entropy(now) - (predictive * entropy(after)).sum() / predictive.sum())


# -- counts in a box ------------------------------------------------------------------------------


def box_joint(judge: Reference, seen: Seen, name: str) -> Joint:
    """Return the joint of answer, hand and the teeth of the wheel of that name.

    reading: turn tests stay as they were held against what was seen: a new count does not make
    a ratio where there was none, nor move the teeth at which an unknown wheel is taken.
    """
    joint: Joint = {}
    for hand, (share, _) in HANDS.items():
        drawn = _drawn(judge, seen, name, hand)
        before = math.log(share)
        box = before + judge.unknown_box_log(seen, hand)
        _more(joint, (("uncatalogued", "", ()), hand), box + drawn)
        for family in judge.families:
            for group in judge.printed_groups(family):
                ids = tuple(family.printed[number].id for number in group)
                for number in group:
                    logs = _printed_logs(judge, family.id, number, seen, hand, name)
                    if logs is None:
                        logs = drawn + judge.printed_log(family, number, seen, hand)
                    _more(joint, (("matched", family.id, ids), hand), before + logs)
            if family.id in judge.counted:
                new = judge.new[family.id]
                wheel = new.counted.names.get(name)
                logs = (
                    drawn + new.log_weight(seen, hand)
                    if wheel is None
                    else new.teeth_logs(seen, hand, wheel)
                )
                _more(joint, (("new", family.id, ()), hand), before + logs)
                for key, logs in _counted_logs(judge, family.id, seen, hand, name, drawn).items():
                    _more(joint, (key, hand), before + logs)
    return joint


def _drawn(judge: Reference, seen: Seen, name: str, hand: str) -> np.ndarray:
    """Return the log law of the teeth of a wheel that is nobody's: ρ, with its counts so far."""
    with np.errstate(divide="ignore"):
        logs = np.log(judge.rho.of(name)) + log_counts(seen.counts.get(name, []), hand)
    top = float(logs.max())
    return np.asarray(logs - top - math.log(np.exp(logs - top).sum()))


def _printed_logs(
    judge: Reference, family_id: str, number: int, seen: Seen, hand: str, name: str
) -> np.ndarray | None:
    one: PrintedFamilySet = judge.printed[family_id][number]
    if name not in one.names:
        return None
    wheel = one.names[name]
    prior = math.log((1 - UNCATALOGUED) * one.set.commonness / judge.total)
    return np.array(
        [prior + one.log_weight(seen, hand, (wheel, t)) for t in range(FIRST, LAST + 1)]
    )


def _counted_logs(
    judge: Reference, family_id: str, seen: Seen, hand: str, name: str, drawn: np.ndarray
) -> dict[Answer, np.ndarray]:
    counted = judge.counted[family_id]
    keys = class_keys(counted, seen)
    wheel = counted.names.get(name)
    offset, joint = counted.joint(seen, hand, without=wheel)
    offset += math.log(1 - UNCATALOGUED)
    logs: dict[Answer, np.ndarray] = {}
    if wheel is not None:
        held, component = counted.teeth_component(seen, hand, wheel)
        others = tuple(i for i, piece in enumerate(counted.pieces) if piece not in held)
        top = float(component.max())
        teeth = np.exp(component - top)
        offset += top
    for number, key in enumerate(keys):
        weights = np.where(counted.classes == number, joint, 0.0)
        if wheel is None:
            whole = float(weights.sum())
            new = drawn + (math.log(whole) if whole > 0 else -math.inf)
        else:
            reduced = weights.sum(axis=others, keepdims=True)
            with np.errstate(divide="ignore"):
                new = np.log((reduced[..., None] * teeth).reshape(-1, PLACES).sum(axis=0))
        logs[key] = np.logaddexp(logs.get(key, np.full(PLACES, -np.inf)), offset + new)
    return logs


def wheel_worth(judge: Reference, seen: Seen, name: str) -> float:
    """Return the expected fall, in bits, from one more plain count of that wheel of a box."""
    return expected_fall(box_joint(judge, seen, name))


# -- counts on a loose piece --------------------------------------------------------------------


def position_worth(judge: Reference, piece: Piece, position: int, role: str | None = None) -> float:
    """Return the expected fall from one more plain count at a position, from 0 on."""
    joint: Joint = {}
    for hand, (share, _) in HANDS.items():
        counts = [log_counts(counted, hand) for counted in piece.counts]
        for row in piece_rows(judge, piece, role):
            kind: Kind = row[0]
            looked = look_log(judge, piece.looks, kind, row[3], hand)
            logs = np.full(PLACES, math.log(share) + math.log(row[1]) + looked)
            for place, (law, seen) in enumerate(zip(row[2], counts, strict=True)):
                with np.errstate(divide="ignore"):
                    here = np.log(law) + seen
                logs = logs + (here if place == position else _log_total(here))
            _more(joint, (kind, hand), logs)
    return expected_fall(joint)


def _log_total(logs: np.ndarray) -> float:
    top = float(logs.max())
    return top + math.log(np.exp(logs - top).sum())


# -- turn tests ---------------------------------------------------------------------------------


def ratio_weights(judge: Reference, seen: Seen, gear: str) -> dict[tuple[Answer, Ratio], float]:
    """Return log weights of every answer together with the ratio of a gear, both hands together.

    What has no such gear has no ratio, without the 0.001 and without becoming unmatched.
    """
    weights: dict[tuple[Answer, Ratio], float] = {}

    def add(key: Answer, ratio: Ratio, log: float) -> None:
        weights[key, ratio] = float(np.logaddexp(weights.get((key, ratio), -math.inf), log))

    test = Turn((gear,), Fraction(1), Fraction(1), False, False)
    for hand, (share, _) in HANDS.items():
        before = math.log(share)
        stranger = before + judge.unknown_box_log(seen, hand)
        add(("uncatalogued", "", ()), unknown_ratio(test, seen), stranger)
        for family in judge.families:
            for group in judge.printed_groups(family):
                key: Answer = ("matched", family.id, tuple(family.printed[n].id for n in group))
                for number in group:
                    one = judge.printed[family.id][number]
                    ends = one.interval([gear]) if gear in one.gears else None
                    add(key, ends, before + judge.printed_log(family, number, seen, hand))
            if family.id not in judge.counted:
                continue
            counted = judge.counted[family.id]
            offset, joint = counted.joint(seen, hand)
            offset += before + math.log(1 - UNCATALOGUED)
            has = counted.has_gears(test)
            new = judge.new[family.id]
            ratio = new.ratio([gear], seen) if has else None
            add(("new", family.id, ()), ratio, before + new.log_weight(seen, hand))
            pieces = counted.path_pieces([gear]) if has else []
            others = tuple(i for i, p in enumerate(counted.pieces) if p not in pieces)
            for number, answer in enumerate(class_keys(counted, seen)):
                left = np.where(counted.classes == number, joint, 0.0).sum(axis=others)
                for places in np.ndindex(left.shape):
                    weight = float(left[places])
                    if weight > 0:
                        state = {
                            p: counted.states[p][i] for p, i in zip(pieces, places, strict=True)
                        }
                        ratio = counted.ratio([gear], state, seen) if has else None
                        add(answer, ratio, offset + math.log(weight))
    return weights


def _densities(ratio: Ratio, turns: int, grid: np.ndarray) -> np.ndarray:
    slip = 1 / (grid * TURN_SPAN)
    if ratio is None:
        return slip
    if isinstance(ratio, tuple) and ratio[0] != ratio[1]:
        ends = float(turns / ratio[1]), float(turns / ratio[0])
        near = np.array([between_density(float(x), *ends) for x in grid])
    else:
        mean = float(turns / (ratio[0] if isinstance(ratio, tuple) else ratio))
        z = (grid - mean) / TURN_SD
        near = np.exp(-z * z / 2) / (TURN_SD * math.sqrt(2 * math.pi))
    return (1 - TURN_SLIP) * near + TURN_SLIP * slip


def turn_worths(judge: Reference, seen: Seen, gear: str) -> dict[int, float]:
    """Return the expected fall from a turn test of a gear, by whole turns in, the output read."""
    logs = ratio_weights(judge, seen, gear)
    top = max(logs.values())
    answers = list(dict.fromkeys(answer for answer, _ in logs))
    now = np.zeros(len(answers))
    by_ratio: dict[Ratio, np.ndarray] = {}
    for (answer, ratio), log in logs.items():
        weight = math.exp(log - top)
        now[answers.index(answer)] += weight
        column = by_ratio.setdefault(ratio, np.zeros(len(answers)))
        column[answers.index(answer)] += weight
    worths = {}
    for turns in TURNS:
        # In over out from 20 down to 0.2, both ends in.
        grid = np.arange(turns * GRID // 20, 5 * turns * GRID + 1) / GRID
        joint = np.zeros((len(answers), len(grid)))
        for ratio, column in by_ratio.items():
            joint += column[:, None] * _densities(ratio, turns, grid)[None, :]
        predictive = joint.sum(axis=0)
        predictive[[0, -1]] /= 2  # the trapezium rule
        after = (predictive * entropy(joint)).sum() / predictive.sum()
        worths[turns] = float(entropy(now) - after)
    return worths


def best_turn(worths: Mapping[int, float]) -> tuple[int, float]:
    """Return the best number of turns in and its worth, the fewest on a tie."""
    # reading: a tie is within 1e-9 bits.
    most = max(worths.values())
    turns = min(turns for turns, worth in worths.items() if worth >= most - 1e-9)
    return turns, worths[turns]
