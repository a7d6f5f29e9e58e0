"""All parts of what can be true, worked out for one box and brought to one scale.

What is read off them is left to `assembled` (answers), `advice` and `account`.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from math import exp, fsum, log
from typing import TYPE_CHECKING

from cogtally.catalog.model import Catalog, Family
from cogtally.evidence.likelihood import HAND_PRIOR, UNCATALOGUED_PRIOR
from cogtally.evidence.parts import HANDS, Counted, Ratios, Unknown
from cogtally.evidence.prepared import Prepared, prepare
from cogtally.evidence.seen import SeenBox
from cogtally.gears.notation import Seen

if TYPE_CHECKING:
    from cogtally.evidence.stacked_asked import Worked

#: Families are left out only where a bound proves all of them together to be below this share.
LEFT_OUT = 1e-12
#: Three bounds leave families out one after the other, and of very many answers some are not
#: listed; each has this part of it.
PART_LEFT_OUT = LEFT_OUT / 4
#: So many families that can matter pay for loading numpy and stacking them in arrays.
ENOUGH = 60
#: So many families are stacked without asking each of them first.
MANY = 600
#: The greatest power of e that a scale may differ from the total by; beyond, a value is 0 anyway.
_GREATEST_POWER = 700.0

Part = Counted | Ratios


@dataclass(frozen=True, eq=False)
class Weighed:
    """The parts of one question. Every weight is divided by the total of all.

    `worked` are the parts that can matter; `scales[i][hand]` turns a value of `worked[i]` into a
    probability; `uncatalogued[hand]` is that of no family; `log_total`: log P(all that was seen).
    `stacked` and `stacked_scales`: the same of families that were worked out in arrays, which are
    in no part.
    """

    ready: Prepared
    box: SeenBox
    families: tuple[Family, ...]
    parts: tuple[Part, ...]
    worked: tuple[Part, ...]
    scales: tuple[tuple[float, ...], ...]
    uncatalogued: tuple[float, ...]
    log_total: float
    stacked: tuple[Worked, ...] = ()
    stacked_scales: tuple[tuple[float, ...], ...] = ()

    def hands(self) -> list[float]:
        """Return the probability of each hand."""
        found = list(self.uncatalogued)
        for part, scales in zip(self.worked, self.scales, strict=True):
            for hand in HANDS:
                found[hand] += scales[hand] * part.values[hand]
        for stack, scales in zip(self.stacked, self.stacked_scales, strict=True):
            for hand in HANDS:
                found[hand] += scales[hand] * float(stack.value[hand].sum())
        return found


def weigh(
    catalog: Catalog, seen: Seen, family: str | None = None, *, stack: bool = True
) -> Weighed:
    """Work out every part that can matter; the last question asked of a catalog is kept.

    Without `stack` nothing is worked out in arrays.
    """
    ready = prepare(catalog)
    key = (seen, family, stack)
    kept = ready.last.get(key)
    if isinstance(kept, Weighed):
        return kept
    box = SeenBox(seen, ready.rho)
    commonness = ready.commonness
    if family is None and ready.shortcuts is not None:
        families = ready.shortcuts.that_matter(seen, box, ready.rho)
    else:
        families = catalog.families
    if family is not None:
        families = tuple(f for f in families if f.id == family)
        commonness = fsum(s.commonness for f in families for s in f.sets)
    unknown = Unknown(box)
    total = max(unknown.logs) + log(UNCATALOGUED_PRIOR * min(HAND_PRIOR))
    quick: dict[int, float] = {}
    parts: list[Part] = []
    stacked: list[Worked] = []
    # Of a catalog that is read in part fewer families than are worth stacking are there.
    whole = family is None and (ready.shortcuts is None or len(families) >= ENOUGH)
    may_stack = stack and whole and not seen.turns and box.observed is None
    if may_stack and ready.stacks is None and len(families) < MANY:
        parts = _parts(ready, families, box, commonness)
        quick = {number: _greatest(part.quick_bound) for number, part in enumerate(parts)}
        least = max([total, *quick.values()])
        may_stack = len(parts) >= ENOUGH and len(_matter(quick, least)) >= ENOUGH
    if may_stack and len(families) >= ENOUGH:
        from cogtally.evidence.stacked_work import work_stacks

        stacks = ready.stacked()
        stacked, total = work_stacks(stacks, box, total, PART_LEFT_OUT)
        quick = {}
        parts = _parts(ready, stacks.others, box, commonness, stacks.ids)
    elif not parts:
        parts = _parts(ready, families, box, commonness)
    worked = _work(parts, quick, total)
    found = _scaled(ready, box, families, parts, worked, stacked, unknown)
    ready.last.clear()
    ready.last[key] = found
    return found


def taken_apart(weighed: Weighed, least: float, most: int | None = None) -> Weighed:
    """Return the question with its likeliest families taken out of the arrays, as parts.

    Those that stay there, up to a share of `least` together or all behind the `most` likeliest,
    count as of no family: as one whole of which nothing is known.
    """
    if not weighed.stacked:
        return weighed
    of_hand: dict[str, Sequence[float]] = {}
    for stack, scales in zip(weighed.stacked, weighed.stacked_scales, strict=True):
        values = (stack.value.T * scales).tolist()
        of_hand.update(zip((f.id for f in stack.ready.block.families), values, strict=True))
    order = sorted(of_hand, key=lambda each: sum(of_hand[each]))
    left_out, place = 0.0, 0
    while place < len(order):
        left_out += sum(of_hand[order[place]])
        if left_out > least:
            break
        place += 1
    kept = set(order[place:] if most is None else order[max(place, len(order) - most) :])
    parts: list[Part] = []
    for one in weighed.families:
        if one.id in kept:
            parts.append(Counted(weighed.ready, one, weighed.box, weighed.ready.commonness))
            parts[-1].work()
    powers = [[part.scales[hand] - weighed.log_total for hand in HANDS] for part in parts]
    return replace(
        weighed,
        parts=(*weighed.parts, *parts),
        worked=(*weighed.worked, *parts),
        scales=(*weighed.scales, *map(_of_hands, powers)),
        uncatalogued=tuple(
            fsum([none, *(pair[hand] for name, pair in of_hand.items() if name not in kept)])
            for hand, none in enumerate(weighed.uncatalogued)
        ),
        stacked=(),
        stacked_scales=(),
    )


def _of_hands(powers: Sequence[float]) -> tuple[float, ...]:
    """The prior of each hand times e to a power."""
    return tuple(
        prior * exp(min(power, _GREATEST_POWER))
        for prior, power in zip(HAND_PRIOR, powers, strict=True)
    )


def _parts(
    ready: Prepared,
    families: Sequence[Family],
    box: SeenBox,
    commonness: float,
    stacked: Collection[str] = (),
) -> list[Part]:
    """Every part of these families, the counted sets of those in `stacked` aside."""
    parts: list[Part] = []
    for one in families:
        if one.counted_sets and one.id not in stacked:
            parts.append(Counted(ready, one, box, commonness))
        parts.extend(Ratios(known, box, commonness) for known in ready.ratio_only(one))
    return parts


def _work(parts: Sequence[Part], quick: Mapping[int, float], total: float) -> list[Part]:
    """Work out every part that can matter; the rest is below LEFT_OUT together.

    Quick bounds leave out what they can, sharper ones more of the rest. `total`: the log of what
    all of them share in at least.
    """
    quick = quick or {n: _greatest(part.quick_bound) for n, part in enumerate(parts)}
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
        del sharp[matter[0]]
    return [worked[number] for number in sorted(worked)]


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
    stacked: Sequence[Worked],
    unknown: Unknown,
) -> Weighed:
    prior = UNCATALOGUED_PRIOR if parts or stacked else 1.0
    shares = [part.log_share(hand) for part in worked for hand in HANDS]
    if stacked:
        from cogtally.evidence.stacked_work import greatest_log

        shares += [greatest_log(stack) for stack in stacked]
    top = max([*unknown.logs, *shares])
    nowhere = [prior * HAND_PRIOR[hand] * exp(unknown.logs[hand] - top) for hand in HANDS]

    def scales_of(each: Part | Worked) -> tuple[float, ...]:
        return _of_hands([each.scales[hand] - top for hand in HANDS])

    scales = [scales_of(part) for part in worked]
    of_stacks = [scales_of(stack) for stack in stacked]
    total = fsum(nowhere) + fsum(
        scale * value
        for part, pair in zip(worked, scales, strict=True)
        for scale, value in zip(pair, part.values, strict=True)
    )
    total += fsum(
        scale * float(value.sum())
        for stack, pair in zip(stacked, of_stacks, strict=True)
        for scale, value in zip(pair, stack.value, strict=True)
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
        tuple(stacked),
        tuple(tuple(scale / total for scale in pair) for pair in of_stacks),
    )
