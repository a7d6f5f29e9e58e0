"""What answers weigh beside one thing more: the teeth of a wheel, the speed of a gear, a type.

All of it comes from one backward pass through the sums of a stack: for the states of every group of
pieces, what all else weighs. What the joints are worth is left to the advice.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property

import numpy as np

from cogtally.evidence.engine.meshes import Component, Meshes, NewMeshes, Pool
from cogtally.evidence.engine.plan import distinct
from cogtally.evidence.engine.question import (
    Asked,
    Looks,
    PathSpeeds,
    Tables,
    components_of,
    looks_of,
    mesh_tables,
    pools_of,
)
from cogtally.evidence.engine.stack import Array, Stack
from cogtally.evidence.engine.sums import WHOLE_ONLY, Sums, all_columns
from cogtally.evidence.engine.weigh import Part, Weighed

#: What is told apart among all that families weigh besides their matched sets.
WHOLE, RELATED = 0, 1


class Around:
    """The counted sets of some families of one stack, all else beside the states of their pieces.

    `gears`: those whose speeds will be asked for. The first axis of every answer is the output: the
    whole, and what has any set in common (not so where `whole`); then come family and question.
    """

    def __init__(
        self,
        stack: Stack,
        asked: Asked,
        looks: Looks | None,
        meshes: Mapping[int, Array],
        gears: Iterable[str] = (),
        *,
        whole: bool = False,
    ) -> None:
        self.stack = stack
        self.asked = asked
        self._speeds = {
            gear: PathSpeeds(stack, asked, path)
            for gear in gears
            if (path := stack.shape.paths.get(gear))
        }
        self._tables = Tables(stack, asked, looks, meshes, [*self._speeds.values()])
        columns = WHOLE_ONLY if whole else all_columns(stack, None)
        plan, tables = self._tables.plan, self._tables.tables
        self._sums = Sums(stack, plan, columns, tables, asked.question.count)
        weights = stack.arrays["base"] / stack.arrays["normaliser"]
        outputs = np.zeros((1 if whole else 2, *weights.shape, columns.size))
        outputs[WHOLE, ..., 0] = weights
        if not whole:
            signs = stack.arrays["signs"][:, None]
            outputs[RELATED, ..., columns.common] = signs * weights[:, :, None]
        self._outputs = outputs

    @cached_property
    def _around(self) -> list[Array]:
        return self._sums.around(self._outputs)

    def factor(self, number: int, size: int) -> Array:
        """Return what all else weighs beside every place in the table of a factor, of this size.

        [output, family, question, place].
        """
        plan = self._tables.plan
        if number in plan.hubs.factors:
            around = (self._around[-1] * self._sums.hub_table(number))[..., None]
            places = plan.hub_places(number)[:, None]
        else:
            at, cluster = next((n, c) for n, c in enumerate(plan.clusters) if number in c.factors)
            around = self._around[at] * self._sums.table(cluster, number)
            places = plan.places(number, cluster)
        # Views that the factor does not tell apart are as one; the others differ by states alike.
        seen, _, group = distinct(places[:, 0])
        if len(seen) < len(group):
            around = (group == np.arange(len(seen))[:, None]).astype(float) @ around
            places = seen[:, None] + places[0] - places[0, 0]
        order = np.argsort(places, axis=None, kind="stable")
        around, places = around.reshape(*around.shape[:3], -1)[..., order], places.ravel()[order]
        firsts = np.flatnonzero(np.diff(places, prepend=-1))
        if len(firsts) < len(order):
            around = np.add.reduceat(around, firsts, axis=3)
        found = np.zeros((*around.shape[:3], size))
        found[..., places[firsts]] = around
        return found

    @cached_property
    def by_kind(self) -> list[Array]:
        """For each piece what its kinds weigh: [output, family, question, kind]."""
        return self._sums.kinds_of(self._around)

    def speeds(self, gear: str) -> tuple[Array, Array, Array]:
        """Return every ratio that a gear can have, NaN for none, what each weighs, and whose it is.

        [family, place]; [output, family, question, place]; of every base set's own types the place:
        [family, base].
        """
        path = self._speeds[gear]
        number = len(self._tables.tables) + [*self._speeds].index(gear)
        ratios = path.ratios()[:, -1]
        own = self.stack.arrays["own"].astype(np.intp)
        places = np.zeros(own.shape[:2], dtype=np.intp)
        for piece, local in path.local.items():
            places += local[own[:, :, piece]]
        return ratios, self.factor(number, ratios.shape[1]), places


def teeth_of(arounds: Mapping[int, Around], wheels: Iterable[str]) -> dict[int, dict[str, Array]]:
    """Return for each of some parts the joint of its outputs with the teeth of wheels.

    By canonical name: [output, family, question, place].
    """
    wanted = set(wheels)
    numbers = list(arounds)
    found: dict[int, dict[str, Array]] = {n: {} for n in numbers}
    stacks = [(each.stack, each.asked.laws(each.stack)) for each in arounds.values()]
    for pool, mine, laws in pools_of(stacks, lambda c, _: bool(wanted.intersection(c.wheels))):
        meshes = Meshes(pool)
        room = [meshes.count(place) for place in range(len(pool.form.alone))]
        around = np.concatenate(
            [pool.widened(c, arounds[numbers[at]].factor(n, c.size), room) for at, n, c in mine],
            axis=1,
        )
        for at, wheel, spread in _spreads(meshes, mine, wanted, laws, around):
            found[numbers[at]][wheel] = spread
    return found


def new_teeth_of(
    stacks: Mapping[int, tuple[Stack, Asked]], wheels: Iterable[str]
) -> dict[int, dict[str, Array]]:
    """Return how the teeth of wheels of new sets are spread: [family, question, place].

    Every row adds up to 1.
    """
    wanted = set(wheels)
    numbers = list(stacks)
    found: dict[int, dict[str, Array]] = {n: {} for n in numbers}
    known = [(stack, asked.laws(stack)) for stack, asked in stacks.values()]
    for pool, mine, laws in pools_of(known, lambda c, _: bool(wanted.intersection(c.wheels))):
        around = np.ones((1, pool.count, 1, *[1] * len(pool.form.alone)))
        for at, wheel, spread in _spreads(NewMeshes(pool), mine, wanted, laws, around):
            found[numbers[at]][wheel] = spread[0] / spread[0].sum(axis=2, keepdims=True)
    return found


def _spreads(
    meshes: Meshes,
    mine: Sequence[tuple[int, int, Component]],
    wanted: set[str],
    laws: Sequence[Array | None],
    around: Array,
) -> Iterator[tuple[int, str, Array]]:
    """Give how the teeth of each wanted wheel are spread in each member: its stack, the wheel."""
    for place in range(len(meshes.form.alone)):
        if any(component.wheels[place] in wanted for _, _, component in mine):
            spread = meshes.spread(place, laws, around)
            for rows, (at, _, component) in zip(meshes.pool.rows, mine, strict=True):
                yield at, component.wheels[place], spread[:, rows]


def arounds_of(
    weighed: Weighed, chosen: Mapping[int, Array], gears: Iterable[str] = (), *, whole: bool = False
) -> dict[int, Around]:
    """Return what stands around the pieces of some families, by row, of each part that has any.

    `gears` and `whole` as in `Around`.
    """
    parts = [
        (n, weighed.parts[n].stack.rows(rows), weighed.parts[n].asked)
        for n, rows in chosen.items()
        if rows.size
    ]
    meshes = mesh_tables([(stack, asked.laws(stack)) for _, stack, asked in parts], Meshes)
    catalog, question = weighed.ready.catalog, weighed.question
    return {
        n: Around(stack, asked, looks_of(stack, catalog, question), tables, gears, whole=whole)
        for (n, stack, asked), tables in zip(parts, meshes, strict=True)
    }


def matched_spread(part: Part, row: int, base: int, wheel: str) -> Array:
    """Return how the teeth of a wheel are spread where all is as one base set has it.

    For a wheel that the set has a gap for; [question, place], each row adding up to 1.
    """
    stack = part.stack.rows(np.array([row]))
    own = stack.arrays["own"][0, base].astype(np.intp)
    laws = part.asked.laws(stack)
    component = next(c for c in components_of(stack) if wheel in c.wheels)
    pool = Pool(component.form, [(stack, component)])
    around = np.zeros((1, 1, part.asked.question.count, component.size))
    around[..., sum(local[own[piece]] for piece, local in component.local.items())] = 1.0
    shaped = around.reshape(*around.shape[:3], *component.counts)
    found = Meshes(pool).spread(component.wheels.index(wheel), pool.laws([laws]), shaped)[0, 0]
    return np.asarray(found / found.sum(axis=1, keepdims=True))
