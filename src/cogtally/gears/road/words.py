"""How engine speeds, road speeds, a band, an axle and an overdrive are written for the road.

Counts are left to `notation`, printed ratios to `printed`, tyres to `tyres`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from fractions import Fraction

from cogtally.gears.errors import UserError
from cogtally.gears.notation import parse_name
from cogtally.gears.printed import parse_ratio, shown
from cogtally.gears.ratios import parse_axle, parse_overdrive
from cogtally.gears.recover import parse_sought
from cogtally.gears.road.speed import KMH, MPH, convert
from cogtally.gears.trains import pair_ratio

_NUMBER = r"[0-9]{1,7}(?:\.[0-9]{1,6})?"
_RPM = re.compile(rf"({_NUMBER})\s*(?:rpm)?", re.IGNORECASE)
_SPEED = re.compile(rf"({_NUMBER})\s*([a-z/]*)", re.IGNORECASE)
_BAND = re.compile(rf"({_NUMBER})\s*-\s*({_NUMBER})\s*(?:rpm)?", re.IGNORECASE)
_THOUSANDS = re.compile(r"[0-9]{1,2}[,.' ][0-9]{3}")
_RATIO = re.compile(r"(?:[^=@/]+=)?[-+\u2212]?[0-9.,:]+")
_UNITS = {"km/h": KMH, "kmh": KMH, "kph": KMH, "mph": MPH}


def are_ratios(words: Iterable[str]) -> bool:
    """Tell whether all words are ratios, `3.65` or `1=3.65`; raise UserError where some are."""
    kinds = {bool(_RATIO.fullmatch(word.strip())): word for word in words}
    if len(kinds) > 1:
        raise UserError(
            "ratios and counts of one box were mixed",
            f"{shown(kinds[True])} {shown(kinds[False])}",
            "write ratios alone (1=3.65 2=2.25) or counts alone (input=17/28 1=14/31)",
        )
    return True in kinds


def parse_ratios(words: Iterable[str]) -> tuple[tuple[str, Fraction], ...]:
    """Read ratios, `3.65 2.25` or `1=3.65 R=3.84`, as exact decimals; raise UserError.

    Those without a name are gears 1, 2, 3 and so on, in their order.
    """
    return tuple(
        (gear, parse_ratio(text).value) for gear, text in parse_sought(words).gears.items()
    )


def parse_axle_ratio(text: str) -> Fraction:
    """Read an axle, `9/41` counted or `4.56` printed, as turns in for one out; raise UserError."""
    if "/" in text:
        (pinion, crown) = (count.teeth for count in parse_axle(text).counts)
        return pair_ratio((pinion, crown)) or Fraction(crown, pinion)
    return _ratio(text, "--axle", "write pinion/crown, 9/41, or a ratio, 4.56")


def parse_overdrive_ratio(text: str) -> Fraction:
    """Read an overdrive, `24/84` counted or `0.78` printed, as turns in for one out; UserError."""
    if "/" in text:
        return parse_overdrive(text).overdrive
    ratio = _ratio(text, "--overdrive", "write sun/annulus, 24/84, or a ratio, 0.78")
    if ratio >= 1:
        turned = f"did you mean {float(1 / ratio):.3g}?" if ratio > 1 else "leave it out"
        raise UserError("an overdrive's ratio is below 1", f"--overdrive {shown(text)}", turned)
    return ratio


def parse_gears(text: str, option: str) -> tuple[str, ...]:
    """Read gears written `3,4`; raise UserError."""
    return tuple(dict.fromkeys(parse_name(name.strip(), option) for name in text.split(",")))


def parse_unit(text: str) -> str:
    """Read a unit of speed, `km/h` or `mph`; raise UserError."""
    unit = _UNITS.get(text.strip().lower())
    if unit is None:
        mend = f"write {KMH} or {MPH}"
        raise UserError("this is no unit of road speed", f"--units {shown(text)}", mend)
    return unit


def parse_rpm(text: str) -> float:
    """Read an engine speed in turns a minute, `3000`; raise UserError."""
    found = _RPM.fullmatch(text.strip())
    if found is None:
        raise UserError(
            "this is no engine speed", f"--rpm {shown(text)}", _digits(text, "write --rpm 3000")
        )
    return float(found[1])


def parse_speed(text: str, unit: str) -> float:
    """Read a road speed, `80` in `unit` or `50mph`, and return it in `unit`; raise UserError."""
    found = _SPEED.fullmatch(text.strip())
    written = unit if found is None or not found[2] else _UNITS.get(found[2].lower())
    if found is None or written is None:
        mend = f"write --speed 80, --speed 80{KMH} or --speed 50{MPH}"
        raise UserError("this is no road speed", f"--speed {shown(text)}", _digits(text, mend))
    return convert(float(found[1]), written, unit)


def parse_band(text: str) -> tuple[float, float]:
    """Read two engine speeds, `2200-4800`; raise UserError.

    Whether they can be the ends of a band is left to `road`.
    """
    found = _BAND.fullmatch(text.strip())
    if found is None:
        mend = "write --band 2200-4800, two engine speeds"
        raise UserError("this is no engine band", f"--band {shown(text)}", mend)
    return float(found[1]), float(found[2])


def _ratio(text: str, option: str, mend: str) -> Fraction:
    try:
        return parse_ratio(text).value
    except UserError as error:
        raise UserError(error.sentence, f"{option} {shown(text)}", mend) from error


def _digits(text: str, mend: str) -> str:
    if not _THOUSANDS.fullmatch(text.strip()):
        return mend
    return f"did you mean {''.join(c for c in text if c.isdigit())}?"
