"""The joint of the answer with the ratio of a gear, where families are stacked in arrays.

Every matched group has the ratio of its own teeth. Of mixed and variant boxes the ratio follows
from what is around the tables of the wheels on the path (`stacked_outside`): all but the last are
held to teeth of their wheels, one after the other (`stacked_held`). What a joint is worth is left
to `turn_worth`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import reduce
from itertools import product

import numpy as np

from cogtally.evidence.stacked_asked import Worked
from cogtally.evidence.stacked_held import Cell, Place, cells_of, read_of
from cogtally.evidence.stacked_outside import around_all, around_common
from cogtally.evidence.stacked_ready import part_of
from cogtally.evidence.stacked_tables import Array
from cogtally.evidence.stacked_tested import Tested, tested_tables
from cogtally.evidence.stacked_worth import least_kept
from cogtally.evidence.turn_spread import Spread, compact
from cogtally.evidence.turn_worth import MOST_TURNS, STEPS_A_TURN
from cogtally.evidence.weighed import Weighed
from cogtally.gears.trains import INPUT, OUTPUT

#: Families below this share together change no worth of a turn test by 1e-3 bit.
TOO_RARE = 2e-5
#: Nor does what tables can be held to, below this share together.
TOO_SMALL = 1e-6

_Paths = Mapping[str, tuple[str, ...] | None]


@dataclass
class Turned:
    """The answers of stacked families with the speed of one gear: turns out for one turn in.

    Speeds and weights, NaN where there is no ratio. Every speed of `alone` is an answer of its own.
    """

    alone: list[tuple[Array, Array]] = field(default_factory=list)
    mixed: list[tuple[Array, Array]] = field(default_factory=list)
    variant: list[tuple[Array, Array]] = field(default_factory=list)

    def rest(self, speed: float, mixed: float, variant: float) -> None:
        """Take in mixed and variant boxes of which all have this speed."""
        self.mixed.append((np.array([speed]), np.array([mixed])))
        self.variant.append((np.array([speed]), np.array([variant])))

    def spreads(self) -> tuple[Spread, Spread, Spread]:
        """Return the matched groups, each an answer, then mixed and variant boxes."""
        speeds, weights = _joined(self.alone)
        return Spread(speeds, weights), _one(self.mixed), _one(self.variant)


def _joined(parts: Sequence[tuple[Array, Array]]) -> tuple[Array, Array]:
    speeds, weights = zip((np.zeros(0),) * 2, *parts, strict=True)
    return np.concatenate([s.ravel() for s in speeds]), np.concatenate([w.ravel() for w in weights])


def _one(parts: Sequence[tuple[Array, Array]]) -> Spread:
    speeds, weights = _joined(parts)
    still = np.isnan(speeds)
    none = max(0.0, float(weights[still].sum()))
    # With the most turns the lattice is that of the readings.
    return compact(Spread(speeds[~still], weights[~still], none=none), MOST_TURNS * STEPS_A_TURN)


def turned_stacks(weighed: Weighed, gears: Sequence[str]) -> tuple[dict[str, Turned], float]:
    """Return the joint of each gear, and the share of the families that are too rare to matter."""
    found = {gear: Turned() for gear in gears}
    stacks = list(zip(weighed.stacked, weighed.stacked_scales, strict=True))
    shares = [np.array(scales) @ worked.value for worked, scales in stacks]
    least = least_kept(shares, TOO_RARE)
    for (worked, scales), share in zip(stacks, shares, strict=True):
        kept = np.flatnonzero(share >= least)
        if kept.size:
            known = dict(worked.ready.block.shape.paths)
            paths = {gear: known.get(gear) for gear in gears}
            _Part(weighed, worked, np.array(scales), kept).turn(paths, found)
    return found, float(sum(share[share < least].sum() for share in shares))


@dataclass(frozen=True, slots=True)
class _Held:
    """The tables of a path but the last, their wheels on the path, and the star of the last."""

    tables: tuple[Place, ...]
    wheels: tuple[str, ...]
    star: int


class _Part:
    """Some families of one block, with all that they weigh."""

    def __init__(self, weighed: Weighed, worked: Worked, scales: Array, at: Array) -> None:
        self._ready = part_of(worked.ready, at)
        block = self._block = self._ready.block
        by_hand = scales[:, None, None]
        self._weights = by_hand * self._ready.weights
        if not any(map(worked.question.counted, block.shape.wheels)):
            self._weights = self._weights.sum(axis=0, keepdims=True)
        matched = (by_hand * worked.matched[:, :, at]).sum(axis=0)
        self._matched = matched * 0 if worked.view.lacks else matched
        related = scales @ worked.related[:, at]
        mixed = np.maximum(scales @ worked.value[:, at] - related, 0.0).sum()
        strangers = np.maximum(related - self._matched.sum(axis=0), 0.0).sum()
        #: The weight of all mixed and of all variant boxes.
        self._whole = (float(mixed), float(strangers))
        stars = block.shape.stars
        #: The tables of all stars, several times where turn tests were seen.
        self._every = [*tested_tables(self._ready, worked.question, worked.tests)]
        places = [
            Place(number, place, (hub, *star.arms[place]))
            for number, star in enumerate(stars)
            for place, hub in enumerate(star.hub)
        ]
        self._places = {wheel: place for place in places for wheel in place.chain}
        self._counted = {wheel: weighed.box.likeliest((wheel,)) for wheel in self._places}

    def turn(self, paths: _Paths, found: Mapping[str, Turned]) -> None:
        """Take in these families, gear by gear."""
        alike: dict[_Held, dict[str, tuple[Place, list[str]]]] = {}
        for gear, path in paths.items():
            if not path:
                speed = np.nan if path is None else 1.0
                found[gear].alone.append((np.full(self._matched.shape, speed), self._matched))
                found[gear].rest(speed, *self._whole)
                continue
            wheels = _wheels_of(path)
            *held, read = dict.fromkeys(self._places[wheel] for wheel in wheels)
            on_held = tuple(wheel for wheel in wheels if self._places[wheel] != read)
            alike.setdefault(_Held(tuple(held), on_held, read.star), {})[gear] = (read, wheels)
            speeds = _speed(wheels, self._block.teeth)
            found[gear].alone.append((speeds, self._matched))
            found[gear].variant.append((speeds, -self._matched))
        for each, gears in alike.items():
            self._turning(each, gears, found)

    def _turning(
        self,
        held: _Held,
        gears: Mapping[str, tuple[Place, Sequence[str]]],
        found: Mapping[str, Turned],
    ) -> None:
        """Gears whose paths have the same tables held."""
        known = {gear: [0.0, -float(self._matched.sum())] for gear in gears}
        for tested, cells, at in self._cells(held):
            block = part_of(tested.ready, at).block
            tables = [[table[..., at] for table in each] for each in tested.tables]
            on_path: dict[str, Array] = {}
            for place, (mask, teeth) in zip(held.tables, cells, strict=True):
                tables[place.star][place.place] *= mask[..., at] if mask.shape[-1] > 1 else mask
                on_path.update((wheel, each[:, at]) for wheel, each in teeth.items())
            weights = self._weights[:, :, tested.at[at]]
            every = around_all(block, tables, weights)
            common = around_common(block, tables, weights)
            for gear, (place, wheels) in gears.items():
                table = tables[place.star][place.place]
                read = read_of(block, place, table, wheels, self._counted)
                whole, related = (
                    read.weight(table, around[place.star][place.place])
                    for around in (every, common)
                )
                speeds = np.broadcast_to(_speed(wheels, read.with_held(on_path)), whole.shape)
                found[gear].mixed.append((speeds, whole - related))
                found[gear].variant.append((speeds, related))
                known[gear][0] += float((whole - related).sum())
                known[gear][1] += float(related.sum())
        for gear, (mixed, variant) in known.items():
            found[gear].rest(np.nan, self._whole[0] - mixed, self._whole[1] - variant)

    def _cells(self, held: _Held) -> Iterator[tuple[Tested, Sequence[Cell], Array]]:
        """Give tables, what they are held to, and the families where it can matter, by place."""
        for tested in self._every:
            if held.tables:
                for cells, at in self._cells_of(held, tested):
                    yield tested, cells, at
            else:
                yield tested, (), np.arange(tested.at.size)

    def _cells_of(self, held: _Held, tested: Tested) -> Iterator[tuple[Sequence[Cell], Array]]:
        """Give what some tables are held to, and the families where it can matter."""
        block = tested.ready.block
        around = around_all(block, tested.tables, self._weights[..., tested.at])
        choices: list[list[tuple[Cell, Array]]] = []
        for at in held.tables:
            table = tested.tables[at.star][at.place]
            weights = (table * around[at.star][at.place]).sum(axis=0)
            inner = tuple(range(weights.ndim - 1))
            choices.append(
                [
                    (cell, (weights * cell[0]).sum(axis=inner))
                    for cell in cells_of(
                        block, at, table, held.wheels, self._counted, at.star == held.star
                    )
                ]
            )
        # No more has all of the cells than has any of them.
        found = [
            ([cell for cell, _ in each], reduce(np.minimum, [bound for _, bound in each]))
            for each in product(*choices)
        ]
        least = least_kept([bound for _, bound in found], TOO_SMALL / len(self._every))
        for cells, bound in found:
            at_least = np.flatnonzero(bound >= least)
            if at_least.size:
                yield cells, at_least


def _wheels_of(path: Sequence[str]) -> list[str]:
    """Driver and driven of each pair of a path, those of the gear's own pair last."""
    pairs = sorted(path, key=lambda pair: pair not in (INPUT, OUTPUT))
    return [f"{pair}.{role}" for pair in pairs for role in ("driver", "driven")]


def _speed(wheels: Sequence[str], teeth: Mapping[str, Array]) -> Array:
    """Turns out for one turn in: the teeth of all drivers over those of all driven wheels."""
    drivers, driven = (
        reduce(np.multiply, [teeth[w].astype(float) for w in wheels[first::2]]) for first in (0, 1)
    )
    found: Array = drivers / driven
    return found
