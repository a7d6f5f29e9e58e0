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
    """What can be known of one wheel: in each mode so much of ρ, and single teeth more or less.

    In mode m the teeth t weigh `scale[m]`·ρ[t], and `more[k, m]` besides where t is `at[k]`. `rho`
    [member, place], `scale` [member, mode], `at` [member, k], `more` [member, k, mode].
    """

    rho: Array
    scale: Array
    at: Array
    more: Array


#: What is left of ρ without all listed teeth is nothing where it is less.
NOTHING_LEFT = 1e-12
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
        found = np.zeros((*table.shape[:-1], prod(room)))
        found[..., self._places(component, room)] = table
        return found.reshape(*table.shape[:-1], *room)

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
        several wheels: each type's, for each type others than its, then any. A gap can be any too.
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
        excluded *= np.take_along_axis(rho, at, 1)[:, :, None]
        left = rho.sum(axis=1, keepdims=True) - excluded.sum(axis=1)
        others = np.where(left > NOTHING_LEFT, 1 / np.maximum(left, NOTHING_LEFT), 0.0)
        known = listed[:, :, None] * np.eye(types)
        scale, more = [1 - listed, others], [known, -others[:, None] * excluded]
        if not alone:
            scale.append(np.ones((members, 1)))
            more.append(np.zeros((members, types, 1)))
        return Modes(rho, np.concatenate(scale, axis=1), at, np.concatenate(more, axis=2))

    def table(self, laws: Sequence[Array | None]) -> Array:
        """Return the weight of all combinations of modes: [member, question or 1, mode, …]."""
        if not self.form.is_tree:
            return self._ring(laws)
        found = _met(self.modes(0), laws[0], self._behind(0, None, laws))
        counts = [self.count(wheel) for wheel in range(len(self.form.alone))]
        return found.reshape(*found.shape[:2], *counts)

    def count(self, wheel: int) -> int:
        """Return how many modes a wheel has."""
        return int(self.modes(wheel).scale.shape[1])

    def _behind(self, wheel: int, above: int | None, laws: Sequence[Array | None]) -> Array | None:
        """What the wheels behind one say of its teeth: [member, question, combination, place]."""
        found: Array | None = None
        for mate, edge in self._mates(wheel):
            if mate == above:
                continue
            behind = self._behind(mate, wheel, laws)
            message = self._message(mate, laws[mate], behind, self.factors(edge))
            if found is None:
                found = message
            else:
                both = found[:, :, :, None] * message[:, :, None]
                found = both.reshape(*both.shape[:2], -1, both.shape[-1])
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

    def _message(self, wheel: int, law: Array | None, behind: Array | None, met: Array) -> Array:
        """What one wheel and those behind say of a mate: [member, question, combination, place].

        `met`: the factor of every sum of the two.
        """
        modes = self.modes(wheel)
        shifted = _shifted(met)
        of_rho = modes.rho[:, None] if law is None else modes.rho[:, None] * law
        if behind is None:
            # The same for all families of a stack: one product of matrices for them all.
            meshed = np.empty((*of_rho.shape[:2], 1, of_rho.shape[2]))
            for rows in self.pool.rows:
                each = met[rows] @ _by_sum(of_rho[rows.start])
                meshed[rows, :, 0] = each.reshape(len(each), *of_rho.shape[1:])
        else:
            meshed = np.einsum("ftu,fqcu->fqct", shifted, of_rho[:, :, None] * behind)
        known = _at(modes, law, behind)
        more = modes.more.swapaxes(1, 2)[:, None, :, None] * known[:, :, None]
        here = shifted[np.arange(len(met))[:, None], modes.at]
        found = np.matmul(more.reshape(*more.shape[:2], -1, more.shape[-1]), here[:, None])
        found += (modes.scale[:, None, :, None, None] * meshed[:, :, None]).reshape(found.shape)
        return np.asarray(np.maximum(found, 0.0, out=found))

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
        modes, law = self.modes(wheel), laws[wheel]
        # By combination of the others, the modes of the wheel summed out.
        of_rho = np.matmul(modes.scale[:, None, None], shaped)
        more = np.matmul(modes.more[:, None], shaped)
        if behind is None:
            found = modes.rho[:, None] * of_rho[..., 0]
            more = more[..., 0]
        else:
            found = modes.rho[:, None] * np.matmul(of_rho, behind)[..., 0, :]
            more = (more * _at(modes, None, behind).swapaxes(2, 3)).sum(axis=4)
        places = np.broadcast_to(modes.at[:, None], more.shape)
        np.add.at(found, (*np.ogrid[tuple(map(slice, more.shape))][:3], places), more)
        found = np.maximum(found, 0.0, out=found)
        return np.asarray(found if law is None else found * law)

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
            dense = _dense(self.modes(each), laws[each])
            operands += [dense, [member, question, 3 + 2 * each, 4 + 2 * each]]
        for edge, (left, right) in enumerate(self.form.edges):
            operands += [_shifted(self.factors(edge)), [member, 3 + 2 * left, 3 + 2 * right]]
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


def _by_sum(weights: Array) -> Array:
    """The matrix that takes factors by sum to what a mate of these weights says of each place.

    `weights` [question, place]; the answer is [sum, question · place].
    """
    questions, size = weights.shape
    room = np.zeros((questions, 3 * size - 2))
    room[:, size - 1 : 2 * size - 1] = weights
    every = np.lib.stride_tricks.sliding_window_view(room, size, axis=1)[..., ::-1]
    return np.ascontiguousarray(every.swapaxes(0, 1)).reshape(-1, questions * size)


def _at(modes: Modes, law: Array | None, behind: Array | None) -> Array:
    """What single teeth weigh with all behind them: [member, question, combination, k]."""
    at = modes.at[:, None, None]
    found = None if behind is None else np.take_along_axis(behind, at, 3)
    mine = None if law is None else np.take_along_axis(law[:, :, None], at, 3)
    if found is None:
        return np.ones((len(modes.at), 1, 1, modes.at.shape[1])) if mine is None else mine
    return found if mine is None else found * mine


def _met(modes: Modes, law: Array | None, behind: Array | None) -> Array:
    """The sum over the teeth of one wheel: [member, question, mode, combination]."""
    of_rho = modes.rho[:, None] if law is None else modes.rho[:, None] * law
    if behind is None:
        summed = of_rho.sum(axis=2)[..., None]
    else:
        summed = np.matmul(behind, of_rho[..., None])[..., 0]
    known = _at(modes, law, behind)
    found = np.matmul(modes.more.swapaxes(1, 2)[:, None], known.swapaxes(2, 3))
    found = found + modes.scale[:, None, :, None] * summed[:, :, None]
    return np.asarray(np.maximum(found, 0.0, out=found))


def _dense(modes: Modes, law: Array | None) -> Array:
    """How the teeth of every mode weigh: [member, question, place, mode]."""
    found = modes.rho[:, :, None] * modes.scale[:, None, :]
    np.add.at(found, (np.arange(len(found))[:, None], modes.at), modes.more)
    found = np.maximum(found, 0.0, out=found)[:, None]
    return np.asarray(found if law is None else found * law[..., None])
