"""Measure the kits: a large shelf made into complete sets, by value and by count.

The catalog is made by `benchmark`; the part prints a table, so that it can be one of its parts.
"""

from __future__ import annotations

import random
import sys
import time
from decimal import Decimal
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from cogtally.catalog.model import Catalog
from cogtally.shelf.kits import COUNT, VALUE, Part, make_kits

SEED = 20260101
PIECES, FAMILIES = 2_000, 50


def shelf(catalog: Catalog, number: int) -> list[Part]:
    """Return seeded parts, each of a type of the catalog, one in ten without a price."""
    dice = random.Random(SEED)
    found = []
    for item in range(1, number + 1):
        family = dice.choice(catalog.families)
        piece = dice.choice(family.pieces)
        kind = dice.choice(family.types[piece.name])
        slots = {(family.id, family.counted_sets[c].id, piece.name) for c in kind.carriers}
        price = None if dice.random() < 0.1 else Decimal(dice.randint(400, 30_000)) / 100
        found.append(Part(item, frozenset(slots), price))
    return found


def kits() -> None:
    """Complete sets from 2,000 pieces of 50 families: CPU time, and what they come to."""
    from benchmark import made

    print("| pieces | families | by | sets made | value | CPU s |")
    print("| --- | --- | --- | --- | --- | --- |")
    catalog = made(FAMILIES)
    parts = shelf(catalog, PIECES)
    for by in (VALUE, COUNT):
        start = time.process_time()
        found = make_kits(catalog.families, parts, by)
        took = time.process_time() - start
        row = (f"{PIECES:,}", FAMILIES, by, len(found.kits), f"{found.value:,}", f"{took:.1f}")
        print(f"| {' | '.join(map(str, row))} |")


PARTS = {"kits": kits}

if __name__ == "__main__":
    kits()
