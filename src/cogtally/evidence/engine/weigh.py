"""All parts of what can be true, worked out for one box and brought to one scale.

A part is the counted sets of a family, its new set, a set known by printed ratios only, or no
family. What is read off them is left to `answers`, to the advice and to the account.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from fractions import Fraction
from math import fsum, log
from typing import NamedTuple

import numpy as np

from cogtally.evidence.engine.bounds import LEFT_OUT, bounds, that_matter
from cogtally.evidence.engine.meshes import Meshes, NewMeshes
from cogtally.evidence.engine.question import (
    HANDS,
    Asked,
    Looks,
    Question,
    Tables,
    groups_of,
    looks_of,
    mesh_tables,
)
from cogtally.evidence.engine.ratio_only import RatioOnlySet, view_of_ratios
from cogtally.evidence.engine.ready import (
    Ready,
    units,
    width_of_counted,
    width_of_new,
    work_new,
    work_unseen,
)
from cogtally.evidence.engine.stack import Array, Stack, row_in
from cogtally.evidence.engine.sums import Sums, all_columns
from cogtally.evidence.laws import (
    NEW_SET,
    UNCATALOGUED_PRIOR,
    no_ratio_density,
    reading_density,
)
from cogtally.evidence.seen import SeenBox
from cogtally.gears.trains import INPUT, pair_of

#: The log of a value of 0.
LEAST_LOG = -1e300


class Part(NamedTuple):
    """The counted sets of some families of one stack under one question.

    Values are scaled by e^`log_scale` [family, question], priors included, those of hands not.
    `whole`, `related`: all that can be, and what has any set in common, matched ones included
    [family, question]; `matched`, nothing where something is lacking, and `groups` [family,
    question, base]; `together` [family, base, base]: which base sets are one so-far group.
    """

    stack: Stack
    asked: Asked
    log_scale: Array
    whole: Array
    related: Array
    matched: Array
    groups: Array
    together: Array

    @property
    def rest(self) -> tuple[Array, Array]:
        """What is mixed, and what variant: [family, question]."""
        variant = self.related - self.matched.sum(axis=2)
        return np.maximum(self.whole - self.related, 0.0), np.maximum(variant, 0.0)

    @property
    def firsts(self) -> Array:
        """The first base set of each so-far group: [family, base]."""
        first: Array = self.together.argmax(axis=2) == np.arange(self.stack.bases)
        return self.together.any(axis=2) & first


class New(NamedTuple):
    """The new sets of the families of one stack, as values and scales of a `Part`."""

    stack: Stack
    asked: Asked
    log_scale: Array
    value: Array


class Printed(NamedTuple):
    """One set known by printed ratios only: its log share by question, hands not included.

    `wheels`: its counted wheels.
    """

    number: int
    known: RatioOnlySet
    logs: Array
    wheels: frozenset[str]

    def teeth(self, box: SeenBox, name: str) -> list[Array] | None:
        """Return by hand the weight of teeth 0…200; None where the set has no such wheel."""
        if not self.known.has_wheel(name):
            return None
        canonical = self.known.family.train.canonical(name)
        view = view_of_ratios(self.known, box)
        return [self.known.spread(canonical, view.likelihoods(box, hand)[0]) for hand in HANDS]

    def ends(self, gear: str) -> tuple[Fraction, Fraction] | None:
        """Return the ends between which the ratio of a gear is; None where it is not printed."""
        if gear == self.known.family.direct:
            return Fraction(1), Fraction(1)
        interval = self.known.intervals.get(gear)
        return None if interval is None else (interval.low, interval.high)


class Weighed(NamedTuple):
    """The parts of one question; `uncatalogued` [question] is the log share of no family."""

    ready: Ready
    question: Question
    parts: tuple[Part, ...]
    new: tuple[New, ...]
    printed: tuple[Printed, ...]
    uncatalogued: Array

    def place_of(self, number: int) -> tuple[int, int] | None:
        """Return in which part the counted sets of a family are, and the row; None: left out."""
        return row_in([part.stack for part in self.parts], number)


def weigh(
    ready: Ready,
    question: Question,
    family: str | None = None,
    *,
    only: Collection[str] = (),
) -> Weighed:
    """Work out every part of a question; `family` (an id) restricts what is catalogued to one.

    Families that cannot matter are left out; or `only` some are worked out, however little they
    weigh.
    """
    commonness, stacks = ready.commonness, ready.stacks
    numbers: Sequence[int] = range(len(ready.ids))
    if family is not None:
        sets = ready.catalog.by_id[family].sets if family in ready.places else ()
        commonness = fsum(known.commonness for known in sets)
    chosen = only or (() if family is None else (family,))
    if chosen:
        numbers = sorted(ready.places[each] for each in chosen if each in ready.places)
        stacks = ready.only(numbers)
    printed = tuple(
        _weigh_printed(number, known, question, commonness)
        for number in numbers
        if ready.family(number).ratio_only_sets
        for known in ready.printed(number)
    )
    prior = UNCATALOGUED_PRIOR if stacks or printed else 1.0
    uncatalogued = _unknown_logs(question) + log(prior)
    if not stacks:
        return Weighed(ready, question, (), (), printed, uncatalogued)
    asked = [Asked(stack.shape, question) for stack in stacks]
    new = tuple(_weigh_new(stacks, asked, question, commonness))
    total = None
    if not only:
        least = [(each.log_scale + log_of(each.value)).max(axis=0) for each in new]
        total = np.max([uncatalogued, *least], axis=0)
    parts = _weigh_counted(ready, stacks, asked, question, commonness, total)
    return Weighed(ready, question, tuple(parts), new, printed, uncatalogued)


def log_of(values: Array) -> Array:
    """Return the logarithm; of nothing, a very low number."""
    return np.where(values > 0, np.log(np.where(values > 0, values, 1.0)), LEAST_LOG)


def _weigh_new(
    stacks: Sequence[Stack], asked: Sequence[Asked], question: Question, commonness: float
) -> list[New]:
    """Work out the new sets of all families of stacks."""
    work_new(stacks)
    share = log((1 - UNCATALOGUED_PRIOR) * NEW_SET / commonness)
    found = []
    for stack, each in zip(stacks, asked, strict=True):
        family = stack.arrays["base"].sum(axis=1)
        scale = each.log_scale + question.log_looks() + share
        log_scale = np.broadcast_to(scale, (stack.count, question.count))
        value = each.new_turns() * np.repeat(family[:, None], question.count, 1)
        found.append(New(stack, each, log_scale, value))
    for unit in units(stacks, question.count, width_of_new):
        some = [(stack, found[number].asked.laws(stack)) for number, _, stack in unit]
        meshes = mesh_tables(some, NewMeshes)
        for (number, rows, stack), tables in zip(unit, meshes, strict=True):
            for component, table in tables.items():
                free = stack.arrays[f"new {component}"]
                found[number].value[rows] *= table[..., 0] / free[:, None]
    return found


def _weigh_counted(
    ready: Ready,
    stacks: Sequence[Stack],
    asked: Sequence[Asked],
    question: Question,
    commonness: float,
    total: Array | None,
) -> list[Part]:
    """Work out the counted sets of the families that can matter, beside a `total` [question].

    Of all of them where there is none.
    """
    share = log((1 - UNCATALOGUED_PRIOR) * (1 - NEW_SET) / commonness)
    looks = [looks_of(stack, ready.catalog, question) for stack in stacks]
    scales = [
        np.broadcast_to(
            each.log_scale + share + (0.0 if look is None else look.log_scale),
            (stack.count, question.count),
        )
        for each, look, stack in zip(asked, looks, stacks, strict=True)
    ]
    chosen = [np.arange(stack.count) for stack in stacks]
    if total is not None:
        above = []
        for stack, each, look, scale in zip(stacks, asked, looks, scales, strict=True):
            most, least = bounds(stack, each, look)
            above.append(most + scale)
            total = np.maximum(total, (least + scale).max(axis=0))
        shares = [np.exp(np.minimum(each - total, 0.0)).max(axis=1) for each in above]
        chosen = that_matter(shares, LEFT_OUT)
    work_unseen(stacks, chosen, ready.rho)
    some = [stack.rows(rows) for stack, rows in zip(stacks, chosen, strict=True)]
    found: list[Part] = []
    for unit in units(some, question.count, width_of_counted):
        meshes = mesh_tables([(s, asked[number].laws(s)) for number, _, s in unit], Meshes)
        for (number, rows, stack), tables in zip(unit, meshes, strict=True):
            at = chosen[number][rows]
            look, scale = looks[number], scales[number][at]
            here = None if look is None else look.rows(at)
            found.append(_part(stack, asked[number], here, tables, scale))
    return found


def _part(
    stack: Stack, asked: Asked, looks: Looks | None, meshes: Mapping[int, Array], scale: Array
) -> Part:
    """What the counted sets of families come to."""
    question = asked.question
    allowed, together = groups_of(stack, asked, looks)
    tables = Tables(stack, asked, looks, meshes)
    columns = all_columns(stack, allowed or None)
    sums = Sums(stack, tables.plan, columns, tables.tables, question.count)
    found = sums.columns_summed()
    weights = stack.arrays["base"] / stack.arrays["normaliser"]
    of_base = np.einsum("fqbc,fb->fqc", found, weights)
    signs = stack.arrays["signs"]
    own = stack.arrays["own"].astype(np.intp)
    drawn = np.where(stack.arrays["base"] > 0, stack.arrays["drawn"], 0.0)
    at = sums.at([own[:, :, piece] for piece in range(own.shape[2])])
    return Part(
        stack,
        asked,
        scale,
        of_base[:, :, 0],
        np.einsum("fqc,fc->fq", of_base[:, :, columns.common], signs),
        at * drawn[:, None] * (not asked.lacks),
        of_base[:, :, columns.groups],
        together,
    )


def _weigh_printed(
    number: int, known: RatioOnlySet, question: Question, commonness: float
) -> Printed:
    """Work out one set that is known by printed ratios only."""
    prior = log((1 - UNCATALOGUED_PRIOR) * known.known.commonness / commonness)
    logs = []
    for box in question.boxes:
        view = view_of_ratios(known, box)
        for hand in HANDS:
            seen, scale = view.likelihoods(box, hand)
            value = known.likelihood(seen)
            scale += prior + box.log_unknown_looks(hand)
            logs.append(scale + log(value) if value > 0 else LEAST_LOG)
    return Printed(number, known, np.array(logs), frozenset(view.wheels))


def _unknown_logs(question: Question) -> Array:
    """Return the log likelihood of a box of no catalogued family: every wheel from its ρ."""
    logs = []
    for box in question.boxes:
        turned = 0.0
        for gears, reading in box.turns:
            ratio = unknown_ratio(box, gears)
            turned += log(
                no_ratio_density(reading) if ratio is None else reading_density(reading, ratio)
            )
        for hand in HANDS:
            counted = sum([box.log_elsewhere(name, hand) for name in box.counts])
            logs.append(turned + counted + box.log_unknown_looks(hand))
    return np.array(logs)


def unknown_ratio(box: SeenBox, gears: Sequence[str]) -> Fraction | None:
    """Return the ratio of gears in a box of no family, as far as counted; None if not.

    The path is `input` if that pair was counted, then each gear's own pair.
    """
    counted = any(pair_of(name) == INPUT for name in box.counts)
    ratio = Fraction(1)
    for pair in [INPUT, *gears] if counted else gears:
        driver, driven = box.likeliest([f"{pair}.driver"]), box.likeliest([f"{pair}.driven"])
        if driver is None or driven is None:
            return None
        ratio *= Fraction(driven, driver)
    return ratio
