"""All parts of what can be true, worked out for one box and brought to one scale.

What is read off them is left to `assembled` (answers), `advice` and `account`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import exp, fsum, log

from cogtally.catalog.model import Catalog, Family
from cogtally.evidence.likelihood import HAND_PRIOR, UNCATALOGUED_PRIOR
from cogtally.evidence.parts import HANDS, Counted, Ratios, Unknown
from cogtally.evidence.prepared import Prepared, prepare
from cogtally.evidence.seen import SeenBox
from cogtally.gears.notation import Seen

#: Families are left out only where a bound proves all of them together to be below this share.
LEFT_OUT = 1e-12
#: The greatest power of e that a scale may differ from the total by; beyond, a value is 0 anyway.
_GREATEST_POWER = 700.0

Part = Counted | Ratios


@dataclass(frozen=True, eq=False)
class Weighed:
    """The parts of one question. Every weight is divided by the total of all.

    `worked` are the parts that can matter; `scales[i][hand]` turns a value of `worked[i]` into a
    probability; `uncatalogued[hand]` is that of no family; `log_total`: log P(all that was seen).
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


def weigh(catalog: Catalog, seen: Seen, family: str | None = None) -> Weighed:
    """Work out every part that can matter; the last question asked of a catalog is kept."""
    ready = prepare(catalog)
    key = (seen, family)
    kept = ready.last.get(key)
    if isinstance(kept, Weighed):
        return kept
    box = SeenBox(seen, ready.rho)
    families = tuple(f for f in catalog.families if family is None or f.id == family)
    commonness = fsum(s.commonness for f in families for s in f.sets)
    parts: list[Part] = []
    for one in families:
        if one.counted_sets:
            parts.append(Counted(ready, one, box, commonness))
        parts.extend(Ratios(known, box, commonness) for known in ready.ratio_only(one))
    unknown = Unknown(box)
    found = _scaled(ready, box, families, parts, _work(parts, unknown), unknown)
    ready.last.clear()
    ready.last[key] = found
    return found


def _work(parts: Sequence[Part], unknown: Unknown) -> list[Part]:
    """Work out every part that can matter; the rest is below LEFT_OUT together.

    Quick bounds leave out what they can, sharper ones more of the rest.
    """
    total = max(unknown.logs) + log(UNCATALOGUED_PRIOR * min(HAND_PRIOR))
    quick = {number: _greatest(part.quick_bound) for number, part in enumerate(parts)}
    worked: dict[int, Part] = {}

    def work(number: int) -> None:
        nonlocal total
        part = worked[number] = parts[number]
        part.work()
        total = max([total, *(part.log_share(hand) for hand in HANDS)])

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
        sharp = {number: sharp[number] for number in matter[1:]}
    return [worked[number] for number in sorted(worked)]


def _greatest(bound: Callable[[int], float]) -> float:
    return max(bound(hand) for hand in HANDS)


def _matter(bounds: Mapping[int, float], total: float) -> list[int]:
    """The parts that are not below half of LEFT_OUT together, the likeliest first."""
    order = sorted(bounds, key=bounds.__getitem__)
    left_out, limit = 0.0, LEFT_OUT / 2
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
    scales = [
        [HAND_PRIOR[hand] * exp(min(part.scales[hand] - top, _GREATEST_POWER)) for hand in HANDS]
        for part in worked
    ]
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
