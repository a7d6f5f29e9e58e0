"""Recovered teeth as JSON: exact ratios as text beside their decimals.

Names of keys are a promise within a format number; the search is left to `gears`.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from cogtally.gears.recover import Advice, Beside, Problem, Recovery, Solution, Span

FORMAT = 1


def recovery_json(found: Recovery, beside: Beside | None) -> dict[str, Any]:
    """Return a recovery as plain values.

    `weight` is a natural logarithm, `share` its part of the total weight, which is no probability;
    both null where nothing is ranked. `by_chance` is null where it would take too long.
    """
    return {
        "format": FORMAT,
        **_asked(found.problem),
        "count": found.count,
        "by_chance": found.by_chance,
        "tries": found.chance.copies if found.chance else None,
        "under_determined": found.under_determined,
        "whole": found.whole,
        "likeliest": found.likeliest.place if found.likeliest else None,
        "solutions": [{"place": s.place, **_solution(s)} for s in found.solutions],
        "twins": [
            {
                "places": list(twins.places),
                "in_all": twins.in_all,
                "ratios": _ratios(twins.ratios),
                "share": twins.share,
            }
            for twins in found.twins
        ],
        "spreads": [
            {
                "spread": row.spread,
                "count": row.count,
                "by_chance": row.by_chance,
                "first": _solution(row.first) if row.first else None,
            }
            for row in found.spreads
        ],
        "beside": _beside(beside),
        "next": [{"wheel": w.wheel, "bits": w.bits} for w in _advice(found.advice)],
        "check": _check(found.advice),
    }


def _asked(problem: Problem) -> dict[str, Any]:
    return {
        "layout": problem.layout,
        "reading": problem.reading,
        "spread": problem.spread,
        "free_input": problem.free_input,
        "planets": problem.planets if problem.layout == "overdrive" else None,
        "printed": {target.gear: target.printed.text for target in problem.targets},
        "sought": {wheel: _span(span) for wheel, span in problem.spans.items()},
        "counted": {wheel: problem.spans[wheel].low for wheel in problem.counted},
        "sums": _span(problem.sums) if problem.sums else None,
    }


def _solution(solution: Solution) -> dict[str, Any]:
    return {
        "teeth": dict(solution.teeth),
        "ratios": _ratios(solution.ratios),
        "sums": dict(solution.sums),
        "weight": solution.weight,
        "share": solution.share,
    }


def _ratios(ratios: Mapping[str, Fraction]) -> list[dict[str, Any]]:
    return [
        {"gear": gear, "ratio": str(ratio), "decimal": float(ratio)}
        for gear, ratio in ratios.items()
    ]


def _beside(beside: Beside | None) -> dict[str, Any] | None:
    if beside is None:
        return None
    return {
        "free_input": beside.free,
        "counts": None if beside.counts is None else list(beside.counts),
        "by_chance": list(beside.chance.by_spread) if beside.chance else None,
    }


def _advice(advice: Advice | None) -> tuple[Any, ...]:
    return advice.worths if advice else ()


def _check(advice: Advice | None) -> dict[str, Any] | None:
    if advice is None or advice.check is None:
        return None
    check = advice.check
    return {"wheel": check.wheel, "bits": check.bits, "noticed": check.noticed}


def _span(span: Span) -> list[int]:
    return [span.low, span.high]
