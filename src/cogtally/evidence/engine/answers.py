"""The posterior of an assembled box, read off all parts of what can be true.

The parts and their weights are left to `weigh`, the reading in words to `verdict`.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from math import log
from typing import NamedTuple

import numpy as np

from cogtally.catalog.model import Catalog
from cogtally.evidence.engine.meshes import Meshes
from cogtally.evidence.engine.question import HANDS, MeshTables, Question, Tables, looks_of
from cogtally.evidence.engine.ready import ready
from cogtally.evidence.engine.stack import Array
from cogtally.evidence.engine.sums import Sums, whole_only
from cogtally.evidence.engine.weigh import Part, Weighed, families_of, weigh
from cogtally.evidence.posterior import (
    MATCHED,
    MIXED,
    NEW,
    UNCATALOGUED,
    VARIANT,
    PieceShare,
    Posterior,
    Share,
    Shares,
)
from cogtally.gears.notation import Seen

#: The greatest power of e that a scale may differ from the total by; beyond, a value is 0 anyway.
_GREATEST_POWER = 700.0


#: The last two questions: the whole box from both hands.
WHOLE_BOX = slice(-len(HANDS), None)


class Read:
    """One part of a question as probabilities of the whole; the last two questions, its hands.

    `asked`: which questions are read, one of each hand.
    """

    def __init__(self, weighed: Weighed, asked: slice = WHOLE_BOX) -> None:
        self.weighed = weighed
        self.asked = asked
        hands = weighed.log_hands[asked]
        unknown = weighed.uncatalogued[asked] + hands
        printed = [p.logs[asked] + hands for p in weighed.printed]
        counted = [p.log_scale[:, asked] + hands for p in weighed.parts]
        new = [p.log_scale[:, asked] + hands for p in weighed.new]
        every = [unknown, *printed, *counted, *new]
        top = max(float(each.max()) for each in every)

        def scale(logs: Array) -> Array:
            return np.exp(np.minimum(logs - top, _GREATEST_POWER))

        self._unknown = scale(unknown)
        self._printed = [scale(each) for each in printed]
        self._counted = [scale(each) for each in counted]
        self._new = [scale(each) for each in new]
        total = float(self._unknown.sum() + sum(each.sum() for each in self._printed))
        for part, of_counted in zip(weighed.parts, self._counted, strict=True):
            total += float((part.whole[:, asked] * of_counted).sum())
        for each, of_new in zip(weighed.new, self._new, strict=True):
            total += float((each.value[:, asked] * of_new).sum())
        self.total = total
        self.log_total = top + log(total)

    @property
    def unknown(self) -> Array:
        """The probability of a box of no family, by hand."""
        return self._unknown / self.total

    def printed(self, number: int) -> Array:
        """Return the probability of a set known by printed ratios only, by hand."""
        return self._printed[number] / self.total

    def scale(self, number: int) -> Array:
        """Return what turns values of the counted sets of a part into probabilities."""
        return self._counted[number] / self.total

    def counted(self, number: int, values: Array) -> Array:
        """Return values of the counted sets of a part as probabilities: [family, hand, …]."""
        scale = self.scale(number)
        mine = values[:, self.asked]
        return mine * scale.reshape(*scale.shape, *[1] * (mine.ndim - 2))

    def new(self, number: int) -> Array:
        """Return the probability of the new sets of a stack: [family, hand]."""
        return self.weighed.new[number].value[:, self.asked] * self._new[number] / self.total

    @cached_property
    def hands(self) -> Array:
        """The probability of each hand."""
        found = self.unknown + sum(self.printed(n) for n in range(len(self._printed)))
        for number, part in enumerate(self.weighed.parts):
            found = found + self.counted(number, part.whole).sum(axis=0)
        for number in range(len(self.weighed.new)):
            found = found + self.new(number).sum(axis=0)
        return np.asarray(found)


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


class _Listed:
    """Named answers being gathered: of which family, kind and base set, and how probable."""

    def __init__(self) -> None:
        self.numbers: list[Array] = []
        self.bases: list[Array] = []
        self.shares: list[Array] = []

    def add(self, numbers: Array, bases: Array, shares: Array) -> None:
        self.numbers.append(numbers)
        self.bases.append(bases)
        self.shares.append(shares)

    def falling(self) -> tuple[list[int], list[int], list[float]]:
        """Return all of them, falling, in the order of the catalog where they are equal."""
        numbers, bases, shares = (
            np.concatenate([np.zeros(0), *each]) for each in (self.numbers, self.bases, self.shares)
        )
        order = np.lexsort((bases, numbers, -shares))
        return (
            numbers[order].astype(int).tolist(),
            bases[order].astype(int).tolist(),
            shares[order].tolist(),
        )


#: What stands for a base set where an answer is a family's new set; groups of sets known by print
#: are counted down from below it.
_NEW = 1 << 20


def read_posterior(weighed: Weighed, read: Read) -> Posterior:
    """Read the answers off the parts of one question."""
    known = weighed.ready
    shares = np.zeros(len(known.ids))
    answers, so_far = _Listed(), _Listed()
    mixed = variant = 0.0
    counted: set[int] = set()
    for number, part in enumerate(weighed.parts):
        stack = part.stack
        whole = read.counted(number, part.whole).sum(axis=1)
        related = read.counted(number, part.related).sum(axis=1)
        matched = read.counted(number, part.matched).sum(axis=1)
        shares[stack.numbers] += whole
        mixed += float(np.maximum(whole - related, 0.0).sum())
        rows, bases = np.nonzero(stack.arrays["base"] > 0)
        if part.asked.lacks:
            variant += float(related.sum())
        else:
            variant += float(np.maximum(related - matched.sum(axis=1), 0.0).sum())
            answers.add(stack.numbers[rows], bases, matched[rows, bases])
        rows, bases = np.nonzero(part.firsts)
        if rows.size:
            of_group = read.counted(number, part.groups).sum(axis=1)
            so_far.add(stack.numbers[rows], bases, of_group[rows, bases])
    for number, each in enumerate(weighed.new):
        new = read.new(number).sum(axis=1)
        numbers = each.stack.numbers
        shares[numbers] += new
        answers.add(numbers, np.full(len(numbers), _NEW), new)
        if each.asked.wheels:
            counted.update(numbers.tolist())
    counted.update(one.number for one in weighed.printed if one.wheels)
    groups = list(printed_groups(weighed).items())
    for place, ((number, _), members) in enumerate(groups):
        share = np.array([sum(float(read.printed(m).sum()) for m in members)])
        shares[number] += share[0]
        at = np.array([number]), np.array([_NEW + 1 + place])
        answers.add(*at, share)
        if number in counted:
            so_far.add(*at, share)

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
        sets = sets_of(number, base)
        if base < _NEW:
            sets = weighed.group_sets(number, base)
        return Share(MATCHED, share, known.ids[number], sets)

    rest = (
        Share(MIXED, mixed),
        Share(VARIANT, variant),
        Share(UNCATALOGUED, float(read.unknown.sum())),
    )
    leading = int(shares.argmax()) if shares.size else None
    return Posterior(
        answers=Shares(*answers.falling(), answer, known.places, rest),
        so_far=Shares(*so_far.falling(), group, known.places),
        families=dict(zip(known.ids, shares.tolist(), strict=True)),
        leading="" if leading is None else known.ids[leading],
        pieces=() if leading is None else pieces_of(weighed, read, leading),
        steady=float(read.hands[0]),
        log_evidence=read.log_total,
    )


def pieces_of(weighed: Weighed, read: Read, number: int) -> tuple[PieceShare, ...]:
    """Return every type of every piece of one family; those of its new set are unlisted."""
    new = 0.0
    for place, each in enumerate(weighed.new):
        (rows,) = np.nonzero(each.stack.numbers == number)
        if rows.size:
            new = float(read.new(place)[rows[0]].sum())
    for place, part in enumerate(weighed.parts):
        (rows,) = np.nonzero(part.stack.numbers == number)
        if rows.size:
            scale = read.scale(place)[rows[0]]
            found = _by_kind(weighed, part, rows, read.asked)
            return tuple(_piece_shares(weighed, number, found, scale, new))
    family = weighed.ready.family(number)
    return tuple(PieceShare(family.id, p.name, None, (), new) for p in family.pieces if new)


def _by_kind(weighed: Weighed, part: Part, rows: Array, asked: slice) -> list[Array]:
    """What the states of every piece of one family weigh by kind: [hand, kind]."""
    stack = part.stack.rows(rows)
    looks = looks_of(stack, families_of(weighed.ready, stack), weighed.question)
    meshes = MeshTables([stack], [part.asked.laws(stack)], Meshes).of(0, stack)
    tables = Tables(stack, part.asked, looks, meshes)
    sums = Sums(stack, tables.plan, whole_only(stack), tables.tables, weighed.question.count)
    weights = (stack.arrays["base"] / stack.arrays["normaliser"])[None]
    return [found[0, 0, asked] for found in sums.by_kind(weights)]


def _piece_shares(
    weighed: Weighed, number: int, by_kind: Sequence[Array], scale: Array, new: float
) -> list[PieceShare]:
    family = weighed.ready.family(number)
    shares = []
    for piece, values in zip(family.pieces, by_kind, strict=True):
        types = family.types[piece.name]
        mine = scale @ values
        for kind, share in zip(types, mine[: len(types)].tolist(), strict=True):
            shares.append(PieceShare(family.id, piece.name, kind.teeth, kind.sets, share))
        unlisted = float(mine[-1]) + new
        shares.append(PieceShare(family.id, piece.name, None, (), unlisted))
    return shares
