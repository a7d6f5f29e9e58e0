"""Knows how to make small random catalogs with many marks and features, and what was looked at.

Leaves the trains and teeth to `worlds`.
"""

from __future__ import annotations

import random
from typing import Any

from .layout import Family, build_family
from .looks import COUNTED, KINDS, SIZED
from .worlds import world

MARKS = ("LG 3102", "LG 3104", "W-17", "Ж 9", "3102")
SIZES: dict[str, tuple[float, ...]] = {
    "bore_mm": (19.05, 19.1, 20.0),
    "od_mm": (56.3, 56.6, 68.2),
    "width_mm": (18.0, 18.5),
    "length_mm": (150.0, 150.2),
    "helix_deg": (22.0, 22.5, 24.0),
}
COUNTS = {"splines": (10, 11, 23), "dog_teeth": (27, 28), "bolts": (5, 6)}


def looked_world(seed: int) -> list[dict[str, Any]]:
    """Return the documents of a small catalog whose pieces have marks and features."""
    docs = world(seed)
    dice = random.Random(f"looked {seed}")
    for doc in docs:
        family = build_family(doc)
        for entry in doc.get("set", []):
            if "pairs" in entry:
                _describe(entry, family, dice)
    return docs


def _describe(entry: dict[str, Any], family: Family, dice: random.Random) -> None:
    marks = {
        p: dice.sample(MARKS, dice.choice([1, 1, 2])) for p in family.pieces if dice.random() < 0.25
    }
    features: dict[str, dict[str, object]] = {}
    for piece, wheels in family.pieces.items():
        if dice.random() < 0.2:
            features[piece] = _some(dice, ("splines", "bore_mm", "spline_form", "length_mm"))
        for wheel in wheels:
            if dice.random() < 0.2:
                features[wheel] = _some(
                    dice, ("hand", "helix_deg", "od_mm", "dog_teeth", "width_mm")
                )
    for key, found in (("marks", marks), ("features", features)):
        entry.pop(key, None)
        if found:
            entry[key] = found


def _some(dice: random.Random, keys: tuple[str, ...]) -> dict[str, object]:
    return {key: _value(dice, key) for key in dice.sample(keys, dice.choice([1, 1, 2]))}


def _value(dice: random.Random, key: str) -> object:
    return dice.choice({**SIZES, **COUNTS, **KINDS}[key])


def random_marks(docs: list[dict[str, Any]], dice: random.Random) -> list[str]:
    """Return a few readings of marks, of pieces by name."""
    pieces = sorted({p for doc in docs for p in build_family(doc).pieces})
    return [f"{dice.choice(pieces)}:{reading(dice)}" for _ in range(dice.choice([0, 1, 1, 2]))]


def reading(dice: random.Random) -> str:
    """Return a mark as somebody may read it: in part, with lost ends, with a wrong character."""
    text = list(dice.choice(MARKS))
    for place in range(len(text)):
        chance = dice.random()
        if chance < 0.15:
            text[place] = "?"
        elif chance < 0.2:
            text[place] = dice.choice("37XG")
        elif chance < 0.24:
            text[place] = ""
    first = dice.randrange(len(text)) if dice.random() < 0.4 else 0
    return ("*" if first else "") + "".join(text[first:]) + dice.choice(["", "", "*"]) or "?"


def random_features(docs: list[dict[str, Any]], dice: random.Random) -> list[str]:
    """Return a few features of wheels and pieces, as they are written for a box."""
    families = [build_family(doc) for doc in docs]
    owners = sorted({n for f in families for n in (*f.pieces, *f.wheel_names())})
    return [f"{dice.choice(owners)}.{look(dice)}" for _ in range(dice.choice([0, 1, 2, 3]))]


def look(dice: random.Random) -> str:
    """Return a feature with what was found of it, without an owner."""
    key = dice.choice([*COUNTED, *SIZED, *KINDS])
    value = _value(dice, key)
    if key in KINDS:
        return f"{key}={value}"
    times = dice.choice(["", "", "u", "x2", "ux2"])
    if key in COUNTED:
        assert isinstance(value, int)
        return f"{key}={value + dice.choice([0, 0, 1, -1, 9])}{times}"
    assert isinstance(value, float)
    off = dice.choice([0, 0, 0.03, -0.1, -0.3, 0.6, 25])
    return f"{key}={round(value + off, 3)}{times}"
