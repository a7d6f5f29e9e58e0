"""Seeded boxes with teeth as a designer might draw them, and their ratios as printed.

How many of them a recovery gets right is left to the tests.
"""

import random
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from math import gcd

DRIVERS = range(11, 41)
DRIVEN = range(15, 51)
#: Ratio of the lowest gear, and of the highest that has a pair (direct not among them).
LOWEST, HIGHEST = (2.6, 4.2), (1.25, 1.5)


@dataclass(frozen=True, slots=True)
class Box:
    """A box with its teeth: the input pair and the gears, and each gear's ratio as printed."""

    input_pair: tuple[int, int]
    gears: dict[str, tuple[int, int]]
    printed: dict[str, str]

    @property
    def teeth(self) -> tuple[tuple[int, int], ...]:
        return (self.input_pair, *self.gears.values())


def print_ratio(ratio: Fraction, decimals: int) -> str:
    """Print a ratio with so many decimals, a half upwards."""
    unit = Decimal(1).scaleb(-decimals)
    exact = Decimal(ratio.numerator) / Decimal(ratio.denominator)
    return str(exact.quantize(unit, rounding=ROUND_HALF_UP))


def cut_ratio(ratio: Fraction, decimals: int) -> str:
    """Print a ratio with so many decimals, what is behind them cut off."""
    units = ratio.numerator * 10**decimals // ratio.denominator
    whole, rest = divmod(units, 10**decimals)
    return f"{whole}.{rest:0{decimals}d}"


def boxes(
    number: int,
    *,
    pairs: int,
    decimals: int,
    off: int = 0,
    foreign_input: bool = False,
    seed: int = 1,
) -> Iterator[Box]:
    """Give so many boxes with so many gears that have a pair.

    `off`: each gear's sum is up to so many teeth off the input pair's. `foreign_input`: the input
    pair has a sum of its own.
    """
    draw = random.Random(seed)
    while number:
        box = _box(draw, pairs, decimals, off, foreign_input)
        if box is not None:
            number -= 1
            yield box


def _box(
    draw: random.Random, pairs: int, decimals: int, off: int, foreign_input: bool
) -> Box | None:
    total = round(draw.gauss(50, 7))
    own = total + draw.choice((-7, -5, -4, 4, 5, 7)) if foreign_input else total
    first = round(own / (1 + 1.75 * 2.718281828 ** draw.gauss(0, 0.18)))
    second = own - first
    if first not in DRIVERS or second not in DRIVEN or not _liked(draw, first, second):
        return None
    shared = Fraction(second, first)
    low, high = draw.uniform(*LOWEST), draw.uniform(*HIGHEST)
    gears, printed = {}, {}
    for i in range(pairs):
        wanted = low * (high / low) ** (i / max(1, pairs - 1)) * draw.uniform(0.96, 1.04)
        own = total + draw.randint(-off, off)
        driver = round(own / (1 + wanted / float(shared)))
        driven = own - driver
        if driver not in DRIVERS or driven not in DRIVEN or not _liked(draw, driver, driven):
            return None
        gears[str(i + 1)] = (driver, driven)
        printed[str(i + 1)] = print_ratio(shared * Fraction(driven, driver), decimals)
    return Box((first, second), gears, printed)


def _liked(draw: random.Random, driver: int, driven: int) -> bool:
    """Tell whether a designer keeps a pair: few teeth and common factors are often drawn anew."""
    few = max(0, 14 - driver)
    return draw.random() < 0.6**few * (1.0 if gcd(driver, driven) == 1 else 0.75)
