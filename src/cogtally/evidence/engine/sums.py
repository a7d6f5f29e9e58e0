"""The sums over everything that the pieces of a box can be, for a stack of families at once.

Everything known is a table over states of pieces. A column is one thing that is summed under one
base set: the whole; what has the sets of one term in common; a so-far group. Leaving the tables of
one group of pieces out, `around` gives what all else weighs beside each of their states.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property
from typing import NamedTuple

import numpy as np

from cogtally.evidence.engine.plan import Group, Plan, States, Step, steps_of
from cogtally.evidence.engine.stack import Array, Stack
from cogtally.evidence.laws import CHANGED_SHARE, FOREIGN, OWN, UNLISTED

#: So many numbers are worked on at once: more would leave the cache, fewer cost calls.
AT_ONCE = 50_000


def prior_weights(stack: Stack, piece: int, states: States) -> Array:
    """Return the prior weight of every state of a piece under every base set."""
    return stack.once(("weights", piece), lambda: _prior_weights(stack, piece, states))


def _prior_weights(stack: Stack, piece: int, states: States) -> Array:
    weight = stack.weight(piece)
    own = stack.arrays["own"][:, :, piece]
    is_own = np.arange(states.types)[None, :, None] == own[:, None, :]
    others = np.where(is_own, 0.0, weight[:, :, None])
    total = others.sum(axis=1, keepdims=True)
    listed = np.where(is_own, OWN, FOREIGN * others / np.where(total > 0, total, 1.0))
    # A type that is the only one has the share of foreign ones too.
    only = np.where(total > 0, 0.0, FOREIGN)
    listed = listed + only * is_own
    shape = stack.count, 1, stack.bases
    if states.wheels == 1:
        return np.concatenate([listed, np.full(shape, UNLISTED)], axis=1)
    share = weight / weight.sum(axis=1, keepdims=True)
    changed = np.repeat(UNLISTED * CHANGED_SHARE / states.wheels * share, states.wheels, axis=1)
    unlisted = np.concatenate(
        [changed, np.full((stack.count, 1), UNLISTED * (1 - CHANGED_SHARE))], axis=1
    )
    more = np.broadcast_to(unlisted[:, :, None], (*unlisted.shape, stack.bases))
    return np.concatenate([listed, more], axis=1)


class Columns(NamedTuple):
    """What is summed, each under every base set.

    `masks[piece]` [family, kind, column]: which types, and at last whether unlisted ones, are in a
    column; None where all are in all. `common`: the columns of what base sets have in common;
    `groups`: those of the so-far groups; column 0 is the whole.
    """

    masks: Sequence[Array | None]
    size: int
    common: slice
    groups: slice

    def weights(self, stack: Stack, piece: int, states: States) -> Array:
        """Return the weight of every state of a piece: [family, state, base · column]."""
        weights = prior_weights(stack, piece, states)
        mask = self.masks[piece]
        if mask is not None:
            weights = weights[..., None] * mask[:, states.kinds][:, :, None]
        elif self.size > 1:
            weights = np.repeat(weights, self.size, axis=2)
        return weights.reshape(*weights.shape[:2], -1)


def whole_only(stack: Stack) -> Columns:
    """Return the one column of everything that can be."""
    return Columns([None] * len(stack.shape.pieces), 1, slice(1, 1), slice(1, 1))


def all_columns(stack: Stack, allowed: Mapping[int, Array] | None) -> Columns:
    """Return the columns of a question.

    `allowed[piece]` [family, base, kind]: what may stand in the so-far group of each base set; None
    where there are no such groups.
    """
    common = stack.arrays["common"]
    terms = common.shape[1]
    groups = 0 if allowed is None else stack.bases
    masks = []
    for piece, types in enumerate(stack.types):
        found = np.ones((stack.count, types + 1, 1 + terms + groups))
        kinds = np.arange(types)[:, None]
        found[:, :types, 1 : 1 + terms] = common[:, None, :, piece] == kinds
        if allowed is not None and piece in allowed:
            found[:, :, 1 + terms :] = allowed[piece].swapaxes(1, 2)
        masks.append(found)
    count = 1 + terms + groups
    return Columns(masks, count, slice(1, 1 + terms), slice(1 + terms, count))


class Sums:
    """The tables of one question to a stack, ready to be summed.

    `tables[factor]` [family, question or 1, place].
    """

    def __init__(
        self, stack: Stack, plan: Plan, columns: Columns, tables: Sequence[Array], questions: int
    ) -> None:
        self.stack = stack
        self.plan = plan
        self.columns = columns
        self.tables = tables
        self.questions = questions
        self._weights: dict[int, Array] = {}
        self._tables = [self.table(cluster) for cluster in plan.clusters]
        self._joint = [self._joint_weights(cluster) for cluster in plan.clusters]
        self._messages = [
            np.matmul(table, weights[:, None])
            for table, weights in zip(self._tables, self._joint, strict=True)
        ]

    def weights(self, piece: int) -> Array:
        """Return the weight of every state of a piece in every column."""
        if piece not in self._weights:
            states = self.plan.states[piece]
            self._weights[piece] = self.columns.weights(self.stack, piece, states)
        return self._weights[piece]

    def _joint_weights(
        self, group: Group, families: slice = slice(None), states: slice | Array = slice(None)
    ) -> Array:
        """The weight of joint states of some pieces: [family, joint state, column]."""
        found: Array | None = None
        for piece, state in zip(group.pieces, group.states, strict=True):
            mine = self.weights(piece)[families]
            mine = mine[:, states if len(group.pieces) == 1 else state[states]]
            found = mine if found is None else found * mine
        return np.ones((1, 1, 1)) if found is None else found

    def table(self, cluster: Group, without: int | None = None) -> Array:
        """Return the product of the tables of a cluster, but for one.

        [family, question or 1, view, joint state].
        """
        found: Array | None = None
        for factor in cluster.factors:
            if factor != without:
                mine = np.take(self.tables[factor], self.plan.places(factor, cluster), axis=2)
                found = mine if found is None else found * mine
        if found is None:
            found = np.ones((self.stack.count, 1, len(cluster.views), cluster.size))
        return found

    def hub_table(self, without: int | None = None) -> Array:
        """Return the product of the tables of the hubs alone, but for one.

        [family or 1, question or 1, hub state or 1].
        """
        found = np.ones((1, 1, 1))
        for factor in self.plan.hubs.factors:
            if factor != without:
                found = found * np.take(self.tables[factor], self.plan.hub_places(factor), axis=2)
        return found

    @cached_property
    def _steps(self) -> tuple[Step, ...]:
        # What is the same in all questions first: those arrays are smaller.
        order = sorted(range(len(self._messages)), key=lambda c: self._messages[c].shape[1])
        return steps_of(self.plan, tuple(order))

    def _families(self) -> Iterator[tuple[slice, Array]]:
        """Give the families in parts that stay within what is worked on at once.

        With the tables of the hubs alone there.
        """
        tables = self.hub_table()
        width = self.columns.size * self.stack.bases * self.questions
        step = max(1, AT_ONCE // (width * max(step.behind for step in self._steps)))
        for start in range(0, self.stack.count, step):
            families = slice(start, start + step)
            yield families, tables[families] if len(tables) > 1 else tables

    def _nodes(self, families: slice, tables: Array) -> list[Array]:
        """The weight of the nodes before each step, and at last: [family, question, node, column].

        `tables`: those of the hubs alone.
        """
        found = [np.ones((1, 1, 1, 1))]
        for step in self._steps:
            message, old = self._messages[step.cluster][families], found[-1]
            questions = max(old.shape[1], message.shape[1], tables.shape[1])
            new = np.zeros((len(message), questions, step.behind, message.shape[3]))
            for move in step.moves:
                each = old[:, :, move.source] * message[:, :, move.view]
                if move.hubs is not None:
                    weights = self._joint_weights(self.plan.hubs, families, move.hubs)
                    each = each * (weights[:, None] * _of_hubs(tables, move.hubs))
                _add(new, move.target, each)
            found.append(new)
        return found

    def columns_summed(self) -> Array:
        """Return what every column adds up to: [family, question, base, column]."""
        shape = self.stack.count, self.questions, self.stack.bases, self.columns.size
        found = np.empty((*shape[:2], shape[2] * shape[3]))
        for families, tables in self._families():
            found[families] = self._nodes(families, tables)[-1].sum(axis=2)
        return found.reshape(shape)

    def at(self, states: Sequence[Array]) -> Array:
        """Return the product of all tables where pieces are in certain states.

        `states[piece]` [family, number]; the answer is [family, question, number].
        """
        found = np.ones((self.stack.count, self.questions, states[0].shape[1]))
        for table, factor in zip(self.tables, self.plan.factors, strict=True):
            place = sum(local[states[piece]] for piece, local in factor.items())
            found = found * np.take_along_axis(table, np.asarray(place)[:, None, :], axis=2)
        return found

    def around(self, outputs: Array) -> list[Array]:
        """Return what all else weighs beside the states of every cluster, at last of the hubs.

        `outputs` [output, family, base · column]: what each output counts of each column. The
        answer for a cluster is [output, family, question, view, joint state], the weights of its
        own pieces in it and its own tables not; for the hubs [output, family, question, hub state],
        the tables of the hubs not in it.
        """
        shape = self.stack.count, self.questions
        # What stands around each cluster by view and column, then by its own states.
        by_view = [np.zeros((*shape, len(c.views), outputs.shape[2])) for c in self.plan.clusters]
        on_hubs = np.zeros((len(outputs), *shape, self.plan.hubs.size))
        for families, tables in self._families():
            nodes = self._nodes(families, tables)
            after = np.ones((1, 1, nodes[-1].shape[2], 1))
            for step, old in zip(self._steps[::-1], nodes[-2::-1], strict=True):
                message = self._messages[step.cluster][families]
                around = by_view[step.cluster][families]
                before = np.zeros((*around.shape[:2], old.shape[2], around.shape[3]))
                for move in step.moves:
                    begun, said = old[:, :, move.source], message[:, :, move.view]
                    rest = after[:, :, move.target]
                    if move.hubs is not None:
                        weights = self._joint_weights(self.plan.hubs, families, move.hubs)
                        rest = rest * weights[:, None]
                        on_hubs[:, families, :, move.hubs] = np.einsum(
                            "fqhc,ofc->ofqh", begun * said * rest, outputs[:, families]
                        )
                        rest = rest * _of_hubs(tables, move.hubs)
                    _add(around, move.view, begun * rest)
                    _add(before, move.source, said * rest)
                after = before
        found = []
        for mine, weights in zip(by_view, self._joint, strict=True):
            joint = weights.swapaxes(1, 2)[:, None]
            found.append(np.stack([np.matmul(mine * o[:, None, None], joint) for o in outputs]))
        return [*found, on_hubs]

    def kinds_of(self, around: Sequence[Array]) -> list[Array]:
        """Return for every piece what its kinds weigh, all known: [output, family, question, kind].

        From what stands `around`; the last kind is all that is unlisted.
        """
        found: dict[int, Array] = {}
        groups = [*self.plan.clusters, self.plan.hubs]
        for number, (group, rest) in enumerate(zip(groups, around, strict=True)):
            if group is self.plan.hubs:
                joint = rest * self.hub_table()
            else:
                joint = (rest * self._tables[number]).sum(axis=3)
            for piece, states in zip(group.pieces, group.states, strict=True):
                kinds = self.plan.states[piece].kinds[states]
                chosen = np.zeros((len(kinds), self.plan.states[piece].types + 1))
                chosen[np.arange(len(kinds)), kinds] = 1.0
                found[piece] = joint @ chosen
        return [found[piece] for piece in range(len(found))]


def _of_hubs(tables: Array, hubs: slice | Array) -> Array:
    """The tables of some hub states, for every column."""
    return (tables if tables.shape[2] == 1 else tables[:, :, hubs])[..., None]


def _add(found: Array, places: slice | Array, each: Array) -> None:
    """Add to places [family, question, place, column]; all to one where there is but one."""
    if isinstance(places, slice) and places.stop - places.start == 1:
        each = each.sum(axis=2, keepdims=True)
    found[:, :, places] += each
