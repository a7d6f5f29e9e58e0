"""Measure the kits: a large shelf made into complete sets, by value and by count.

The catalog is made by `benchmark_catalogs`; the part prints a table of `benchmark`.
"""

from __future__ import annotations

import random
from decimal import Decimal

from benchmark_catalogs import made
from benchmark_measure import SEED, Scale, cost, head, row

from cogtally.catalog.model import Catalog
from cogtally.shelf.kits import COUNT, VALUE, Kits, Part, make_kits

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


def kits(scale: Scale) -> None:
    """Complete sets from 2,000 pieces of 50 families: CPU time, and what they come to."""
    head("pieces", "families", "by", "sets made", "value", "s CPU")
    catalog = made(scale.share(FAMILIES))
    parts = shelf(catalog, scale.share(PIECES))
    found: list[Kits] = []
    for by in (VALUE, COUNT):
        took = cost(lambda b=by: found.append(make_kits(catalog.families, parts, b)))
        number, value = len(found[-1].kits), f"{found[-1].value:,}"
        row(f"{len(parts):,}", len(catalog.families), by, number, value, f"{took.cpu:.1f}")


PARTS = {"kits": kits}
