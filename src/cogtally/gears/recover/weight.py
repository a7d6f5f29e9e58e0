"""The weight of a recovered box: which of several fillings of teeth a designer would rather draw.

Which fillings there are is left to `recover_cells`, what a share of the weight allows to be said
to `recover_rank`. Weights are natural logarithms and add up; whole hundredths where they can be.
"""

from __future__ import annotations

from functools import cache
from math import exp, gcd, log

#: One unit of a whole weight is this much of a natural logarithm.
HUNDREDTH = 0.01
#: In hundredths: a tooth that a pair's sum is off the reference pair's, a pair of coprime counts,
#: a tooth fewer than `FEWEST_LIKED`.
OFF_BY_ONE = -100
COPRIME = 35
EACH_TOO_FEW = -60
FEWEST_LIKED = 14
#: -½((S - 50)/9)² on the reference pair's tooth sum S.
USUAL_SUM, SUM_SPREAD = 50, 9
#: -½(ln(R/1.75)/0.22)² on the ratio R of the pair that the gears share, input or output.
USUAL_INPUT_RATIO, INPUT_RATIO_SPREAD = 1.75, 0.22


@cache
def wheel_weight(teeth: int) -> int:
    """Return the weight of one wheel, in hundredths: fewer than 14 teeth are rare."""
    return EACH_TOO_FEW * max(0, FEWEST_LIKED - teeth)


@cache
def pair_weight(driver: int, driven: int) -> int:
    """Return the weight of one pair by itself, in hundredths, without its tooth sum."""
    coprime = COPRIME if gcd(driver, driven) == 1 else 0
    return wheel_weight(driver) + wheel_weight(driven) + coprime


@cache
def reverse_weight(driver: int, driven: int) -> int:
    """Return the weight of the end wheels of a reverse, in hundredths.

    They do not mesh with each other: no tooth sum and no common factor speaks for or against.
    """
    return wheel_weight(driver) + wheel_weight(driven)


@cache
def growth(hundredths: int) -> float:
    """Return the factor that a weight in hundredths stands for."""
    return exp(hundredths * HUNDREDTH)


@cache
def row(total: int) -> tuple[tuple[int, ...], tuple[float, ...]]:
    """Return weight and factor of every pair of one tooth sum, by the driver's teeth (0, 1, …)."""
    weights = (0, *(pair_weight(a, total - a) for a in range(1, total)))
    return weights, tuple(growth(w) for w in weights)


@cache
def flat_row(total: int) -> tuple[tuple[int, ...], tuple[float, ...]]:
    """Return the row where nothing is ranked: every pair alike."""
    return (0,) * total, (1.0,) * total


def sum_weight(total: int) -> float:
    """Return the weight of the reference pair's tooth sum."""
    return -0.5 * ((total - USUAL_SUM) / SUM_SPREAD) ** 2


@cache
def input_ratio_weight(driver: int, driven: int) -> float:
    """Return the weight of the ratio of the pair that the gears share."""
    return -0.5 * (log(driven / (driver * USUAL_INPUT_RATIO)) / INPUT_RATIO_SPREAD) ** 2
