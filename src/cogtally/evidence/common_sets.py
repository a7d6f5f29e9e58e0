"""The sets that pieces of a family can have in common, as bit masks, and how they are counted.

Sums over configurations with any set in common are left to `contexts`.
"""

from __future__ import annotations

from collections.abc import Iterable


def signs_of(columns: Iterable[Iterable[int]], every: int) -> dict[int, int]:
    """Return the sets that pieces can have in common, with signs: inclusion and exclusion.

    `columns`: for each piece which sets carry each of its types; `every`: all sets. For every mask
    m, the signs of the masks inside m add up to 1.
    """
    common = {every}
    for masks in {tuple(sorted(set(column))) for column in columns}:
        common |= {mask & other for mask in masks for other in common}
    common.discard(0)
    signs: dict[int, int] = {}
    for mask in sorted(common, key=int.bit_count):
        signs[mask] = 1 - sum(sign for other, sign in signs.items() if other & mask == other)
    return signs
