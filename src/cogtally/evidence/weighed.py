"""All parts of what can be true, worked out for one box and brought to one scale.

What is read off them is left to `assembled` (answers), `advice` and `account`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import exp, fsum, log

from cogtally.catalog.model import Catalog, Family
from cogtally.evidence.likelihood import HAND_PRIOR, UNCATALOGUED_PRIOR
from cogtally.evidence.parts import HANDS, LEAST_LOG, Counted, New, Ratios, Unknown, new_parts
from cogtally.evidence.prepared import Prepared, prepare
from cogtally.evidence.seen import SeenBox
from cogtally.gears.notation import Seen

#: Families are left out only where a bound proves all of them together to be below this share.
LEFT_OUT = 1e-12
#: Two bounds leave families out one after the other, and what was worked out and is next to nothing
#: goes too; each has this part of it.
PART_LEFT_OUT = LEFT_OUT / 5
#: The greatest power of e that a scale may differ from the total by; beyond, a value is 0 anyway.
_GREATEST_POWER = 700.0

Part = Counted | New | Ratios


@dataclass(frozen=True, eq=False)
class Weighed:
    """The parts of one question. Every weight is divided by the total of all.

    `families` were asked. `worked` are the parts that can matter; `scales[i][hand]` turns a value
    of `worked[i]` into a probability; `uncatalogued[hand]` is that of no family; `log_total`: log
    P(all that was seen).
    """

    ready: Prepared
    box: SeenBox
    families: tuple[Family, ...]
    parts: tuple[Part, ...]
    worked: tuple[Part, ...]
    scales: tuple[tuple[float, ...], ...]
    uncatalogued: tuple[float, ...]
    log_total: float

    def hands(self) -> list[float]:
        """Return the probability of each hand."""
        found = list(self.uncatalogued)
        for part, scales in zip(self.worked, self.scales, strict=True):
            for hand in HANDS:
                found[hand] += scales[hand] * part.values[hand]
        return found


def weigh(
    catalog: Catalog, seen: Seen, family: str | None = None, *, among_families: bool = False
) -> Weighed:
    """Work out every part that can matter; the last question asked of a catalog is kept.

    With `among_families` families are left out beside others alone, however little all of them
    weigh beside a box of no family.
    """
    ready = prepare(catalog)
    key = (seen, family, among_families)
    # Telling two questions apart is quicker than their hashes.
    if ready.last is not None and ready.last[0] == key:
        return ready.last[1]
    box = SeenBox(seen, ready.rho)
    families, commonness = catalog.families, ready.commonness
    if family is not None:
        one = catalog.by_id.get(family)
        families = () if one is None else (one,)
        commonness = fsum(s.commonness for f in families for s in f.sets)
    unknown = Unknown(box)
    total = LEAST_LOG
    if not among_families:
        total = max(unknown.logs) + log(UNCATALOGUED_PRIOR * min(HAND_PRIOR))
    parts = _parts(ready, families, box, commonness)
    worked = _work(parts, total)
    found = _scaled(ready, box, families, parts, worked, unknown)
    ready.last = key, found
    return found


def _of_hands(powers: Sequence[float]) -> tuple[float, ...]:
    """The prior of each hand times e to a power."""
    return tuple(
        prior * exp(min(power, _GREATEST_POWER))
        for prior, power in zip(HAND_PRIOR, powers, strict=True)
    )


def _parts(
    ready: Prepared, families: Sequence[Family], box: SeenBox, commonness: float
) -> list[Part]:
    """Every part of these families."""
    parts: list[Part] = []
    counted = []
    for one in families:
        if one.counted_sets:
            counted.append(Counted(ready, one, box, commonness))
            parts.append(counted[-1])
        parts.extend(Ratios(known, box, commonness) for known in ready.ratio_only(one))
    return [*parts, *new_parts(ready, [(c.family, c.view) for c in counted], box, commonness)]


def _work(parts: Sequence[Part], total: float) -> list[Part]:
    """Work out every part that can matter; the rest is below LEFT_OUT together.

    Quick bounds leave out what they can, sharper ones more of the rest. `total`: the log of what
    all of them share in at least.
    """
    if len(parts) == 1:
        parts[0].work()
        return list(parts)
    worked: dict[int, Part] = {}

    def work(number: int) -> None:
        nonlocal total
        part = worked[number] = parts[number]
        part.work()
        total = max([total, *(part.log_share(hand) for hand in HANDS)])

    for number, part in enumerate(parts):
        if part.is_quick:
            work(number)
    left_over = (number for number in range(len(parts)) if number not in worked)
    quick = {number: _greatest(parts[number].quick_bound) for number in left_over}
    if quick:
        work(max(quick, key=quick.__getitem__))
    left = {number: bound for number, bound in quick.items() if number not in worked}
    sharp = {n: _greatest(parts[n].log_bound) for n in _matter(left, total)}
    # The likeliest first: each part that is worked out may leave out more of the others.
    while sharp:
        matter = _matter(sharp, total)
        if not matter:
            break
        work(matter[0])
        del sharp[matter[0]]
    known = {number: _greatest(part.log_share) for number, part in worked.items()}
    # The likeliest stays: it may be all that stands against a box of no family.
    likeliest = sorted(known, key=known.__getitem__)[-1:]
    return [parts[number] for number in sorted({*_matter(known, total), *likeliest})]


def _greatest(bound: Callable[[int], float]) -> float:
    return max(bound(hand) for hand in HANDS)


def _matter(bounds: Mapping[int, float], total: float) -> list[int]:
    """The parts that are not below a part of LEFT_OUT together, the likeliest first."""
    order = sorted(bounds, key=bounds.__getitem__)
    left_out, limit = 0.0, PART_LEFT_OUT
    for place, number in enumerate(order):
        left_out += exp(min(bounds[number] - total, 0.0))
        if left_out > limit:
            return order[place:][::-1]
    return []


def _scaled(
    ready: Prepared,
    box: SeenBox,
    families: tuple[Family, ...],
    parts: Sequence[Part],
    worked: Sequence[Part],
    unknown: Unknown,
) -> Weighed:
    prior = UNCATALOGUED_PRIOR if parts else 1.0
    shares = [part.log_share(hand) for part in worked for hand in HANDS]
    top = max([*unknown.logs, *shares])
    nowhere = [prior * HAND_PRIOR[hand] * exp(unknown.logs[hand] - top) for hand in HANDS]

    scales = [_of_hands([part.scales[hand] - top for hand in HANDS]) for part in worked]
    total = fsum(nowhere) + fsum(
        scale * value
        for part, pair in zip(worked, scales, strict=True)
        for scale, value in zip(pair, part.values, strict=True)
    )
    return Weighed(
        ready,
        box,
        families,
        tuple(parts),
        tuple(worked),
        tuple(tuple(scale / total for scale in pair) for pair in scales),
        tuple(value / total for value in nowhere),
        top + log(total),
    )
