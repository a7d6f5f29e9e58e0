"""A table of ratios as JSON: exact fractions as text beside their decimals.

Names of keys are a promise within a format number; the arithmetic is left to `gears`.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from cogtally.gears.ratios import Gear, Pair, RatioTable

FORMAT = 1


def ratios_json(table: RatioTable) -> dict[str, Any]:
    """Return the table as plain values; null where a count is missing or there is no such thing.

    `overall` is there where there is an axle, the keys of the overdrive where there is one.
    """
    found: dict[str, Any] = {"format": FORMAT, "layout": table.layout, "direct": table.direct}
    if table.axle is not None:
        found["axle"] = {"pair": table.axle.name, **_both("ratio", "decimal", table.axle_ratio)}
    if table.overdrive is not None:
        train = table.overdrive
        found["overdrive"] = {
            "sun": train.sun,
            "annulus": train.annulus,
            **_both("ratio", "decimal", train.overdrive),
        }
    found["gears"] = [_gear(table, gear) for gear in table.gears]
    found["pairs"] = [_pair(pair) for pair in table.pairs]
    return found


def _gear(table: RatioTable, gear: Gear) -> dict[str, Any]:
    found: dict[str, Any] = {
        "gear": gear.name,
        "path": list(gear.path),
        **_both("ratio", "decimal", gear.ratio),
        "step_from": gear.step_from,
        **_both("step", "step_decimal", gear.step),
        "missing": list(gear.missing),
    }
    if table.axle is not None:
        found |= _both("overall", "overall_decimal", gear.overall)
    if table.overdrive is not None:
        found |= _both("overdrive", "overdrive_decimal", gear.overdrive)
    if table.axle is not None and table.overdrive is not None:
        found |= _both("overdrive_overall", "overdrive_overall_decimal", gear.overdrive_overall)
    return found


def _pair(pair: Pair) -> dict[str, Any]:
    return {
        "pair": pair.name,
        "teeth": list(pair.teeth),
        "sums": list(pair.sums),
        "hunting": pair.hunting,
        "common_factors": list(pair.factors),
        "disputed": [wheel.name for wheel in pair.wheels if wheel.is_disputed],
    }


def _both(exact: str, decimal: str, value: Fraction | None) -> dict[str, str | float | None]:
    if value is None:
        return {exact: None, decimal: None}
    return {exact: str(value), decimal: float(value)}
