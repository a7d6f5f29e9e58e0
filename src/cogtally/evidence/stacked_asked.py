"""What some families of a block add up to under one question, and bounds on it before.

The families are left to `stacked`, what their sums mean beside all other parts to `weighed` and
`assembled`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import reduce
from math import log

import numpy as np

from cogtally.evidence.family_view import FamilyView, view_by_names
from cogtally.evidence.likelihood import CHANGED_SHARE, HASTY, STEADY, UNLISTED, greatest_density
from cogtally.evidence.seen import SeenBox
from cogtally.evidence.stacked import Stack, Stacks
from cogtally.evidence.stacked_arms import UNKNOWN_TEETH, Question, Wheel, question_of
from cogtally.evidence.stacked_groups import group_rows, groups_of
from cogtally.evidence.stacked_quick import quick_tables
from cogtally.evidence.stacked_ready import Ready, both_hands
from cogtally.evidence.stacked_rows import Parted, RowPlaces, StarRows, Weights, parted
from cogtally.evidence.stacked_sums import hub_of, messages_of, over_hub
from cogtally.evidence.stacked_tables import Array, WheelTables, laws_of, picked
from cogtally.evidence.stacked_tested import Tests, tests_of
from cogtally.evidence.stacked_tested_sums import tested_star


@dataclass(frozen=True)
class Worked:
    """What some families of one block add up to, by hand: `value[hand, family]` times e^scale.

    `matched[hand, base, family]`; `related[hand, family]`: all with any set in common, matched
    ones included; `groups`: (family, base) of the first set of each so-far group, with `so_far`.
    """

    ready: Ready
    question: Question
    view: FamilyView
    tests: Tests
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
        tests = tests_of(stack.shape, box)
        assert tests is not None
        self.tests = tests
        self.view = view_by_names(box, stack.shape.names.get, (), tests.lacking)
        seen, scales = zip(*(self.view.likelihoods(box, h) for h in (STEADY, HASTY)), strict=True)
        self.scales = (float(scales[0]) + tests.direct, float(scales[1]) + tests.direct)
        #: The log of what the turn tests are worth at most.
        self._tested = sum([log(greatest_density(test.reading)) for test in tests.all])
        self.counted = frozenset(self.view.wheels)
        wheels = {
            w: WheelTables(rho.unknown[0, UNKNOWN_TEETH].tolist(), law, over)
            if law is not None
            else rho
            for w, rho in stack.rho.items()
            for law in [laws_of(seen, w)]
        }
        self.question = question_of(stack.shape, wheels, over)

    def work(self, ready: Ready, parts: Sequence[Parted] | None = None) -> Worked:
        """Work out the families of a block; `parts`: its rows, where they were parted before."""
        block, shape = ready.block, self.stack.shape
        whole: Array | float = 1.0
        so_far: Array | float = 1.0
        weights = Weights(block)
        rows = [(part, list[Array]()) for part in (parted(block) if parts is None else parts)]
        group_of = np.zeros(block.share.shape, dtype=np.intp)
        grouped = None
        if self.counted and not self.view.lacks:
            group_of = groups_of(block, sorted(self.counted))
            first = (group_of == np.arange(block.size)[:, None]) & (block.share > 0)
            families, bases = np.nonzero(first.T)
            grouped = RowPlaces(block, families, bases)
        for number, star in enumerate(shape.stars):
            if number in self.tests.stars:
                tested = tested_star(
                    self.tests.stars[number],
                    ready,
                    self.question,
                    self.tests.counted,
                    weights,
                    [part for part, _ in rows],
                    grouped,
                )
                whole, so_far = whole * tested.whole, so_far * tested.so_far
                for (_, stars), sums in zip(rows, tested.rows, strict=True):
                    stars.append(sums)
                continue
            tables = quick_tables(block, star, self.question, ready.norms, ready.between)
            messages = messages_of(block, star, tables)
            hub = hub_of(block, star, ready.norms)
            whole = whole * over_hub(hub, messages)
            for (places, codes, _), stars in rows:
                stars.append(StarRows(weights, places, codes, star, hub, tables).sums())
            if grouped is not None:
                so_far = so_far * group_rows(
                    weights, grouped, star, hub, tables, messages, self.question.counted
                )
        assert isinstance(whole, np.ndarray)
        value: Array = both_hands((whole * ready.weights).sum(axis=1))
        related: Array = np.zeros(value.shape)
        for (places, _, sign), stars in rows:
            sums = reduce(np.multiply, stars)
            of_rows = np.einsum("hsr,sr->hr", sums, places.of_family(ready.weights)) * sign
            by_hand = both_hands(of_rows)
            for hand in (STEADY, HASTY):
                related[hand] += np.bincount(places.family, by_hand[hand], related.shape[1])
        nowhere = np.zeros(0, dtype=np.intp)
        groups: tuple[Array, Array] = (nowhere, nowhere)
        of_groups = np.zeros((2, 0))
        if grouped is not None and isinstance(so_far, np.ndarray):
            groups = (grouped.family, grouped.base)
            of_groups = both_hands((so_far * ready.weights[:, grouped.family]).sum(axis=1))
        return Worked(
            ready,
            self.question,
            self.view,
            self.tests,
            self.scales,
            value,
            self._matched(ready),
            related,
            group_of,
            groups,
            of_groups,
        )

    def _matched(self, ready: Ready) -> Array:
        found = np.broadcast_to(ready.matched, (2, *ready.matched.shape))
        for wheel in self.counted:
            found = found * Wheel(ready.block, wheel, self.question.wheels[wheel]).law
        return found * self.tests.as_listed(ready.block.teeth)

    def quick_bound(self, ready: Ready) -> Array:
        """Return the log of a bound on each family's value: every wheel at its likeliest."""
        block = ready.block
        found = np.broadcast_to(ready.weights.sum(axis=0), (2, block.numbers.size))
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
        return self._log(found) + self._tested

    def bound(self, ready: Ready, at: Array | slice = slice(None)) -> Array:
        """Return the log of a bound on each family's value: every mesh at its greatest.

        `at`: the places of the families that are asked for.
        """
        weights = picked(ready.weights, at)
        found = np.broadcast_to(weights, (2, *weights.shape))
        for star in self.stack.shape.stars:
            for piece in star.pieces:
                if not self.counted.isdisjoint(piece):
                    found = found * self._alone(ready, piece, at)
        return self._log(found.sum(axis=1)) + self._tested

    def least(self, ready: Ready, at: Array) -> Array:
        """Return the log of what each of these families is worth at least: its sets as they are."""
        matched = picked(ready.matched, at)
        found = np.broadcast_to(matched, (2, *matched.shape))
        for wheel in self.counted:
            law = self.question.wheels[wheel].law
            assert law is not None
            found = found * law.take(picked(ready.block.teeth[wheel], at), axis=1)
        teeth = {wheel: picked(each, at) for wheel, each in ready.block.teeth.items()}
        found = found * self.tests.as_listed(teeth)
        return self._log(found.sum(axis=1))

    def _log(self, values: Array) -> Array:
        with np.errstate(divide="ignore"):
            logs: Array = np.log(values) + np.array(self.scales)[:, None]
        return logs

    def _alone(self, ready: Ready, piece: tuple[str, ...], at: Array | slice) -> Array:
        """The likelihood of one piece under each base set, its meshes left out."""
        block = ready.block
        arrays = block.pieces[piece]
        share = picked(block.share, at)
        ones = np.ones((1, *share.shape))
        listed, changed, other = ones, ones * 0, ones[:, 0]
        for name in piece:
            tables = self.question.wheels[name]
            teeth = picked(block.teeth[name], at)
            law = 1.0 if tables.law is None else tables.law.take(teeth, axis=1)
            unknown = tables.unknown.take(teeth, axis=1)
            norm, whole = picked(ready.norms[name], at), tables.whole[:, None]
            if len(piece) == 1:
                rest = whole - (unknown * picked(arrays.first, at)).sum(axis=1)
                listed, other = ones * law, np.maximum(rest, 0.0) * norm
                break
            rest = np.maximum(whole[:, None] - unknown, 0.0) * norm
            changed = changed * law + listed * rest
            listed, other = listed * law, other * whole
        drawn = (listed * share).sum(axis=1)
        strange = UNLISTED * other
        if len(piece) > 1:
            changes = (changed * share).sum(axis=1) / len(piece)
            strange = UNLISTED * (CHANGED_SHARE * changes + (1 - CHANGED_SHARE) * other)
        found: Array = picked(arrays.spread, at) * drawn[:, None] + strange[:, None]
        found += picked(arrays.extra, at) * listed
        return found


def ask_stacks(stacks: Stacks, box: SeenBox) -> Iterator[Asked]:
    """Give each stack with what was seen."""
    for stack in stacks.stacks:
        yield Asked(stack, box, stacks.over)
