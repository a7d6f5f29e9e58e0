"""Recovery against published ratios worked out by other means, and a general constraint solver."""

import random
from collections.abc import Callable
from fractions import Fraction

import pytest

from cogtally.gears.recover.problem import Span, pose
from cogtally.gears.recover.solutions import counts_by_spread, search

# Brute force, OR-tools CP-SAT and python-constraint2 agreed on these four:
# ratios, tooth sums, least teeth, the only solution or how many there are.
TABLE = [
    (["1.33", "2.29", "4.00"], (55, 64), 18, [60, 20, 36, 28, 20]),
    (["3.524", "1.988", "1.168"], (40, 70), 14, [53, 21, 16, 23, 30]),
    (["3.5", "2.0", "1.2"], (50, 60), 14, 46),
    (["2.22", "3.64", "1.37"], (50, 70), 15, 0),
]


@pytest.mark.parametrize(("texts", "sums", "least", "expected"), TABLE)
def test_equal_sums_with_a_least_number_of_teeth(texts, sums, least, expected):
    """Solutions with all sums equal within a range and no wheel below the least are as found."""
    teeth = Span(least, sums[1] - least)
    problem = pose(
        {str(i): text for i, text in enumerate(texts, start=1)},
        spread=0,
        drivers=teeth,
        driven=teeth,
        sums=Span(*sums),
    )
    if isinstance(expected, int):
        assert counts_by_spread(problem)[-1] == expected
        return
    (only,) = search(problem).best
    assert [sum(only.teeth[0]), *(driver for driver, _ in only.teeth)] == expected
    assert {sum(pair) for pair in only.teeth} == {expected[0]}


@pytest.mark.parametrize("seed", range(20))
def test_a_general_constraint_solver_finds_the_same(seed):
    """On twenty seeded problems python-constraint2 lists exactly the solutions of the search.

    Source: python-constraint2 2.9.0, a general-purpose solver, told the rules of a layshaft box.
    """
    constraint = pytest.importorskip("constraint")
    draw = random.Random(seed)
    drivers, driven = range(13, 22), range(18, 30)
    spread, free_input = draw.randint(0, 2), seed % 4 == 3
    total = draw.randint(36, 44)
    pairs = []
    for _ in range(3):
        driver = draw.randint(max(13, total - 29), min(21, total - 18))
        pairs.append((driver, total - driver))
    shared = Fraction(pairs[0][1], pairs[0][0])
    texts = [f"{float(shared * Fraction(b, a)):.{draw.randint(1, 2)}f}" for a, b in pairs[1:]]

    solver = constraint.Problem()
    names = ["input", "1", "2"]
    for name in names:
        solver.addVariable((name, "driver"), list(drivers))
        solver.addVariable((name, "driven"), list(driven))
    for name, text in zip(names[1:], texts, strict=True):
        wheels = [("input", "driver"), ("input", "driven"), (name, "driver"), (name, "driven")]
        solver.addConstraint(_rounds_to(text), wheels)
    tied = names[1:] if free_input else names
    for i, one in enumerate(tied):
        for other in tied[i + 1 :]:
            wheels = [(n, role) for n in (one, other) for role in ("driver", "driven")]
            solver.addConstraint(_within(spread), wheels)
    expected = {
        tuple((own[name, "driver"], own[name, "driven"]) for name in names)
        for own in solver.getSolutions()
    }

    problem = pose(
        dict(zip(names[1:], texts, strict=True)),
        spread=spread,
        free_input=free_input,
        drivers=Span(drivers[0], drivers[-1]),
        driven=Span(driven[0], driven[-1]),
    )
    found = search(problem, listed=10**9)
    assert tuple(pairs) in expected
    assert {f.teeth for f in found.best} == expected
    assert found.count == len(expected) == counts_by_spread(problem)[-1]


def _rounds_to(text: str) -> Callable[[int, int, int, int], bool]:
    decimals = len(text.partition(".")[2])
    units, scale = int(text.replace(".", "")), 2 * 10**decimals

    def holds(p: int, q: int, a: int, b: int) -> bool:
        return (2 * units - 1) * p * a <= scale * q * b <= (2 * units + 1) * p * a

    return holds


def _within(spread: int) -> Callable[[int, int, int, int], bool]:
    def holds(a: int, b: int, c: int, d: int) -> bool:
        return abs(a + b - c - d) <= spread

    return holds
