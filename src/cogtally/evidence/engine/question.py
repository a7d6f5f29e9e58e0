"""What was seen on one box, as a stack of families sees it: tables, and what they lack.

A question is asked of one box from both hands, or of more and more of a box (an account): each is
one of the `questions` along the second axis of every array. A kind of evidence is one function from
what was seen to tables over states; how they are summed is left to `sums`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cache
from math import log, pi, prod, sqrt
from typing import NamedTuple

import numpy as np

from cogtally.catalog.model import Catalog
from cogtally.evidence.engine.meshes import Component, Form, Laws, Meshes, Pool, component_of
from cogtally.evidence.engine.plan import Factor, Plan, States, combinations, plan_of
from cogtally.evidence.engine.stack import NONE, Array, Shape, Stack
from cogtally.evidence.laws import (
    HASTY,
    LEAST_TEETH,
    NOT_THERE,
    READING_SD,
    READING_SLIP,
    STEADY,
    Reading,
    no_ratio_density,
    reading_density,
)
from cogtally.evidence.rho import SIZE, Rho
from cogtally.evidence.seen import SeenBox
from cogtally.gears.notation import MOST_TEETH, Seen
from cogtally.gears.trains import pair_of

HANDS = (STEADY, HASTY)


class Question:
    """One box, or more and more of it: `seen` in parts, the last of which is the whole.

    Question 2·i + hand is part i from that hand.
    """

    def __init__(self, parts: Sequence[Seen], rho: Rho) -> None:
        self.rho = rho
        self.boxes = tuple([SeenBox(seen, rho) for seen in parts])
        self.whole = self.boxes[-1]
        self.count = len(HANDS) * len(self.boxes)
        #: Each is worked out once for all stacks.
        self.laws, self.likeliest = cache(self._laws), cache(self._likeliest)

    def _laws(self, names: tuple[str, ...]) -> tuple[Array, Array]:
        """Return the likelihood of one wheel that was counted under these names.

        By question and teeth 0…200, scaled, and the log of each scale.
        """
        laws = np.ones((self.count, MOST_TEETH + 1))
        scales = np.zeros(self.count)
        for number, box in enumerate(self.boxes):
            known = tuple([name for name in names if name in box.counts])
            for hand in HANDS if known else ():
                law = box.likelihood(known, hand)
                laws[len(HANDS) * number + hand] = law.by_teeth
                scales[len(HANDS) * number + hand] = law.log_scale
        return laws, scales

    def _likeliest(self, names: tuple[str, ...]) -> Array:
        """Return the teeth that counts of these names make likeliest: [question], NaN if none."""
        each = [box.likeliest(names) for box in self.boxes]
        return np.repeat([np.nan if t is None else float(t) for t in each], len(HANDS))

    def elsewhere(self, name: str) -> Array:
        """Return how teeth drawn from ρ are spread given the counts of a name: [question, teeth].

        The teeth are 5…99; each row adds up to 1.
        """
        found = np.repeat(np.array(self.rho.of(name))[None], self.count, 0)
        if name in self.whole.counts:
            found = found * self.laws((name,))[0][:, LEAST_TEETH : LEAST_TEETH + SIZE]
        return np.asarray(found / found.sum(axis=1, keepdims=True))

    def log_looks(self) -> Array:
        """Return the log likelihood of all marks and features where nothing is known of them."""
        return np.array([box.log_unknown_looks(hand) for box in self.boxes for hand in HANDS])


class Test(NamedTuple):
    """A turn test: (driver, driven) of the pairs on its path, and in which questions it stands."""

    path: tuple[tuple[str, str], ...]
    reading: Reading
    asked: Array


class Asked:
    """A question as all families of one shape see it.

    `wheels`: counted wheels by canonical name to the names they were counted under; `absent`: names
    that the families do not have; `tests`: turn tests in gears that they have; `log_scale`
    [question]: of all that no configuration changes, looks aside.
    """

    def __init__(self, shape: Shape, question: Question) -> None:
        self.shape = shape
        self.question = question
        box = question.whole
        wheels: dict[str, tuple[str, ...]] = {}
        absent = []
        for name in box.counts:
            canonical = shape.canonical.get(name)
            if canonical is None:
                absent.append(name)
            else:
                wheels[canonical] = (*wheels.get(canonical, ()), name)
        self.wheels: Mapping[str, tuple[str, ...]] = wheels
        self.absent = tuple(absent)
        found = [self._test(gears, r, at) for at, (gears, r) in enumerate(box.turns)]
        self.tests = tuple(test for test in found if test is not None)
        self.lacks_gear = None in found
        self.log_scale = self._log_scale()

    @property
    def lacks(self) -> bool:
        """Whether something was counted or turned that the families do not have."""
        return bool(self.absent) or self.lacks_gear

    def _test(self, gears: Sequence[str], reading: Reading, number: int) -> Test | None:
        paths = [self.shape.paths.get(gear) for gear in gears]
        known = [path for path in paths if path is not None]
        if len(known) < len(paths):
            return None
        boxes = self.question.boxes
        asked = np.repeat([len(box.turns) > number for box in boxes], len(HANDS))
        return Test(tuple(pair for path in known for pair in path), reading, asked)

    def laws(self, stack: Stack) -> Laws:
        """Return the likelihood of every counted wheel by question and place on a stack's grid."""
        span = slice(stack.first, stack.first + stack.size)
        return {w: self.question.laws(names)[0][:, span] for w, names in self.wheels.items()}

    def _log_scale(self) -> Array:
        found = np.zeros(self.question.count)
        for names in self.wheels.values():
            found += self.question.laws(names)[1]
        for number, box in enumerate(self.question.boxes):
            absent = [name for name in self.absent if name in box.counts]
            lacking = len({pair_of(name) for name in absent}) * log(NOT_THERE)
            for gears, reading in box.turns:
                paths = [self.shape.paths.get(gear) for gear in gears]
                if None in paths:
                    lacking += log(NOT_THERE) + log(no_ratio_density(reading))
                elif not any(path for path in paths):
                    lacking += log(reading_density(reading, 1))
            for hand in HANDS:
                here = sum([box.log_elsewhere(name, hand) for name in absent])
                found[len(HANDS) * number + hand] += lacking + here
        return found

    def likeliest(self, wheel: str) -> Array:
        """Return the teeth that the counts of a wheel make likeliest: [question], NaN if none."""
        return self.question.likeliest(self.wheels.get(wheel, ()))

    def new_turns(self) -> Array:
        """Return the density of all turn tests of a set of unknown wheels: [question]."""
        found = np.ones(self.question.count)
        for test in self.tests:
            if test.path:
                found *= np.where(test.asked, densities(test.reading, self.ratio(test.path)), 1.0)
        return found

    def ratio(self, path: Sequence[tuple[str, str]]) -> Array:
        """Return the ratio of a path of unknown wheels by question; NaN where one has no count."""
        found = np.ones(self.question.count)
        for driver, driven in path:
            found = found * self.likeliest(driven) / self.likeliest(driver)
        return found


def densities(reading: Reading, ratio: Array) -> Array:
    """Return the density of a reading at every ratio; NaN: there is none."""
    none = no_ratio_density(reading)
    mean = reading.factor * ratio if reading.reads_input else reading.factor / ratio
    off = (reading.value - mean) / READING_SD
    found = np.exp(off * off / -2) * ((1 - READING_SLIP) / (READING_SD * sqrt(2 * pi)))
    return np.where(np.isnan(ratio), none, found + READING_SLIP * none)


class Looks(NamedTuple):
    """All marks and features as the families of a stack see them.

    `values[piece]` [family, question, kind], the last for all that is unlisted, scaled; `log_scale`
    [family, question]. `levels[piece]` [family, type]: the same number where all that was seen on
    the piece is equally likely; `tells[piece]` [family]: whether it says anything.
    """

    values: Mapping[int, Array]
    log_scale: Array
    levels: Mapping[int, Array]
    tells: Mapping[int, Array]

    def rows(self, rows: Array) -> Looks:
        """Return the same of some of the families."""
        values, levels, tells = (
            {piece: array[rows] for piece, array in each.items()}
            for each in (self.values, self.levels, self.tells)
        )
        return Looks(values, self.log_scale[rows], levels, tells)


def looks_of(stack: Stack, catalog: Catalog, question: Question) -> Looks | None:
    """Return what was looked at as the families of a stack see it; None where nothing was."""
    if question.whole.observed is None:
        return None
    count = stack.count, question.count
    values: dict[int, Array] = {}
    scale = np.zeros(count)
    levels: dict[int, Array] = {}
    tells: dict[int, Array] = {}
    for part, box in enumerate(question.boxes):
        if box.observed is None:
            continue
        for row, number in enumerate(stack.numbers.tolist()):
            found = box.observed.of(catalog.families[number])
            at = slice(len(HANDS) * part, len(HANDS) * (part + 1))
            scale[row, at] = found.log_scale
            for piece, by_hand in found.values.items():
                types = stack.types[piece]
                if piece not in values:
                    values[piece] = np.ones((*count, types + 1))
                    levels[piece] = np.zeros((stack.count, types))
                    tells[piece] = np.zeros(stack.count, dtype=bool)
                known = len(by_hand[0]) - 1
                values[piece][row, at, :known] = [each[:-1] for each in by_hand]
                values[piece][row, at, types] = [each[-1] for each in by_hand]
                if box is question.whole and piece in found.parts:
                    levels[piece][row, :known] = found.parts[piece]
                    tells[piece][row] = True
    return Looks(values, scale, levels, tells)


def groups_of(stack: Stack, asked: Asked, looks: Looks | None) -> tuple[Mapping[int, Array], Array]:
    """Return the so-far groups of a stack: the sets alike in all that was looked at.

    First `allowed[piece]` [family, base, kind]: what may stand in the group of each base set; then
    [family, base, base]: whether two base sets are in one group. Nothing where there are none.
    """
    allowed: dict[int, Array] = {}
    own = stack.arrays["own"].astype(np.intp)
    together = (stack.arrays["base"] > 0)[:, None, :] & (stack.arrays["base"] > 0)[:, :, None]
    told = np.zeros(stack.count, dtype=bool)
    if asked.lacks:
        return {}, together & False
    for piece, (_, wheels) in enumerate(stack.shape.pieces):
        places = [place for place, wheel in enumerate(wheels) if wheel in asked.wheels]
        tells = None if looks is None else looks.tells.get(piece)
        if not places and (tells is None or not tells.any()):
            continue
        teeth = stack.teeth(piece)
        alike = np.ones((stack.count, teeth.shape[1], teeth.shape[1]), dtype=bool)
        for place in places:
            alike &= teeth[:, :, None, place] == teeth[:, None, :, place]
        if looks is not None and tells is not None:
            level = looks.levels[piece]
            alike &= (level[:, :, None] == level[:, None, :]) | ~tells[:, None, None]
        # By base set: which types look like its own.
        rows = np.arange(stack.count)[:, None]
        mine = alike[rows, own[:, :, piece]]
        together &= np.take_along_axis(mine, np.repeat(own[:, None, :, piece], own.shape[1], 1), 2)
        asked_of = np.ones(stack.count, dtype=bool) if places else tells
        assert asked_of is not None
        told |= asked_of
        unlisted = np.broadcast_to(~asked_of[:, None, None], (*mine.shape[:2], 1))
        allowed[piece] = np.concatenate([mine | ~asked_of[:, None, None], unlisted], axis=2)
    return allowed, together & told[:, None, None]


def pools_of(
    stacks: Sequence[tuple[Stack, Laws]], wanted: Callable[[Component, Laws], bool]
) -> Iterator[tuple[Pool, list[tuple[int, int, Component]], list[Array | None]]]:
    """Give the wanted components of several stacks by form: the pool, which they are, their laws.

    A component is told by the place of its stack and its number there.
    """
    by_form: dict[Form, list[tuple[int, int, Component]]] = {}
    for place, (stack, laws) in enumerate(stacks):
        for number, component in enumerate(components_of(stack)):
            if wanted(component, laws):
                by_form.setdefault(component.form, []).append((place, number, component))
    for form, mine in by_form.items():
        pool = Pool(form, [(stacks[place][0], component) for place, _, component in mine])
        yield pool, mine, pool.laws([stacks[place][1] for place, _, _ in mine])


def mesh_tables(
    stacks: Sequence[tuple[Stack, Laws]], kind: type[Meshes], *, every: bool = False
) -> list[dict[int, Array]]:
    """Return for each stack the tables of the mesh components in which a wheel was counted.

    By the number of the component; with `every`, of all components.
    """
    found: list[dict[int, Array]] = [{} for _ in stacks]
    for pool, mine, known in pools_of(
        stacks, lambda component, laws: every or any(wheel in laws for wheel in component.wheels)
    ):
        table = kind(pool).table(known)
        parted = pool.parted(table) if kind is Meshes else pool.split(table)
        for (place, number, _), part in zip(mine, parted, strict=True):
            found[place][number] = part
    return found


class Tables:
    """Everything known of a stack of families as factors over the states of their pieces.

    The mesh components are the first factors, with `meshes` as tables where a wheel of them was
    counted; then come clashes, looks, turn tests, and at last, with no table, `links`: pieces that
    are to be gone through together.
    """

    def __init__(
        self,
        stack: Stack,
        asked: Asked,
        looks: Looks | None,
        meshes: Mapping[int, Array],
        links: Sequence[PathSpeeds] = (),
    ) -> None:
        self.states = states_of(stack)
        factors: list[Factor] = [component.local for component in components_of(stack)]
        self.tables: list[Array] = [
            meshes[number] if number in meshes else stack.arrays[f"free {number}"][:, None]
            for number in range(len(factors))
        ]
        for number, (left, right) in enumerate(stack.shape.clashing):
            room = (0, 0), (0, 1), (0, 1)
            table = np.pad(stack.arrays[f"clash {number}"], room, constant_values=1)
            width = table.shape[2]
            local = {left: self.states[left].kinds * width}
            local[right] = local.get(right, 0) + self.states[right].kinds
            factors.append(local)
            self.tables.append(table.reshape(stack.count, 1, -1))
        for piece, values in looks.values.items() if looks else ():
            factors.append({piece: self.states[piece].kinds})
            self.tables.append(values)
        for test in asked.tests:
            if test.path:
                path = PathSpeeds(stack, asked, test.path)
                found = densities(test.reading, path.ratios())
                factors.append(path.local)
                self.tables.append(
                    found if test.asked.all() else np.where(test.asked[:, None], found, 1.0)
                )
        # What ties the pieces depends on no number of any family.
        tested = tuple(test.path for test in asked.tests if test.path)
        linked = tuple(link.path for link in links)
        key = "plan", tuple(looks.values) if looks else (), tested, linked
        factors += [link.local for link in links]
        self.plan: Plan = stack.of_shape(key, lambda: plan_of(self.states, factors))


class PathSpeeds:
    """The ratio of a path of pairs for every combination of what its pieces can be.

    `local` for each piece: what each of its states adds to the place in `ratios()`.
    """

    def __init__(self, stack: Stack, asked: Asked, path: tuple[tuple[str, str], ...]) -> None:
        self.path = path
        self._stack = stack
        self._asked = asked
        states = states_of(stack)
        powers: dict[str, int] = {}
        for driver, driven in path:
            powers[driver] = powers.get(driver, 0) - 1
            powers[driven] = powers.get(driven, 0) + 1
        places: dict[int, list[tuple[int, int, str]]] = {}
        for wheel, power in powers.items():
            piece, place = stack.shape.location[wheel]
            places.setdefault(piece, []).append((place, power, wheel))
        self._parts: list[Array] = []
        self.local: dict[int, Array] = {}
        for piece, wheels in places.items():
            modes = states[piece].modes
            local, firsts = combinations([modes[:, place] for place, _, _ in wheels])
            speed = np.ones((1, 1, 1))
            for place, power, wheel in wheels:
                teeth = self._teeth(wheel, piece, place, modes[firsts, place])
                # NaN, where there is no ratio, stays so even where a wheel drives and is driven.
                speed = speed * (teeth ** float(power) if power else 0 * teeth + 1)
            self._parts.append(speed)
            size = speed.shape[2]
            self.local = {p: each * size for p, each in self.local.items()}
            self.local[piece] = local
        self.size = prod(part.shape[2] for part in self._parts)

    def _teeth(self, wheel: str, piece: int, place: int, modes: Array) -> Array:
        """The teeth of a wheel in some modes, NaN where they are unknown and not counted."""
        listed = self._stack.teeth(piece)[:, :, place]
        known = np.where(listed == NONE, np.nan, listed + float(self._stack.first))
        unknown = self._asked.likeliest(wheel)
        if (unknown == unknown[0]).all() or np.isnan(unknown).all():
            unknown = unknown[:1]
        inside = modes < known.shape[1]
        found = np.where(inside, known[:, np.minimum(modes, known.shape[1] - 1)], np.nan)[:, None]
        return np.where(np.isnan(found), unknown[None, :, None], found)

    def ratios(self) -> Array:
        """Return the ratio of every combination: [family, question or 1, place]; NaN: none."""
        found = self._parts[0]
        for part in self._parts[1:]:
            both = found[..., :, None] * part[..., None, :]
            found = both.reshape(*both.shape[:2], -1)
        return found


def states_of(stack: Stack) -> tuple[States, ...]:
    """Return the states of every piece of a stack."""
    return stack.of_shape(
        "states",
        lambda: tuple(
            States(types, len(wheels))
            for types, (_, wheels) in zip(stack.types, stack.shape.pieces, strict=True)
        ),
    )


def components_of(stack: Stack) -> tuple[Component, ...]:
    """Return the mesh components of a stack."""
    return stack.of_shape(
        "components",
        lambda: tuple(
            component_of(stack.shape, states_of(stack), wheels) for wheels in stack.shape.components
        ),
    )
