"""Catalogs of invented families, large enough that tables are kept of them.

What is asked of them is left to the tests.
"""

from __future__ import annotations

import random

from cogtally.catalog.model import Catalog, Family, RatioSet

#: So many families; tables are kept from 60 on.
FAMILIES = 64
Pairs = dict[str, tuple[int | None, ...]]


def _sets(dice: random.Random, whole: int, gears: str, first: str | None) -> list[RatioSet]:
    found: list[RatioSet] = []
    last: Pairs = {}
    for index in range(dice.randint(1, 5)):
        pairs: Pairs = {}
        for pair in ([first] if first else []) + list(gears):
            teeth = dice.randint(13, whole - 13)
            pairs[pair] = (teeth, whole + dice.choice([0, 0, 0, 1]) - teeth)
        if first:
            pairs["R"] = (13, dice.randint(18, 22), whole - 18)
        if last and dice.random() < 0.8:
            changed = dice.choice(list(pairs))
            pairs = {**last, changed: pairs[changed]}
        last = pairs
        found.append(RatioSet(f"s{index}", pairs=pairs, commonness=dice.choice([0.5, 1, 3])))
    return found


def book_catalog(seed: int) -> Catalog:
    """Layshaft and two-shaft boxes, axles, and a few families that no table bounds."""
    dice = random.Random(seed)
    families = []
    for number in range(FAMILIES):
        whole = dice.randint(44, 52)
        kind = "layshaft" if number % 3 else dice.choice(["two-shaft", "axle"])
        if kind == "axle":
            teeth = [(dice.randint(8, 13), dice.randint(35, 45)) for _ in range(3)]
            sets = [RatioSet(f"s{i}", pairs={"final": t}) for i, t in enumerate(teeth)]
        else:
            layshaft = kind == "layshaft"
            sets = _sets(dice, whole, "1235" if layshaft else "1234", "input" if layshaft else None)
        if number == 4:
            sets.append(RatioSet("printed", ratios={"1": "3.65", "2": "2.1"}))
        if number == 5:
            sets.append(RatioSet("gap", pairs={**sets[0].pairs, "1": (None, whole - 20)}))
        direct = "4" if kind == "layshaft" else None
        families.append(Family(f"f{number}", kind, sets=tuple(sets), direct=direct))
    return Catalog(tuple(families))
