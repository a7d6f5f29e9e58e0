"""What some families of a block add up to under one question, and bounds on it before.

The families are left to `stacked`, what their sums mean beside all other parts to `weighed` and
`assembled`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from cogtally.evidence.family_view import FamilyView, view_of_family
from cogtally.evidence.likelihood import CHANGED_SHARE, HASTY, STEADY, UNLISTED
from cogtally.evidence.seen import SeenBox
from cogtally.evidence.stacked import Stack, Stacks
from cogtally.evidence.stacked_arms import UNKNOWN_TEETH, Question, Wheel, question_of
from cogtally.evidence.stacked_ready import Ready, both_hands, star_tables
from cogtally.evidence.stacked_rows import (
    RowPlaces,
    common_messages,
    common_rows,
    group_rows,
    groups_of,
)
from cogtally.evidence.stacked_sums import hub_of, messages_of, over_hub
from cogtally.evidence.stacked_tables import Array, WheelTables, laws_of


@dataclass(frozen=True)
class Worked:
    """What some families of one block add up to, by hand: `value[hand, family]` times e^scale.

    `matched[hand, base, family]`; `related[hand, family]`: all with any set in common, matched
    ones included; `groups`: (family, base) of the first set of each so-far group, with `so_far`.
    """

    ready: Ready
    question: Question
    view: FamilyView
    scales: tuple[float, float]
    value: Array
    matched: Array
    related: Array
    group_of: Array
    groups: tuple[Array, Array]
    so_far: Array


class Asked:
    """One stack with what was seen."""

    def __init__(self, stack: Stack, box: SeenBox, over: Array) -> None:
        self.stack = stack
        self.view = view_of_family(stack.blocks[0].block.families[0], box)
        seen, scales = zip(*(self.view.likelihoods(box, h) for h in (STEADY, HASTY)), strict=True)
        self.scales = (float(scales[0]), float(scales[1]))
        self.counted = frozenset(self.view.wheels)
        wheels = {
            w: WheelTables(rho.unknown[0, UNKNOWN_TEETH].tolist(), law, over)
            if law is not None
            else rho
            for w, rho in stack.rho.items()
            for law in [laws_of(seen, w)]
        }
        self.question = question_of(stack.shape, wheels, over)

    def work(self, ready: Ready) -> Worked:
        """Work out the families of a block."""
        block, shape = ready.block, self.stack.shape
        whole: Array | float = 1.0
        common: Array | float = 1.0
        so_far: Array | float = 1.0
        rows = block.rows
        places = RowPlaces(block, rows.family, rows.base)
        group_of = np.zeros(block.share.shape, dtype=np.intp)
        grouped = None
        if self.counted and not self.view.lacks:
            group_of = groups_of(block, sorted(self.counted))
            first = (group_of == np.arange(block.size)[:, None]) & (block.share > 0)
            families, bases = np.nonzero(first.T)
            grouped = RowPlaces(block, families, bases)
        for star in shape.stars:
            tables = star_tables(ready, star, self.question)
            messages = messages_of(block, star, tables)
            whole = whole * over_hub(hub_of(block, star), messages)
            in_rows = common_messages(places, rows.listed, star, tables)
            common = common * common_rows(places, rows.listed, star, in_rows)
            if grouped is not None:
                so_far = so_far * group_rows(grouped, star, tables, messages, self.question.counted)
        assert isinstance(whole, np.ndarray)
        assert isinstance(common, np.ndarray)
        value = both_hands((whole * ready.weights).sum(axis=1))
        of_rows = (common * ready.weights[:, rows.family]).sum(axis=1) * rows.sign
        related = np.array(
            [np.bincount(rows.family, hand, len(block.families)) for hand in both_hands(of_rows)]
        )
        groups, sums = (np.zeros(0, dtype=np.intp),) * 2, np.zeros((2, 0))
        if grouped is not None and isinstance(so_far, np.ndarray):
            groups = (grouped.family, grouped.base)
            sums = both_hands((so_far * ready.weights[:, grouped.family]).sum(axis=1))
        return Worked(
            ready,
            self.question,
            self.view,
            self.scales,
            value,
            self._matched(ready),
            related,
            group_of,
            groups,
            sums,
        )

    def _matched(self, ready: Ready) -> Array:
        found = np.broadcast_to(ready.matched, (2, *ready.matched.shape))
        for wheel in self.counted:
            found = found * Wheel(ready.block, wheel, self.question.wheels[wheel]).law
        return found

    def quick_bound(self, ready: Ready) -> Array:
        """Return the log of a bound on each family's value: every wheel at its likeliest."""
        block = ready.block
        found = np.broadcast_to(ready.weights.sum(axis=0), (2, len(block.families)))
        for star in self.stack.shape.stars:
            for piece in star.pieces:
                if self.counted.isdisjoint(piece):
                    continue
                listed: Array | float = 1.0
                changed: Array | float = 0.0
                other: Array | float = 1.0
                for wheel in piece:
                    tables = self.question.wheels[wheel]
                    rest = tables.whole[:, None]
                    law: Array | float = 1.0
                    if tables.law is not None:
                        law = tables.law.take(block.teeth[wheel], axis=1).max(axis=1)
                    if len(piece) > 1:
                        likeliest = self.stack.rho[wheel].unknown.max()
                        changed = changed * law + listed * rest / ((1 - likeliest) * len(piece))
                        other = other * rest
                    else:
                        other = other * rest * ready.norms[wheel]
                    listed = listed * law
                if len(piece) > 1:
                    other = CHANGED_SHARE * changed + (1 - CHANGED_SHARE) * other
                found = found * ((1 - UNLISTED) * listed + UNLISTED * other)
        return self._log(found)

    def bound(self, ready: Ready) -> Array:
        """Return the log of a bound on each family's value: every mesh at its greatest."""
        found = np.broadcast_to(ready.weights, (2, *ready.weights.shape))
        for star in self.stack.shape.stars:
            for piece in star.pieces:
                if not self.counted.isdisjoint(piece):
                    found = found * self._alone(ready, piece)
        return self._log(found.sum(axis=1))

    def _log(self, values: Array) -> Array:
        with np.errstate(divide="ignore"):
            logs: Array = np.log(values) + np.array(self.scales)[:, None]
        return logs

    def _alone(self, ready: Ready, piece: tuple[str, ...]) -> Array:
        """The likelihood of one piece under each base set, its meshes left out."""
        block = ready.block
        arrays = block.pieces[piece]
        ones = np.ones((1, *block.share.shape))
        listed, changed, other = ones, ones * 0, ones[:, 0]
        for name in piece:
            tables = self.question.wheels[name]
            wheel = Wheel(block, name, tables)
            norm, whole = ready.norms[name], tables.whole[:, None]
            if len(piece) == 1:
                rest = whole - (wheel.unknown * arrays.first).sum(axis=1)
                listed, other = wheel.known(ones, 1), np.maximum(rest, 0.0) * norm
                break
            rest = np.maximum(whole[:, None] - wheel.unknown, 0.0) * norm
            changed = wheel.known(changed, 1) + listed * rest
            listed, other = wheel.known(listed, 1), other * whole
        drawn = (listed * block.share).sum(axis=1)
        strange = UNLISTED * other
        if len(piece) > 1:
            changes = (changed * block.share).sum(axis=1) / len(piece)
            strange = UNLISTED * (CHANGED_SHARE * changes + (1 - CHANGED_SHARE) * other)
        found: Array = arrays.spread * drawn[:, None] + arrays.extra * listed + strange[:, None]
        return found


def ask_stacks(stacks: Stacks, box: SeenBox) -> Iterator[Asked]:
    """Give each stack with what was seen."""
    for stack in stacks.stacks:
        yield Asked(stack, box, stacks.over)
