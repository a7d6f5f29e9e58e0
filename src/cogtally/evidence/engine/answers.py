"""The posterior of an assembled box, read off all parts of what can be true.

The parts and their weights are left to `weigh`, the reading in words to `verdict`.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import log
from typing import NamedTuple

import numpy as np

from cogtally.catalog.model import Catalog
from cogtally.evidence.engine.around import arounds_of
from cogtally.evidence.engine.question import Question
from cogtally.evidence.engine.ready import ready
from cogtally.evidence.engine.stack import Array, row_in
from cogtally.evidence.engine.weigh import Weighed, weigh
from cogtally.evidence.laws import HAND_PRIOR
from cogtally.evidence.posterior import (
    MATCHED,
    NEW,
    REST,
    PieceShare,
    Posterior,
    Share,
    Shares,
)
from cogtally.gears.notation import Seen

#: The greatest power of e that a scale may differ from the total by; beyond, a value is 0 anyway.
_GREATEST_POWER = 700.0


class Read:
    """The parts of a question about one box as probabilities of the whole, by hand.

    `unknown` [hand]: a box of no family; `printed` [hand], of each set known by printed ratios
    only; `new` [family, hand], of each stack; `scale` [family, hand], of each part: what turns
    values of counted sets into probabilities. `steady`: the probability of a steady hand.
    """

    def __init__(self, weighed: Weighed) -> None:
        hands = np.log(HAND_PRIOR)
        logs = [
            weighed.uncatalogued + hands,
            *(each.logs + hands for each in weighed.printed),
            *(each.log_scale + hands for each in weighed.new),
            *(each.log_scale + hands for each in weighed.parts),
        ]
        top = max(float(each.max()) for each in logs)
        unknown, *rest = (np.exp(np.minimum(each - top, _GREATEST_POWER)) for each in logs)
        printed, behind = rest[: len(weighed.printed)], rest[len(weighed.printed) :]
        new = [one.value * scale for one, scale in zip(weighed.new, behind, strict=False)]
        scales = behind[len(new) :]
        counted = [one.whole * scale for one, scale in zip(weighed.parts, scales, strict=True)]
        by_hand = unknown + sum(printed) + sum(each.sum(axis=0) for each in [*new, *counted])
        total = float(by_hand.sum())
        self.log_total = top + log(total)
        self.steady = float(by_hand[0]) / total
        self.unknown = unknown / total
        self.printed, self.new, self.scale = (
            [each / total for each in parts] for parts in (printed, new, scales)
        )

    def counted(self, number: int, values: Array) -> Array:
        """Return values of the counted sets of a part as probabilities: [family, hand, …]."""
        scale = self.scale[number]
        return values * scale.reshape(*scale.shape, *[1] * (values.ndim - 2))


class Asking(NamedTuple):
    """One question with all parts of what can be true, read as probabilities, and the posterior."""

    weighed: Weighed
    read: Read
    posterior: Posterior


def ask(catalog: Catalog, seen: Seen, family: str | None = None) -> Asking:
    """Return what one box comes to; `family` (an id) restricts what is catalogued to one.

    ρ is of the whole catalog either way. The last question asked of a catalog is kept.
    """
    known = ready(catalog)
    key = seen, family
    # Telling two questions apart is quicker than their hashes.
    if known.last is not None and known.last[0] == key:
        found: Asking = known.last[1]
        return found
    weighed = weigh(known, Question([seen], known.rho), family)
    read = Read(weighed)
    found = Asking(weighed, read, read_posterior(weighed, read))
    known.last = key, found
    return found


def posterior(catalog: Catalog, seen: Seen, family: str | None = None) -> Posterior:
    """Return the exact posterior of a box; `family` (an id) restricts what is catalogued to one.

    Sums are exact but for rounding, and for families that a bound proves to be below 1e-12 of the
    total together.
    """
    return ask(catalog, seen, family).posterior


def printed_groups(weighed: Weighed) -> dict[tuple[int, object], list[int]]:
    """Return the sets known by printed ratios that print alike, by family and ratios."""
    found: dict[tuple[int, object], list[int]] = {}
    for place, one in enumerate(weighed.printed):
        found.setdefault((one.number, one.known.key), []).append(place)
    return found


#: What stands for a base set where an answer is a family's new set; groups of sets known by print
#: are counted down from below it.
_NEW = 1 << 20


def read_posterior(weighed: Weighed, read: Read) -> Posterior:
    """Read the answers off the parts of one question."""
    known = weighed.ready
    shares = np.zeros(len(known.ids))
    # Named answers: of which families and base sets, and how probable.
    answers: list[tuple[Array, Array, Array]] = []
    so_far: list[tuple[Array, Array, Array]] = []
    rest = np.zeros(2)
    counted: set[int] = set()
    for number, part in enumerate(weighed.parts):
        stack = part.stack
        whole = read.counted(number, part.whole).sum(axis=1)
        shares[stack.numbers] += whole
        rest += [read.counted(number, each).sum() for each in part.rest]
        if not part.asked.lacks:
            matched = read.counted(number, part.matched).sum(axis=1)
            rows, bases = np.nonzero(stack.arrays["base"] > 0)
            answers.append((stack.numbers[rows], bases, matched[rows, bases]))
        rows, bases = np.nonzero(part.firsts)
        if rows.size:
            of_group = read.counted(number, part.groups).sum(axis=1)
            so_far.append((stack.numbers[rows], bases, of_group[rows, bases]))
    for number, each in enumerate(weighed.new):
        new = read.new[number].sum(axis=1)
        numbers = each.stack.numbers
        shares[numbers] += new
        answers.append((numbers, np.full(len(numbers), _NEW), new))
        if each.asked.wheels:
            counted.update(numbers.tolist())
    counted.update(one.number for one in weighed.printed if one.wheels)
    groups = list(printed_groups(weighed).items())
    for place, ((number, _), members) in enumerate(groups):
        share = np.array([sum(float(read.printed[m].sum()) for m in members)])
        shares[number] += share[0]
        one = np.array([number]), np.array([_NEW + 1 + place]), share
        answers.append(one)
        if number in counted:
            so_far.append(one)

    def sets_of(number: int, base: int) -> tuple[str, ...]:
        if base > _NEW:
            members = groups[base - _NEW - 1][1]
            return tuple(weighed.printed[m].known.known.id for m in members)
        return known.set_ids(number)[base]

    def answer(number: int, base: int, share: float) -> Share:
        if base == _NEW:
            return Share(NEW, share, known.ids[number])
        return Share(MATCHED, share, known.ids[number], sets_of(number, base))

    def group(number: int, base: int, share: float) -> Share:
        at = weighed.place_of(number)
        if base > _NEW or at is None:
            return Share(MATCHED, share, known.ids[number], sets_of(number, base))
        (bases,) = np.nonzero(weighed.parts[at[0]].together[at[1], base])
        sets = sorted(place for b in bases.tolist() for place in known.base_sets(number)[b])
        names = [known.family(number).counted_sets[place].id for place in sets]
        return Share(MATCHED, share, known.ids[number], tuple(names))

    others = [*rest.tolist(), float(read.unknown.sum())]
    leading = int(shares.argmax()) if shares.size else None
    return Posterior(
        answers=Shares(*_falling(answers), answer, known.places, tuple(map(Share, REST, others))),
        so_far=Shares(*_falling(so_far), group, known.places),
        families=dict(zip(known.ids, shares.tolist(), strict=True)),
        leading="" if leading is None else known.ids[leading],
        pieces=() if leading is None else pieces_of(weighed, read, leading),
        steady=read.steady,
        log_evidence=read.log_total,
    )


def _falling(
    listed: Sequence[tuple[Array, Array, Array]],
) -> tuple[list[int], list[int], list[float]]:
    """Named answers, falling, in the order of the catalog where they are equal."""
    nothing = np.zeros(0, dtype=int), np.zeros(0, dtype=int), np.zeros(0)
    numbers, bases, shares = map(np.concatenate, zip(nothing, *listed, strict=True))
    order = np.lexsort((bases, numbers, -shares))
    return numbers[order].tolist(), bases[order].tolist(), shares[order].tolist()


def pieces_of(weighed: Weighed, read: Read, number: int) -> tuple[PieceShare, ...]:
    """Return every type of every piece of one family; those of its new set are unlisted."""
    family = weighed.ready.family(number)
    at = row_in([each.stack for each in weighed.new], number)
    new = 0.0 if at is None else float(read.new[at[0]][at[1]].sum())
    at = weighed.place_of(number)
    if at is None:
        return tuple(PieceShare(family.id, p.name, None, (), new) for p in family.pieces if new)
    part, row = at
    (around,) = arounds_of(weighed, {part: np.array([row])}, whole=True).values()
    shares = []
    for piece, values in zip(family.pieces, around.by_kind, strict=True):
        types = family.types[piece.name]
        mine = read.scale[part][row] @ values[0, 0]
        for kind, share in zip(types, mine[: len(types)].tolist(), strict=True):
            shares.append(PieceShare(family.id, piece.name, kind.teeth, kind.sets, share))
        unlisted = float(mine[-1]) + new
        shares.append(PieceShare(family.id, piece.name, None, (), unlisted))
    return tuple(shares)
