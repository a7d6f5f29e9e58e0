"""What was seen on one box, ready for every family: likelihoods by wheel or piece, and hand.

The laws are left to `laws`; what a family makes of the wheels' names is left to the engine.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from math import exp, fsum, log
from operator import mul

from cogtally.catalog.model import Family, PieceType
from cogtally.evidence.laws import (
    HANDS,
    LEAST_TEETH,
    Reading,
    WheelLikelihood,
    likeliest_teeth,
    log_feature,
    log_mark,
    reading_of,
    wheel_likelihood,
)
from cogtally.evidence.rho import SIZE, Pool, Rho, owner_in, value_in
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
        self.turns: list[tuple[tuple[str, ...], Reading]] = [
            (turn.gears, reading_of(turn)) for turn in seen.turns
        ]
        self.observed = Observed(seen, rho) if seen.looks else None
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
            law = wheel_likelihood(self.counts[name], hand)
            by_teeth = law.by_teeth[LEAST_TEETH : LEAST_TEETH + SIZE]
            found = log(sum(map(mul, self._rho.of(name), by_teeth))) + law.log_scale
            self._rho.drawn[key] = found
        return found


#: Likelihoods whose logs agree so far are the same.
LOG_DECIMALS = 9


@dataclass(frozen=True, slots=True)
class FamilyLooks:
    """All that was looked at on one box, as one family sees it.

    `values[piece][hand]` by listed type, the last for all that is unlisted, scaled so that the
    greatest is 1; `log_scale[hand]`: what was divided out, and all that is of no piece of the
    family. `parts[piece]`: a number for each type, the same where all that was seen on the piece
    is equally likely; only pieces of which it says anything at all.
    """

    values: Mapping[int, tuple[Sequence[float], ...]]
    log_scale: tuple[float, ...]
    parts: Mapping[int, tuple[int, ...]]


#: All that was seen of one thing: (piece, MARK), or (owner, feature).
Things = dict[tuple[str, str], list[ReadMark | ReadFeature]]


class Observed:
    """The marks and features of one box; `taken`: at what things it was looked."""

    def __init__(self, seen: Seen, rho: Rho) -> None:
        self._rho = rho
        self.taken: Things = {}
        for mark in seen.marks:
            self.taken.setdefault((mark.piece, MARK), []).append(mark)
        for look in seen.features:
            self.taken.setdefault((look.owner, look.feature), []).append(look)
        #: For each hand the log likelihood where nothing is known of any of it.
        self.log_elsewhere = tuple(self._log(None, self.taken, hand) for hand in HANDS)

    def of(self, family: Family) -> FamilyLooks:
        """Return what was looked at as `family` sees it."""
        place = {piece.name: number for number, piece in enumerate(family.pieces)}
        outside: Things = {}
        of_piece: dict[int, Things] = {}
        for (name, feature), looks in self.taken.items():
            found = owner_in(family, name)
            if found is None:
                outside[name, feature] = looks
            else:
                things = of_piece.setdefault(place[found[0].name], {})
                things.setdefault((found[1], feature), []).extend(looks)
        scale = [self._log(None, outside, hand) for hand in HANDS]
        values, parts = {}, {}
        for number, things in sorted(of_piece.items()):
            types = family.types[family.pieces[number].name]
            logs = [[self._log(kind, things, hand) for kind in (*types, None)] for hand in HANDS]
            tops = [max(column) for column in logs]
            scale = [s + top for s, top in zip(scale, tops, strict=True)]
            values[number] = tuple(
                [exp(value - top) for value in column]
                for column, top in zip(logs, tops, strict=True)
            )
            levels: dict[tuple[float, ...], int] = {}
            rows = [tuple(round(v, LOG_DECIMALS) for v in row) for row in zip(*logs, strict=True)]
            level = tuple(levels.setdefault(row, len(levels)) for row in rows)
            if len(levels) > 1:
                parts[number] = level[:-1]
        return FamilyLooks(values, tuple(scale), parts)

    def _log(self, kind: PieceType | None, things: Things, hand: int) -> float:
        """The log likelihood of all that was seen of a piece; `kind` None: nothing is known."""
        logs = []
        for (owner, feature), looks in things.items():
            value = None if kind is None else value_in(kind, owner, feature)
            features = [look for look in looks if isinstance(look, ReadFeature)]
            for look in looks:
                if isinstance(look, ReadMark):
                    logs.append(log_mark(look.reading, None if kind is None else kind.marks))
                elif value is not None:
                    logs.append(log_feature(look, value, hand))
            if features and value is None:
                pool = self._rho.features.of(features[0].owner, feature)
                logs.append(log_unknown_feature(features, pool, hand))
        return fsum(logs)


def log_unknown_feature(group: Sequence[ReadFeature], pool: Pool, hand: int) -> float:
    """Return the log of the mean likelihood of all of `group`, one thing, over the values known.

    0 where the catalog knows none: then it says nothing.
    """
    if not pool:
        return 0.0
    logs = [
        log(weight) + fsum(log_feature(seen, value, hand) for seen in group)
        for value, weight in pool.items()
    ]
    top = max(logs)
    return top + log(fsum(exp(value - top) for value in logs)) - log(fsum(pool.values()))
