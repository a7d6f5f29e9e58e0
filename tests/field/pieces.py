"""Loose pieces made up by chance but repeatably, as somebody would type them of a catalog."""

import random
from typing import Any

from cogtally.catalog.model import Catalog

Asked = dict[str, Any]

#: What is looked at now and then; `{}` is a place.
LOOKS = (
    *("splines=10", "splines=20ux2", "dog_teeth=27", "bore_mm=19.05", "bore_mm=19.9u"),
    *("spline_form=straight", "hand=left", "length_mm=210"),
    *("{}.hand=left", "{}.hand=right", "{}.od_mm=68.1", "{}.od_mm=71.5ux3", "{}.helix_deg=22.5"),
)


def piece(catalog: Catalog, dice: random.Random) -> Asked:
    """Return some stretch of a listed type, counted well or badly from either end, or anything."""
    families = [f for f in catalog.families if f.counted_sets]
    family = dice.choice(families)
    part = dice.choice(family.pieces)
    kind = dice.choice(family.types[part.name])
    if dice.random() < 0.1:
        words = [str(dice.randint(9, 60)) for _ in range(dice.randint(1, 7))]
        return {"counts": words, "role": None, "marks": [], "features": []}
    size = len(kind.teeth)
    first = dice.randrange(size) if dice.random() < 0.3 else 0
    last = dice.randint(first + 1, size) if dice.random() < 0.3 else size
    words = []
    for teeth in kind.teeth[first:last]:
        off = dice.choice([0, 0, 0, 0, 0, 1, -1, 2, 9])
        said = dice.choice(["", "", "", "u", "x2", "x3", "ux2", "x40"])
        unseen = teeth is None or dice.random() < 0.15
        words.append("_" if unseen else f"{max(4, (teeth or 0) + off)}{said}")
    places = last - first
    words = [*([".."] if first else []), *words, *([".."] if last < size else [])]
    looks = [
        look.format(dice.randint(1, places))
        for look in dice.sample(LOOKS, dice.choice([0, 0, 0, 1, 2]))
    ]
    return {
        "counts": words if dice.random() < 0.5 else words[::-1],
        "role": part.name if dice.random() < 0.3 else None,
        "marks": [_read(mark, dice) for mark in (kind.marks or ("LG 3102",))[:1]]
        if dice.random() < 0.25
        else [],
        "features": looks,
    }


def _read(mark: str, dice: random.Random) -> str:
    """A mark as it can be read on a worn piece."""
    letters = list(mark)
    for _ in range(dice.choice([0, 1, 2])):
        letters[dice.randrange(len(letters))] = dice.choice("?*7x ")
    return "".join(letters) if any(c.isalnum() for c in letters) else mark
