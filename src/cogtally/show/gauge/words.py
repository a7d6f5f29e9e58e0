"""How lengths, shares and the columns of a gauged wheel are written on a screen.

Where they stand is left to `gauge`, `table`, `ahead` and `pair`.
"""

from __future__ import annotations

from cogtally.gears.callipers import INCHES, TOLERANCE_MM, UNITS, UNSETTLED_HELIX_DEG, Explanation

#: A shift known no better than this, two standard deviations in modules, is not settled.
UNSETTLED_SHIFT = 0.15
NOTHING, OPEN, STRAIGHT, OFF, SEEN = "-", "open", "straight", "!", "seen"

_MM_PLACES, _INCH_PLACES = 2, 3
#: From this tolerance down, in mm, a length is shown to one digit more.
_FINE_MM = 0.02


def length_text(value: float, unit: str, tolerance: float = TOLERANCE_MM) -> str:
    """Return a length in mm as it is shown in `unit`, no finer than it can be measured."""
    places = (_INCH_PLACES if unit == INCHES else _MM_PLACES) + (tolerance < _FINE_MM)
    return f"{value / UNITS[unit]:.{places}f}"


def unit_words(unit: str) -> str:
    """Return a unit as a sentence names it."""
    return "inches" if unit == INCHES else "mm"


def share_text(share: float) -> str:
    """Return a share in per cent, never rounded to all or nothing."""
    if share > 0.999:
        return "> 99.9 %" if share < 1 - 1e-12 else "100 %"
    return "< 0.1 %" if share < 0.001 else f"{100 * share:.1f} %"


def helix_text(explanation: Explanation) -> str:
    """Return the helix of an explanation in degrees, or that it is straight or open."""
    fit = explanation.fit
    if fit.helix == 0:
        return STRAIGHT
    return OPEN if fit.helix_error > UNSETTLED_HELIX_DEG else f"{fit.helix:.1f}"


def shift_text(explanation: Explanation) -> str:
    """Return the profile shift of an explanation in modules, or that it is open."""
    fit = explanation.fit
    return OPEN if fit.shift_error > UNSETTLED_SHIFT else signed_text(fit.shift)


def signed_text(shift: float) -> str:
    """Return a shift with its sign, and none for nothing."""
    text = f"{shift:+.2f}"
    return "0.00" if text in ("+0.00", "-0.00") else text
