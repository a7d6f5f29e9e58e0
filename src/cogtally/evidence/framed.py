"""A family that is asked again and again, worked out by its frame: one question of one family.

The arrays stand in `framed_family`, `framed_pattern` and `framed_pieces`; whether a question is
asked this way is left to `weighed`. What the frame does not give is worked out the plain way.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import fsum
from typing import TYPE_CHECKING, Any

import numpy as np

from cogtally.catalog.model import Family
from cogtally.evidence.configurations import Sums
from cogtally.evidence.family_shares import piece_heads
from cogtally.evidence.family_view import view_of_family
from cogtally.evidence.framed_arms import HANDS, Array, Teeth
from cogtally.evidence.framed_family import Frame
from cogtally.evidence.framed_pattern import Pattern, PatternSums
from cogtally.evidence.framed_pieces import PieceStates
from cogtally.evidence.framed_plan import PlanFrame, PlanPattern, PlanSums, plan_frame_of
from cogtally.evidence.framed_rows import Rows, rows_of
from cogtally.evidence.likelihood import HASTY, STEADY, TEETH_RANGE, UNCATALOGUED_PRIOR
from cogtally.evidence.parts import Counted
from cogtally.evidence.posterior import PieceShare
from cogtally.evidence.stacked_shape import shape_of_family

if TYPE_CHECKING:
    from cogtally.evidence.prepared import Prepared
    from cogtally.evidence.seen import SeenBox

#: So many families, so many with certain wheels counted, and so many laws are kept for a catalog.
FRAMES_KEPT = 64
PATTERNS_KEPT = 256
LAWS_KEPT = 1024
#: A family that weighs less from either hand goes the plain way: its digits would be lost.
LEAST_VALUE = 1e-120
#: The key of all variants among the sums by sets in common: one set, and not all is listed.
_VARIANTS = 1

#: The likelihood of the counts of one wheel by hand and teeth, and its log scales.
_Law = tuple[Array, tuple[float, ...]]
#: The share of every state of every piece, of the sums of a question and what each hand weighs.
_Shares = Callable[[Any, Sequence[float]], list[float]]


class _Ready:
    """A family's pattern with the heads of the shares that are read off it."""

    def __init__(self, rows: Rows, pattern: Pattern | PlanPattern, shares: _Shares) -> None:
        self.pattern = pattern
        self.shares = shares
        self.teeth = pattern.frame.teeth
        self.names_of_wheels = [
            None if wheel is None else pattern.view.wheels[wheel] for wheel in pattern.wheels
        ]
        self.not_counted: _Law = np.ones((HANDS, len(self.teeth.every))), (0.0, 0.0)
        listed = rows.prior.listed_bit
        self.keys = [
            *(listed | sum(1 << m for m in members) for _, members in rows.prior.bases),
            _VARIANTS,
        ]
        #: The sets of each, the variants last.
        self.names: tuple[tuple[str, ...], ...] = (*rows.sets, ())
        prior = rows.prior
        heads = [head for piece in range(len(prior.pieces)) for head in piece_heads(prior, piece)]
        #: The columns of all `PieceShare`, the probability aside.
        self.heads = tuple(zip(*heads, strict=True))


class Frames:
    """The frames of one catalog, made when they are asked for."""

    def __init__(self, ready: Prepared) -> None:
        self._ready = ready
        self._frames: dict[tuple[str, bool], Frame | PlanFrame | None] = {}
        self._patterns: dict[tuple[str, tuple[str, ...]], _Ready | None] = {}
        self._laws: dict[object, _Law] = {}

    def part(self, family: Family, box: SeenBox, commonness: float) -> Counted:
        """Return the counted sets of a family, to be worked out by its frame if it has one."""
        return FramedPart(self._ready, family, box, commonness, self)

    def known(self, family: Family, box: SeenBox) -> _Ready | None:
        """Return a family with the wheels of a box counted; None if that was not asked before."""
        return self._patterns.get((family.id, tuple(box.counts)))

    def made(self, family: Family, box: SeenBox) -> _Ready | None:
        """Return a family with the wheels of a box counted; None where it has no frame."""
        key = (family.id, tuple(box.counts))
        if key not in self._patterns:
            if len(self._patterns) >= PATTERNS_KEPT:
                self._patterns.clear()
            self._patterns[key] = self._made(family, box)
        return self._patterns[key]

    def _made(self, family: Family, box: SeenBox) -> _Ready | None:
        view = view_of_family(family, box)
        # Where none of its wheels was counted, it has no arm that was.
        key = family.id, bool(view.wheels)
        if key not in self._frames:
            if len(self._frames) >= FRAMES_KEPT:
                self._frames.clear()
            self._frames[key] = self._frame(family, stars=bool(view.wheels))
        frame = self._frames[key]
        if frame is None:
            return None
        if isinstance(frame, PlanFrame):
            plan = PlanPattern(frame, view)
            return _Ready(frame.rows, plan, plan.shares)
        stars = Pattern(frame, view)
        return _Ready(frame.rows, stars, PieceStates(stars).shares)

    def _frame(self, family: Family, *, stars: bool) -> Frame | PlanFrame | None:
        rows = rows_of(self._ready.family(family), self._ready.normalisers(family))
        if rows is None:
            return None
        shape = shape_of_family(family) if stars else None
        return plan_frame_of(rows) if shape is None else Frame(rows, shape)

    def laws(self, made: _Ready, box: SeenBox) -> tuple[Array, list[float]]:
        """Return the likelihoods of the wheels of a pattern, and the log scale for each hand.

        [wheel, hand, teeth].
        """
        steady, hasty = 0.0, 0.0
        found = []
        for names in made.names_of_wheels:
            law, scales = made.not_counted if names is None else self._law(names, made.teeth, box)
            found.append(law)
            steady += scales[STEADY]
            hasty += scales[HASTY]
        every = np.concatenate(found) if found else np.zeros(0)
        return every.reshape(len(found), HANDS, len(made.teeth.every)), [steady, hasty]

    def _law(self, names: tuple[str, ...], teeth: Teeth, box: SeenBox) -> _Law:
        results = box.results(names)
        ((first, *_), *more), *_ = results
        # One result within 8…80 is scaled alike whatever else is in question.
        alike = not more and len(names) == 1 and first in TEETH_RANGE
        key = (results, teeth.outside) if alike else (results, teeth.outside, names)
        found = self._laws.get(key)
        if found is None:
            if len(self._laws) >= LAWS_KEPT:
                self._laws.clear()
            by_hand = [box.likelihood(names, hand) for hand in (STEADY, HASTY)]
            found = self._laws[key] = (
                np.array([law.by_teeth for law in by_hand]).take(teeth.numbers, axis=1),
                tuple(law.log_scale for law in by_hand),
            )
        return found


class FramedPart(Counted):
    """The counted sets of one family, summed by its frame where it has one."""

    def __init__(
        self, ready: Prepared, family: Family, box: SeenBox, commonness: float, frames: Frames
    ) -> None:
        self._made = frames.known(family, box)
        view = None if self._made is None else self._made.pattern.view
        self.is_quick = self._made is not None and isinstance(self._made.pattern, Pattern)
        super().__init__(ready, family, box, commonness, view)
        self._frames = frames
        self._share = (1 - UNCATALOGUED_PRIOR) / commonness
        self._sums: PatternSums | PlanSums | None = None
        self._bounds: dict[int, float] = {}

    def quick_bound(self, hand: int) -> float:
        """A bound on the family's log share that asks every wheel by itself."""
        if hand not in self._bounds:
            self._bounds[hand] = super().quick_bound(hand)
        return self._bounds[hand]

    def log_bound(self, hand: int) -> float:
        """Return the quick bound: a sharper one would take as long as the share itself."""
        return self.quick_bound(hand)

    def work(self, *, with_masks: bool = True) -> None:
        """Work out the family's share, `values[hand]` · e^`scales[hand]`, and its answers."""
        if self._made is None:
            self._made = self._frames.made(self.family, self._box)
        if self._made is None:
            super().work(with_masks=with_masks)
            return
        pattern = self._made.pattern
        laws, scales = self._frames.laws(self._made, self._box)
        sums = pattern.sums(laws)
        values = (sums.values * self._share).tolist()
        if min(whole for whole, *_ in values) < LEAST_VALUE:
            super().work(with_masks=with_masks)
            return
        self.groups = pattern.groups
        self._sums = sums
        for hand, matched in enumerate((sums.matched * self._share).tolist()):
            whole, common, *groups = values[hand]
            self.scales[hand] = scales[hand] + self.view.log_absent(self._box, hand)
            self.values[hand] = whole
            variants = max(common - fsum(matched), 0.0)
            masks = dict(zip(self._made.keys, (*matched, variants), strict=True))
            self.sums[hand] = Sums([], masks, groups)

    def answers(self, scales: Sequence[float]) -> dict[tuple[str, ...], float]:
        """Return the matched groups by their sets, and the variants under the empty group."""
        if self._made is None or self._sums is None or self.view.lacks:
            return super().answers(scales)
        steady, hasty = scales
        one, other = (sums.masks.values() for sums in self.sums)
        shares = [steady * a + hasty * b for a, b in zip(one, other, strict=True)]
        return dict(zip(self._made.names, shares, strict=True))

    def pieces(self, scaled: Sequence[float]) -> list[PieceShare]:
        """Return the share of every type of every piece, given what each hand's sums weigh."""
        if self._made is None or self._sums is None:
            return super().pieces(scaled)
        shares = self._made.shares(self._sums, [w * self._share for w in scaled])
        return list(map(PieceShare, *self._made.heads, shares))
