"""What was written down of a wheel whose standard is known, and its way to diameters and spans.

A wheel that was measured is left to `callipers_words`, the arithmetic to `callipers_ahead`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from cogtally.gears.callipers.ahead import Wheel, table
from cogtally.gears.callipers.lengths import (
    parse_angle,
    parse_length,
    parse_signed,
    parse_teeth_range,
)
from cogtally.gears.callipers.measured import INCHES, MILLIMETRES, UNITS
from cogtally.gears.callipers.pair import Gear
from cogtally.gears.callipers.standards import DIAMETRAL, Standard, find_standard
from cogtally.gears.callipers.words import Taken, as_option, check_unit, teeth_of
from cogtally.gears.errors import UserError


def expected_of(
    taken: Taken, unit: str | None = None, option: Callable[[str], str] = as_option
) -> tuple[tuple[Wheel, ...], str, float | None]:
    """Return what wheels of a known standard measure, a row for each count of teeth.

    With them the unit to show lengths in, and the width of the face in mm, if it was written.
    Raise UserError.
    """
    check_unit(unit, option)
    standard = standard_of(taken, option)
    if taken.teeth is None:
        raise UserError("its teeth are missing", option("standard"), "add --teeth 24 or 18-24")
    teeth = parse_teeth_range(taken.teeth, option("teeth"))
    helix, shift = _cut(standard, teeth, taken, option)
    width = None if taken.width is None else parse_length(taken.width, option("width"))
    within = unit or (INCHES if standard.pitch.system == DIAMETRAL else MILLIMETRES)
    rows = table(standard, teeth, helix, shift)
    return rows, within, None if width is None else width.within(within) * UNITS[within]


def standard_of(taken: Taken, option: Callable[[str], str] = as_option) -> Standard:
    """Return the standard that was written; raise UserError."""
    pitch, angle = taken.standard or "", taken.angle or "20"
    with _behind(option("standard")):
        find_standard(pitch)
    with _behind(option("angle")):
        find_standard(pitch, angle)
    with _behind(option("tooth")):
        return find_standard(pitch, angle, taken.tooth or "full")


def known_wheel(taken: Taken, option: Callable[[str], str] = as_option) -> Gear:
    """Return a wheel of a known standard that is to run with another; raise UserError."""
    standard, teeth = standard_of(taken, option), teeth_of(taken, option) or 0
    helix, shift = _cut(standard, (teeth,), taken, option)
    return Gear(standard, teeth, helix, shift, hand=taken.hand)


def _cut(
    standard: Standard, teeth: tuple[int, ...], taken: Taken, option: Callable[[str], str]
) -> tuple[float, float]:
    """Return the helix in degrees and the shift in modules; refuse what no wheel has."""
    with _behind(option("teeth")):
        table(standard, teeth)
    helix = 0.0 if taken.helix is None else parse_angle(taken.helix, option("helix"))
    with _behind(option("helix")):
        table(standard, teeth, helix)
    shift = 0.0 if taken.shift is None else parse_signed(taken.shift, option("shift"))
    with _behind(option("shift")):
        table(standard, teeth, helix, shift)
    return helix, shift


@contextmanager
def _behind(place: str) -> Iterator[None]:
    """Let what is refused stand behind the name of its option."""
    try:
        yield
    except UserError as error:
        raise UserError(error.sentence, f"{place} {error.place}", error.mend) from error
