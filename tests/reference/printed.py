"""Knows how likely everything seen is in a set that is known by its printed ratios only.

Leaves counted sets to `counted`, and which answer a printed set belongs to, to `enumeration`.

Teeth of tied wheels run over 5…99, place i for 5 + i.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction

import numpy as np

from .laws import HIGH, LOW, PLACES, STRANGE, UNKNOWN, UNTIED_LISTED, Rho, log_counts, mesh_factor
from .layout import PARTS, Family, PrintedSet, law_with_listed
from .sums import unknown_log
from .tied import Gear, LongGear, ShortGear, tied_sum
from .written import Seen, Turn


class PrintedFamilySet:
    """One ratio-only set: the wheels and gears it has, and its tied teeth."""

    def __init__(self, family: Family, one: PrintedSet, rho: Rho) -> None:
        self.family, self.set, self.rho = family, one, rho
        self.own = {gear: family.path(gear) for gear in one.ends}
        self.names = family.wheel_names()
        # reading: it has the counted pairs, its own gears' and, alone, all wheels on the path of R.
        alone = not family.counted
        for pair in [pair for path in self.own.values() for pair in path]:
            self._add(pair, PARTS[2])
        if alone:
            for pair in family.path("R"):
                self._add(pair, PARTS[3])
        self.gears = set(family.gears) | set(one.ends)
        self.gears |= {family.direct} if family.direct is not None else set()
        self.gears |= {"R"} if alone else set()
        self.tied = self._tied_wheels(pair for path in self.own.values() for pair in path)
        self._factors = self._gear_factors()
        flat = {wheel: self.rho.of(wheel)[UNKNOWN] for wheel in self.tied}
        self.weight = tied_sum(self._factors, flat)
        if not self.weight > 0:
            raise ValueError(f"{family.id}/{one.id}: no teeth give these ratios")

    def _add(self, pair: str, parts: Sequence[str]) -> None:
        for part in parts:
            name = f"{pair}.{part}"
            self.names.setdefault(name, self.family.wheel(name))

    def _tied_wheels(self, pairs: Iterable[str]) -> list[str]:
        wheels = [self.family.wheel(f"{pair}.{part}") for pair in pairs for part in PARTS[2]]
        return list(dict.fromkeys(wheels))

    # -- the tie -----------------------------------------------------------------------------

    def _reference(self) -> str | None:
        """Return the pair whose sum the others are held against."""
        # reading: in a two-shaft box the lowest number among the gears that this set prints.
        if self.family.layout in ("layshaft", "sleeve"):
            pair: str | None = {"layshaft": "input", "sleeve": "output"}[self.family.layout]
        elif self.family.layout == "two-shaft":
            gears = [g for g, path in self.own.items() if path == [g] and g not in ("R", "final")]
            numbered = sorted((g for g in gears if g.isdigit()), key=int)
            pair = (numbered or gears or [None])[0]
        else:
            pair = None
        return pair if any(pair in path for path in self.own.values()) else None

    def _has_sum(self, pair: str) -> bool:
        # reading: a pair stands on spelled-out paths alone where no gear's path by the layout's
        # rule can hold it, be that gear printed here or not.
        if pair in ("R", "final"):
            return False
        inside = any(pair in path for path in self.family.spelled.values())
        return pair in ("input", "output") or (
            pair not in self.family.spelled and (pair.isdigit() or not inside)
        )

    def _gear_factors(self) -> list[Gear]:
        reference = self._reference()
        uses: dict[str, int] = {}
        summed: set[str] = set()
        plans = []
        for gear, path in self.own.items():
            if not path:
                continue  # the direct gear: 1, even where printed otherwise
            pairs = [
                pair
                for pair in dict.fromkeys(path)
                if reference is not None
                and pair != reference
                and pair not in summed
                and self._has_sum(pair)
            ]
            summed |= set(pairs)
            ends = [
                (self.family.wheel(f"{pair}.driver"), self.family.wheel(f"{pair}.driven"))
                for pair in path
            ]
            sums = [self._ends(pair) for pair in pairs]
            beside = self._ends(reference) if reference is not None and pairs else None
            wheels = list(
                dict.fromkeys(w for two in [*ends, *([beside] if beside else [])] for w in two)
            )
            for wheel in wheels:
                uses[wheel] = uses.get(wheel, 0) + 1
            plans.append((gear, ends, sums, beside))
        gears: list[Gear] = []
        for gear, ends, sums, beside in plans:
            low, high = self.set.ends[gear]
            short = len({wheel for two in ends for wheel in two}) <= 4
            if short:
                one = ShortGear(ends, low, high)
                if beside is not None:
                    if not set(beside) <= set(one.wheels):
                        one.cross(next(g for g in gears if set(beside) <= set(g.wheels)), beside)
                    one.weigh([_sum_factor(one.teeth, two, beside) for two in sums])
                gears.append(one)
            else:
                if sums:
                    raise NotImplementedError("a long path with tooth sums held against others")
                shared = [w for w, times in uses.items() if times > 1]
                gears.append(LongGear(ends, low, high, shared))
        return gears

    def _ends(self, pair: str) -> tuple[str, str]:
        return self.family.wheel(f"{pair}.driver"), self.family.wheel(f"{pair}.driven")

    # -- what was seen -----------------------------------------------------------------------

    def log_weight(self, seen: Seen, hand: str, only: tuple[str, int] | None = None) -> float:
        """Return log p(seen | this set, this hand); -inf where nothing fits.

        With `only` = (wheel, teeth) it is the joint with that wheel's having these teeth.
        """
        total = math.log(STRANGE) * len(self.missing_pairs(seen))
        logs: dict[str, np.ndarray] = {}
        for name, counts in seen.counts.items():
            if name in self.names:
                wheel = self.names[name]
                logs[wheel] = logs.get(wheel, np.zeros(PLACES)) + log_counts(counts, hand)
            else:
                total += unknown_log(self.rho.of(name), log_counts(counts, hand))
        for turn in seen.turns:
            total += math.log(self.turn_density(turn))
        if only is not None:
            mask = np.full(PLACES, -np.inf)
            mask[only[1] - 4] = 0.0
            logs[only[0]] = logs.get(only[0], np.zeros(PLACES)) + mask
        vectors = {}
        for wheel in self.tied:
            rho = self.rho.of(wheel)[UNKNOWN]
            if wheel in logs:
                inside = logs[wheel][UNKNOWN]
                top = float(inside.max())
                if top == -math.inf:
                    return top
                total += top
                vectors[wheel] = rho * np.exp(inside - top)
            else:
                vectors[wheel] = rho
        for wheel in logs:
            if wheel not in self.tied:
                prior = self.untied(wheel)
                if float(logs[wheel][prior > 0].max()) == -math.inf:
                    return -math.inf
                total += unknown_log(prior, logs[wheel])
        weight = tied_sum(self._factors, vectors) / self.weight
        return total + math.log(weight) if weight > 0 else -math.inf

    def untied(self, wheel: str) -> np.ndarray:
        """Return the distribution of a wheel that no printed ratio ties, over 4…200."""
        return law_with_listed(self.family, wheel, self.rho, UNTIED_LISTED)

    def missing_pairs(self, seen: Seen) -> set[str]:
        """Return the pairs with a counted wheel that this set does not have."""
        return {name.rpartition(".")[0] for name in seen.counts if name not in self.names}

    def interval(self, gears: Iterable[str]) -> tuple[Fraction, Fraction] | None:
        """Return the two ends of the ratio through some gears, None where there is no ratio."""
        low = high = Fraction(1)
        for gear in gears:
            if gear == self.family.direct:
                continue
            if gear not in self.set.ends:
                return None
            low, high = low * self.set.ends[gear][0], high * self.set.ends[gear][1]
        return low, high

    def turn_density(self, turn: Turn) -> float:
        """Return the density of a turn test in this set."""
        if not all(gear in self.gears for gear in turn.gears):
            return STRANGE * turn.slip()
        ends = self.interval(turn.gears)
        return turn.slip() if ends is None else turn.density_between(*ends)


def _sum_factor(
    teeth: Mapping[str, np.ndarray], two: tuple[str, str], beside: tuple[str, str]
) -> np.ndarray:
    off = np.abs(teeth[two[0]] + teeth[two[1]] - teeth[beside[0]] - teeth[beside[1]])
    return np.array([mesh_factor(i) for i in range(2 * (HIGH - LOW) + 1)])[off]
