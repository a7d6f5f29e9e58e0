"""What answers weigh beside one thing more: the teeth of a wheel, the speed of a gear, a type.

All of it comes from one backward pass through the sums of a stack: for the states of every group of
pieces, what all else weighs. What the joints are worth is left to the advice.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property

import numpy as np

from cogtally.evidence.engine.meshes import Component, Laws, Meshes, NewMeshes, Pool
from cogtally.evidence.engine.question import (
    Asked,
    Looks,
    MeshTables,
    PathSpeeds,
    Tables,
    components_of,
    looks_of,
)
from cogtally.evidence.engine.stack import Array, Stack
from cogtally.evidence.engine.sums import Sums, all_columns
from cogtally.evidence.engine.weigh import Part, Weighed, families_of

#: What is told apart among all that families weigh besides their matched sets.
WHOLE, RELATED = 0, 1


class Around:
    """The counted sets of some families of one stack, all else beside the states of their pieces.

    `gears`: those whose speeds will be asked for. The first axis of every answer is the output: the
    whole, and what has any set in common; then come family and question.
    """

    def __init__(
        self,
        stack: Stack,
        asked: Asked,
        looks: Looks | None,
        meshes: Sequence[Array],
        gears: Iterable[str] = (),
    ) -> None:
        self.stack = stack
        self.asked = asked
        self._speeds = {
            gear: PathSpeeds(stack, asked, path)
            for gear in gears
            if (path := stack.shape.paths.get(gear))
        }
        self._tables = Tables(stack, asked, looks, meshes, [*self._speeds.values()])
        self._first_link = len(self._tables.tables) - len(self._speeds)
        columns = all_columns(stack, None)
        questions = asked.question.count
        self._sums = Sums(stack, self._tables.plan, columns, self._tables.tables, questions)
        weights = (stack.arrays["base"] / stack.arrays["normaliser"])[:, None, :]
        outputs = np.zeros((2, stack.count, columns.count, stack.bases))
        outputs[WHOLE, :, :1] = weights
        outputs[RELATED, :, columns.common] = stack.arrays["signs"][:, :, None] * weights
        self._outputs = outputs.reshape(2, stack.count, -1)

    @cached_property
    def _around(self) -> dict[int | None, Array]:
        wanted: list[int | None] = [*range(len(self._tables.plan.clusters)), None]
        return dict(zip(wanted, self._sums.around(self._outputs, wanted), strict=True))

    def factor(self, number: int, size: int) -> Array:
        """Return what all else weighs beside every place in the table of a factor, of this size.

        [output, family, question, place].
        """
        plan = self._tables.plan
        group = plan.group_of(plan.factors[number].local)
        if group is plan.hubs:
            around = self._around[None] * self._sums.hub_table(number)
            places = plan.hub_places(plan.factors[number])
        else:
            cluster = plan.clusters.index(group)
            around = self._around[cluster] * self._sums.table(group, number)
            around = around.reshape(*around.shape[:3], -1)
            places = plan.places(plan.factors[number], group).ravel()
        found = np.zeros((*around.shape[:3], size))
        order = np.argsort(places, kind="stable")
        firsts = np.flatnonzero(np.diff(places[order], prepend=-1))
        found[..., places[order][firsts]] = np.add.reduceat(around[..., order], firsts, axis=3)
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
        number = self._first_link + [*self._speeds].index(gear)
        ratios = path.ratios()[:, -1]
        own = self.stack.arrays["own"].astype(np.intp)
        places = np.zeros(own.shape[:2], dtype=np.intp)
        for piece, local in path.local.items():
            places += local[own[:, :, piece]]
        return ratios, self.factor(number, ratios.shape[1]), places


def teeth_of(arounds: Mapping[int, Around], wheels: Iterable[str]) -> dict[int, dict[str, Array]]:
    """Return for each of some parts the joint of its outputs with the teeth of wheels.

    By kept name: [output, family, question, place].
    """
    wanted = set(wheels)
    found: dict[int, dict[str, Array]] = {n: {} for n in arounds}
    stacks = {n: (around.stack, around.asked) for n, around in arounds.items()}
    for pool, mine, laws in _pools(stacks, wanted):
        meshes = Meshes(pool)
        room = [meshes.count(place) for place in range(len(pool.form.alone))]
        around = np.concatenate(
            [
                pool.widened(component, _by_output(arounds[n].factor(number, component.size)), room)
                for n, number, component in mine
            ]
        )
        doubled = [None if law is None else np.concatenate([law, law], axis=1) for law in laws]
        for place in range(len(pool.form.alone)):
            if not any(component.wheels[place] in wanted for _, _, component in mine):
                continue
            spread = meshes.spread(place, doubled, around)
            for rows, (n, _, component) in zip(pool.rows, mine, strict=True):
                mine_rows = spread[rows]
                shape = len(mine_rows), 2, -1, mine_rows.shape[2]
                found[n][component.wheels[place]] = mine_rows.reshape(shape).swapaxes(0, 1)
    return found


def _by_output(around: Array) -> Array:
    """[output, family, question, …] as [family, output · question, …]."""
    return np.concatenate(list(around), axis=1)


def new_teeth_of(
    stacks: Mapping[int, tuple[Stack, Asked]], wheels: Iterable[str]
) -> dict[int, dict[str, Array]]:
    """Return how the teeth of wheels of new sets are spread: [family, question, place].

    Every row adds up to 1.
    """
    wanted = set(wheels)
    found: dict[int, dict[str, Array]] = {n: {} for n in stacks}
    for pool, mine, laws in _pools(stacks, wanted):
        meshes = NewMeshes(pool)
        questions = stacks[mine[0][0]][1].question.count
        around = np.ones((pool.count, questions, *[1] * len(pool.form.alone)))
        for place in range(len(pool.form.alone)):
            if not any(component.wheels[place] in wanted for _, _, component in mine):
                continue
            spread = meshes.spread(place, laws, around)
            spread = spread / spread.sum(axis=2, keepdims=True)
            for rows, (n, _, component) in zip(pool.rows, mine, strict=True):
                found[n][component.wheels[place]] = spread[rows]
    return found


def _pools(
    stacks: Mapping[int, tuple[Stack, Asked]], wanted: set[str]
) -> Iterable[tuple[Pool, list[tuple[int, int, Component]], list[Array | None]]]:
    """The components with wanted wheels, by form: which they are, and their laws."""
    by_form: dict[object, list[tuple[int, int, Component]]] = {}
    laws: dict[int, Laws] = {n: asked.laws(stack) for n, (stack, asked) in stacks.items()}
    for n, (stack, _) in stacks.items():
        for number, component in enumerate(components_of(stack)):
            if wanted.intersection(component.wheels):
                by_form.setdefault(component.form, []).append((n, number, component))
    for mine in by_form.values():
        pool = Pool(mine[0][2].form, [(stacks[n][0], component) for n, _, component in mine])
        yield pool, mine, pool.laws([laws[n] for n, _, _ in mine])


def arounds_of(
    weighed: Weighed, chosen: Sequence[Array], gears: Iterable[str] = ()
) -> dict[int, Around]:
    """Return what stands around the pieces of some families, by row, of each part that has any."""
    gears = tuple(gears)
    parts = {
        n: (part.stack.rows(rows), part.asked)
        for n, (part, rows) in enumerate(zip(weighed.parts, chosen, strict=True))
        if rows.size
    }
    stacks = [stack for stack, _ in parts.values()]
    meshes = MeshTables(stacks, [asked.laws(stack) for stack, asked in parts.values()], Meshes)
    return {
        n: Around(
            stack,
            asked,
            looks_of(stack, families_of(weighed.ready, stack), weighed.question),
            meshes.of(place, stack),
            gears,
        )
        for place, (n, (stack, asked)) in enumerate(parts.items())
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
    around = np.zeros((1, part.asked.question.count, component.size))
    around[..., sum(local[own[piece]] for piece, local in component.local.items())] = 1.0
    shaped = around.reshape(*around.shape[:2], *component.counts)
    found = Meshes(pool).spread(component.wheels.index(wheel), pool.laws([laws]), shaped)[0]
    return np.asarray(found / found.sum(axis=1, keepdims=True))
