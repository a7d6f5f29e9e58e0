"""All parts of what can be true, worked out for one box and brought to one scale.

What is read off them is left to `assembled` (answers), `advice` and `account`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from math import exp, fsum, log
from typing import TYPE_CHECKING

from cogtally.catalog.model import Catalog, Family
from cogtally.evidence.likelihood import HAND_PRIOR, UNCATALOGUED_PRIOR
from cogtally.evidence.parts import HANDS, LEAST_LOG, Counted, Ratios, Unknown
from cogtally.evidence.prepared import ASKED_OF_MANY, Prepared, prepare
from cogtally.evidence.seen import SeenBox
from cogtally.gears.notation import Seen

if TYPE_CHECKING:
    from cogtally.evidence.framed import Frames
    from cogtally.evidence.stacked import Stacks
    from cogtally.evidence.stacked_asked import Worked

#: Families are left out only where a bound proves all of them together to be below this share.
LEFT_OUT = 1e-12
#: Three bounds leave families out one after the other, what was worked out and is next to nothing
#: goes too, and of very many answers some are not listed; each has this part of it.
PART_LEFT_OUT = LEFT_OUT / 5
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

    `families` were asked; of a catalog that is read in part those in the stacks are not among them.
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
    catalog: Catalog,
    seen: Seen,
    family: str | None = None,
    *,
    stack: bool = True,
    among_families: bool = False,
) -> Weighed:
    """Work out every part that can matter; the last question asked of a catalog is kept.

    Without `stack` nothing is worked out in arrays. With `among_families` families are left out
    beside others alone, however little all of them weigh beside a box of no family.
    """
    ready = prepare(catalog)
    key = (seen, family, stack, among_families)
    # Telling two questions apart is quicker than their hashes.
    if ready.last is not None and ready.last[0] == key:
        return ready.last[1]
    box = SeenBox(seen, ready.rho)
    may_stack = stack and box.observed is None and family is None
    plain = stack and not box.turns and box.observed is None
    few = ready.shortcuts is None and len(catalog.families) < ENOUGH
    stacks = ready.known_stacks() if may_stack and not few else None
    if stacks is not None:
        stacks = _fitting(stacks, box)
    families = _asked(ready, seen, box, family, stacks)
    commonness = ready.commonness
    if family is not None:
        commonness = fsum(s.commonness for f in families for s in f.sets)
    unknown = Unknown(box)
    total = LEAST_LOG
    if not among_families:
        total = max(unknown.logs) + log(UNCATALOGUED_PRIOR * min(HAND_PRIOR))
    quick: dict[int, float] = {}
    parts: list[Part] = []
    stacked: list[Worked] = []
    if may_stack and stacks is None and len(families) >= ENOUGH:
        # A turn test ties pieces: one family by itself takes several times as long as without.
        many = len(families) >= MANY or bool(box.turns) or ready.asked_often(ASKED_OF_MANY)
        if not many:
            parts = _parts(ready, families, box, commonness)
            quick = {number: _greatest(part.quick_bound) for number, part in enumerate(parts)}
            least = max([total, *quick.values()])
            many = len(parts) >= ENOUGH and len(_matter(quick, least)) >= ENOUGH
        stacks = _fitting(ready.stacked(), box) if many else None
    if stacks is not None:
        from cogtally.evidence.stacked_work import work_stacks

        stacked, total = work_stacks(stacks, box, total, PART_LEFT_OUT)
        quick = {}
        frames = ready.frames() if plain and len(stacks.others) < ENOUGH else None
        parts = _parts(ready, stacks.others, box, commonness, stacks, frames)
    elif not parts:
        frames = ready.frames() if plain and len(families) < ENOUGH else None
        parts = _parts(ready, families, box, commonness, frames=frames)
    worked = _work(parts, quick, total)
    found = _scaled(ready, box, families, parts, worked, stacked, unknown)
    ready.last = key, found
    return found


def _fitting(stacks: Stacks, box: SeenBox) -> Stacks:
    """The families in arrays of whose gears the turn tests can be brought into the sums."""
    if not box.turns:
        return stacks
    from cogtally.evidence.stacked_tested import fitting

    return fitting(stacks, box)


def _asked(
    ready: Prepared, seen: Seen, box: SeenBox, family: str | None, stacks: Stacks | None
) -> tuple[Family, ...]:
    """The families that are asked one by one, and those in the stacks where they are read."""
    if family is not None:
        one = ready.catalog.by_id.get(family)
        return () if one is None else (one,)
    if ready.shortcuts is None:
        return ready.catalog.families
    return ready.shortcuts.that_matter(seen, box, ready.rho) if stacks is None else stacks.others


def taken_apart(weighed: Weighed, least: float, most: int | None = None) -> Weighed:
    """Return the question with its likeliest families taken out of the arrays, as parts.

    Those that stay there, up to a share of `least` together or all behind the `most` likeliest,
    count as of no family: as one whole of which nothing is known.
    """
    if not weighed.stacked:
        return weighed
    of_hand: dict[int, Sequence[float]] = {}
    for stack, scales in zip(weighed.stacked, weighed.stacked_scales, strict=True):
        values = (stack.value.T * scales).tolist()
        of_hand.update(zip(stack.ready.block.numbers.tolist(), values, strict=True))
    order = sorted(of_hand, key=lambda each: sum(of_hand[each]))
    left_out, place = 0.0, 0
    while place < len(order):
        left_out += sum(of_hand[order[place]])
        if left_out > least:
            break
        place += 1
    kept = set(order[place:] if most is None else order[max(place, len(order) - most) :])
    parts: list[Part] = []
    for one in weighed.stacked[0].ready.block.roll.families(kept):
        parts.append(Counted(weighed.ready, one, weighed.box, weighed.ready.commonness))
        parts[-1].work()
    powers = [[part.scales[hand] - weighed.log_total for hand in HANDS] for part in parts]
    return replace(
        weighed,
        parts=(*weighed.parts, *parts),
        worked=(*weighed.worked, *parts),
        scales=(*weighed.scales, *map(_of_hands, powers)),
        uncatalogued=tuple(
            fsum([none, *(pair[hand] for number, pair in of_hand.items() if number not in kept)])
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
    stacks: Stacks | None = None,
    frames: Frames | None = None,
) -> list[Part]:
    """Every part of these families, the counted sets of those in `stacks` aside."""
    counted = partial(Counted, ready) if frames is None else frames.part
    parts: list[Part] = []
    for one in families:
        if one.counted_sets and (stacks is None or one.id not in stacks.ids):
            parts.append(counted(one, box, commonness))
        parts.extend(Ratios(known, box, commonness) for known in ready.ratio_only(one))
    return parts


def _work(parts: Sequence[Part], quick: Mapping[int, float], total: float) -> list[Part]:
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
    if not quick:
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
