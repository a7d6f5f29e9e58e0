"""How many bits one more count of each wheel is expected to bring, where families are stacked.

The law is that of `worth`, in arrays: every matched group of a stacked family has the wheel at its
own teeth, so only mixed and variant boxes need the sums of `stacked_outside` and `stacked_spread`.
Parts that do not stack come from `joints`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from cogtally.evidence.joints import Answer, elsewhere, joint_with_teeth
from cogtally.evidence.likelihood import HASTY, Q_OF_HAND, SLIP, STEADY, count_law
from cogtally.evidence.posterior import MIXED, VARIANT
from cogtally.evidence.stacked_asked import Worked
from cogtally.evidence.stacked_outside import around_all, around_common
from cogtally.evidence.stacked_ready import part_of
from cogtally.evidence.stacked_spread import Spreads
from cogtally.evidence.stacked_tables import Array
from cogtally.evidence.stacked_tested import tested_tables
from cogtally.evidence.weighed import Weighed
from cogtally.evidence.worth import LEAST_WORTH, TOO_RARE, Joint
from cogtally.gears.notation import FEWEST_TEETH, MOST_TEETH

_COUNTS = MOST_TEETH - FEWEST_TEETH + 1
#: So far off a count is a slip and nothing else, to the last digit of either hand.
OFF = 24
#: Answers that are weighed count by count at a time.
AT_A_TIME = 512
#: Families of which all mixed and variant boxes together are below this share are taken as one
#: whole, of which no wheel is known: it changes no worth by 1e-7 bit.
TOO_SMALL = 1e-9

_MIXED: Answer = (MIXED, "", None)
_VARIANT: Answer = (VARIANT, "", None)

_BY_OFF = np.array(
    [[count_law(off, Q_OF_HAND[hand]) for off in range(MOST_TEETH + 1)] for hand in (STEADY, HASTY)]
)
_TEETH = np.arange(MOST_TEETH + 1)
#: The probability of a count 4…200 by hand and teeth.
_LAW = _BY_OFF[:, np.abs(_TEETH[:, None] - np.arange(FEWEST_TEETH, MOST_TEETH + 1))]


@dataclass(frozen=True)
class _Spiked:
    """Matched groups of some families: weight by hand, and their teeth of every wheel.

    `sums[group, off]`: what the counts up to so far off on one side add to Σ x log₂ x; `alone` what
    the right count adds, `far` what each count that is farther off adds.
    """

    weights: Array
    teeth: Mapping[str, Array]
    sums: Array
    alone: Array
    far: Array


def worth_of_wheels(weighed: Weighed, wheels: Sequence[str]) -> dict[str, float]:
    """Return the expected fall of the entropy of the answer, in bits, of a count of each wheel."""
    joints = joint_with_teeth(weighed, wheels)
    stacks = list(zip(weighed.stacked, weighed.stacked_scales, strict=True))
    strange = [
        np.maximum(np.array(scales) @ (worked.value - worked.matched.sum(axis=1)), 0.0)
        if not worked.view.lacks
        else np.array(scales) @ worked.value
        for worked, scales in stacks
    ]
    least = least_kept(strange, TOO_SMALL)
    rests = [
        _rests(worked, scales, np.flatnonzero(each >= least))
        for (worked, scales), each in zip(stacks, strange, strict=True)
    ]
    matched = [_spiked(worked, scales) for worked, scales in stacks if not worked.view.lacks]
    return {wheel: _fall(weighed, wheel, joints[wheel], rests, matched) for wheel in wheels}


def least_kept(shares: Sequence[Array], left_out: float) -> float:
    """Return the least share that is not below a share of `left_out` together with all lesser."""
    every = np.sort(np.concatenate([np.zeros(0), *shares]))
    number = int(np.searchsorted(np.cumsum(every), left_out, side="right"))
    return float(every[number]) if number < every.size else np.inf


def _spiked(worked: Worked, scales: Sequence[float]) -> _Spiked:
    """The matched groups of one stack; those too rare to matter count as no group of their own."""
    block = worked.ready.block
    weights = (worked.matched * np.array(scales)[:, None, None]).reshape(2, -1)
    kept = np.flatnonzero((weights.sum(axis=0) > TOO_RARE) & (block.share.ravel() > 0))
    weights = weights[:, kept]
    near = _x_log_x(weights.T @ _BY_OFF[:, : OFF + 1])
    sums = np.cumsum(near, axis=1) - near[:, :1]
    far = _x_log_x(weights.sum(axis=0) * SLIP / _COUNTS)
    teeth = {wheel: at.ravel()[kept] for wheel, at in block.teeth.items()}
    return _Spiked(weights, teeth, sums, near[:, 0], far)


@dataclass(frozen=True)
class _Rest:
    """Mixed and variant boxes of some families by hand, variant first.

    `spread`: by the teeth of each wheel, of those families that are not too few for it; `left`: all
    of the others; `whole`: all.
    """

    spread: Mapping[str, tuple[Array, Array]]
    left: tuple[Array, Array]
    whole: tuple[Array, Array]


def _rests(worked: Worked, scales: Sequence[float], kept: Array) -> _Rest:
    """The rest of the families of a block, of which those at the places `kept` are not too few."""
    by_hand = np.array(scales)[:, None]
    matched = worked.matched * by_hand[:, None]
    related, whole = worked.related * by_hand, worked.value * by_hand
    strangers = related if worked.view.lacks else related - matched.sum(axis=1)
    both = (np.maximum(strangers, 0.0), np.maximum(whole - related, 0.0))
    totals = (both[0].sum(axis=1), both[1].sum(axis=1))
    if not kept.size:
        return _Rest({}, totals, totals)
    of_kept = (both[0][:, kept].sum(axis=1), both[1][:, kept].sum(axis=1))
    ready = part_of(worked.ready, kept) if kept.size < whole.shape[1] else worked.ready
    block = ready.block
    weights = by_hand[:, None] * ready.weights
    sums: tuple[list[Array], ...] = ([], [])
    for each in tested_tables(ready, worked.question, worked.tests):
        for around, into in zip((around_all, around_common), sums, strict=True):
            outs = around(each.ready.block, each.tables, weights[..., each.at])
            each.add(outs, into, weights.shape[-1])
    spreads = []
    arms = [(star, place) for star in block.shape.stars for place in range(len(star.hub))]
    for of_arms in sums:
        found = Spreads(ready, worked.question)
        for (star, place), out in zip(arms, of_arms, strict=True):
            found.add(star, place, out)
        spreads.append(found.done())
    result = {}
    for wheel in block.shape.wheels:
        every, common = spreads[0][wheel], spreads[1][wheel]
        at = block.teeth[wheel].ravel()
        own = [np.bincount(at, one.ravel(), MOST_TEETH + 1) for one in matched[:, :, kept]]
        variant = common if worked.view.lacks else common - np.array(own)
        result[wheel] = (np.maximum(variant, 0.0), np.maximum(every - common, 0.0))
    return _Rest(result, (totals[0] - of_kept[0], totals[1] - of_kept[1]), totals)


def _fall(
    weighed: Weighed,
    wheel: str,
    joints: Mapping[Answer, Joint],
    rests: Sequence[_Rest],
    matched: Sequence[_Spiked],
) -> float:
    """The expected fall, in bits, from a count of one wheel; see `worth.expected_fall`."""
    columns = {answer: _column(joint) for answer, joint in joints.items()}
    absent = np.zeros((2, MOST_TEETH + 1))
    for hand in (STEADY, HASTY):
        for teeth, value in elsewhere(weighed, wheel, hand).items():
            absent[hand, teeth] = value
    for rest in rests:
        for place, answer in enumerate((_VARIANT, _MIXED)):
            if wheel in rest.spread:
                more = rest.spread[wheel][place] + absent * rest.left[place][:, None]
            else:
                more = absent * rest.whole[place][:, None]
            into = columns.setdefault(answer, np.zeros((2, MOST_TEETH + 1)))
            into += more
    spread = np.array(list(columns.values()))
    counts = np.einsum("aht,htc->ac", spread, _LAW)
    chance = counts.sum(axis=0)
    logs = float(_x_log_x(counts).sum())
    weights: list[Array] = [spread.sum(axis=(1, 2))]
    predicted = np.einsum("ht,htc->hc", absent, _LAW)
    for group in matched:
        weights.append(group.weights.sum(axis=0))
        if wheel not in group.teeth:
            chance = chance + (group.weights.sum(axis=1) @ predicted)
            for start in range(0, group.far.size, AT_A_TIME):
                each = group.weights[:, start : start + AT_A_TIME].T @ predicted
                logs += float(_x_log_x(each).sum())
            continue
        at = group.teeth[wheel]
        for hand in (STEADY, HASTY):
            chance = chance + np.bincount(at, group.weights[hand], MOST_TEETH + 1) @ _LAW[hand]
        up = np.clip(MOST_TEETH - at, 0, OFF)
        down = np.clip(at - FEWEST_TEETH, 0, OFF)
        every = np.arange(at.size)
        near = group.alone + group.sums[every, up] + group.sums[every, down]
        logs += float((near + group.far * (_COUNTS - 1 - up - down)).sum())
    total = np.concatenate(weights)
    mass = float(chance.sum())
    whole = float(total.sum())
    now = float(np.log2(whole) - _x_log_x(total).sum() / whole)
    worth = (now * mass - float(_x_log_x(chance).sum()) + logs) / mass
    return worth if worth >= LEAST_WORTH else 0.0


def _column(joint: Joint) -> Array:
    found = np.zeros((2, MOST_TEETH + 1))
    for hand, spread in ((STEADY, joint.steady), (HASTY, joint.hasty)):
        for teeth, weight in spread.items():
            found[hand, teeth] += weight
    return found


def _x_log_x(values: Array) -> Array:
    found: Array = values * np.log2(np.where(values > 0, values, 1.0))
    return found
