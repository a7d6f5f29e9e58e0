"""Whether probabilities mean what they say, on boxes drawn from the stated prior and error laws.

Source: scikit-learn's `calibration_curve` for the table, scipy's `binomtest` for each bin, and
Spiegelhalter, Statistics in Medicine 5 (1986) 421, for z (from memory).
"""

import math
import random
from collections.abc import Callable

import pytest

from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.evidence.engine import posterior
from cogtally.evidence.laws import (
    FOREIGN,
    HAND_PRIOR,
    OWN,
    Q_OF_HAND,
    SLIP,
    SUM_FAR,
    SUM_OFF,
    UNCATALOGUED_PRIOR,
    UNLISTED,
)
from cogtally.evidence.rho import Rho
from cogtally.gears.notation import parse_seen

calibration = pytest.importorskip("sklearn.calibration")
stats = pytest.importorskip("scipy.stats")

WHEELS = ("1.driver", "1.driven", "2.driver", "2.driven")
TEETH = range(5, 100)
#: A set that its family has and the catalog lacks: how often, how often a wheel of it is as one of
#: the family's, and what a tooth sum 0, 1 and 2 off weighs, more below.
NEW_SET, AS_LISTED, NEW_OFF, NEW_FAR = 0.04, 0.25, (1.0, 0.03, 0.003), 0.001
CATALOG = Catalog(
    (
        Family(
            id="apart",
            layout="two-shaft",
            sets=(
                RatioSet("a", pairs={"1": (14, 31), "2": (20, 25)}, commonness=3),
                RatioSet("b", pairs={"1": (15, 30), "2": (20, 25)}, commonness=2),
                RatioSet("c", pairs={"1": (14, 31), "2": (22, 23)}),
            ),
        ),
        Family(
            id="shaft",
            layout="two-shaft",
            given_pieces={"input-shaft": ("1.driver", "2.driver")},
            sets=(
                RatioSet("d", pairs={"1": (15, 29), "2": (19, 25)}, commonness=2),
                RatioSet("e", pairs={"1": (13, 31), "2": (19, 25)}),
            ),
        ),
    )
)
RHO = Rho(CATALOG)
BINS = 10
GREATEST_Z = 4.0

Truth = tuple[str, str, frozenset[str]]
#: How far a count is off, drawn for teeth and the q of a hand.
Error = Callable[[random.Random, float], int]


def by_the_law(dice: random.Random, q: float) -> int:
    """A discrete Laplace error: (1−q)/(1+q)·q^|off|."""
    size = 0
    while dice.random() < q if size else dice.random() < 2 * q / (1 + q):
        size += 1
    return size if dice.random() < 0.5 else -size


def three_times_the_miscounts(dice: random.Random, q: float) -> int:
    return by_the_law(dice, min(0.6, 3 * q))


def two_off(dice: random.Random, q: float) -> int:
    return 2 * by_the_law(dice, q)


def from_rho(dice: random.Random, wheel: str, excluded: tuple[int, ...] = ()) -> int:
    left = [0.0 if t in excluded else w for t, w in zip(TEETH, RHO.of(wheel), strict=True)]
    return dice.choices(TEETH, left)[0]


def new_set(dice: random.Random, family: Family) -> dict[str, int]:
    """Draw the teeth of a set that the family has and the catalog lacks, pair by pair."""

    def wheel(name: str) -> int:
        if dice.random() < AS_LISTED:
            one = dice.choices(family.sets, [s.commonness for s in family.sets])[0]
            return one.pairs[name[0]][name.endswith("driven")] or 0
        return from_rho(dice, name)

    teeth: dict[str, int] = {}
    for a, b in family.train.meshes:
        while True:
            teeth[a], teeth[b] = wheel(a), wheel(b)
            off = min(abs(teeth[a] + teeth[b] - s) for s in family.sums[a, b])
            if dice.random() < (NEW_OFF[off] if off < len(NEW_OFF) else NEW_FAR):
                break
    return teeth


def drawn_box(dice: random.Random) -> tuple[dict[str, int], Truth]:
    """Draw teeth from the prior of the page, and say which answer is true of them."""
    if dice.random() < UNCATALOGUED_PRIOR:
        return {w: from_rho(dice, w) for w in WHEELS}, ("uncatalogued", "", frozenset())
    pool = [(family, s) for family in CATALOG.families for s in family.sets]
    family, base = dice.choices(pool, [s.commonness for _, s in pool])[0]
    if dice.random() < NEW_SET:
        return new_set(dice, family), ("new", family.id, frozenset())
    index = family.counted_sets.index(base)
    while True:
        # A base set keeps its prior: its own configurations are drawn until one could run.
        teeth: dict[str, int] = {}
        common, listed, strange = set(range(len(family.sets))), True, 0
        for piece in family.pieces:
            types = family.types[piece.name]
            own = family.type_index[piece.name][index]
            draw = dice.random()
            if draw < UNLISTED:
                listed, strange = False, strange + 1
                if len(piece.wheels) == 1:
                    known = tuple(t.teeth[0] for t in types if t.teeth[0] is not None)
                    teeth[piece.wheels[0]] = from_rho(dice, piece.wheels[0], known)
                elif dice.random() < 0.5:
                    kind = dice.choices(types, [t.weight for t in types])[0]
                    teeth.update(zip(piece.wheels, kind.teeth, strict=True))
                    wheel = dice.choice(piece.wheels)
                    teeth[wheel] = from_rho(dice, wheel, (teeth[wheel],))
                else:
                    teeth.update({w: from_rho(dice, w) for w in piece.wheels})
                continue
            kind = types[own]
            if draw < UNLISTED + FOREIGN and len(types) > 1:
                others = [t for t in types if t is not kind]
                kind = dice.choices(others, [t.weight for t in others])[0]
            teeth.update(zip(piece.wheels, kind.teeth, strict=True))
            common &= set(kind.carriers)
        factor = math.prod(
            dict(enumerate(SUM_OFF)).get(
                min(abs(teeth[a] + teeth[b] - s) for s in family.sums[a, b]), SUM_FAR
            )
            for a, b in family.train.meshes
        )
        if dice.random() < factor:
            break
    assert math.isclose(OWN + FOREIGN + UNLISTED, 1)
    if listed and common:
        return teeth, ("matched", family.id, frozenset(family.sets[i].id for i in common))
    return teeth, ("variant" if common else "mixed", "", frozenset())


def asked(
    size: int, seed: int, error: Error, catalog: Catalog = CATALOG
) -> tuple[list[float], list[bool]]:
    """Draw and count `size` boxes; the likeliest answer's probability, and whether it was true."""
    dice = random.Random(seed)
    said, right = [], []
    for _ in range(size):
        teeth, truth = drawn_box(dice)
        q = Q_OF_HAND[dice.choices((0, 1), HAND_PRIOR)[0]]
        words = []
        for wheel in WHEELS:
            if dice.random() < 0.75:
                count = teeth[wheel] + error(dice, q)
                if dice.random() < SLIP:
                    count = dice.randint(4, 200)
                words.append(f"{wheel}={max(4, min(200, count))}")
        found = posterior(catalog, parse_seen(words))
        best = max(found.answers, key=lambda a: a.probability)
        said.append(best.probability)
        right.append((best.kind, best.family, frozenset(best.sets)) == truth)
    return said, right


def spiegelhalter(said: list[float], right: list[bool]) -> float:
    above = sum((y - p) * (1 - 2 * p) for p, y in zip(said, right, strict=True))
    below = sum((1 - 2 * p) ** 2 * p * (1 - p) for p in said)
    return above / math.sqrt(below)


def assert_calibrated(said: list[float], right: list[bool]) -> None:
    shares, _ = calibration.calibration_curve(right, said, n_bins=BINS)
    assert len(shares) > 3
    for low in range(BINS):
        inside = [(p, y) for p, y in zip(said, right, strict=True) if low <= p * BINS < low + 1]
        if inside:
            hits = sum(y for _, y in inside)
            mean = sum(p for p, _ in inside) / len(inside)
            assert stats.binomtest(hits, len(inside), mean).pvalue > 1e-4, (low, hits, len(inside))
    assert abs(spiegelhalter(said, right)) < GREATEST_Z


def test_probabilities_mean_what_they_say():
    """Of 1,000 boxes drawn from the model, answers given p are right in p of them."""
    said, right = asked(1000, 11, by_the_law)
    assert_calibrated(said, right)


def test_the_check_can_fail():
    """The square roots of the same probabilities are far from calibrated."""
    said, right = asked(1000, 12, by_the_law)
    assert abs(spiegelhalter([math.sqrt(p) for p in said], right)) > GREATEST_Z


@pytest.mark.long
def test_probabilities_mean_what_they_say_at_length():
    """The same of 20,000 boxes."""
    said, right = asked(20_000, 13, by_the_law)
    assert_calibrated(said, right)


@pytest.mark.long
@pytest.mark.parametrize("error", [three_times_the_miscounts, two_off])
def test_other_errors_are_reported(error, record_property):
    """Under other error laws accuracy and calibration are reported, without a gate on either."""
    said, right = asked(5000, 14, error)
    record_property("accuracy", sum(right) / len(right))
    record_property("z", spiegelhalter(said, right))
    print(
        f"{error.__name__}: right {sum(right) / len(right):.3f}, said {sum(said) / len(said):.3f},"
        f" z {spiegelhalter(said, right):.1f}"
    )
    assert sum(right) > len(right) / 2


@pytest.mark.long
def test_the_true_set_missing_is_reported(record_property):
    """With one set missing from the catalog the tool is still asked; what it says is reported."""
    whole = CATALOG.families[0]
    missing = Family(id=whole.id, layout=whole.layout, sets=whole.sets[:2])
    said, right = asked(5000, 15, by_the_law, Catalog((missing, CATALOG.families[1])))
    record_property("accuracy", sum(right) / len(right))
    print(f"set c missing: right {sum(right) / len(right):.3f}, said {sum(said) / len(said):.3f}")
    assert sum(right) > len(right) / 2
