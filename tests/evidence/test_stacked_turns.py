"""The worth of a turn test from families worked out in arrays, beside the plain path."""

from __future__ import annotations

import math
import random
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace

import pytest

from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.evidence import joints, stacked_turns
from cogtally.evidence.posterior import MATCHED, MIXED, VARIANT
from cogtally.evidence.stacked_turns import Turned, turned_stacks
from cogtally.evidence.weighed import Weighed, weigh
from cogtally.gears.notation import parse_seen
from cogtally.gears.trains import wheel_names

from .test_stacked import WORDS, made, stacked_only

CLOSE = 1e-12
GEARS = ("1", "2", "3", "4", "R", "final", "9")
#: Arrangements whose paths are spelled out, or go another way round.
ARRANGED: tuple[tuple[str, str, dict[str, int], dict[str, tuple[str, ...]]], ...] = (
    ("layshaft", "4", {"input": 2, "1": 2, "2": 2, "R": 3}, {}),
    ("layshaft", "3", {"input": 2, "1": 2, "2": 2, "R": 3}, {"R": ("input", "1", "R")}),
    ("layshaft", "3", {"input": 2, "1": 2, "2": 2, "R": 3}, {"2": ("1", "input")}),
    ("sleeve", "4", {"output": 2, "1": 2, "2": 2, "3": 2}, {}),
)


def arranged(seed: int) -> Catalog:
    """Return the made catalog, and families of all these arrangements beside it."""
    dice = random.Random(seed)
    found = []
    for number, (layout, direct, pairs, paths) in enumerate(ARRANGED):
        shared = "driver" if layout == "sleeve" else "driven"
        hub = tuple(f"{p}.{shared if p in ('input', 'output') else 'driver'}" for p in pairs)
        wheels = [w for pair, size in pairs.items() for w in wheel_names(pair, size)]
        pieces = {w.replace(".", "-"): (w,) for w in wheels if w not in hub}
        sets = []
        for index in range(3):
            teeth: dict[str, tuple[int | None, ...]] = {}
            for pair, size in pairs.items():
                driver = dice.choice([17, 18, 20])
                idler = (20,) * (size - 2)
                teeth[pair] = (driver, *idler, 45 - 5 * len(idler) - driver)
            sets.append(RatioSet(f"s{index}", pairs=teeth))
        found.append(
            Family(
                f"a{number}",
                layout,
                sets=tuple(sets),
                direct=direct,
                paths=paths,
                given_pieces={"laygear": hub, **pieces},
            )
        )
    return Catalog((*made(seed, 4).families, *found))


def by_speed(found: Weighed, gear: str) -> Mapping[object, Mapping[float, float]]:
    """The plain joint: by answer, or each matched group by what it weighs, and by speed."""
    joint: dict[object, dict[float, float]] = defaultdict(lambda: defaultdict(float))
    for answer, by_ratio in joints.joint_with_ratios(found, [gear])[gear].items():
        for ratio, weight in by_ratio.items():
            assert not isinstance(ratio, joints.Between)
            speed = -1.0 if ratio is None else round(float(1 / ratio), 9)
            joint[answer[0]][speed] += weight
    return joint


def of_arrays(turned: Turned) -> Mapping[object, Mapping[float, float]]:
    joint: dict[object, dict[float, float]] = defaultdict(lambda: defaultdict(float))
    kinds = ((MATCHED, turned.alone), (MIXED, turned.mixed), (VARIANT, turned.variant))
    for kind, parts in kinds:
        for speeds, weights in parts:
            for speed, weight in zip(speeds.ravel(), weights.ravel(), strict=True):
                at = -1.0 if math.isnan(speed) else round(float(speed), 9)
                joint[kind][at] += float(weight)
    return joint


def assert_speeds_alike(found: Mapping[str, Turned], plain: Weighed, gears: Sequence[str]) -> None:
    """Every answer has every speed of these gears with the weight of the plain path."""
    for gear in gears:
        expected, mine = by_speed(plain, gear), of_arrays(found[gear])
        for kind in (MATCHED, MIXED, VARIANT):
            speeds = {*expected[kind], *mine[kind]}
            assert {s: mine[kind].get(s, 0.0) for s in speeds} == pytest.approx(
                {s: expected[kind].get(s, 0.0) for s in speeds}, abs=CLOSE
            ), (gear, kind)


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize(
    "words", [(), ("input=17/_", "1=_/28"), ("2=18/27", "R=17/20/_"), WORDS[4:9], ("output=20/25",)]
)
def test_joints_are_those_of_the_plain_path(
    seed: int, words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every answer has every speed of every gear with the same weight, to 1e-12."""
    stacked_only(monkeypatch)
    monkeypatch.setattr(joints, "TOO_SMALL", 0.0)
    monkeypatch.setattr(joints, "TOO_RARE", 0.0)
    monkeypatch.setattr(stacked_turns, "TOO_RARE", 0.0)
    monkeypatch.setattr(stacked_turns, "TOO_SMALL", 0.0)
    catalog, seen = arranged(seed), parse_seen(list(words))
    stacked = weigh(catalog, seen)
    plain = weigh(replace(catalog), seen, stack=False)
    assert stacked.stacked
    assert not stacked.parts
    found, rare = turned_stacks(stacked, GEARS)
    assert rare == 0.0
    assert_speeds_alike(found, plain, GEARS)


@pytest.mark.parametrize("words", [(), ("2=18/27",), WORDS[4:9]])
def test_rare_families_are_of_no_family(
    words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is left out is told as a share, and nothing else gets lost."""
    stacked_only(monkeypatch)
    monkeypatch.setattr(stacked_turns, "TOO_RARE", 0.05)
    stacked = weigh(arranged(3), parse_seen(list(words)))
    found, rare = turned_stacks(stacked, ["1"])
    kept = sum(float(w.sum()) for parts in vars(found["1"]).values() for _, w in parts)
    assert rare <= 0.05
    assert kept + rare + sum(stacked.uncatalogued) == pytest.approx(1, abs=1e-11)
