"""The joint of the answer with the teeth of a wheel, the speed of a gear, or what a piece is.

What a joint is worth is left to `count_worth`, `turn_worth` and `look_worth`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import NamedTuple

import numpy as np

from cogtally.evidence.advice.turn_worth import (
    Spread,
    at_ratio,
    at_ratios,
    between,
    each_at,
    together,
)
from cogtally.evidence.engine import (
    HANDS,
    NONE,
    RELATED,
    WHOLE,
    Around,
    Array,
    Part,
    Read,
    Weighed,
    arounds_of,
    matched_spread,
    new_teeth_of,
    printed_groups,
    teeth_of,
    unknown_ratio,
)
from cogtally.evidence.laws import LEAST_TEETH
from cogtally.evidence.rho import SIZE
from cogtally.gears.notation import MOST_TEETH

#: Families with less than this share are taken as a whole of which nothing is known: it changes no
#: worth by 1e-7 bit.
TOO_SMALL = 1e-9
#: Teeth 0…200.
TEETH = MOST_TEETH + 1


class Named(NamedTuple):
    """Answers with known teeth of a wheel: `teeth` [answer], `weights` [answer, hand]."""

    teeth: Array
    weights: Array


class TeethJoint(NamedTuple):
    """The joint of the answer with the teeth of one wheel, by hand.

    `known`: answers with known teeth; `spread` [answer, hand, teeth 0…200]; `elsewhere` [answer,
    hand]: those whose teeth are drawn from ρ, spread as `drawn` [hand, teeth].
    """

    known: Named
    spread: Array
    elsewhere: Array
    drawn: Array


class Joints:
    """The joints of one question: which families are told apart, and all around their pieces."""

    def __init__(self, weighed: Weighed, read: Read, gears: Sequence[str] = ()) -> None:
        self.weighed = weighed
        self.read = read
        self._gears = tuple(gears)
        self._chosen = {
            n: np.flatnonzero(read.counted(n, part.whole).sum(axis=1) >= TOO_SMALL)
            for n, part in enumerate(weighed.parts)
        }

    @cached_property
    def arounds(self) -> dict[int, Around]:
        """What stands around the pieces of the families that are told apart, by part."""
        return arounds_of(self.weighed, self._chosen, self._gears)

    @cached_property
    def _matched(self) -> list[Array]:
        """The matched answers of each part: [family, hand, base]; 0 where something is lacking."""
        return [
            self.read.counted(n, part.matched) * (0.0 if part.asked.lacks else 1.0)
            for n, part in enumerate(self.weighed.parts)
        ]

    @cached_property
    def _rest(self) -> list[tuple[Array, Array]]:
        """What is mixed, and what variant, in each part: [family, hand]."""
        found = []
        for n, part in enumerate(self.weighed.parts):
            whole, related = (self.read.counted(n, v) for v in (part.whole, part.related))
            variant = np.maximum(related - self._matched[n].sum(axis=2), 0.0)
            found.append((np.maximum(whole - related, 0.0), variant))
        return found

    @cached_property
    def _printed(self) -> list[tuple[list[int], Array]]:
        """The groups of sets known by print: their places, and the weight of each: [set, hand]."""
        return [
            (members, np.array([self.read.printed[m] for m in members]))
            for members in printed_groups(self.weighed).values()
        ]

    def _not_chosen(self, number: int) -> Array:
        part = self.weighed.parts[number]
        return _others(part.stack.count, self._chosen[number])

    # -- teeth ---------------------------------------------------------------------------------

    def teeth(self, wheels: Sequence[str]) -> dict[str, TeethJoint]:
        """Return the joint with the teeth of each wheel, by its name.

        A family without the wheel draws its teeth from ρ.
        """
        parts = self.weighed.parts
        kept = [[part.stack.shape.kept.get(w) for w in wheels] for part in parts]
        named = {wheel for each in kept for wheel in each if wheel is not None}
        counted = teeth_of(self.arounds, named)
        new = self._new_teeth(wheels)
        return {
            wheel: self._teeth_joint(wheel, [each[n] for each in kept], counted, new[wheel])
            for n, wheel in enumerate(wheels)
        }

    def _teeth_joint(
        self,
        wheel: str,
        kept: Sequence[str | None],
        counted: Mapping[int, Mapping[str, Array]],
        new: tuple[Array, Array],
    ) -> TeethJoint:
        drawn = np.zeros((len(HANDS), TEETH))
        span = slice(LEAST_TEETH, LEAST_TEETH + SIZE)
        drawn[:, span] = self.weighed.question.elsewhere(wheel)
        mixed, variant = np.zeros_like(drawn), np.zeros_like(drawn)
        unknown = self.read.unknown[:, None] * drawn
        teeth: list[Array] = []
        weights: list[Array] = []
        spreads: list[Array] = [new[0]]
        elsewhere: list[Array] = [new[1]]
        for n, part in enumerate(self.weighed.parts):
            name = kept[n]
            rows = self._chosen[n] if name is not None else self._chosen[n][:0]
            others = _others(part.stack.count, rows)
            mixed += self._rest[n][0][others].sum(axis=0)[:, None] * drawn
            variant += self._rest[n][1][others].sum(axis=0)[:, None] * drawn
            elsewhere.append(self._matched[n][others].swapaxes(1, 2).reshape(-1, len(HANDS)))
            if name is None or not rows.size:
                continue
            joint = counted[n][name] * self.read.scale[n][rows][..., None]
            at = slice(part.stack.first, part.stack.first + part.stack.size)
            matched = self._matched[n][rows].swapaxes(1, 2)
            piece, place = part.stack.shape.location[name]
            own = part.stack.arrays["own"][rows][:, :, piece].astype(np.intp)
            listed = np.take_along_axis(part.stack.teeth(piece)[rows][:, :, place], own, 1)
            gap = (listed == NONE) & (matched.sum(axis=2) > 0)
            known = ~gap.ravel()
            teeth.append((listed + part.stack.first).ravel()[known])
            weights.append(matched.reshape(-1, len(HANDS))[known])
            of_gaps = self._gaps(part, rows, name, gap, matched)
            spreads.append(of_gaps)
            mixed[:, at] += np.maximum(joint[WHOLE] - joint[RELATED], 0.0).sum(axis=0)
            variant += self._variant(part, joint[RELATED], teeth[-1], weights[-1], of_gaps)
        for members, shares in self._printed:
            spreads.append(self._printed_teeth(wheel, members, shares, drawn)[None])
        spreads.append(np.array([mixed, variant, unknown]))
        return TeethJoint(
            Named(
                np.concatenate([np.zeros(0, dtype=np.intp), *teeth]).astype(np.intp),
                np.concatenate([np.zeros((0, len(HANDS))), *weights]),
            ),
            np.concatenate(spreads),
            np.concatenate(elsewhere),
            drawn,
        )

    def _variant(
        self, part: Part, related: Array, teeth: Array, weights: Array, of_gaps: Array
    ) -> Array:
        """What is related, less what is matched: [hand, teeth]."""
        found = np.zeros((len(HANDS), TEETH))
        found[:, part.stack.first : part.stack.first + part.stack.size] = related.sum(axis=0)
        matched = of_gaps.sum(axis=0)
        for hand in HANDS:
            matched[hand] += np.bincount(teeth, weights[:, hand], TEETH)
        return np.asarray(np.maximum(found - matched, 0.0))

    def _gaps(self, part: Part, rows: Array, wheel: str, gap: Array, matched: Array) -> Array:
        """The spread of a wheel that a base set has a gap for: [answer, hand, teeth]."""
        found = [np.zeros((0, len(HANDS), TEETH))]
        for row, base in zip(*np.nonzero(gap), strict=True):
            spread = matched_spread(part, rows[row], base, wheel)
            mine = np.zeros((1, len(HANDS), TEETH))
            at = slice(part.stack.first, part.stack.first + part.stack.size)
            mine[0, :, at] = spread * matched[row, base][:, None]
            found.append(mine)
        return np.concatenate(found)

    def _new_teeth(self, wheels: Sequence[str]) -> dict[str, tuple[Array, Array]]:
        """The new sets by wheel: those spread [answer, hand, teeth], those drawn from ρ."""
        shares = [self.read.new[n] for n in range(len(self.weighed.new))]
        chosen = [np.flatnonzero(share.sum(axis=1) >= TOO_SMALL) for share in shares]
        stacks = {
            n: (new.stack.rows(chosen[n]), new.asked)
            for n, new in enumerate(self.weighed.new)
            if chosen[n].size
        }
        kept = [[new.stack.shape.kept.get(w) for new in self.weighed.new] for w in wheels]
        known = new_teeth_of(stacks, {w for each in kept for w in each if w is not None})
        found = {}
        for wheel, names in zip(wheels, kept, strict=True):
            spread = [np.zeros((0, len(HANDS), TEETH))]
            drawn = [np.zeros((0, len(HANDS)))]
            for n, name in enumerate(names):
                others = _others(len(shares[n]), chosen[n][:0] if name is None else chosen[n])
                if name is not None and chosen[n].size:
                    stack = stacks[n][0]
                    mine = np.zeros((stack.count, len(HANDS), TEETH))
                    by_teeth = known[n][name]
                    by_teeth = np.broadcast_to(
                        by_teeth, (len(by_teeth), self.weighed.question.count, stack.size)
                    )
                    at = slice(stack.first, stack.first + stack.size)
                    mine[:, :, at] = by_teeth * shares[n][chosen[n]][..., None]
                    spread.append(mine)
                drawn.append(shares[n][others])
            found[wheel] = np.concatenate(spread), np.concatenate(drawn)
        return found

    def _printed_teeth(
        self, wheel: str, members: Sequence[int], shares: Array, drawn: Array
    ) -> Array:
        """The spread of a wheel of a group of sets known by print: [hand, teeth]."""
        found = np.zeros((len(HANDS), TEETH))
        for member, share in zip(members, shares, strict=True):
            one = self.weighed.printed[member]
            by_hand = None
            if share.sum() >= TOO_SMALL:
                by_hand = one.teeth(self.weighed.question.whole, wheel)
            for hand in HANDS:
                spread = drawn[hand] if by_hand is None else by_hand[hand]
                total = float(spread.sum())
                found[hand] += share[hand] * (spread / total if total > 0 else drawn[hand])
        return found

    # -- speeds --------------------------------------------------------------------------------

    def speeds(self, gear: str) -> tuple[list[Spread], Spread]:
        """Return the joint with the speed of a gear: answers of many speeds, and those of one."""
        ratio = unknown_ratio(self.weighed.question.whole, (gear,))
        unknown = at_ratio(ratio, float(self.read.unknown.sum()))
        rest: tuple[list[Spread], list[Spread]] = ([], [])
        alone: list[Spread] = []
        for n, part in enumerate(self.weighed.parts):
            path = part.stack.shape.paths.get(gear)
            rows = self._chosen[n] if path else self._chosen[n][:0]
            others = _others(part.stack.count, rows)
            plain = 1.0 if path == () else None
            for into, shares in zip(rest, self._rest[n], strict=True):
                into.append(at_ratio(plain, float(shares[others].sum())))
            alone.append(each_at(plain, self._matched[n][others].sum(axis=1).ravel()))
            if not rows.size:
                continue
            ratios, weights, own = self.arounds[n].speeds(gear)
            scale = self.read.scale[n][rows]
            whole, related = np.einsum("ofqp,fq->ofp", weights, scale)
            matched = self._matched[n][rows].sum(axis=1)
            alone.append(Spread(1 / np.take_along_axis(ratios, own, 1).ravel(), matched.ravel()))
            variant = related.copy()
            np.subtract.at(variant, (np.arange(len(rows))[:, None], own), matched)
            rest[0].append(at_ratios(ratios, np.maximum(whole - related, 0.0)))
            rest[1].append(at_ratios(ratios, np.maximum(variant, 0.0)))
        for n, new in enumerate(self.weighed.new):
            shares = self.read.new[n].sum(axis=1)
            path = new.stack.shape.paths.get(gear)
            turned = np.nan if path is None else new.asked.ratio(path)[-1]
            alone.append(each_at(None if np.isnan(turned) else float(turned), shares))
        printed = [
            together(
                between(self.weighed.printed[m].ends(gear), float(share.sum()))
                for m, share in zip(members, shares, strict=True)
            )
            for members, shares in self._printed
        ]
        return [together(rest[0]), together(rest[1]), unknown, *printed], together(alone)

    # -- types ---------------------------------------------------------------------------------

    @cached_property
    def kinds(self) -> list[tuple[int, list[tuple[Array, Array]], Array, Array]]:
        """Every family that is told apart, by its place: what its pieces are.

        For each piece what is mixed and what is variant, by kind, the last unlisted [hand, kind];
        then what is matched [base, hand], and the types of each base set [base, piece].
        """
        found = []
        for n, around in self.arounds.items():
            part = self.weighed.parts[n]
            scale = self.read.scale[n][self._chosen[n]]
            for row, at in enumerate(self._chosen[n].tolist()):
                own = part.stack.arrays["own"][at].astype(np.intp)
                matched = self._matched[n][at].swapaxes(0, 1)
                pieces = []
                for piece, values in enumerate(around.by_kind):
                    joint = values[:, row] * scale[row][:, None]
                    of_matched = np.zeros_like(joint[WHOLE])
                    for hand in HANDS:
                        of_matched[hand] += np.bincount(
                            own[:, piece], matched[:, hand], of_matched.shape[1]
                        )
                    mixed = np.maximum(joint[WHOLE] - joint[RELATED], 0.0)
                    pieces.append((mixed, np.maximum(joint[RELATED] - of_matched, 0.0)))
                found.append((int(part.stack.numbers[at]), pieces, matched, own))
        return found

    @cached_property
    def plain(self) -> list[Array]:
        """Every answer of families that are not told apart, and of none: [answer, hand].

        Mixed, variant and uncatalogued first, then matched ones, new sets and sets known by print.
        """
        mixed, variant = np.zeros(len(HANDS)), np.zeros(len(HANDS))
        named: list[Array] = []
        for n in range(len(self.weighed.parts)):
            others = self._not_chosen(n)
            mixed += self._rest[n][0][others].sum(axis=0)
            variant += self._rest[n][1][others].sum(axis=0)
            named += list(self._matched[n][others].swapaxes(1, 2).reshape(-1, len(HANDS)))
        for n in range(len(self.weighed.new)):
            named += list(self.read.new[n])
        named += [shares.sum(axis=0) for _, shares in self._printed]
        return [mixed, variant, self.read.unknown, *named]


def _others(count: int, rows: Array) -> Array:
    """Which of so many families are not in these rows: [family]."""
    found = np.ones(count, dtype=bool)
    found[rows] = False
    return found
