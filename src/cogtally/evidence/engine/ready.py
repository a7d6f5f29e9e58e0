"""A catalog made ready for many questions: its stacks with all that no question changes.

What is asked of them is left to `weigh`.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import astuple
from functools import cached_property
from math import fsum, prod
from pathlib import Path
from typing import Any

import numpy as np

from cogtally.catalog.model import Catalog, Family, Origin
from cogtally.evidence.engine.meshes import Meshes, NewMeshes
from cogtally.evidence.engine.question import Asked, Question, Tables, components_of, mesh_tables
from cogtally.evidence.engine.ratio_only import RatioOnlySet
from cogtally.evidence.engine.stack import Array, Shape, Stack, base_sets, stacks_of
from cogtally.evidence.engine.sums import WHOLE_ONLY, Sums, prior_weights
from cogtally.evidence.rho import Pools, Rho
from cogtally.gears.notation import Seen

#: So many catalogs at most are ready.
MOST_READY = 4
#: Of what is saved, and of the laws that it was worked out by: raised as either changes.
VERSION = 3
#: The stacks of a smaller book are made as quickly as they are mapped.
LARGE = 1_000
#: Families are worked on in parts; the widest array of one holds so many numbers, about.
PART_ROOM = 10_000_000


class Ready:
    """One catalog: ρ, its families in stacks, its sets known by printed ratios only."""

    def __init__(self, catalog: Catalog) -> None:
        self.catalog = catalog
        saved = None if catalog.origin is None else _read_stacks(catalog.origin)
        self.rho = Rho(catalog, saved and saved[1])
        #: The summed commonness of all its sets.
        self.commonness = fsum(s.commonness for f in catalog.families for s in f.sets)
        if saved is None:
            counted = [(n, f) for n, f in enumerate(catalog.families) if f.counted_sets]
            stacks = [with_room(stack) for stack in stacks_of(counted, self.rho)]
            if catalog.origin is not None and catalog.set_count >= LARGE:
                work_new(stacks)
                work_unseen(stacks, [np.arange(stack.count) for stack in stacks], self.rho)
                _write_stacks(catalog.origin, stacks, self.rho.pools)
        self.stacks = stacks if saved is None else saved[0]
        #: The last question, and what came of it.
        self.last: tuple[object, Any] | None = None
        self._printed: dict[int, list[RatioOnlySet]] = {}
        self._base_sets: dict[int, list[list[int]]] = {}

    def printed(self, number: int) -> list[RatioOnlySet]:
        """Return the sets of a family, by its place, that are known by printed ratios only."""
        if number not in self._printed:
            family = self.family(number)
            self._printed[number] = [
                RatioOnlySet(family, known, self.rho) for known in family.ratio_only_sets
            ]
        return self._printed[number]

    @cached_property
    def ids(self) -> tuple[str, ...]:
        """The id of every family, in the order of the catalog."""
        return tuple([family.id for family in self.catalog.families])

    @cached_property
    def places(self) -> Mapping[str, int]:
        """The place of every family in the catalog, by its id."""
        return {name: place for place, name in enumerate(self.ids)}

    def base_sets(self, number: int) -> list[list[int]]:
        """Return the counted sets of a family that are alike in every type, by their places."""
        if number not in self._base_sets:
            self._base_sets[number] = list(base_sets(self.family(number)).values())
        return self._base_sets[number]

    def set_ids(self, number: int) -> list[tuple[str, ...]]:
        """Return the ids of the sets of every base set of a family."""
        known = self.family(number).counted_sets
        return [tuple(known[m].id for m in members) for members in self.base_sets(number)]

    def only(self, numbers: Sequence[int]) -> list[Stack]:
        """Return the families with counted sets at some places of the catalog, as stacks."""
        found = [stack.rows(np.isin(stack.numbers, numbers)) for stack in self.stacks]
        return [stack for stack in found if stack.count]

    def family(self, number: int) -> Family:
        """Return a family by its place in the catalog."""
        return self.catalog.families[number]


def _read_stacks(origin: Origin) -> tuple[list[Stack], Pools] | None:
    """The stacks saved beside a book, and how often it has which teeth; None where unsound.

    They are a convenience: absent, old or spoilt they are as if they were not there.
    """
    # Only a book needs the store.
    from cogtally.store import read_arrays

    try:
        about, arrays = read_arrays(_beside(origin))
    except (OSError, ValueError):
        return None
    if about[0] != _made(origin):
        return None
    stacks = []
    for number, (shape, first, size) in enumerate(about[1]):
        mine: dict[str, dict[str, Array]] = {"rho": {}, "array": {}}
        for name, array in arrays.items():
            of, kind, key = name.split(" ", 2)
            if int(of) == number:
                mine[kind][key] = array
        stacks.append(Stack(Shape(*map(_tupled, shape)), first, size, mine["rho"], mine["array"]))
    return stacks, {name: dict(pool) for name, pool in about[2].items()}


def _write_stacks(origin: Origin, stacks: Sequence[Stack], pools: Pools) -> None:
    """Save stacks beside a book, as far as that can be done."""
    arrays = {
        f"{number} {kind} {key}": array
        for number, stack in enumerate(stacks)
        for kind, each in (("rho", stack.rho), ("array", stack.arrays))
        for key, array in each.items()
    }
    told = [(astuple(stack.shape), stack.first, stack.size) for stack in stacks]
    every = {name: list(pool.items()) for name, pool in pools.items()}
    with suppress(OSError):
        from cogtally.store import write_arrays

        write_arrays(_beside(origin), (_made(origin), told, every), arrays)


def _beside(origin: Origin) -> Path:
    return origin.book.with_name(origin.book.name + ".stacks.npy")


def _made(origin: Origin) -> list[Any]:
    """By what, and of what, stacks are made: others are no good."""
    return [VERSION, np.__version__, sys.byteorder, origin.state]


def _tupled(value: Any) -> Any:
    return tuple(map(_tupled, value)) if isinstance(value, list) else value


def with_room(stack: Stack) -> Stack:
    """Return a stack with room for the tables and normalisers that no question changes."""
    room: dict[str, Array] = {
        "normaliser": np.zeros((stack.count, stack.bases)),
        "drawn": np.zeros((stack.count, stack.bases)),
    }
    for number, component in enumerate(components_of(stack)):
        room[f"free {number}"] = np.zeros((stack.count, prod(component.counts)))
        room[f"new {number}"] = np.zeros(stack.count)
    return stack.with_arrays(room)


def work_unseen(stacks: Sequence[Stack], rows: Sequence[Array], rho: Rho) -> None:
    """Work out the tables and normalisers of some families of stacks, where they are not known."""
    missing = [
        (stack, at[stack.arrays["normaliser"][at, 0] == 0])
        for stack, at in zip(stacks, rows, strict=True)
    ]
    missing = [(stack, at) for stack, at in missing if at.size]
    asked_of = [(stack.rows(at), stack, at) for stack, at in missing]
    question = Question([Seen(())], rho)
    for unit in units([some for some, _, _ in asked_of], 1, width_of_counted):
        listed = mesh_tables([(stack, {}) for _, _, stack in unit], Meshes, every=True)
        for (number, part, ready), meshes in zip(unit, listed, strict=True):
            _, into, at = asked_of[number]
            found = {f"free {n}": table[:, 0] for n, table in meshes.items()}
            tables = Tables(ready, Asked(ready.shape, question), None, meshes)
            sums = Sums(ready, tables.plan, WHOLE_ONLY, tables.tables, 1)
            summed = sums.columns_summed()[:, 0, :, 0]
            # What is only padding is nothing, whatever it is divided by.
            found["normaliser"] = np.where(ready.arrays["base"] > 0, summed, 1.0)
            found["drawn"] = _drawn(ready, tables, found["normaliser"])
            for name, array in found.items():
                into.arrays[name][at[part]] = array


def work_new(stacks: Sequence[Stack]) -> None:
    """Work out the normalisers of the new sets of all families, where they are not known."""
    missing = [stack for stack in stacks if (stack.arrays["new 0"] == 0).any()]
    for unit in units(missing, 1, width_of_new):
        new = mesh_tables([(stack, {}) for _, _, stack in unit], NewMeshes, every=True)
        for (number, part, _), tables in zip(unit, new, strict=True):
            for n, table in tables.items():
                missing[number].arrays[f"new {n}"][part] = table[:, 0, 0]


def _drawn(stack: Stack, tables: Tables, normaliser: Array) -> Array:
    """The weight of each base set's own types, whichever base set was drawn: [family, base]."""
    drawn = np.repeat((stack.arrays["base"] / normaliser)[:, None, :], stack.bases, 1)
    own = stack.arrays["own"]
    rows = np.arange(stack.count)[:, None]
    for piece, states in enumerate(tables.states):
        drawn = drawn * prior_weights(stack, piece, states)[rows, own[:, :, piece]]
    found: Array = drawn.sum(axis=2)
    return found


def units(
    stacks: Sequence[Stack], questions: int, width: Callable[[Stack], int]
) -> list[list[tuple[int, slice, Stack]]]:
    """Return families in parts that are worked on at once: the number of a stack, rows, those.

    Small stacks go together, of a large one a part at a time. `width`: how many numbers the widest
    array of one family and question holds, about.
    """
    found: list[list[tuple[int, slice, Stack]]] = []
    room = 0
    for number, stack in enumerate(stacks):
        step = max(1, PART_ROOM // (questions * width(stack)))
        for start in range(0, stack.count, step):
            rows = slice(start, min(start + step, stack.count))
            need = questions * width(stack) * (rows.stop - rows.start)
            if need > room:
                found.append([])
                room = PART_ROOM
            found[-1].append((number, rows, stack.rows(rows)))
            room -= need
    return found


def width_of_counted(stack: Stack) -> int:
    """Return how wide the sums over the counted sets of a family are."""
    terms = 1 + stack.arrays["common"].shape[1] + stack.bases
    widest = max(
        types * (len(wheels) + 1) + 1
        for types, (_, wheels) in zip(stack.types, stack.shape.pieces, strict=True)
    )
    return int(widest * terms * stack.bases)


def width_of_new(stack: Stack) -> int:
    """Return how wide what is known of the new set of a family is."""
    return 4 * stack.size


_READY: list[Ready] = []


def ready(catalog: Catalog) -> Ready:
    """Return the catalog made ready; the last few are kept, since one is asked many questions."""
    for one in _READY:
        if one.catalog is catalog:
            return one
    found = Ready(catalog)
    _READY.append(found)
    del _READY[:-MOST_READY]
    return found
