"""Wheels that mesh, for every combination of what is known of each, all families at once.

What is known of a wheel is its mode: teeth, or that they are unknown and which they are not. Which
state of a piece gives which mode is left to `plan`.

Wheels that mesh, directly or through each other, are a component; those of one form are worked out
together, whatever family or stack they are of: the first axis of most arrays is the member. What
all families of a stack have alike, ρ and laws, is there once a stack: a part of the pool. The
second axis is the question: one hand, or one hand and a part of what was seen. Teeth are places on
the grid of the catalog. Two wheels in mesh ask only for their sum, so that their factor is a matrix
whose rows are one vector, each shifted by one place; most families have that vector from others.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property
from itertools import pairwise
from math import prod
from typing import Any, NamedTuple

import numpy as np

from cogtally.evidence.engine.plan import States, combinations
from cogtally.evidence.engine.stack import NONE, Array, Shape, Stack
from cogtally.evidence.laws import AS_LISTED_WHEEL, NEW_SUM_OFF, SUM_FAR, SUM_OFF

#: Likelihoods of counted wheels by canonical name: [question, place].
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
    """What can be known of one wheel: in each mode so much of ρ, and single teeth more or less.

    In mode m the teeth t weigh `scale[m]`·ρ[t], and `more[k, m]` besides where t is `at[k]`. `rho`
    [part, place], `scale` [member, mode], `at` [member, k], `more` [member, k, mode].
    """

    rho: Array
    scale: Array
    at: Array
    more: Array


class Mesh(NamedTuple):
    """The factors of two wheels in mesh, once for all members of a part that have them alike.

    `factors` [row, sum of two places], `far` but for some: `more` than that [row, k] at the sums
    `near` [row, k]. `row` [member]; `part` [row], rising.
    """

    factors: Array
    far: float
    near: Array
    more: Array
    row: Array
    part: Array

    def said(self, weights: Array) -> Array:
        """Return what a wheel of these weights [part, question, place] says of a mate.

        [row, question, place of the mate].
        """
        return self._met(weights[self.part], self.near, self.more)

    def met(self, values: Array) -> Array:
        """Return what values [member, question, combination, place] say of a mate's places."""
        flat = values.reshape(len(values), -1, values.shape[-1])
        return self._met(flat, self.near[self.row], self.more[self.row]).reshape(values.shape)

    def _met(self, values: Array, near: Array, more: Array) -> Array:
        size = values.shape[2]
        room = np.zeros((*values.shape[:2], 3 * size - 2))
        room[..., size - 1 : 2 * size - 1] = values
        by_sum = np.lib.stride_tricks.sliding_window_view(room, size, axis=2)[..., ::-1]
        found = np.repeat(self.far * values.sum(axis=2, keepdims=True), size, axis=2)
        each = np.arange(len(values))
        for sums, factors in zip(near.T, more.T, strict=True):
            found += factors[:, None, None] * by_sum[each, :, sums]
        return found


#: What is left of ρ without all listed teeth is nothing where it is less.
NOTHING_LEFT = 1e-12
#: A member of a pool: a stack and one of its components.
Member = tuple[Stack, Component]


class Pool:
    """Components of one form, the families of several stacks one after the other.

    `part` [member]: of which of `members` each family is.
    """

    def __init__(self, form: Form, members: Sequence[Member]) -> None:
        self.form = form
        self.members = tuple(members)
        self.part = np.repeat(np.arange(len(members)), [stack.count for stack, _ in members])
        ends = np.cumsum([0, *(stack.count for stack, _ in members)]).tolist()
        self.rows = [slice(a, b) for a, b in pairwise(ends)]
        self.count = len(self.part)

    def laws(self, laws: Sequence[Laws]) -> list[Array | None]:
        """Return the laws of every wheel: [part, question, place]; None where none is counted."""
        found: list[Array | None] = []
        for place in range(len(self.form.alone)):
            mine = [
                law.get(component.wheels[place])
                for law, (_, component) in zip(laws, self.members, strict=True)
            ]
            known = [each for each in mine if each is not None]
            every = [np.ones(known[0].shape) if each is None else each for each in mine if known]
            found.append(np.array(every) if known else None)
        return found

    def teeth(self, place: int) -> tuple[Array, Array]:
        """Return the teeth of a wheel by type, and the weights of the types: [member, type]."""
        types, weights = [], []
        for stack, component in self.members:
            piece, at = stack.shape.location[component.wheels[place]]
            types.append(stack.teeth(piece)[:, :, at])
            weights.append(stack.weight(piece))
        weight = np.zeros((self.count, max(each.shape[1] for each in weights)))
        for rows, each in zip(self.rows, weights, strict=True):
            weight[rows, : each.shape[1]] = each
        return self._padded(types), weight

    def _padded(self, each: Sequence[Array]) -> Array:
        """Numbers of every part as one array; what there is room for besides is the first again."""
        found = np.empty((self.count, max(one.shape[1] for one in each)), dtype=np.intp)
        for rows, mine in zip(self.rows, each, strict=True):
            found[rows] = mine[:, :1]
            found[rows, : mine.shape[1]] = mine
        return found

    def rho(self, place: int) -> Array:
        """Return ρ of a wheel: [part, place]."""
        return np.array([stack.rho[component.wheels[place]] for stack, component in self.members])

    def mesh(self, edge: int, far: float, off: Sequence[float]) -> Mesh:
        """Return the factors of every sum of two places in mesh."""
        sums = self._padded([stack.arrays[f"sums {c.edges[edge]}"] for stack, c in self.members])
        row, firsts = combinations([self.part, *sums.T])
        sums = sums[firsts]
        beyond, size = len(off) - 1, self.members[0][0].size
        found = np.full((len(sums), 2 * size - 1 + 2 * beyond), far)
        at = np.arange(len(sums))[:, None]
        for away in range(beyond, -1, -1):
            found[at, sums + (beyond + away)] = off[away]
            found[at, sums + (beyond - away)] = off[away]
        factors = np.ascontiguousarray(found[:, beyond : beyond + 2 * size - 1])
        is_near = factors != far
        near = np.argsort(~is_near, axis=1, kind="stable")[:, : is_near.sum(axis=1).max()]
        more = np.take_along_axis(factors, near, 1) - far
        return Mesh(factors, far, near, more, row, self.part[firsts])

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
        found = np.zeros((*table.shape[:-1], prod(room)))
        found[..., self._places(component, room)] = table
        return found.reshape(*table.shape[:-1], *room)

    def _places(self, component: Component, room: Sequence[int]) -> Array:
        """Where the modes of a component's own types stand in a table with room for more."""
        found = np.zeros(1, dtype=np.intp)
        for alone, count, wide in zip(self.form.alone, component.counts, room, strict=True):
            types, most = (count - 1, wide - 1) if alone else ((count - 1) // 2, (wide - 1) // 2)
            known = np.arange(types)
            others = [most] if alone else [most, *(known + most + 1)]
            modes = np.concatenate([known, others]).astype(np.intp)
            found = (found[:, None] * wide + modes).ravel()
        return found


class Meshes:
    """The wheels and meshes of a pool as listed types have them, or wheels changed in those."""

    far, off = SUM_FAR, SUM_OFF

    def __init__(self, pool: Pool) -> None:
        self.pool = pool
        self.form = pool.form
        self.modes = [self._modes_of(wheel) for wheel in range(len(pool.form.alone))]
        self.meshes = [pool.mesh(edge, self.far, self.off) for edge in range(len(pool.form.edges))]

    def _modes_of(self, wheel: int) -> Modes:
        """The modes of a wheel.

        Of a piece by itself: each type's teeth, then others than all of those. Of a piece of
        several wheels: each type's, any, then for each type others than its. A gap can be any too.
        """
        teeth, _ = self.pool.teeth(wheel)
        rho = self.pool.rho(wheel)
        alone = self.form.alone[wheel]
        at = np.maximum(teeth, 0)
        listed = np.where(teeth == NONE, 0.0, 1.0)
        members, types = at.shape
        each = np.arange(types)
        excluded = np.zeros((members, types, 1 if alone else types))
        if alone:
            again = (teeth[:, :, None] == teeth[:, None, :]) & (each[:, None] > each)
            excluded[:, :, 0] = listed * ~again.any(axis=2)
        else:
            excluded[:, each, each] = listed
        excluded *= rho[self.pool.part[:, None], at][:, :, None]
        left = rho.sum(axis=1)[self.pool.part, None] - excluded.sum(axis=1)
        others = np.where(left > NOTHING_LEFT, 1 / np.maximum(left, NOTHING_LEFT), 0.0)
        known = listed[:, :, None] * np.eye(types)
        scale, more = [1 - listed, others], [known, -others[:, None] * excluded]
        if not alone:
            scale.insert(1, np.ones((members, 1)))
            more.insert(1, np.zeros((members, types, 1)))
        return Modes(rho, np.concatenate(scale, axis=1), at, np.concatenate(more, axis=2))

    def table(self, laws: Sequence[Array | None]) -> Array:
        """Return the weight of all combinations of modes: [member, question or 1, mode, …]."""
        if not self.form.is_tree:
            return self._ring(laws)
        modes, behind = self.modes[0], self._behind(0, None, laws)
        summed = behind.summed(_of_rho(modes, laws[0]))
        known = behind.at(modes.at) * _known(modes, laws[0], self.pool.part)
        found = np.matmul(modes.more.swapaxes(1, 2)[:, None], known.swapaxes(2, 3))
        found = found + modes.scale[:, None, :, None] * summed[:, :, None]
        found = np.maximum(found, 0.0, out=found)
        counts = [self.count(wheel) for wheel in range(len(self.modes))]
        return np.asarray(found.reshape(*found.shape[:2], *counts))

    def count(self, wheel: int) -> int:
        """Return how many modes a wheel has."""
        return int(self.modes[wheel].scale.shape[1])

    def _behind(self, wheel: int, above: int | None, laws: Sequence[Array | None]) -> _Said:
        """What the wheels behind one say of its teeth."""
        said = [
            self._message(mate, wheel, self.meshes[edge], laws)
            for mate, edge in self._mates(wheel)
            if mate != above
        ]
        if len(said) == 1:
            return said[0]
        found = np.ones((1, 1, 1, self.modes[wheel].rho.shape[1]))
        for each in said:
            both = found[:, :, :, None] * each.by_place[:, :, None]
            found = both.reshape(*both.shape[:2], -1, both.shape[-1])
        return _Said(found, self.pool.part)

    def _message(self, wheel: int, mate: int, mesh: Mesh, laws: Sequence[Array | None]) -> _Said:
        """What one wheel and those behind it say of a mate."""
        modes, part = self.modes[wheel], self.pool.part
        of_rho, known = _of_rho(modes, laws[wheel]), _known(modes, laws[wheel], part)
        if len(self._mates(wheel)) == 1:
            return _Leaf(modes, mesh, of_rho, known, part)
        behind = self._behind(wheel, mate, laws)
        meshed = mesh.met(of_rho[part][:, :, None] * behind.by_place)
        more = (
            modes.more.swapaxes(1, 2)[:, None, :, None] * (behind.at(modes.at) * known)[:, :, None]
        )
        here = _shifted(mesh.factors)[mesh.row[:, None], modes.at]
        found = np.matmul(more.reshape(*more.shape[:2], -1, more.shape[-1]), here[:, None])
        found += (modes.scale[:, None, :, None, None] * meshed[:, :, None]).reshape(found.shape)
        return _Said(np.maximum(found, 0.0, out=found), part)

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
        """Return the weight of every number of teeth of a wheel: [output, member, question, place].

        `around` [output, member, question, mode, mode, …]: what all else weighs beside each
        combination.
        """
        if not self.form.is_tree:
            return self._ring(laws, wheel, around)
        shaped = around.transpose(0, 1, 2, *(3 + each for each in self._order(wheel, None)))
        shaped = shaped.reshape(*shaped.shape[:4], -1)
        behind = self._behind(wheel, None, laws)
        modes, law = self.modes[wheel], laws[wheel]
        # By combination of the others, the modes of the wheel summed out.
        of_rho = np.matmul(modes.scale[:, None, None], shaped)
        more = np.matmul(modes.more[:, None], shaped)
        part = self.pool.part
        found = modes.rho[part][:, None] * behind.mixed(of_rho[..., 0, :])
        more = (more * behind.at(modes.at).swapaxes(2, 3)).sum(axis=4)
        places = np.broadcast_to(modes.at[:, None], more.shape)
        np.add.at(found, (*np.ogrid[tuple(map(slice, more.shape))][:3], places), more)
        found = np.maximum(found, 0.0, out=found)
        return np.asarray(found if law is None else found * law[part])

    def _ring(
        self,
        laws: Sequence[Array | None],
        wheel: int | None = None,
        around: Array | None = None,
    ) -> Array:
        """The table, or the spread of one wheel, of wheels whose meshes close a ring: one sum."""
        member, question, output, wheels = 0, 1, 2, range(len(self.form.alone))
        operands: list[Any] = []
        for each in wheels:
            dense = _dense(self.modes[each], laws[each], self.pool.part)
            operands += [dense, [member, question, 3 + 2 * each, 4 + 2 * each]]
        for edge, (left, right) in enumerate(self.form.edges):
            mesh = self.meshes[edge]
            operands += [_shifted(mesh.factors[mesh.row]), [member, 3 + 2 * left, 3 + 2 * right]]
        axes = [4 + 2 * each for each in wheels]
        if wheel is None or around is None:
            return np.asarray(np.einsum(*operands, [member, question, *axes], optimize="greedy"))
        operands += [around, [output, member, question, *axes]]
        return np.asarray(
            np.einsum(*operands, [output, member, question, 3 + 2 * wheel], optimize="greedy")
        )


class NewMeshes(Meshes):
    """The same of sets that a family has and the catalog lacks: one mode a wheel, other factors."""

    far, off = SUM_FAR, NEW_SUM_OFF

    def _modes_of(self, wheel: int) -> Modes:
        teeth, weight = self.pool.teeth(wheel)
        weight = np.where(teeth == NONE, 0.0, weight)
        whole = weight.sum(axis=1, keepdims=True)
        share = AS_LISTED_WHEEL * weight / np.where(whole > 0, whole, 1.0)
        scale = np.where(whole > 0, 1 - AS_LISTED_WHEEL, 1.0)
        return Modes(self.pool.rho(wheel), scale, np.maximum(teeth, 0), share[:, :, None])


def _shifted(factors: Array) -> Array:
    """The factor of two places as a matrix: a view of the factors by sum."""
    size = (factors.shape[1] + 1) // 2
    step = factors.strides[1]
    return np.lib.stride_tricks.as_strided(
        factors, (len(factors), size, size), (factors.strides[0], step, step), writeable=False
    )


class _Said:
    """What wheels say of the teeth of one that they mesh with, by the modes of all of them."""

    def __init__(self, every: Array, part: Array) -> None:
        self._every = every
        self._part = part

    @property
    def by_place(self) -> Array:
        """All of it: [member, question, combination, place]."""
        return self._every

    def at(self, places: Array) -> Array:
        """Return it at some places [member, k]: [member, question, combination, k]."""
        return np.take_along_axis(self.by_place, places[:, None, None], 3)

    def summed(self, weights: Array) -> Array:
        """Return it summed with weights of places: [member, question, combination].

        `weights` [part, question, place].
        """
        found: Array = np.matmul(self.by_place, weights[self._part][..., None])[..., 0]
        return found

    def mixed(self, weights: Array) -> Array:
        """Return it summed with weights of combinations: [output, member, question, place].

        `weights` [output, member, question, combination].
        """
        found: Array = np.matmul(weights[..., None, :], self.by_place)[..., 0, :]
        return found


class _Leaf(_Said):
    """The same of one wheel that has no other mate: worked out as far as it is asked for.

    `of_rho` [part, question, place] and `known` [member, question, 1, k]: what ρ and single teeth
    weigh with what was counted.
    """

    def __init__(self, modes: Modes, mesh: Mesh, of_rho: Array, known: Array, part: Array) -> None:
        self._modes = modes
        self._mesh = mesh
        self._of_rho = mesh.said(of_rho)
        self._more = modes.more.swapaxes(1, 2)[:, None] * known

    @cached_property
    def _shifted(self) -> Array:
        """The factor of single teeth and every place of the mate: [member, k, place]."""
        return np.asarray(_shifted(self._mesh.factors)[self._mesh.row[:, None], self._modes.at])

    @property
    def by_place(self) -> Array:
        return self._both(self._of_rho[self._mesh.row], self._shifted[:, None])

    def at(self, places: Array) -> Array:
        row = self._mesh.row[:, None, None]
        met = self._mesh.factors[row, self._modes.at[:, :, None] + places[:, None]]
        return self._both(_picked(self._of_rho, row, places), met[:, None])

    def summed(self, weights: Array) -> Array:
        row = self._mesh.row[:, None, None]
        of_rho = (self._of_rho * weights[self._mesh.part]).sum(axis=2)[self._mesh.row]
        met = _picked(self._mesh.said(weights), row, self._modes.at)
        return self._both(of_rho[..., None], met[..., None])[..., 0]

    def mixed(self, weights: Array) -> Array:
        of_rho = (weights * self._modes.scale[:, None]).sum(axis=3)[..., None]
        more = np.matmul(weights[..., None, :], self._more)
        met = np.matmul(more, self._shifted[:, None])[..., 0, :]
        return np.asarray(of_rho * self._of_rho[self._mesh.row] + met)

    def _both(self, of_rho: Array, met: Array) -> Array:
        """What ρ says [member, question, k] and what single teeth say, by mode of the wheel."""
        found = np.matmul(self._more, met)
        found = found + self._modes.scale[:, None, :, None] * of_rho[:, :, None]
        return np.asarray(np.maximum(found, 0.0, out=found))


def _picked(values: Array, row: Array, places: Array) -> Array:
    """Values [row, question, place] of each member at some places: [member, question, k]."""
    found: Array = values[row, np.arange(values.shape[1])[:, None], places[:, None]]
    return found


def _known(modes: Modes, law: Array | None, part: Array) -> Array:
    """How likely what was counted is at single teeth: [member, question, 1, k]."""
    if law is None:
        return np.ones((1, 1, 1, 1))
    return _picked(law, part[:, None, None], modes.at)[:, :, None]


def _of_rho(modes: Modes, law: Array | None) -> Array:
    """What ρ and what was counted weigh together: [part, question, place]."""
    return modes.rho[:, None] if law is None else modes.rho[:, None] * law


def _dense(modes: Modes, law: Array | None, part: Array) -> Array:
    """How the teeth of every mode weigh: [member, question, place, mode]."""
    found = modes.rho[part][:, :, None] * modes.scale[:, None, :]
    np.add.at(found, (np.arange(len(found))[:, None], modes.at), modes.more)
    found = np.maximum(found, 0.0, out=found)[:, None]
    return np.asarray(found if law is None else found * law[part][..., None])
