"""What was written down of one wheel, as it was typed, and its way to checked measurements.

How lengths, spans, angles and counts are written; what a wheel can measure is left to `measured`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, fields
from fractions import Fraction

from cogtally.gears.callipers import measured
from cogtally.gears.callipers.measured import INCHES, MILLIMETRES, UNITS, Measured
from cogtally.gears.callipers.standards import INCH_MM
from cogtally.gears.errors import UserError
from cogtally.gears.notation import Scanner

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
    return _length(scan, "a length", LENGTH_FORMS)


def parse_span(text: str, option: str = "") -> tuple[int, Length]:
    """Return a span written `4:32.83`: across how many teeth, and its length; raise UserError."""
    scan = Scanner(text.strip(), option)
    across = scan.number("how many teeth the span lies across", SPAN_FORMS)
    if not scan.take(":"):
        raise scan.error("':' and the length of the span were expected", SPAN_FORMS)
    if across == 0:
        raise UserError("a span lies across 1 tooth or more", scan.shown(), SPAN_FORMS)
    return across, _length(scan, "the length of the span", SPAN_FORMS)


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


def _length(scan: Scanner, what: str, mend: str) -> Length:
    value = _number(scan, what, mend)
    unit = _unit(scan, value)
    scan.end(mend)
    if value == 0:
        raise UserError("a length of 0 was read", scan.shown(), "leave out what was not measured")
    return Length(value, unit)


def _number(scan: Scanner, what: str, mend: str) -> Fraction:
    """Read a decimal, a fraction or a whole number and a fraction; raise UserError."""
    rest = scan.text[scan.at :]
    if rest[:1] in ("-", "\u2212") and _DECIMAL.match(rest[1:]):
        raise scan.error(f"{what} is not negative", f"did you mean {rest[1:]}?")
    written = scan.digits(_DECIMAL, f"{what} was expected", mend)
    if scan.peek() == ",":
        meant = rest.replace(",", ".", 1)
        raise scan.error("a decimal is written with a point", f"did you mean {meant}?")
    value = Fraction(written)
    if not written.isdigit():
        return value
    if scan.peek() == "/":
        return scan.fraction(int(value), mend)
    if scan.peek() in ("+", " ") and scan.text[scan.at + 1 : scan.at + 2].isdigit():
        scan.at += 1
        value += scan.fraction(scan.number("a fraction", mend), mend)
    return value


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


#: Tolerances that callipers and micrometers may have, mm; beyond them a unit was mistaken.
FINEST_TOLERANCE_MM, COARSEST_TOLERANCE_MM = 0.001, 0.5
JAWS_MEND = (
    "points (narrow jaws, tip to tip), flat (a wide jaw on two tips) or true (so measured that it "
    "needs no correction)"
)
WHEEL_FORMS = "write teeth=24,outside=80.4,span=3:23.9 or teeth=24,standard=2.5,helix=22,shift=0.2"

#: What stands before the name of an option on the command line.
OPTION = "--"
#: The names under which core checks speak of what a person wrote.
_OPTIONS = {"mate's teeth": "mate", "helix tolerance": "helix-tolerance"}


@dataclass(frozen=True, slots=True)
class Taken:
    """What was written down of one wheel, each as typed; None where nothing was.

    `standard`, `angle`, `tooth` and `shift` are for a wheel whose standard is known, `hand` for
    one that is to run with another.
    """

    teeth: str | None = None
    outside: str | None = None
    jaws: str | None = None
    span: tuple[str, ...] = ()
    helix: str | None = None
    helix_at: str | None = None
    centres: str | None = None
    mate: str | None = None
    width: str | None = None
    depth: str | None = None
    tolerance: str | None = None
    helix_tolerance: str | None = None
    standard: str | None = None
    angle: str | None = None
    tooth: str | None = None
    shift: str | None = None
    hand: str | None = None

    @property
    def written(self) -> tuple[str, ...]:
        """Names of all that was written, as options are spelt."""
        return tuple(_spelt(f.name) for f in fields(self) if getattr(self, f.name))


#: What may be written of a wheel that is to run with another.
PAIR_KEYS = (
    *("teeth", "outside", "jaws", "span", "helix", "helix-at", "width", "depth", "hand"),
    *("standard", "angle", "tooth", "shift"),
)
#: What only a wheel of a known standard has.
KNOWN_KEYS = ("standard", "angle", "tooth", "shift")
MEASURED_KEYS = ("outside", "jaws", "span", "helix-at", "depth")


def as_measured(taken: Taken, unit: str | None = None, before: str = OPTION) -> Measured:
    """Return what was written down of a wheel as measurements in mm; raise UserError.

    `unit` is the one asked for, if any. `before` stands before names of `Taken` in errors.
    """
    check_unit(unit, before)
    _check_words(taken, before)
    lengths = {
        name: parse_length(text, f"{before}{name}")
        for name in ("outside", "centres", "width", "depth", "tolerance")
        if (text := getattr(taken, name)) is not None
    }
    spans = sorted(
        (parse_span(text, f"{before}span") for text in taken.span), key=lambda span: span[0]
    )
    within = unit_of(unit, (*lengths.values(), *(length for _, length in spans)))
    sizes = {name: length.within(within) for name, length in lengths.items()}
    tolerance = sizes.get("tolerance", measured.TOLERANCE_MM / UNITS[within])
    _check_tolerance(tolerance, within, f"{before}tolerance")
    angles = {
        name: parse_angle(text, f"{before}{_spelt(name)}")
        for name in ("helix", "helix_tolerance")
        if (text := getattr(taken, name)) is not None
    }
    teeth = teeth_of(taken, before)
    by = UNITS[within]
    with placed(before):
        return measured.checked(
            Measured(
                teeth,
                jaws=taken.jaws,
                spans=tuple(
                    measured.Span(across, length.within(within) * by) for across, length in spans
                ),
                helix=angles.get("helix"),
                helix_at=taken.helix_at or measured.AT_REFERENCE,
                mate=None if taken.mate is None else parse_teeth(taken.mate, f"{before}mate"),
                unit=within,
                helix_tolerance=angles.get("helix_tolerance", measured.HELIX_TOLERANCE_DEG),
                **{name: size * by for name, size in {**sizes, "tolerance": tolerance}.items()},
            )
        )


def teeth_of(taken: Taken, before: str = OPTION) -> int | None:
    """Return the count of teeth that was written, None where none was; raise UserError."""
    return None if taken.teeth is None else parse_teeth(taken.teeth, f"{before}teeth")


def jaws_asked(taken: Taken, before: str = OPTION) -> str | None:
    """Return the question how the diameter was taken, where it matters and was not said."""
    if taken.outside is None:
        return None
    outside = parse_length(taken.outside, f"{before}outside")
    teeth = teeth_of(taken, before)
    if teeth is not None and not measured.FEWEST_TEETH <= teeth <= measured.MOST_TEETH:
        return None
    return measured.jaws_question(teeth, float(outside.value), taken.jaws)


def jaws_missing(question: str, place: str = "--outside", option: str = "--jaws ") -> UserError:
    """Return the error that a diameter does not say how it was taken."""
    return UserError(question.rstrip("?"), place, f"add {option}{JAWS_MEND}")


@contextmanager
def placed(before: str = OPTION) -> Iterator[None]:
    """Let what core checks refuse speak of options: `span 4` becomes `--span 4`."""
    try:
        yield
    except UserError as error:
        name = next((n for n in _OPTIONS if error.place == n), error.place.partition(" ")[0])
        spelt = _OPTIONS.get(name, name)
        if spelt not in {_spelt(f.name) for f in fields(Taken)} | {"unit"}:
            raise
        place = f"{before}{spelt}{error.place.removeprefix(name)}"
        raise UserError(error.sentence, place, error.mend) from error


def parse_wheel(text: str, option: str = "--pair") -> Taken:
    """Return what was written of one wheel of two: `teeth=24,outside=80.4,span=3:23.9`.

    Keys are the names of the options; `span` may be there again. Raise UserError for a key that
    is none, is there twice, or has nothing behind it.
    """
    found: dict[str, str] = {}
    spans: list[str] = []
    for word in text.split(","):
        key, equals, value = word.strip().partition("=")
        place = f"{option} {word.strip()}"
        if not equals or not value.strip():
            raise UserError("a name, '=' and a value were expected", place, WHEEL_FORMS)
        if key not in PAIR_KEYS:
            mend = f"names are {', '.join(PAIR_KEYS)}"
            raise UserError("nothing of that name is measured on a wheel", place, mend)
        if key == "span":
            spans.append(value)
            continue
        if key in found:
            raise UserError(f"{key} is there twice", place, "write it once")
        found[key] = value
    if "teeth" not in found:
        raise UserError("its teeth are missing", option, WHEEL_FORMS)
    if found.get("hand", measured.LEFT) not in (measured.LEFT, measured.RIGHT):
        raise UserError("a hand is left or right", option, "write hand=left or hand=right")
    _check_keys(found, spans, option)
    return Taken(
        span=tuple(spans), **{key.replace("-", "_"): value for key, value in found.items()}
    )


def check_unit(unit: str | None, before: str = OPTION) -> None:
    """Refuse a unit that is none; None is no unit asked for."""
    if unit is not None and unit not in UNITS:
        raise UserError(f"a unit is mm or in, not {unit}", f"{before}unit", "write mm or in")


def _check_words(taken: Taken, before: str) -> None:
    if taken.jaws is not None and taken.jaws not in measured.JAWS:
        place = f"{before}jaws {taken.jaws}"
        raise UserError("a diameter is not taken so", place, f"write {JAWS_MEND}")
    if taken.helix_at not in (None, measured.AT_REFERENCE, measured.AT_TIP):
        place = f"{before}helix-at {taken.helix_at}"
        raise UserError("a helix is not read there", place, "write reference or tip")


def _check_keys(found: dict[str, str], spans: list[str], option: str) -> None:
    """Refuse a wheel that is written both as known and as measured."""
    written = {*found, *(["span"] if spans else [])}
    if "standard" in written:
        both = [key for key in MEASURED_KEYS if key in written]
        if both:
            mend = "leave the standard out, or what was measured"
            raise UserError(f"standard and {both[0]} do not go together", option, mend)
    else:
        alone = [key for key in KNOWN_KEYS if key in written]
        if alone:
            mend = "add standard=2.5, or leave it out"
            raise UserError(f"{alone[0]} goes with a standard", option, mend)


def _check_tolerance(tolerance: float, unit: str, place: str) -> None:
    size = tolerance * UNITS[unit]
    if FINEST_TOLERANCE_MM <= size <= COARSEST_TOLERANCE_MM:
        return
    meant = unit != MILLIMETRES and FINEST_TOLERANCE_MM <= tolerance <= COARSEST_TOLERANCE_MM
    usual = f"it is {FINEST_TOLERANCE_MM:g} to {COARSEST_TOLERANCE_MM:g} mm"
    mend = f"did you mean {tolerance:g}mm?" if meant else usual
    raise UserError(f"a tolerance of {size:.3g} mm is none that callipers have", place, mend)


def _spelt(name: str) -> str:
    return name.replace("_", "-")
