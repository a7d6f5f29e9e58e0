"""What the digits of a printed ratio say: text, decimals, and the exact interval that they leave.

Which teeth fall in such an interval is left to the search.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from cogtally.gears.errors import UserError, shown

#: More decimals than a gearbox ratio can carry, and more than any brochure prints.
MOST_DECIMALS = 6
#: No single box, axle or overdrive reduces further.
MOST_RATIO = 50

#: How printed digits can have come about, as ends in half units of the last place, about the
#: digits as printed; the upper end of a cut is the next unit and is not reached.
ROUNDED, CUT, EITHER, MISPRINT = "rounded", "cut", "either", "misprint"
READINGS = (ROUNDED, CUT, EITHER, MISPRINT)
_HALF_UNITS = {ROUNDED: (-1, 1), CUT: (0, 2), EITHER: (-1, 2), MISPRINT: (-3, 3)}
_UPPER_END_OUT = frozenset({CUT, EITHER})

_NUMBER = re.compile(r"([0-9]*)(?:[.,]([0-9]+))?")
_TO_ONE = re.compile(r"\s*:\s*1\Z")
_EXPONENT = re.compile(r"[0-9]*[.,]?[0-9]*[eE][+-]?[0-9]+")
_ENDLESS = frozenset({"inf", "infinity", "∞"})
_FORM = "write turns in for one turn out as printed, for example 3.65"


@dataclass(frozen=True, slots=True)
class Printed:
    """A ratio as printed: its `text`, and `units` of the last place of its `decimals`."""

    text: str
    units: int
    decimals: int

    @property
    def value(self) -> Fraction:
        """The printed number itself, exact."""
        return Fraction(self.units, 10**self.decimals)

    def shifted(self, units: int) -> Printed:
        """Return the ratio `units` of the last place further on, printed to as many decimals."""
        moved = self.units + units
        whole, rest = divmod(moved, 10**self.decimals)
        text = f"{whole}.{rest:0{self.decimals}d}" if self.decimals else str(whole)
        return Printed(text, moved, self.decimals)


@dataclass(frozen=True, slots=True)
class Interval:
    """All ratios from `low`/`den` to `high`/`den`; the lower end is in, the upper if `high_in`."""

    low: int
    high: int
    den: int
    high_in: bool = True

    def __contains__(self, ratio: Fraction) -> bool:
        scaled = ratio * self.den
        return self.low <= scaled and (scaled <= self.high if self.high_in else scaled < self.high)


def exactly(ratio: Fraction) -> Interval:
    """Return the interval that holds `ratio` alone."""
    return Interval(ratio.numerator, ratio.numerator, ratio.denominator)


def interval(printed: Printed, reading: str = ROUNDED) -> Interval:
    """Return the exact interval of ratios that print as `printed` when read as `reading`.

    `rounded`: half a unit of the last place either way, both ends in (a half may have gone either
    way). `cut`: from the digits up to the next unit, that one out. `either`: both of these
    together. `misprint`: one and a half units either way, both ends in. Never below 0.
    Raises UserError for another word.
    """
    if reading not in _HALF_UNITS:
        mend = f"use {', '.join(READINGS)}"
        raise UserError(f"no way of printing is called '{shown(reading)}'", mend=mend)
    below, above = _HALF_UNITS[reading]
    middle = 2 * printed.units
    return Interval(
        max(0, middle + below),
        middle + above,
        2 * 10**printed.decimals,
        reading not in _UPPER_END_OUT,
    )


def parse_ratio(text: str) -> Printed:
    """Read a printed ratio: `3.90`, `3,90`, `3.90:1`; the decimals count as written.

    Raises UserError for what is not a number, zero, negative, infinite, written with an exponent,
    with more than six decimals, above fifty, or in digits of another script.
    """
    place = shown(text)
    bare = _TO_ONE.sub("", text.strip()).strip()
    if not bare:
        raise UserError("an empty ratio was read", place, _FORM)
    if any(c.isdigit() and not c.isascii() for c in bare):
        raise UserError("the digits are of another script", place, "write 0 to 9")
    if bare.lstrip("+-−").lower() in _ENDLESS:
        raise UserError("a ratio cannot be infinite", place, _FORM)
    if bare[0] in "-−":
        raise UserError("a ratio cannot be negative", place, "write reverse without a sign")
    if _EXPONENT.fullmatch(bare):
        raise UserError("a ratio has no exponent", place, _FORM)
    found = _NUMBER.fullmatch(bare)
    if found is None:
        raise UserError("this is not a number", place, _FORM)
    whole, decimals = found[1], found[2] or ""
    if len(decimals) > MOST_DECIMALS:
        raise UserError(f"a ratio has at most {MOST_DECIMALS} decimals", place, _FORM)
    # The length comes first: thousands of digits are not worth turning into a number.
    too_long = len(whole.lstrip("0")) > len(str(MOST_RATIO))
    units = 0 if too_long else int(whole + decimals)
    if too_long or units > MOST_RATIO * 10 ** len(decimals):
        mend = "is the decimal point missing? " + _FORM
        raise UserError(f"a ratio is at most {MOST_RATIO}", place, mend)
    if units == 0:
        raise UserError("a ratio cannot be zero", place, _FORM)
    return Printed(f"{whole or '0'}.{decimals}" if decimals else whole, units, len(decimals))
