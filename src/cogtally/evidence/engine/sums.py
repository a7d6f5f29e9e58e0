"""The sums over everything that the pieces of a box can be, for a stack of families at once.

Everything known is a table over states of pieces. A column is one thing that is summed under one
base set: the whole; what has the sets of one term in common; a so-far group. Leaving the tables of
one group of pieces out, `around` gives what all else weighs beside each of their states.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from cogtally.evidence.engine.plan import Group, Plan, States
from cogtally.evidence.engine.stack import Array, Stack
from cogtally.evidence.laws import CHANGED_SHARE, FOREIGN, OWN, UNLISTED

#: So many numbers are worked on at once: more would leave the cache, fewer cost calls.
AT_ONCE = 200000


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


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """What is summed, each under every base set.

    `masks[piece]` [family, column, kind]: which types, and at last whether unlisted ones, are in a
    column; None where all are in all. `common`: the columns of what base sets have in common;
    `groups`: those of the so-far groups; column 0 is the whole.
    """

    masks: Sequence[Array | None]
    count: int
    common: slice
    groups: slice

    def weights(self, stack: Stack, piece: int, states: States) -> Array:
        """Return the weight of every state of a piece in every column: [family, state, column]."""
        weights = prior_weights(stack, piece, states)
        mask = self.masks[piece]
        if mask is None:
            shape = (*weights.shape[:2], self.count, weights.shape[2])
            every = np.broadcast_to(weights[:, :, None, :], shape)
        else:
            every = weights[:, :, None, :] * mask[:, :, states.kinds].swapaxes(1, 2)[..., None]
        return np.ascontiguousarray(every).reshape(*weights.shape[:2], -1)


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
        found = np.ones((stack.count, 1 + terms + groups, types + 1))
        found[:, 1 : 1 + terms, :types] = common[:, :, piece, None] == np.arange(types)
        if allowed is not None and piece in allowed:
            found[:, 1 + terms :] = allowed[piece]
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

    def _joint_weights(self, group: Group, states: slice = slice(None)) -> Array:
        """The weight of the joint states of some pieces: [family, joint state, column]."""
        found: Array | None = None
        for piece, state in zip(group.pieces, group.states, strict=True):
            mine = self.weights(piece)
            if len(group.pieces) > 1 or states != slice(None):
                mine = mine[:, state[states]]
            found = mine if found is None else found * mine
        if found is None:
            return np.ones((self.stack.count, 1, self.columns.count * self.stack.bases))
        return found

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

    def _parts(self) -> list[slice]:
        """The hub states in parts that stay within what is worked on at once."""
        width = self.columns.count * self.stack.bases * self.questions * self.stack.count
        step = max(1, AT_ONCE // max(width, 1))
        size = self.plan.hubs.size
        return [slice(start, min(start + step, size)) for start in range(0, size, step)]

    def _seen(self, part: slice) -> Iterator[Array]:
        """Give what each cluster says of some hub states: [family, question, state, column]."""
        for cluster, message in zip(self.plan.clusters, self._messages, strict=True):
            yield np.take(message, cluster.view[part], axis=2)

    def columns_summed(self) -> Array:
        """Return what every column adds up to: [family, question, column, base]."""
        tables = self.hub_table()
        found = np.zeros((self.stack.count, self.questions, self.columns.count * self.stack.bases))
        for part in self._parts():
            product = self._joint_weights(self.plan.hubs, part)[:, None] * _of_part(tables, part)
            # What is the same in all questions first: those arrays are smaller.
            for message in sorted(self._seen(part), key=lambda each: each.shape[1]):
                product = product * message
            found += product.sum(axis=2)
        return found.reshape(*found.shape[:2], self.columns.count, self.stack.bases)

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

        `outputs` [output, family, column · base]: what each output counts of each column. The
        answer for a cluster is [output, family, question, view, joint state], the weights of its
        own pieces in it and its own tables not; for the hubs [output, family, question, hub state],
        the tables of the hubs not in it.
        """
        clusters = self.plan.clusters
        tables = self.hub_table()
        shape = self.stack.count, self.questions
        # What stands around each cluster by view and column, then by its own states.
        by_view = [np.zeros((*shape, len(c.views), outputs.shape[2])) for c in clusters]
        on_hubs = np.zeros((len(outputs), *shape, self.plan.hubs.size))
        for part in self._parts():
            known = [_of_part(tables, part), *self._seen(part)]
            before = [self._joint_weights(self.plan.hubs, part)[:, None]]
            for each in known[:-1]:
                before.append(before[-1] * each)
            after: Array | None = None
            for number in range(len(known) - 1, -1, -1):
                rest = before[number] if after is None else before[number] * after
                if number == 0:
                    on_hubs[..., part] = np.einsum("fqhc,ofc->ofqh", rest, outputs)
                    break
                after = known[number] if after is None else after * known[number]
                view = clusters[number - 1].view[part]
                for states in _layers(view):
                    by_view[number - 1][:, :, view[states]] += rest[:, :, states]
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


def _of_part(tables: Array, part: slice) -> Array:
    """The tables of some hub states, for every column; those that are alike in all stay as one."""
    return (tables if tables.shape[2] == 1 else tables[:, :, part])[..., None]


def _layers(view: Array) -> list[Array]:
    """All hub states in layers, in none of which a cluster sees two of them alike."""
    order = np.argsort(view, kind="stable")
    rank = np.arange(len(view)) - np.searchsorted(view[order], view[order])
    return [order[rank == layer] for layer in range(int(rank.max()) + 1)]
