"""The sums over everything that the pieces of a box can be, for a stack of families at once.

Everything known is a table over states of pieces. A column is one thing that is summed under one
base set: the whole; what has the sets of one term in common; a so-far group. Leaving the tables of
one group of pieces out, `around` gives what all else weighs beside each of their states.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from cogtally.evidence.engine.plan import Group, Plan, States, Step, steps_of
from cogtally.evidence.engine.stack import Array, Stack
from cogtally.evidence.laws import CHANGED_SHARE, FOREIGN, OWN, UNLISTED

#: So many numbers are worked on at once: more would leave the cache, fewer cost calls.
AT_ONCE = 150_000


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


class Cut(NamedTuple):
    """Some of the families, the first base sets, and some of the columns."""

    rows: Array
    bases: int
    columns: Array


class Columns(NamedTuple):
    """What is summed, each under every base set.

    `masks[piece]` [family, kind, column]: which types, and at last whether unlisted ones, are in a
    column; none where there is but the whole, column 0. `common`: the columns of what base sets
    have in common; `groups`: those of the so-far groups.
    """

    masks: Sequence[Array]
    size: int
    common: slice
    groups: slice

    def used(self, stack: Stack) -> tuple[Array, Array]:
        """Return which base sets, and which columns, each family has: [family, base or column]."""
        bases = stack.arrays["base"] > 0
        parts = [np.ones((stack.count, 1), dtype=bool)]
        if self.masks:
            parts.append(stack.arrays["signs"] != 0)
            parts += [bases] * (self.groups.stop > self.groups.start)
        return bases, np.concatenate(parts, axis=1)

    def weights(self, stack: Stack, piece: int, states: States, cut: Cut) -> Array:
        """Return the weight of every state of a piece: [family, state, base · column]."""
        weights = prior_weights(stack, piece, states)[cut.rows, :, : cut.bases]
        if self.masks:
            mine = self.masks[piece][cut.rows][:, :, cut.columns]
            weights = weights[..., None] * mine[:, states.kinds][:, :, None]
        return weights.reshape(*weights.shape[:2], -1)


#: The one column of everything that can be.
WHOLE_ONLY = Columns((), 1, slice(1, 1), slice(1, 1))


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

    `tables[factor]` [family, question or 1, place]; the last factors, links, have none.
    """

    def __init__(
        self, stack: Stack, plan: Plan, columns: Columns, tables: Sequence[Array], questions: int
    ) -> None:
        self.stack = stack
        self.plan = plan
        self.columns = columns
        self.tables = tables
        self.questions = questions
        self._tables = [self.table(cluster) for cluster in plan.clusters]
        # What is the same in all questions first: those arrays are smaller.
        self._order = sorted(range(len(self._tables)), key=lambda c: self._tables[c].shape[1])

    def table(self, cluster: Group, without: int | None = None) -> Array:
        """Return the product of the tables of a cluster, but for one.

        [family, question or 1, view, joint state], or 1 for all.
        """
        found = np.ones((1, 1, 1, 1))
        for factor in cluster.factors:
            if factor != without and factor < len(self.tables):
                mine = np.take(self.tables[factor], self.plan.places(factor, cluster), axis=2)
                found = mine if found.size == 1 else found * mine
        return found

    def hub_table(self, without: int | None = None) -> Array:
        """Return the product of the tables of the hubs alone, but for one.

        [family or 1, question or 1, hub state or 1].
        """
        found = np.ones((1, 1, 1))
        for factor in self.plan.hubs.factors:
            if factor != without and factor < len(self.tables):
                found = found * np.take(self.tables[factor], self.plan.hub_places(factor), axis=2)
        return found

    def _batches(self) -> Iterator[_Batch]:
        """Give the families in parts that stay within what is worked on at once.

        Those of as many base sets, terms and types go together: what others have more is nothing.
        """
        tables, hubs = self.hub_table(), self.plan.hubs
        bases, columns = self.columns.used(self.stack)
        types = np.array([(self.stack.weight(p) > 0).sum(axis=1) for p in hubs.pieces])
        need = bases.sum(axis=1) * columns.sum(axis=1)
        order = np.lexsort((*types, -need))
        room = AT_ONCE // (self.questions * hubs.size)
        start = 0
        while start < len(order):
            rows = order[start : start + max(1, room // max(1, int(need[order[start]])))]
            start += len(rows)
            most = tuple(each[rows].max().item() for each in types)
            steps = steps_of(self.plan, tuple(self._order), most)
            with_base, in_column = (np.flatnonzero(u[rows].any(axis=0)) for u in (bases, columns))
            cut = Cut(rows, int(with_base[-1]) + 1, in_column)
            weights = [
                self.columns.weights(self.stack, piece, states, cut)
                for piece, states in enumerate(self.plan.states)
            ]
            joint = [_joint(weights, self.plan.clusters[step.cluster]) for step in steps]
            messages = [
                np.matmul(self._tables[step.cluster][rows][:, :, step.views], mine[:, None])
                for step, mine in zip(steps, joint, strict=True)
            ]
            here = tables[rows] if len(tables) > 1 else tables
            yield _Batch(cut, steps, joint, messages, _joint(weights, hubs), here)

    def columns_summed(self) -> Array:
        """Return what every column adds up to: [family, question, base, column]."""
        shape = self.stack.count, self.questions, self.stack.bases, self.columns.size
        found = np.zeros(shape)
        for batch in self._batches():
            rows, bases, columns = batch.cut
            each = batch.nodes(batch.steps)[-1].sum(axis=2)
            at = np.ix_(rows, np.arange(self.questions), np.arange(bases), columns)
            found[at] = each.reshape(*each.shape[:2], bases, len(columns))
        return found

    def at(self, states: Sequence[Array]) -> Array:
        """Return the product of all tables where pieces are in certain states.

        `states[piece]` [family, number]; the answer is [family, question, number].
        """
        found = np.ones((self.stack.count, self.questions, states[0].shape[1]))
        for table, factor in zip(self.tables, self.plan.factors, strict=False):
            place = sum(local[states[piece]] for piece, local in factor.items())
            found = found * np.take_along_axis(table, np.asarray(place)[:, None, :], axis=2)
        return found

    def around(self, outputs: Array) -> list[Array]:
        """Return what all else weighs beside the states of every cluster, at last of the hubs.

        `outputs` [output, family, base, column]: what each output counts of each column. The
        answer for a cluster is [output, family, question, view, joint state], the weights of its
        own pieces in it and its own tables not; for the hubs [output, family, question, hub state],
        the tables of the hubs not in it.
        """
        shape = len(outputs), self.stack.count, self.questions
        found = [np.zeros((*shape, len(c.views), c.size)) for c in self.plan.clusters]
        found.append(np.zeros((*shape, self.plan.hubs.size)))
        for batch in self._batches():
            rows = batch.cut.rows
            by_step, found[-1][:, rows] = batch.around(outputs)
            for step, each in zip(batch.steps, by_step, strict=True):
                found[step.cluster][:, rows[:, None], :, step.views] = each
        return found

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


class _Batch(NamedTuple):
    """Some families that are worked on at once, and the columns that any of them has.

    By step `joint`, the weights of the states of its cluster [family, joint state, column], and
    `messages`, what that says [family, question or 1, view, column]; `hubs` [family, hub state,
    column]: the weights of their states; `tables`: those of the hubs alone.
    """

    cut: Cut
    steps: Sequence[Step]
    joint: Sequence[Array]
    messages: Sequence[Array]
    hubs: Array
    tables: Array

    def nodes(self, steps: Sequence[Step]) -> list[Array]:
        """The weight of the nodes before each of the first steps, and behind the last of those.

        [family, question, node, column].
        """
        found = [np.ones((1, 1, 1, 1))]
        for step, message in zip(steps, self.messages, strict=False):
            old = found[-1]
            questions = max(old.shape[1], message.shape[1], self.tables.shape[1])
            new = np.zeros((len(message), questions, step.behind, message.shape[3]))
            for move in step.moves:
                each = old[:, :, move.source] * message[:, :, move.view]
                if move.hubs is not None:
                    each = self._known(each * self.hubs[:, None, move.hubs], move.hubs)
                _add(new, move.target, each)
            found.append(new)
        return found

    def _known(self, weights: Array, hubs: slice | Array) -> Array:
        """The weights of some hub states with their own tables, if they have any."""
        has_none = self.tables.shape[2] == 1
        return weights if has_none else weights * self.tables[:, :, hubs, None]

    def around(self, outputs: Array) -> tuple[list[Array], Array]:
        """What all else weighs beside the states of the cluster of each step, and of the hubs.

        [family, view, output, question, joint state]; [output, family, question, hub state].
        """
        rows, bases, columns = self.cut
        wanted = outputs[:, rows, :bases][..., columns].reshape(len(outputs), len(rows), -1)
        nodes = self.nodes(self.steps[:-1])
        questions = max(each.shape[1] for each in (self.tables, *self.messages))
        shape = len(rows), questions
        found: list[Array] = []
        on_hubs = np.zeros((len(outputs), *shape, self.hubs.shape[1]))
        after = np.ones((1, 1, self.steps[-1].behind, 1))
        of_steps = zip(self.steps, nodes, self.messages, self.joint, strict=True)
        for step, old, message, weights in reversed([*of_steps]):
            # What stands around the cluster by view and column, then by its own states.
            around = np.zeros((*shape, *message.shape[2:]))
            before = np.zeros((*shape, old.shape[2], message.shape[3]))
            for move in step.moves:
                begun, said = old[:, :, move.source], message[:, :, move.view]
                rest = after[:, :, move.target]
                if move.hubs is not None:
                    rest = rest * self.hubs[:, None, move.hubs]
                    known = begun * said * rest
                    on_hubs[..., move.hubs] = np.einsum("fqhc,ofc->ofqh", known, wanted)
                    rest = self._known(rest, move.hubs)
                _add(around, move.view, begun * rest)
                # Nothing comes before the first step.
                if step is not self.steps[0]:
                    _add(before, move.source, said * rest)
            after = before
            # Once for all outputs: [family, column, output, joint state].
            joint = weights.swapaxes(1, 2)[:, :, None] * wanted.transpose(1, 2, 0)[..., None]
            each = np.matmul(around, joint.reshape(len(joint), 1, joint.shape[1], -1))
            each = each.reshape(*each.shape[:3], *joint.shape[2:])
            found.append(each.transpose(0, 2, 3, 1, 4))
        return found[::-1], on_hubs


def _joint(weights: Sequence[Array], group: Group) -> Array:
    """The weight of joint states of some pieces: [family, joint state, column]."""
    found: Array | None = None
    for piece, state in zip(group.pieces, group.states, strict=True):
        mine = weights[piece] if len(group.pieces) == 1 else weights[piece][:, state]
        found = mine if found is None else found * mine
    return np.ones((1, 1, 1)) if found is None else found


def _add(found: Array, places: slice | Array, each: Array) -> None:
    """Add to places [family, question, place, column]; all to one where there is but one."""
    if isinstance(places, slice) and places.stop - places.start == 1:
        each = each.sum(axis=2, keepdims=True)
    found[:, :, places] += each
