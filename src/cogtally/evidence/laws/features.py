"""The law of a feature that was looked at: counted, measured or of one of several kinds.

Which features there are is left to `gears.features`, what a catalog has of them to `feature_pool`.
"""

from __future__ import annotations

from math import erfc, exp, log, pi, sqrt

from cogtally.evidence.laws.likelihood import Q_OF_HAND, Q_UNSURE, count_law
from cogtally.gears.looks import COUNTED, KINDS, OUTSIDE, Value
from cogtally.gears.words import ReadFeature

KIND_RIGHT = 0.98  # "right with 0.98, the rest shared by the others"
SIZE_SD = {"_mm": 0.05, "_deg": 0.5}  # "the larger of 0.05 mm or 0.5° …"
SIZE_SHARE = 0.002  # "… and 0.2 %"
UNSURE_WIDER = 4.0  # "an unsure one four times as wide"
SIZE_SLIP = 0.005  # "slip 0.005 …"
SLIP_FROM, SLIP_TO = 0.5, 2.0  # "… uniform over half to twice the value"
SLIP_BEYOND = 0.001  # "beyond, a thousandth of that": no reading is impossible
WORN = 0.2  # "with 0.2 lower by a half-normal …"
WEAR_MM = 0.2  # "… of 0.2 mm"


def log_feature(seen: ReadFeature, value: Value, hand: int) -> float:
    """Return the log likelihood (of a size: density) of what was seen where `value` is true."""
    return seen.times * log(_law(seen, value, hand))


def _law(seen: ReadFeature, value: Value, hand: int) -> float:
    if seen.feature in KINDS:
        return kind_law(seen.feature, seen.value, value)
    assert not isinstance(seen.value, str)
    assert not isinstance(value, str)
    if seen.feature in COUNTED:
        return count_law(
            abs(int(seen.value) - int(value)), Q_UNSURE if seen.unsure else Q_OF_HAND[hand]
        )
    return size_density(seen.feature, seen.value, value, unsure=seen.unsure)


def kind_law(feature: str, seen: object, value: object) -> float:
    """Return the probability that a kind is taken for `seen` where it is `value`."""
    others = len(KINDS[feature]) - 1
    return KIND_RIGHT if seen == value else (1 - KIND_RIGHT) / others


def size_sd(feature: str, value: float, *, unsure: bool = False) -> float:
    """Return the standard deviation of a measurement, in the unit of the feature."""
    least = next(sd for end, sd in SIZE_SD.items() if feature.endswith(end))
    return max(least, SIZE_SHARE * value) * (UNSURE_WIDER if unsure else 1.0)


def size_density(feature: str, seen: float, value: float, *, unsure: bool = False) -> float:
    """Return the density of a measurement where the size is `value`, as new.

    Of an outside diameter wear is in it: with 0.2 the wheel is worn or turned down by |N(0, 0.2)|.
    The slip is uniform over half to twice the value; beyond, a thousandth of that, so that no
    reading is impossible.
    """
    sd = size_sd(feature, value, unsure=unsure)
    off = seen - value
    density = _normal(off, sd)
    if feature == OUTSIDE:
        density = (1 - WORN) * density + WORN * worn_density(off, sd)
    slip = 1 / ((SLIP_TO - SLIP_FROM) * value)
    if not SLIP_FROM * value <= seen <= SLIP_TO * value:
        slip *= SLIP_BEYOND
    return (1 - SIZE_SLIP) * density + SIZE_SLIP * slip


def worn_density(off: float, sd: float) -> float:
    """Return the density of reading − value where a half-normal of WEAR_MM was worn off.

    −|N(0, τ)| + N(0, σ) has the closed form 2/s·φ(d/s)·Φ(−τ·d/(σ·s)) with s = √(σ² + τ²) (a skew
    normal; Azzalini, Scandinavian Journal of Statistics 12, 1985, from memory).
    """
    both = sqrt(sd * sd + WEAR_MM * WEAR_MM)
    return 2 * _normal(off, both) * erfc(WEAR_MM * off / (sd * both) / sqrt(2)) / 2


def _normal(off: float, sd: float) -> float:
    return exp(-off * off / (2 * sd * sd)) / (sd * sqrt(2 * pi))
