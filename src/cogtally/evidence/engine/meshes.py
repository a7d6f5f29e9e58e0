"""Wheels that mesh, for every combination of what is known of each, all families at once.

What is known of a wheel is its mode: teeth, or that they are unknown and which they are not. Which
state of a piece gives which mode is left to `plan`.

Wheels that mesh, directly or through each other, are a component; those of one form are worked out
together, whatever family or stack they are of: the first axis of every array is the member. The
second is the question: one hand, or one hand and a part of what was seen. Teeth are places on the
grid of the catalog. Two wheels in mesh ask only for their sum, so that
their factor is a matrix whose rows are one vector, each shifted by one place.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from math import prod
from typing import Any, NamedTuple

import numpy as np

from cogtally.evidence.engine.plan import States
from cogtally.evidence.engine.stack import NONE, Array, Shape, Stack
from cogtally.evidence.laws import AS_LISTED_WHEEL, NEW_SUM_OFF, SUM_FAR, SUM_OFF

#: Likelihoods of counted wheels by kept name: [question, place].
Laws = Mapping[str, Array]


class Form(NamedTuple):
    """How the wheels of a component hang together: what members worked out together have alike.

    `alone` for each wheel: whether it is a piece by itself; `edges`: two wheels each, by place. In
    a tree a wheel stands behind the one that its edge begins with.
    """

    alone: tuple[bool, ...]
    edges: tuple[tuple[int, int], ...]

    @property
    def is_tree(self) -> bool:
        """Whether the meshes close no ring."""
        return len(self.edges) == len(self.alone) - 1

    def behind(self, wheel: int) -> list[tuple[int, int]]:
        """Return the wheels right behind one in a tree, with their edges."""
        return [(right, n) for n, (left, right) in enumerate(self.edges) if left == wheel]


class Component(NamedTuple):
    """One mesh component of the families of a stack.

    `wheels` and `edges` (by number in the shape) as the form orders them. A table of it is flat
    over the modes of its wheels, of which there are `counts`; `local` for each piece: what each of
    its states adds to the place.
    """

    form: Form
    wheels: tuple[str, ...]
    edges: tuple[int, ...]
    counts: tuple[int, ...]
    local: Mapping[int, Array]

    @property
    def size(self) -> int:
        """How many places its table has."""
        return prod(self.counts)


def component_of(shape: Shape, states: Sequence[States], wheels: Sequence[str]) -> Component:
    """Return the component of these wheels, which mesh directly or through each other."""
    alone = {w: len(shape.pieces[shape.location[w][0]][1]) == 1 for w in wheels}
    # The wheel of which most can be known comes first: a table is summed over its teeth last.
    root = next((w for w in wheels if not alone[w]), wheels[0])
    mine = [(n, edge) for n, edge in enumerate(shape.edges) if edge[0] in alone]
    order, edges = _tree(root, mine)
    if len(mine) != len(wheels) - 1:
        order, edges = list(wheels), [(n, wheels.index(a), wheels.index(b)) for n, (a, b) in mine]
    form = Form(tuple(alone[w] for w in order), tuple((a, b) for _, a, b in edges))
    counts = tuple(int(states[shape.location[w][0]].modes.max()) + 1 for w in order)
    local: dict[int, Array] = {}
    for number, wheel in enumerate(order):
        piece, place = shape.location[wheel]
        step = prod(counts[number + 1 :]) * states[piece].modes[:, place]
        local[piece] = local.get(piece, 0) + step
    return Component(form, tuple(order), tuple(n for n, _, _ in edges), counts, local)


def _tree(
    root: str, edges: Sequence[tuple[int, tuple[str, str]]]
) -> tuple[list[str], list[tuple[int, int, int]]]:
    """The wheels of a tree from its root on, and its edges as (number, wheel before, behind)."""
    order = [root]
    found: list[tuple[int, int, int]] = []

    def go(wheel: str, above: int | None) -> None:
        at = order.index(wheel)
        for number, (left, right) in edges:
            mate = right if wheel == left else left
            if wheel in (left, right) and number != above and mate not in order:
                order.append(mate)
                found.append((number, at, len(order) - 1))
                go(mate, number)

    go(root, None)
    return order, found


class Modes(NamedTuple):
    """What can be known of one wheel, in the order of its modes: `at` first, then `unknown`.

    `at` [member, mode]: known teeth; where `gap` [member, mode] they are as the last of `unknown`.
    `unknown` [member, mode, place]: how unknown teeth are spread. `modes`: how many of the unknown
    are modes of their own.
    """

    at: Array
    gap: Array | None
    unknown: Array
    modes: int


#: A member of a pool: a stack and one of its components.
Member = tuple[Stack, Component]


class Pool:
    """Components of one form, the families of several stacks one after the other."""

    def __init__(self, form: Form, members: Sequence[Member]) -> None:
        self.form = form
        self.members = tuple(members)
        ends = np.cumsum([0, *(stack.count for stack, _ in members)]).tolist()
        self.rows = [slice(a, b) for a, b in pairwise(ends)]
        self.count = ends[-1]

    def laws(self, laws: Sequence[Laws]) -> list[Array | None]:
        """Return the laws of every wheel: [member, question, place]; None where none is counted."""
        found: list[Array | None] = []
        for place in range(len(self.form.alone)):
            mine = [
                law.get(component.wheels[place])
                for law, (_, component) in zip(laws, self.members, strict=True)
            ]
            known = [each for each in mine if each is not None]
            if not known:
                found.append(None)
                continue
            every = np.ones((self.count, *known[0].shape))
            for rows, each in zip(self.rows, mine, strict=True):
                if each is not None:
                    every[rows] = each
            found.append(every)
        return found

    def teeth(self, place: int) -> tuple[Array, Array]:
        """Return the teeth of a wheel by type, and the weights of the types: [member, type]."""
        found = []
        for stack, component in self.members:
            piece, at = stack.shape.location[component.wheels[place]]
            found.append((stack.teeth(piece)[:, :, at], stack.weight(piece)))
        room = max(teeth.shape[1] for teeth, _ in found)
        teeth = np.empty((self.count, room), dtype=np.intp)
        weight = np.zeros((self.count, room))
        for rows, (mine, of_types) in zip(self.rows, found, strict=True):
            teeth[rows] = mine[:, :1]
            teeth[rows, : mine.shape[1]] = mine
            weight[rows, : mine.shape[1]] = of_types
        return teeth, weight

    def rho(self, place: int) -> Array:
        """Return ρ of a wheel: [member, place]."""
        each = [stack.rho[component.wheels[place]] for stack, component in self.members]
        return np.repeat(np.array(each), [stack.count for stack, _ in self.members], axis=0)

    def factors(self, edge: int, far: float, off: Sequence[float]) -> Array:
        """Return the factor of every sum of two places in mesh: [member, sum]."""
        sums = [stack.arrays[f"sums {c.edges[edge]}"] for stack, c in self.members]
        room = max(each.shape[1] for each in sums)
        every = np.empty((self.count, room), dtype=np.intp)
        for rows, each in zip(self.rows, sums, strict=True):
            every[rows] = each[:, :1]
            every[rows, : each.shape[1]] = each
        beyond, size = len(off) - 1, self.members[0][0].size
        found = np.full((self.count, 2 * size - 1 + 2 * beyond), far)
        at = np.arange(self.count)[:, None]
        for away in range(beyond, -1, -1):
            found[at, every + (beyond + away)] = off[away]
            found[at, every + (beyond - away)] = off[away]
        return np.ascontiguousarray(found[:, beyond : beyond + 2 * size - 1])

    def parted(self, table: Array) -> list[Array]:
        """Return the flat table of each member, over the modes of its own types."""
        room = table.shape[2:]
        return [
            mine if component.counts == room else mine[:, :, self._places(component, room)]
            for mine, (_, component) in zip(self.split(table), self.members, strict=True)
        ]

    def split(self, table: Array) -> list[Array]:
        """Return the rows of each member, flat: [family, question, place]."""
        return [table[rows].reshape(len(table[rows]), table.shape[1], -1) for rows in self.rows]

    def widened(self, component: Component, table: Array, room: Sequence[int]) -> Array:
        """Return the table of a member, with room for the modes of all members."""
        found = np.zeros((*table.shape[:2], prod(room)))
        found[:, :, self._places(component, room)] = table
        return found.reshape(*table.shape[:2], *room)

    def _places(self, component: Component, room: Sequence[int]) -> Array:
        """Where the modes of a component's own types stand in a table with room for more."""
        found = np.zeros(1, dtype=np.intp)
        for alone, count, wide in zip(self.form.alone, component.counts, room, strict=True):
            types, most = (count - 1, wide - 1) if alone else ((count - 1) // 2, (wide - 1) // 2)
            known = np.arange(types)
            others = [most] if alone else [*(known + most), 2 * most]
            modes = np.concatenate([known, others]).astype(np.intp)
            found = (found[:, None] * wide + modes).ravel()
        return found


class Meshes:
    """The wheels and meshes of a pool as listed types have them, or wheels changed in those."""

    far, off = SUM_FAR, SUM_OFF

    def __init__(self, pool: Pool) -> None:
        self.pool = pool
        self.form = pool.form
        self._modes: dict[int, Modes] = {}
        self._factors: dict[int, Array] = {}

    def modes(self, wheel: int) -> Modes:
        """Return what can be known of a wheel, by its place in the form."""
        if wheel not in self._modes:
            self._modes[wheel] = self._modes_of(wheel)
        return self._modes[wheel]

    def factors(self, edge: int) -> Array:
        """Return the factor of every sum of two places in mesh."""
        if edge not in self._factors:
            self._factors[edge] = self.pool.factors(edge, self.far, self.off)
        return self._factors[edge]

    def _modes_of(self, wheel: int) -> Modes:
        """The modes of a wheel.

        Of a piece by itself: each type's teeth, then others than all of those. Of a piece of
        several wheels: each type's, for each type others than its, then any.
        """
        teeth, _ = self.pool.teeth(wheel)
        gap = teeth == NONE
        has_gaps = bool(gap.any())
        at = np.where(gap, 0, teeth) if has_gaps else teeth
        rho = self.pool.rho(wheel)
        alone = self.form.alone[wheel]
        members, types = at.shape
        listed = np.zeros((members, 1 if alone else types, rho.shape[1]), dtype=bool)
        rows, kinds = np.nonzero(~gap)
        listed[rows, 0 if alone else kinds, at[rows, kinds]] = True
        left = np.where(listed, 0.0, rho[:, None])
        whole = left.sum(axis=2, keepdims=True)
        others = left / np.where(whole > 0, whole, 1.0)
        if alone and not has_gaps:
            return Modes(at, None, others, 1)
        unknown = np.concatenate([others, rho[:, None]], axis=1)
        return Modes(at, gap if has_gaps else None, unknown, 1 if alone else types + 1)

    def table(self, laws: Sequence[Array | None]) -> Array:
        """Return the weight of all combinations of modes: [member, question or 1, mode, …]."""
        if not self.form.is_tree:
            return self._ring(laws)
        found = _met(self.modes(0), laws[0], self._behind(0, None, laws))
        counts = [self.count(wheel) for wheel in range(len(self.form.alone))]
        return found.reshape(*found.shape[:2], *counts)

    def count(self, wheel: int) -> int:
        """Return how many modes a wheel has."""
        modes = self.modes(wheel)
        return int(modes.at.shape[1]) + modes.modes

    def _behind(self, wheel: int, above: int | None, laws: Sequence[Array | None]) -> Array | None:
        """What the wheels behind one say of its teeth: [member, question, place, combination]."""
        found: Array | None = None
        for mate, edge in self._mates(wheel):
            if mate == above:
                continue
            behind = self._behind(mate, wheel, laws)
            message = _message(self.modes(mate), laws[mate], behind, self.factors(edge))
            if found is None:
                found = message
            else:
                both = found[..., :, None] * message[..., None, :]
                found = both.reshape(*both.shape[:3], -1)
        return found

    def _mates(self, wheel: int) -> list[tuple[int, int]]:
        return [
            (right if wheel == left else left, n)
            for n, (left, right) in enumerate(self.form.edges)
            if wheel in (left, right)
        ]

    def _order(self, wheel: int, above: int | None) -> list[int]:
        """A wheel, then those behind it, as the axes of what `_behind` gives follow each other."""
        found = [wheel]
        for mate, _ in self._mates(wheel):
            if mate != above:
                found += self._order(mate, wheel)
        return found

    def spread(self, wheel: int, laws: Sequence[Array | None], around: Array) -> Array:
        """Return the weight of every number of teeth of one wheel: [member, question, place].

        `around` [member, question, mode, mode, …]: what all else weighs beside each combination.
        """
        if not self.form.is_tree:
            return self._ring(laws, wheel, around)
        shaped = around.transpose(0, 1, *(2 + each for each in self._order(wheel, None)))
        shaped = shaped.reshape(*shaped.shape[:3], -1)
        behind = self._behind(wheel, None, laws)
        modes, law = self.modes(wheel), laws[wheel]
        size = modes.unknown.shape[2]
        # By mode and teeth of the wheel, the others summed out: [member, question, mode, place].
        by_mode = (
            np.broadcast_to(shaped, (*shaped.shape[:3], size))
            if behind is None
            else np.matmul(shaped, behind.swapaxes(2, 3))
        )
        listed = modes.at.shape[1]
        unknown = modes.unknown[:, : modes.modes]
        found = (by_mode[:, :, listed:] * unknown[:, None]).sum(axis=2)
        at = modes.at[:, None, :, None]
        of_type = np.take_along_axis(by_mode[:, :, :listed], at, 3)[..., 0]
        if modes.gap is not None:
            gaps = np.einsum("fqkt,fk->fqt", by_mode[:, :, :listed], modes.gap.astype(float))
            found = found + gaps * modes.unknown[:, None, -1]
            of_type = np.where(modes.gap[:, None], 0.0, of_type)
        members, questions = found.shape[:2]
        index = np.broadcast_to(modes.at[:, None], of_type.shape)
        rows = np.arange(members)[:, None, None], np.arange(questions)[None, :, None]
        np.add.at(found, (*rows, index), of_type)
        return np.asarray(found if law is None else found * law)

    def _ring(
        self,
        laws: Sequence[Array | None],
        wheel: int | None = None,
        around: Array | None = None,
    ) -> Array:
        """The table, or the spread of one wheel, of wheels whose meshes close a ring: one sum."""
        member, question, wheels = 0, 1, range(len(self.form.alone))
        operands: list[Any] = []
        for each in wheels:
            dense = _dense(self.modes(each), laws[each])
            operands += [dense, [member, question, 2 + 2 * each, 3 + 2 * each]]
        for edge, (left, right) in enumerate(self.form.edges):
            operands += [_shifted(self.factors(edge)), [member, 2 + 2 * left, 2 + 2 * right]]
        axes = [3 + 2 * each for each in wheels]
        if wheel is None or around is None:
            return np.asarray(np.einsum(*operands, [member, question, *axes], optimize="greedy"))
        operands += [around, [member, question, *axes]]
        return np.asarray(
            np.einsum(*operands, [member, question, 2 + 2 * wheel], optimize="greedy")
        )


class NewMeshes(Meshes):
    """The same of sets that a family has and the catalog lacks: one mode a wheel, other factors."""

    far, off = SUM_FAR, NEW_SUM_OFF

    def _modes_of(self, wheel: int) -> Modes:
        teeth, weight = self.pool.teeth(wheel)
        weight = np.where(teeth == NONE, 0.0, weight)
        whole = weight.sum(axis=1, keepdims=True)
        share = AS_LISTED_WHEEL * weight / np.where(whole > 0, whole, 1.0)
        spread = np.where(whole > 0, 1 - AS_LISTED_WHEEL, 1.0) * self.pool.rho(wheel)
        np.add.at(spread, (np.arange(len(teeth))[:, None], np.maximum(teeth, 0)), share)
        return Modes(np.zeros((len(teeth), 0), dtype=np.intp), None, spread[:, None, :], 1)


def _rows(array: Array, count: int) -> Array:
    """An array with the first axis of all families."""
    return np.broadcast_to(array, (count, *array.shape[1:]))


def _shifted(factors: Array) -> Array:
    """The factor of two places as a matrix: a view of the factors by sum."""
    size = (factors.shape[1] + 1) // 2
    step = factors.strides[1]
    return np.lib.stride_tricks.as_strided(
        factors, (len(factors), size, size), (factors.strides[0], step, step), writeable=False
    )


def _known(modes: Modes, law: Array | None, behind: Array | None) -> Array:
    """What known teeth weigh with all behind them: [family, question, mode, combination]."""
    if behind is None:
        if law is None:
            return np.ones((len(modes.at), 1, modes.at.shape[1], 1))
        return np.take_along_axis(law, modes.at[:, None, :], 2)[..., None]
    found = np.take_along_axis(behind, modes.at[:, None, :, None], 2)
    if law is None:
        return found
    return np.asarray(found * np.take_along_axis(law, modes.at[:, None, :], 2)[..., None])


def _unknown(modes: Modes, law: Array | None) -> Array:
    """How unknown teeth weigh: [family, question, mode, place]."""
    found = modes.unknown[:, None]
    return found if law is None else found * law[:, :, None, :]


def _met(modes: Modes, law: Array | None, behind: Array | None) -> Array:
    """The sum over the teeth of one wheel: [family, question, mode, combination]."""
    weights = _unknown(modes, law)
    unknown = weights.sum(axis=3, keepdims=True) if behind is None else np.matmul(weights, behind)
    known = _known(modes, law, behind)
    if not known.shape[2]:
        return np.asarray(unknown[:, :, : modes.modes])
    if modes.gap is not None:
        known = np.where(modes.gap[:, None, :, None], unknown[:, :, -1:], known)
    unknown = unknown[:, :, : modes.modes]
    shape = np.broadcast_shapes(
        (*known.shape[:2], 1, known.shape[3]), (*unknown.shape[:2], 1, unknown.shape[3])
    )
    parts = [np.broadcast_to(p, (*shape[:2], p.shape[2], shape[3])) for p in (known, unknown)]
    return np.concatenate(parts, axis=2)


def _message(modes: Modes, law: Array | None, behind: Array | None, factors: Array) -> Array:
    """What one wheel and those behind say of a mate: [member, question, place, combination]."""
    size = (factors.shape[1] + 1) // 2
    weights = _unknown(modes, law)
    if behind is None:
        weights = weights[..., None, :]
    else:
        weights = weights[..., None, :] * behind.swapaxes(2, 3)[:, :, None]
    # [family, question, mode, combination, place] against every place of the mate.
    unknown = np.einsum("ftu,fqmju->fqtmj", _shifted(factors), _rows(weights, len(factors)))
    if modes.at.shape[1]:
        known = _known(modes, law, behind)
        sums = np.arange(size)[None, :, None] + modes.at[:, None, :]
        met = factors[np.arange(len(factors))[:, None, None], sums]
        found = met[:, None, :, :, None] * known[:, :, None]
        if modes.gap is not None:
            found = np.where(modes.gap[:, None, None, :, None], unknown[:, :, :, -1:], found)
        shape = np.broadcast_shapes(found.shape[:2], unknown.shape[:2])
        parts = [
            np.broadcast_to(p, (*shape, *p.shape[2:]))
            for p in (found, unknown[:, :, :, : modes.modes])
        ]
        unknown = np.concatenate(parts, axis=3)
    return np.asarray(unknown.reshape(*unknown.shape[:3], -1))


def _dense(modes: Modes, law: Array | None) -> Array:
    """How the teeth of every mode weigh: [family, question, place, mode]."""
    families, known = modes.at.shape
    unknown = _rows(modes.unknown, families)
    found = np.zeros((families, unknown.shape[2], known))
    np.put_along_axis(found, modes.at[:, None, :], 1.0, 1)
    if modes.gap is not None:
        found = np.where(modes.gap[:, None, :], unknown[:, -1, :, None], found)
    found = np.concatenate([found, unknown[:, : modes.modes].swapaxes(1, 2)], axis=2)[:, None]
    return found if law is None else found * law[..., None]
