"""Which features of a wheel or a piece can be looked at: counted ones, sized ones, and kinds.

How they are typed is left to `looks`, what they say of an answer to the evidence.
"""

from __future__ import annotations

Value = str | int | float

#: Counted like teeth.
COUNTED = ("splines", "dog_teeth", "bolts")
#: Measured, in the unit that the name ends with.
SIZED = ("bore_mm", "od_mm", "width_mm", "length_mm", "helix_deg")
#: Of one of several kinds.
KINDS: dict[str, tuple[str, ...]] = {
    "hand": ("left", "right", "straight", "double"),
    "spline_form": ("straight", "involute"),
}
#: Every feature that can be looked at.
FEATURES = (*COUNTED, *SIZED, *KINDS)
#: What a number of a sized feature is a number of, by the end of its name.
UNITS = {"_mm": " mm", "_deg": " degrees"}

HAND, HELIX, OUTSIDE = "hand", "helix_deg", "od_mm"
#: Beyond these nothing was counted or measured with care.
MOST_COUNTED = 200
MOST_SIZED = {"_mm": 10_000.0, "_deg": 90.0}


def known_value(feature: str, value: object) -> Value | None:
    """Return a value where it is one that the feature can have, else None.

    A counted feature has a whole number from 1 to 200, a sized one a number above 0,
    a kind one of its words.
    """
    if feature in KINDS:
        return value if isinstance(value, str) and value in KINDS[feature] else None
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return None
    if feature in COUNTED:
        return int(value) if value == int(value) and 1 <= value <= MOST_COUNTED else None
    return float(value) if feature in SIZED and 0 < value <= greatest(feature) else None


def greatest(feature: str) -> float:
    """Return the greatest value that a sized feature can have."""
    return next(most for end, most in MOST_SIZED.items() if feature.endswith(end))


def feature_name(feature: str) -> str:
    """Return a feature as a person calls it: `dog teeth`, `bore`."""
    for end in UNITS:
        feature = feature.removesuffix(end)
    return {"od": "outside diameter"}.get(feature, feature.replace("_", " "))


def value_text(feature: str, value: object) -> str:
    """Return a value with its unit: `19.05 mm`, `10`, `left`."""
    unit = next((unit for end, unit in UNITS.items() if feature.endswith(end)), "")
    return f"{value:g}{unit}" if isinstance(value, (int, float)) else str(value)
