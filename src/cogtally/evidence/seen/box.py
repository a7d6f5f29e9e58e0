"""What was seen on one box, ready for every family: likelihoods by wheel or piece, and hand.

The laws are left to `laws`; what a family makes of the wheels' names is left to the engine.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import cache
from math import exp, fsum, log
from operator import mul
from typing import NamedTuple

from cogtally.catalog.model import Family, PieceType
from cogtally.evidence.laws import (
    HANDS,
    LEAST_TEETH,
    WheelLikelihood,
    likeliest_teeth,
    log_feature,
    log_mark,
    log_unknown_mark,
    reading_of,
    wheel_likelihood,
)
from cogtally.evidence.rho import SIZE, Pool, Rho, owner_in, value_in
from cogtally.gears.looks import SeenPiece, Value
from cogtally.gears.notation import Count, ReadFeature, ReadMark, Seen

#: What is looked at where it is no feature.
MARK = "mark"


class SeenBox:
    """Counts grouped by the wheel names they were written under, and turn tests as readings.

    `observed`: the marks and features; None where there are none.
    """

    def __init__(self, seen: Seen, rho: Rho) -> None:
        self._rho = rho
        self.counts: dict[str, list[Count]] = {}
        for count in seen.counts:
            self.counts.setdefault(count.wheel, []).append(count)
        self.turns = [(turn.gears, reading_of(turn)) for turn in seen.turns]
        self.observed = Observed(things_seen(seen, rho.values_of)) if seen.looks else None
        #: Worked out once for all families.
        self.likelihood = cache(self._likelihood)

    def _together(self, names: Sequence[str]) -> list[Count]:
        return [count for name in names for count in self.counts[name]]

    def _likelihood(self, names: tuple[str, ...], hand: int) -> WheelLikelihood:
        """Return the likelihood of one wheel that was counted under these names."""
        known = (t for name in names for t in self._rho.pools.get(name, ()))
        return wheel_likelihood(self._together(names), hand, known)

    def log_unknown_looks(self, hand: int) -> float:
        """Return the log likelihood of all marks and features where nothing is known of them."""
        return 0.0 if self.observed is None else self.observed.log_elsewhere[hand]

    def likeliest(self, names: Sequence[str]) -> int | None:
        """Return the teeth of 5…99 that the counts under these names make likeliest."""
        counts = self._together([name for name in names if name in self.counts])
        return likeliest_teeth(counts) if counts else None

    def log_elsewhere(self, name: str, hand: int) -> float:
        """Return the log probability of the counts of a wheel whose teeth are drawn from its ρ."""
        key = name, hand, *[(c.teeth, c.unsure, c.times) for c in self.counts[name]]
        found = self._rho.drawn.get(key)
        if found is None:
            law = self.likelihood((name,), hand)
            by_teeth = law.by_teeth[LEAST_TEETH : LEAST_TEETH + SIZE]
            found = log(sum(map(mul, self._rho.of(name), by_teeth))) + law.log_scale
            self._rho.drawn[key] = found
        return found


class Thing:
    """All that was seen of one thing: the marks of a piece, or one feature of a piece or a wheel.

    `pool`: the values that it may have where none is known; `unknown[hand]`: its log likelihood
    there.
    """

    def __init__(self, looks: Sequence[ReadMark | ReadFeature], pool: Pool) -> None:
        self.looks = looks
        self.pool = pool
        self._marks = [look.reading for look in looks if isinstance(look, ReadMark)]
        self._features = [look for look in looks if isinstance(look, ReadFeature)]
        marks = fsum(map(log_unknown_mark, self._marks))
        self.unknown = tuple([marks + self._log_mean(hand) for hand in HANDS])

    def _log_mean(self, hand: int) -> float:
        """The log of the mean likelihood of all features, one thing, over the values of the pool.

        0 where the catalog knows none: then it says nothing.
        """
        if not self.pool:
            return 0.0
        logs = [log(weight) + self._log(value, hand) for value, weight in self.pool.items()]
        top = max(logs)
        return top + log(fsum(exp(value - top) for value in logs)) - log(fsum(self.pool.values()))

    def _log(self, value: Value, hand: int) -> float:
        return fsum(log_feature(look, value, hand) for look in self._features)

    def log(self, kind: PieceType, owner: str, hand: int) -> float:
        """Return the log likelihood under a type, which keeps the thing's features at `owner`."""
        if self._marks:
            return fsum(log_mark(reading, kind.marks) for reading in self._marks)
        value = value_in(kind, owner, self._features[0].feature)
        return self.unknown[hand] if value is None else self._log(value, hand)


#: By (piece, MARK), or (owner, feature).
Things = Mapping[tuple[str, str], Thing]


def things_seen(seen: Seen | SeenPiece, pool_of: Callable[[str, str], Pool]) -> Things:
    """Return all that was looked at; `pool_of`: the values known of an owner's feature."""
    found: dict[tuple[str, str], list[ReadMark | ReadFeature]] = {}
    for mark in seen.marks:
        found.setdefault((mark.piece, MARK), []).append(mark)
    for look in seen.features:
        found.setdefault((look.owner, look.feature), []).append(look)
    return {key: Thing(looks, pool_of(*key)) for key, looks in found.items()}


#: Likelihoods whose logs agree so far are the same.
LOG_DECIMALS = 9


class FamilyLooks(NamedTuple):
    """All that was looked at on one box, as one family sees it.

    `values[piece][hand]` by listed type, the last for all that is unlisted, scaled so that the
    greatest is 1; `log_scale[hand]`: what was divided out, and all that is of no piece of the
    family. `parts[piece]`: a number for each type, the same where all that was seen on the piece
    is equally likely; only pieces of which it says anything at all.
    """

    values: Mapping[int, Sequence[Sequence[float]]]
    log_scale: Sequence[float]
    parts: Mapping[int, Sequence[int]]


class Observed:
    """The marks and features of one box; `taken`: at what things it was looked."""

    def __init__(self, taken: Things) -> None:
        self.taken = taken
        #: For each hand the log likelihood where nothing is known of any of it.
        self.log_elsewhere = _unknown(taken)

    def of(self, family: Family) -> FamilyLooks:
        """Return what was looked at as `family` sees it."""
        of_piece: dict[str, dict[tuple[str, str], Thing]] = {}
        for (name, feature), thing in self.taken.items():
            piece, owner = owner_in(family, name) or (None, name)
            things = of_piece.setdefault(piece.name if piece else "", {})
            # A piece of one wheel is that wheel.
            same = things.get((owner, feature))
            both = Thing([*same.looks, *thing.looks], same.pool) if same else thing
            things[owner, feature] = both
        scale = _unknown(of_piece.get("", {}))
        values, parts = {}, {}
        for number, piece in enumerate(family.pieces):
            if piece.name not in of_piece:
                continue
            things = of_piece[piece.name]
            logs = [
                [fsum(t.log(kind, at, hand) for (at, _), t in things.items()) for hand in HANDS]
                for kind in family.types[piece.name]
            ]
            by_hand = list(zip(*logs, _unknown(things), strict=True))
            tops = list(map(max, by_hand))
            scale = [s + top for s, top in zip(scale, tops, strict=True)]
            values[number] = [
                [exp(one - top) for one in every] for every, top in zip(by_hand, tops, strict=True)
            ]
            rows = [
                tuple(round(one, LOG_DECIMALS) for one in row) for row in zip(*by_hand, strict=True)
            ]
            levels = {row: level for level, row in enumerate(rows)}
            if len(levels) > 1:
                parts[number] = [levels[row] for row in rows[:-1]]
        return FamilyLooks(values, scale, parts)


def _unknown(things: Things) -> list[float]:
    """By hand the log likelihood of things where nothing is known of any."""
    return [fsum(thing.unknown[hand] for thing in things.values()) for hand in HANDS]
