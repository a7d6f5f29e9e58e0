"""The joint of the answer with the teeth of a wheel, the speed of a gear, or what a piece is.

What a joint is worth is left to `count_worth`, `turn_worth` and `look_worth`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import NamedTuple

import numpy as np

from cogtally.evidence.advice.count_worth import TEETH, Joint, count_laws
from cogtally.evidence.advice.turn_worth import NEXT_TO_NOTHING, OWN, SpeedJoint
from cogtally.evidence.engine import (
    HANDS,
    NONE,
    RELATED,
    WHOLE,
    Around,
    Array,
    Asking,
    Stack,
    arounds_of,
    matched_spread,
    new_teeth_of,
    printed_groups,
    teeth_of,
    that_matter,
    unknown_ratio,
)
from cogtally.evidence.laws import GREATEST_TEETH, LEAST_TEETH
from cogtally.evidence.rho import SIZE

#: Families that have this share at most, all together, are taken as wholes of which nothing is
#: known, and so are new sets, and sets known by print: it changes no worth by 1e-6 bit.
TOO_SMALL = 3e-8
#: Two answers that are spread over families and types.
MIXED, VARIANT = 0, 1


class Kinds(NamedTuple):
    """What the pieces of one family are, by its place in the catalog.

    `rest[piece]` [MIXED or VARIANT, hand, kind], the last kind unlisted; `matched` [base, hand];
    `own` [base, piece]: the type that each base set has.
    """

    number: int
    rest: list[Array]
    matched: Array
    own: Array


class Joints:
    """The joints of one question: which families are told apart, and all around their pieces.

    `leading`: the family of most probability. `gears`: those of it, where `turns` are asked about;
    of one known by print alone those that are printed.
    """

    def __init__(self, asking: Asking, *, turns: bool) -> None:
        self.posterior = asking.posterior
        self.weighed = weighed = asking.weighed
        self._read = read = asking.read
        self.leading = weighed.ready.catalog.by_id.get(asking.posterior.leading)
        self.gears: tuple[str, ...] = ()
        if turns and self.leading is not None:
            printed = (gear for known in self.leading.ratio_only_sets for gear in known.ratios)
            own = self.leading.train.gears if self.leading.counted_sets else dict.fromkeys(printed)
            self.gears = tuple(own)
        counted = [read.counted(n, part.whole).sum(axis=1) for n, part in enumerate(weighed.parts)]
        #: Which families of each part are told apart.
        self._chosen = dict(enumerate(that_matter(counted, TOO_SMALL)))
        #: The matched answers of each part: [family, base, hand].
        self._matched: list[Array] = []
        #: What is mixed, and what variant, in each part: [MIXED or VARIANT, family, hand].
        self._rest: list[Array] = []
        for n, part in enumerate(weighed.parts):
            self._matched.append(read.counted(n, part.matched).swapaxes(1, 2))
            self._rest.append(np.array([read.counted(n, each) for each in part.rest]))
        #: Which sets known by print are told apart.
        (self._prints,) = that_matter([np.array([s.sum() for s in read.printed])], TOO_SMALL)
        #: The groups of sets known by print: their places, and the weight of each: [set, hand].
        self._printed = [
            (members, np.array([read.printed[m] for m in members]))
            for members in printed_groups(weighed).values()
        ]

    @cached_property
    def _arounds(self) -> dict[int, Around]:
        """What stands around the pieces of the families that are told apart, by part."""
        return arounds_of(self.weighed, self._chosen, self.gears)

    def _told(self, number: int, *, has: bool = True) -> tuple[Array, Array]:
        """Return which families of a part are told apart, where it `has` a thing, which are not."""
        rows = self._chosen[number] if has else self._chosen[number][:0]
        return rows, _others(self.weighed.parts[number].stack.count, rows)

    def _beside(self, number: int, joint: Array, own: Array, matched: Array) -> Array:
        """Return what is mixed, and variant, beside every place of a thing.

        [MIXED or VARIANT, family, hand, place]. `joint` [output, family, hand, place] is of the
        families told apart; `own` [family, base] the place of what is `matched` [family, base,
        hand].
        """
        joint = joint * self._read.scale[number][self._chosen[number]][..., None]
        rest = np.array([joint[WHOLE] - joint[RELATED], joint[RELATED]])
        rows = np.arange(len(own))[:, None]
        for hand in HANDS:
            np.subtract.at(rest[VARIANT, :, hand], (rows, own), matched[..., hand])
        return np.asarray(np.maximum(rest, 0.0))

    # -- teeth ---------------------------------------------------------------------------------

    def teeth(self, wheels: Sequence[str]) -> dict[str, Joint]:
        """Return the joint with the teeth of each wheel, by its name.

        A family without the wheel draws its teeth from ρ.
        """
        new = that_matter([share.sum(axis=1) for share in self._read.new], TOO_SMALL)
        stacks = {
            n: (self.weighed.new[n].stack.rows(rows), self.weighed.new[n].asked)
            for n, rows in enumerate(new)
            if rows.size
        }
        every = [*(part.stack for part in self.weighed.parts), *(s for s, _ in stacks.values())]
        canonical = [stack.shape.canonical for stack in every]
        named = {names[wheel] for names in canonical for wheel in wheels if wheel in names}
        counted, of_new = teeth_of(self._arounds, named), new_teeth_of(stacks, named)
        most = max([GREATEST_TEETH, *(stack.first + stack.size - 1 for stack in every)])
        found = {}
        for wheel in wheels:
            drawn = np.zeros((len(HANDS), TEETH))
            drawn[:, LEAST_TEETH : LEAST_TEETH + SIZE] = self.weighed.question.elsewhere(wheel)
            joint = found[wheel] = Joint(count_laws(most), drawn)
            joint.add(self._read.unknown[None])
            rest = np.zeros((2, len(HANDS), TEETH))
            for n in self._chosen:
                rest += self._add_counted(joint, n, wheel, counted.get(n, {}), drawn)
            joint.add_spread(rest)
            for n, shares in enumerate(self._read.new):
                name = self.weighed.new[n].stack.shape.canonical.get(wheel)
                rows = new[n] if name is not None else new[n][:0]
                joint.add(shares[_others(len(shares), rows)])
                if name is not None and rows.size:
                    spread = of_new[n][name] * shares[rows][..., None]
                    joint.add_spread(_on_grid(stacks[n][0], spread))
            for members, shares in self._printed:
                joint.add_spread(self._printed_teeth(wheel, members, shares, drawn)[None])
        return found

    def _add_counted(
        self,
        joint: Joint,
        number: int,
        wheel: str,
        counted: Mapping[str, Array],
        drawn: Array,
    ) -> Array:
        """Add what is matched in a part; return what is mixed, and variant, by hand and teeth."""
        part = self.weighed.parts[number]
        stack = part.stack
        name = stack.shape.canonical.get(wheel)
        rows, others = self._told(number, has=name is not None)
        joint.add(self._matched[number][others].reshape(-1, len(HANDS)))
        rest = self._rest[number][:, others].sum(axis=1)[..., None] * drawn
        if name is None or not rows.size:
            return np.asarray(rest)
        piece, place = stack.shape.location[name]
        own = stack.arrays["own"][rows][:, :, piece].astype(np.intp)
        listed = np.take_along_axis(stack.teeth(piece)[rows][:, :, place], own, 1)
        is_known = listed != NONE
        matched = self._matched[number][rows]
        joint.add(matched[is_known], listed[is_known] + stack.first)
        sure = matched * is_known[..., None]
        beside = self._beside(number, counted[name], np.where(is_known, listed, 0), sure)
        for row, base in zip(*np.nonzero(~is_known & (matched.sum(axis=2) > 0)), strict=True):
            spread = matched_spread(part, rows[row], base, name) * matched[row, base][:, None]
            joint.add_spread(_on_grid(stack, spread[None]))
            beside[VARIANT, row] -= spread
        return np.asarray(rest + _on_grid(stack, np.maximum(beside, 0.0).sum(axis=1)))

    def _printed_teeth(
        self, wheel: str, members: Sequence[int], shares: Array, drawn: Array
    ) -> Array:
        """The spread of a wheel of a group of sets known by print: [hand, teeth]."""
        found = np.zeros((len(HANDS), TEETH))
        for member, share in zip(members, shares, strict=True):
            one = self.weighed.printed[member]
            by_hand = None
            if member in self._prints:
                by_hand = one.teeth(self.weighed.question.whole, wheel)
            for hand in HANDS:
                spread = drawn[hand] if by_hand is None else by_hand[hand]
                total = float(spread.sum())
                found[hand] += share[hand] * (spread / total if total > 0 else drawn[hand])
        return found

    # -- speeds --------------------------------------------------------------------------------

    def speeds(self, gear: str) -> SpeedJoint:
        """Return the joint with the speed of a gear."""
        found: list[tuple[Array, ...]] = []

        def add(answer: int, weights: Array, *between: Array | float) -> None:
            of_all = np.ravel(weights)
            ends = [np.broadcast_to(np.ravel(end), of_all.shape) for end in between]
            if answer != OWN:
                # Most speeds of an answer of many are next to nothing: they are as one.
                some = of_all > NEXT_TO_NOTHING
                of_all = np.append(of_all[some], of_all[~some].sum())
                ends = [np.append(end[some], np.nan) for end in ends]
            found.append((np.full(of_all.size, answer), ends[0], ends[-1], of_all))

        ratio = unknown_ratio(self.weighed.question.whole, (gear,))
        add(OWN, self._read.unknown.sum(), np.nan if ratio is None else float(ratio))
        for n, part in enumerate(self.weighed.parts):
            path = part.stack.shape.paths.get(gear)
            rows, others = self._told(n, has=bool(path))
            plain = 1.0 if path == () else np.nan
            add(OWN, self._matched[n][others].sum(axis=2), plain)
            for answer, shares in enumerate(self._rest[n]):
                add(answer, shares[others].sum(), plain)
            if not rows.size:
                continue
            ratios, weights, own = self._arounds[n].speeds(gear)
            matched = self._matched[n][rows]
            add(OWN, matched.sum(axis=2), np.take_along_axis(ratios, own, 1))
            for answer, shares in enumerate(self._beside(n, weights, own, matched)):
                add(answer, shares.sum(axis=1), ratios)
        for n, new in enumerate(self.weighed.new):
            path = new.stack.shape.paths.get(gear)
            turned = np.nan if path is None else new.asked.ratio(path)[-1]
            add(OWN, self._read.new[n].sum(axis=1), turned)
        for answer, (members, shares) in enumerate(self._printed, 1 + VARIANT):
            for member, share in zip(members, shares, strict=True):
                ends = self.weighed.printed[member].ends(gear)
                low, high = (np.nan, np.nan) if ends is None else map(float, ends)
                add(answer, share.sum(), low, high)
        return SpeedJoint(*map(np.concatenate, zip(*found, strict=True)))

    # -- types ---------------------------------------------------------------------------------

    @cached_property
    def kinds(self) -> list[Kinds]:
        """Every family that is told apart: what its pieces are."""
        found = []
        for n, around in self._arounds.items():
            stack = self.weighed.parts[n].stack
            rows = self._chosen[n]
            own = stack.arrays["own"][rows].astype(np.intp)
            matched = self._matched[n][rows]
            rest = [
                self._beside(n, values, own[:, :, piece], matched)
                for piece, values in enumerate(around.by_kind)
            ]
            for row, number in enumerate(stack.numbers[rows].tolist()):
                of_row = [each[:, row] for each in rest]
                found.append(Kinds(number, of_row, matched[row], own[row]))
        return found

    @cached_property
    def plain(self) -> Array:
        """Every answer of families that are not told apart, and of none: [answer, hand].

        Mixed and variant first.
        """
        rest = np.zeros((2, len(HANDS)))
        named = [self._read.unknown[None], *self._read.new]
        for n in self._chosen:
            _, others = self._told(n)
            rest += self._rest[n][:, others].sum(axis=1)
            named.append(self._matched[n][others].reshape(-1, len(HANDS)))
        named += [shares.sum(axis=0)[None] for _, shares in self._printed]
        return np.concatenate([rest, *named])


def _others(count: int, rows: Array) -> Array:
    """Which of so many families are not in these rows: [family]."""
    found = np.ones(count, dtype=bool)
    found[rows] = False
    return found


def _on_grid(stack: Stack, spread: Array) -> Array:
    """What is spread over the places of a stack over teeth 0…200, the last axis."""
    found = np.zeros((*spread.shape[:-1], TEETH))
    found[..., stack.first : stack.first + stack.size] = spread
    return found
