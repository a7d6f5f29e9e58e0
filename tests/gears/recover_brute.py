"""Recovery by trying out every wheel, in fractions, from the rules alone: the judge of the search.

Nothing of the search is used here, and nothing here is quick.
"""

import itertools
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from math import gcd, log

Pair = tuple[int, int]


def prints_as(ratio: Fraction, text: str, reading: str) -> bool:
    """Tell whether a ratio prints as the text, by the reading's own words."""
    printed = Fraction(text)
    unit = Fraction(1, 10 ** len(text.partition(".")[2]))
    if reading == "rounded":
        return printed - unit / 2 <= ratio <= printed + unit / 2
    if reading == "cut":
        return printed <= ratio < printed + unit
    if reading == "either":
        return prints_as(ratio, text, "rounded") or prints_as(ratio, text, "cut")
    assert reading == "misprint"
    return printed - 3 * unit / 2 <= ratio <= printed + 3 * unit / 2


def fillings(
    gears: Mapping[str, str],
    drivers: Sequence[int],
    driven: Sequence[int],
    *,
    layout: str = "layshaft",
    reading: str = "rounded",
    spread: int = 0,
    free_input: bool = False,
) -> dict[tuple[Pair, ...], float]:
    """Return every filling of a box with its weight; pairs in the order input, gears, R."""
    found = {}
    forward = [g for g in gears if g != "R"]
    pairs = list(itertools.product(drivers, driven))
    for first in pairs if layout == "layshaft" else [(1, 1)]:
        shared = Fraction(first[1], first[0])
        fit = {
            gear: [p for p in pairs if prints_as(shared * Fraction(p[1], p[0]), text, reading)]
            for gear, text in gears.items()
        }
        for chosen in itertools.product(*(fit[g] for g in (*forward, *(["R"] * ("R" in gears))))):
            own = list(chosen)
            back = own.pop() if "R" in gears else None
            tied = own if layout == "two-shaft" or free_input else [first, *own]
            sums = [a + b for a, b in tied]
            reference = sums[0] if tied is not own else sum(own[forward.index(min(forward))])
            if max(sums) - min(sums) > spread or (back and sum(back) + 4 > reference):
                continue
            teeth = (*([first] if layout == "layshaft" else []), *chosen)
            found[teeth] = _weight(
                first if layout == "layshaft" else None, own, back, reference, sums
            )
    return found


def _weight(
    first: Pair | None, own: list[Pair], back: Pair | None, reference: int, sums: list[int]
) -> float:
    meshing = [*([first] if first else []), *own]
    weight = -0.5 * ((reference - 50) / 9) ** 2
    weight -= sum(abs(s - reference) for s in sums)
    weight += 0.35 * sum(gcd(*pair) == 1 for pair in meshing)
    weight -= 0.6 * sum(
        max(0, 14 - t) for pair in [*meshing, *([back] if back else [])] for t in pair
    )
    if first:
        weight -= 0.5 * (log(first[1] / first[0] / 1.75) / 0.22) ** 2
    return weight


def in_order(found: Mapping[tuple[Pair, ...], float]) -> Iterator[tuple[tuple[Pair, ...], float]]:
    """Give fillings best first; weights alike to nine decimals in order of teeth."""
    yield from sorted(found.items(), key=lambda item: (-round(item[1], 9), item[0]))
