"""How a measurement is written: a length with its unit, a span, an angle, a count of teeth.

Whether a length can be that of a wheel is left to `measured`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from cogtally.gears.callipers.measured import INCHES, MILLIMETRES
from cogtally.gears.callipers.standards import INCH_MM
from cogtally.gears.errors import UserError
from cogtally.gears.scanner import Scanner
from cogtally.gears.words import LONGEST_NUMBER

LENGTH_FORMS = "write 94.2, 94.2mm, 3.25in or 3+1/4in"
ANGLE_FORMS = "write degrees, as 22, 22.5 or 22+1/2"
TEETH_FORMS = "write a whole number, as 24"
RANGE_FORMS = "write 24, a range 18-24 or a list 18,20,24"
SPAN_FORMS = "write how many teeth, then the length, as 4:32.83"
SHIFT_FORMS = "write it in modules, as 0.2 or -0.15"

#: Millimetres in one of each unit, exact.
EXACT_UNITS = {MILLIMETRES: Fraction(1), INCHES: INCH_MM}
#: Rows of a table over teeth at most.
MOST_ROWS = 200

_DECIMAL = re.compile(r"[0-9]+(?:\.[0-9]*)?|\.[0-9]+")
_UNIT = re.compile(r"[A-Za-z\"'\u2032\u2033]+")
_WRITTEN_UNITS = {
    "mm": MILLIMETRES,
    "in": INCHES,
    "inch": INCHES,
    "inches": INCHES,
    '"': INCHES,
    "\u2033": INCHES,
}


@dataclass(frozen=True, slots=True)
class Length:
    """A length as it was written: `value` is exact, `unit` `mm`, `in`, or None where none stood."""

    value: Fraction
    unit: str | None = None

    def within(self, unit: str) -> float:
        """Return the length in `unit`; one that was written without a unit is in it already."""
        if self.unit in (None, unit):
            return float(self.value)
        return float(self.value * EXACT_UNITS[self.unit or unit] / EXACT_UNITS[unit])


def parse_length(text: str, option: str = "") -> Length:
    """Return a length written `94.2`, `94.2mm`, `3.25in` or `3+1/4in`; raise UserError.

    `option` is the option whose value it is, for errors.
    """
    scan = Scanner(text.strip(), option)
    value = _number(scan, "a length", LENGTH_FORMS)
    unit = _unit(scan, value)
    scan.end(LENGTH_FORMS)
    if value == 0:
        raise UserError("a length of 0 was read", scan.shown(), "leave out what was not measured")
    return Length(value, unit)


def parse_span(text: str, option: str = "") -> tuple[int, Length]:
    """Return a span written `4:32.83`: across how many teeth, and its length; raise UserError."""
    scan = Scanner(text.strip(), option)
    across = scan.number("how many teeth the span lies across", SPAN_FORMS)
    if not scan.take(":"):
        raise scan.error("':' and the length of the span were expected", SPAN_FORMS)
    if across == 0:
        raise UserError("a span lies across 1 tooth or more", scan.shown(), SPAN_FORMS)
    value = _number(scan, "the length of the span", SPAN_FORMS)
    unit = _unit(scan, value)
    scan.end(SPAN_FORMS)
    if value == 0:
        raise UserError("a length of 0 was read", scan.shown(), "leave out what was not measured")
    return across, Length(value, unit)


def parse_angle(text: str, option: str = "") -> float:
    """Return an angle in degrees, written `22`, `22.5` or `22+1/2`, `°` allowed; raise UserError.

    The hand of a helix is no sign: a negative angle is refused.
    """
    body = text.strip().removesuffix("°").removesuffix("deg").strip()
    scan = Scanner(body, option)
    if body.startswith("-") and _DECIMAL.fullmatch(body[1:]):
        mend = f"did you mean {body[1:]}? An angle is written without its hand"
        raise UserError("an angle is not negative", scan.shown(), mend)
    value = _number(scan, "an angle", ANGLE_FORMS)
    scan.end(ANGLE_FORMS)
    return float(value)


def parse_signed(text: str, option: str = "") -> float:
    """Return a decimal that may be negative, as a profile shift in modules; raise UserError."""
    scan = Scanner(text.strip(), option)
    sign = -1 if scan.take("-") else 1
    if sign > 0:
        scan.take("+")
    value = _number(scan, "a shift", SHIFT_FORMS)
    scan.end(SHIFT_FORMS)
    return sign * float(value)


def parse_teeth(text: str, option: str = "") -> int:
    """Return one count of teeth; raise UserError for what is no whole number."""
    scan = Scanner(text.strip(), option)
    teeth = scan.number("a count of teeth", TEETH_FORMS)
    if scan.peek() == "-":
        raise scan.error("one wheel has one count of teeth", "a range goes with --standard")
    if scan.peek() in (".", "/", "+"):
        raise scan.error("a count of teeth is a whole number", "count them")
    scan.end(TEETH_FORMS)
    return teeth


def parse_teeth_range(text: str, option: str = "") -> tuple[int, ...]:
    """Return counts of teeth written `24`, `18-24` or `18,20,24`, each once; raise UserError."""
    scan = Scanner(text.strip(), option)
    found: list[int] = []
    while True:
        first = last = scan.number("a count of teeth", RANGE_FORMS)
        if scan.take("-"):
            last = scan.number("the last count of a range", RANGE_FORMS)
            if last < first:
                mend = f"did you mean {last}-{first}?"
                raise UserError("the range runs downwards", scan.shown(), mend)
        if len(found) + last - first >= MOST_ROWS:
            raise UserError(f"more than {MOST_ROWS} rows were asked for", scan.shown(), RANGE_FORMS)
        found += range(first, last + 1)
        if not scan.take(","):
            break
    scan.end(RANGE_FORMS)
    return tuple(dict.fromkeys(found))


def unit_of(asked: str | None, lengths: Iterable[Length]) -> str:
    """Return the unit to work in: the one asked for; inches where all are written so; else mm."""
    if asked is not None:
        return asked
    written = {length.unit for length in lengths}
    return INCHES if written == {INCHES} else MILLIMETRES


def _number(scan: Scanner, what: str, mend: str) -> Fraction:
    """Read a decimal, a fraction or a whole number and a fraction; raise UserError."""
    start = scan.at
    found = _DECIMAL.match(scan.text, scan.at)
    if found is None:
        rest = scan.text[start:]
        if rest[:1] in ("-", "\u2212") and _DECIMAL.match(rest[1:]):
            raise scan.error(f"{what} is not negative", f"did you mean {rest[1:]}?")
        raise scan.error(f"{what} was expected", mend)
    if len(found[0]) > LONGEST_NUMBER:
        raise scan.error("the number is too long", mend)
    scan.at = found.end()
    if scan.peek() == ",":
        meant = scan.text[start:].replace(",", ".", 1)
        raise scan.error("a decimal is written with a point", f"did you mean {meant}?")
    value = Fraction(found[0])
    if not found[0].isdigit():
        return value
    if scan.peek() == "/":
        return _fraction(scan, int(value), mend)
    if scan.peek() in ("+", " ") and scan.text[scan.at + 1 : scan.at + 2].isdigit():
        scan.at += 1
        value += _fraction(scan, scan.number("a fraction", mend), mend)
    return value


def _fraction(scan: Scanner, above: int, mend: str) -> Fraction:
    if not scan.take("/"):
        raise scan.error("'/' of a fraction was expected", mend)
    below = scan.number("the lower half of a fraction", mend)
    if below == 0:
        raise scan.error("nothing can be divided by 0", mend, back=1)
    return Fraction(above, below)


def _unit(scan: Scanner, value: Fraction) -> str | None:
    """Read the unit behind a number; None where none stands there; raise UserError."""
    while scan.take(" "):
        pass
    found = _UNIT.match(scan.text, scan.at)
    if found is None:
        return None
    unit = _WRITTEN_UNITS.get(found[0].lower())
    if unit is None:
        meant = float(value * 10)
        mend = f"did you mean {meant:g}mm?" if found[0].lower() == "cm" else LENGTH_FORMS
        raise scan.error("a unit is mm or in", mend)
    scan.at = found.end()
    return unit
