"""Sets that a family has and the catalog lacks: figures, and the closed sums beside plain ones."""

from collections.abc import Mapping, Sequence
from functools import reduce
from itertools import product

import numpy as np
import pytest

from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.evidence.engine import Question, new_teeth_of, posterior
from cogtally.evidence.engine.meshes import NewMeshes
from cogtally.evidence.engine.question import Asked, mesh_tables
from cogtally.evidence.engine.stack import stacks_of
from cogtally.evidence.posterior import MATCHED, MIXED, NEW
from cogtally.evidence.reading import identify
from cogtally.evidence.rho import Rho
from cogtally.gears.notation import parse_seen

TEETH = np.arange(201)
SPORT = {"input": (17, 26), "1": (15, 28), "2": (19, 24), "3": (23, 20), "R": (11, 19, 27)}
TOUR = {"input": (16, 27), "1": (13, 30), "2": (18, 25), "3": (23, 20), "R": (11, 19, 27)}


def two_sets() -> Catalog:
    sets = (RatioSet("sport", pairs=SPORT), RatioSet("tour", pairs=TOUR))
    return Catalog((Family("yew-4", "layshaft", direct="4", sets=sets),))


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (
            "input=17/26 1=14/29 2=19/24 3=24/19 R=11/19/27",
            {(NEW, ()): 0.962, (MATCHED, ("sport",)): 0.038},
        ),
        ("input=17/26 1=14x2/29x2 2=19/24 3=23/20 R=11/19/27", {(NEW, ()): 0.998}),
        ("input=17/26 1=15/28 2=19/24 3=23/20 R=11/19/27", {(MATCHED, ("sport",)): 0.996}),
        ("input=17/26 1=15/30x2 2=19/24 3=23/20 R=11/19/27", {(MIXED, ()): 0.980}),
    ],
)
def test_a_third_set_of_a_casing_is_not_taken_for_one_of_the_two(words, expected):
    """A box that keeps every tooth sum is new, one pair of it too; a listed set stays named."""
    answers = posterior(two_sets(), parse_seen(words.split())).answers
    found = {(a.kind, a.sets): a.probability for a in answers}
    assert {key: round(found[key], 3) for key in expected} == expected


def test_the_account_of_a_new_set_adds_up():
    """Its rows against its rival add up to the odds of the two answers."""
    seen = parse_seen(["input=17/26", "1=14/29", "2=19/24", "3=24/19", "R=11/19/27", "1@3:0.95"])
    told = identify(two_sets(), seen, why=True).account
    assert told is not None
    assert told.headline.kind == NEW
    odds = np.log2(told.headline.probability / told.rival.probability)
    assert told.total == pytest.approx(odds, abs=1e-9)


def test_all_pieces_of_a_new_set_are_unlisted():
    """Where a box is new each of its pieces is likelier unlisted than of any listed type."""
    answer = identify(two_sets(), parse_seen(["input=17/26", "1=14/29x2", "2=20/23", "3=24/19x2"]))
    assert (answer.verdict.kind, answer.verdict.family, answer.verdict.sets) == (NEW, "yew-4", ())
    new = next(a.probability for a in answer.posterior.answers if a.kind == NEW)
    unlisted = [p for p in answer.posterior.pieces if p.teeth is None]
    assert {p.piece for p in unlisted} == {p.piece for p in answer.posterior.pieces}
    assert all(p.probability >= new for p in unlisted)


def family(name: str, same: Mapping[str, str], sets: Sequence[Mapping[str, object]]) -> Family:
    made = [
        RatioSet(f"s{i}", pairs=dict(pairs), commonness=i + 1.0) for i, pairs in enumerate(sets)
    ]
    return Family(name, "two-shaft", same=dict(same), sets=tuple(made))


#: Two families of each shape: pairs, an idler, a wheel with two names, wheels in a ring; gaps, and
#: listed teeth beyond those of unknown ones.
SHAPES = {
    "pairs": (
        family("a", {}, [{"1": (13, 31), "2": (18, 26)}, {"1": (14, 30), "2": (None, 27)}]),
        family("b", {}, [{"1": (12, 35), "2": (None, 24)}]),
    ),
    "idler": (
        family("a", {}, [{"R": (12, 20, 28)}, {"R": (13, 20, 103)}]),
        family("b", {}, [{"R": (14, None, 30)}]),
    ),
    "two names": (
        family("a", {"2.driven": "1.driven"}, [{"1": (13, 31), "2": (12, 31)}]),
        family("b", {"2.driven": "1.driven"}, [{"1": (15, 32), "2": (14, 32)}]),
    ),
    "ring": (
        family(
            "a",
            {"2.driver": "1.driven", "3.driver": "2.driven", "3.driven": "1.driver"},
            [{"1": (20, 24), "2": (24, 31), "3": (31, 20)}],
        ),
    ),
}


def wheel_spread(of: Family, wheel: str, rho: Rho) -> np.ndarray:
    """As the page has it: with 0.25 as a counted set has it, else from ρ."""
    spread = np.zeros(201)
    spread[5:100] = rho.of(wheel)
    listed = np.zeros(201)
    for known in of.counted_sets:
        teeth = of.teeth_of(known).get(wheel)
        if teeth is not None:
            listed[teeth] += known.commonness
    return spread if not listed.any() else 0.25 * listed / listed.sum() + 0.75 * spread


def all_teeth(of: Family, rho: Rho, seen: Mapping[str, np.ndarray]) -> np.ndarray:
    """The weight of every combination of teeth, a wheel an axis, of those that can be."""
    wheels = of.train.wheels
    spreads = [wheel_spread(of, wheel, rho) for wheel in wheels]
    shape = [s * seen.get(w, 1.0) for w, s in zip(wheels, spreads, strict=True)]
    found = reduce(np.multiply.outer, shape)
    for (left, right), sums in of.sums.items():
        if not sums:
            continue
        off = np.abs((TEETH[:, None] + TEETH)[..., None] - np.array(sums)).min(-1)
        factor = np.select([off == 0, off == 1, off == 2], [1, 0.03, 0.003], 0.001)
        axes = [wheels.index(left), wheels.index(right)]
        table = factor if axes[0] < axes[1] else factor.T
        found = found * table.reshape([201 if a in axes else 1 for a in range(len(wheels))])
    return found


#: What is counted of each shape.
COUNTED = {
    "pairs": ["1=13x2/30", "2.driven=27u"],
    "idler": ["R=13/20x3/_"],
    "two names": ["1=14/31", "2.driver=12x2"],
    "ring": ["1.driver=20", "2.driven=30x2"],
}


@pytest.mark.parametrize("shape", SHAPES)
def test_closed_sums_are_those_over_all_teeth(shape):
    """Likelihood, and how each wheel's teeth are spread, of a stack as one family at a time."""
    families = SHAPES[shape]
    rho = Rho(Catalog(families))
    question = Question([parse_seen(COUNTED[shape])], rho)
    names = {name: families[0].train.canonical(name) for name in question.whole.counts}
    counted = {kept: question.laws((name,))[0][0] for name, kept in names.items()}
    for stack in stacks_of(list(enumerate(families)), rho):
        asked = Asked(stack.shape, question)
        (seen,) = mesh_tables([(stack, asked.laws(stack))], NewMeshes, every=True)
        (free,) = mesh_tables([(stack, {})], NewMeshes, every=True)
        spreads = new_teeth_of({0: (stack, asked)}, families[0].train.wheels)[0]
        for row, (number, part) in product(range(stack.count), enumerate(stack.shape.components)):
            of = part_of(families[stack.numbers[row]], part)
            weights = all_teeth(of, rho, {w: law for w, law in counted.items() if w in part})
            expected = weights.sum() / all_teeth(of, rho, {}).sum()
            likelihood = seen[number][row, 0, 0] / free[number][row, 0, 0]
            assert likelihood == pytest.approx(expected, rel=1e-11)
            for wheel in part:
                axes = tuple(i for i, name in enumerate(of.train.wheels) if name != wheel)
                by_teeth = (weights.sum(axes) / weights.sum())[stack.first :][: stack.size]
                spread = spreads[wheel][row, 0]
                assert spread == pytest.approx(by_teeth, rel=1e-10, abs=1e-300)


def part_of(one: Family, wheels: Sequence[str]) -> Family:
    """The family with these wheels alone, which mesh with no others."""
    pairs = {wheel.partition(".")[0] for wheel in wheels}
    made = [{p: t for p, t in s.pairs.items() if p in pairs} for s in one.counted_sets]
    return one if len(wheels) == len(one.train.wheels) else family(one.id, {}, made)


def test_a_new_set_is_no_part_of_a_named_box():
    """The whole box is never likelier than what was counted of it."""
    verdict = identify(two_sets(), parse_seen(["input=17/26", "1=15/28"])).verdict
    assert verdict.kind == MATCHED
    assert verdict.whole_box < verdict.probability
