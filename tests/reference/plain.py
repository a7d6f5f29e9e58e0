"""Knows the page's arithmetic once more for the tiniest families, in loops a person can follow.

Leaves everything with more than two wheels to the judge, which it exists to judge.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from fractions import Fraction

Counts = Sequence[int]
#: The teeth that unknown wheels can have.
SPAN = range(5, 100)


def count_law(c: int, t: int, q: float) -> float:
    """Return p(c | t) of a count."""
    return 0.995 * (1 - q) / (1 + q) * q ** abs(c - t) + 0.005 / 197


def rho(weights: dict[int, float], without: Sequence[int] = ()) -> dict[int, float]:
    """Return the distribution of unknown teeth about catalogued counts with these weights."""
    near = dict.fromkeys(SPAN, 0.0)
    for t0, weight in weights.items():
        whole = math.fsum(0.7 ** abs(t - t0) for t in near)
        for t in near:
            near[t] += weight * 0.7 ** abs(t - t0) / whole
    total = math.fsum(weights.values())
    mixed = {t: 0.2 / 95 + (0.8 * x / total if total else 0.8 / 95) for t, x in near.items()}
    kept = {t: x for t, x in mixed.items() if t not in without}
    return {t: x / math.fsum(kept.values()) for t, x in kept.items()}


def two_wheel_family(
    sets: Sequence[tuple[int, int]],
    commonness: Sequence[float],
    drivers: Counts,
    drivens: Counts,
    meshed: bool,
    turn: Callable[[Fraction | None], float] = lambda _: 1.0,
) -> dict[str, float]:
    """Return the answers of a catalog of one family of one pair, two pieces of a wheel each.

    The keys are the sets' numbers as text, and new, mixed, variant, uncatalogued. The sets have all
    different types; `turn` gives the density of a turn test for a ratio.
    """
    listed = [sorted({one[side] for one in sets}) for side in (0, 1)]
    common = [
        {t: sum(w for s, w in zip(sets, commonness, strict=True) if s[side] == t) for t in teeth}
        for side, teeth in enumerate(listed)
    ]
    spreads = [rho({t: float(w) for t, w in common[side].items()}) for side in (0, 1)]
    stranger = [
        rho({t: float(w) for t, w in common[side].items()}, listed[side]) for side in (0, 1)
    ]
    sums = {a + b for a, b in sets}
    answers: dict[str, float] = {}

    def add(key: str, weight: float) -> None:
        answers[key] = answers.get(key, 0.0) + weight

    def mesh(a: int, b: int, near: tuple[float, float] = (0.3, 0.03)) -> float:
        off = min(abs(a + b - s) for s in sums)
        return {0: 1.0, 1: near[0], 2: near[1]}.get(off, 0.001) if meshed else 1.0

    def options(side: int, own: int) -> list[tuple[bool, int, float]]:
        """Return (listed, teeth, prior) of everything that a piece can be."""
        others = {t: w for t, w in common[side].items() if t != own}
        rows = [(True, own, 0.97 if others else 0.994)]
        rows += [(True, t, 0.024 * w / sum(others.values())) for t, w in others.items()]
        return rows + [(False, t, 0.006 * x) for t, x in stranger[side].items()]

    def guess(counts: Counts) -> int | None:
        return (
            max(SPAN, key=lambda t: (math.prod(count_law(c, t, 0.01) for c in counts), -t))
            if counts
            else None
        )

    guess_a, guess_b = guess(drivers), guess(drivens)
    for prior_hand, q in ((0.8, 0.01), (0.2, 0.06)):
        for_driver, for_driven = (
            {t: math.prod(count_law(c, t, q) for c in counts) for t in range(4, 201)}
            for counts in (drivers, drivens)
        )
        for (own_a, own_b), weight in zip(sets, commonness, strict=True):
            rows = []
            for listed_a, a, prior_a in options(0, own_a):
                for listed_b, b, prior_b in options(1, own_b):
                    rows.append((listed_a, a, listed_b, b, prior_a * prior_b * mesh(a, b)))
            whole = math.fsum(row[-1] for row in rows)
            for listed_a, a, listed_b, b, prior in rows:
                seen = for_driver[a] * for_driven[b]
                for_a = a if listed_a else guess_a
                for_b = b if listed_b else guess_b
                seen *= turn(Fraction(for_b, for_a) if for_a and for_b else None)
                share = prior_hand * 0.9 * 0.96 * weight / sum(commonness) * prior / whole * seen
                if listed_a and listed_b and (a, b) in sets:
                    add(str(sets.index((a, b))), share)
                else:
                    add("mixed" if listed_a and listed_b else "variant", share)
        ratio = Fraction(guess_b, guess_a) if guess_a and guess_b else None
        designed = [
            {
                t: 0.75 * spreads[side].get(t, 0.0)
                + 0.25 * common[side].get(t, 0.0) / sum(commonness)
                for t in range(4, 201)
            }
            for side in (0, 1)
        ]
        kept = {
            (a, b): x * y * mesh(a, b, (0.03, 0.003))
            for a, x in designed[0].items()
            for b, y in designed[1].items()
        }
        fits = math.fsum(w * for_driver[a] * for_driven[b] for (a, b), w in kept.items())
        new = fits / math.fsum(kept.values()) * turn(ratio)
        add("new", prior_hand * 0.9 * 0.04 * new)
        alone = prior_hand * 0.1
        for law, spread in zip((for_driver, for_driven), spreads, strict=True):
            alone *= math.fsum(x * law[t] for t, x in spread.items())
        add("uncatalogued", alone * turn(ratio))
    total = math.fsum(answers.values())
    return {key: weight / total for key, weight in answers.items()}
