"""Whether wheels of 5 to 99 teeth can give printed ratios together: exact, by whole numbers.

Which wheels carry which gear is left to `ratios`; how likely teeth are, to the evidence.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import gcd

FEWEST, MOST = 5, 99
#: Steps of the search after which ratios are taken as possible rather than be accused falsely.
MOST_STEPS = 1_000_000
#: Wider than the rounding of a quotient of floats; the exact test comes behind it.
_SLACK = 1e-9
#: Ratios of input pairs lie about this one; a search that begins there ends soon.
_COMMON_RATIO = 1.5

#: A value of a block of wheels: as a float for searching, and exactly as numerator, denominator.
_Value = tuple[float, int, int]


@dataclass(frozen=True, slots=True)
class Printed:
    """A printed gear: its ratio lies from `low`/`den` to `high`/`den`, both ends in.

    `drivers` and `drivens`: the wheels on its path, each by its one name.
    """

    low: int
    high: int
    den: int
    drivers: tuple[str, ...]
    drivens: tuple[str, ...]


def printed_gear(text: str, path: Sequence[tuple[str, str]]) -> Printed:
    """Return a gear printed as `text` whose `path` runs through pairs of (driver, driven).

    The decimals as written carry the rounding: half a unit of the last place either way.
    """
    whole, _, decimals = text.partition(".")
    units = int((whole or "0") + decimals)
    return Printed(
        2 * units - 1,
        2 * units + 1,
        2 * 10 ** len(decimals),
        tuple(driver for driver, _ in path),
        tuple(driven for _, driven in path),
    )


def are_possible(gears: Sequence[Printed], teeth: Mapping[str, int] | None = None) -> bool:
    """Tell whether some teeth of 5 to 99 for every wheel give all the printed ratios.

    A wheel on several paths has the same teeth on all. `teeth`: wheels that are known, and keep
    theirs. Beyond MOST_STEPS of searching the answer is True.
    """
    search = _Search(gears, teeth or {})
    try:
        return search.found()
    except _TooLongError:
        return True


class _TooLongError(Exception):
    """The search has taken more steps than it may."""


@dataclass(frozen=True, slots=True)
class _Block:
    """Wheels that work in the same gears, so that only their ratio together matters there.

    `over` and `under`: how many of them are multiplied and divided by. `gears`: in which gears,
    with the sign of that.
    """

    over: int
    under: int
    gears: Mapping[int, int]


class _Search:
    """Goes through the blocks that several gears share; what is left is one gear's own each."""

    def __init__(self, gears: Sequence[Printed], teeth: Mapping[str, int]) -> None:
        self.steps = 0
        self.gears = gears
        self.known: list[tuple[int, int]] = []
        self.own = [(0, 0)] * len(gears)
        uses: dict[str, Counter[int]] = {}
        for number, gear in enumerate(gears):
            over, under = 1, 1
            for wheel in gear.drivens:
                over *= teeth.get(wheel, 1)
                uses.setdefault(wheel, Counter())[number] += wheel not in teeth
            for wheel in gear.drivers:
                under *= teeth.get(wheel, 1)
                uses.setdefault(wheel, Counter())[number] -= wheel not in teeth
            self.known.append((over, under))
        self.shared = self._shared_blocks(uses)

    def _shared_blocks(self, uses: Mapping[str, Counter[int]]) -> list[_Block]:
        """Sort unknown wheels into blocks; those of one gear alone become that gear's own."""
        blocks: dict[tuple[tuple[int, int], ...], list[int]] = {}
        for used in uses.values():
            signature = tuple(sorted((gear, times) for gear, times in used.items() if times))
            if not signature:
                continue
            turned = tuple((gear, -times) for gear, times in signature)
            if turned in blocks:
                blocks[turned][1] += 1
            else:
                blocks.setdefault(signature, [0, 0])[0] += 1
        shared = []
        for signature, (over, under) in blocks.items():
            (gear, times), *more = signature
            if more or abs(times) > 1:
                shared.append(_Block(over, under, dict(signature)))
            else:
                mine = (over, under) if times > 0 else (under, over)
                self.own[gear] = (self.own[gear][0] + mine[0], self.own[gear][1] + mine[1])
        # What ties most gears comes first, so that the rest is searched for teeth that can be.
        return sorted(shared, key=lambda block: -len(block.gears))

    def found(self) -> bool:
        """Tell whether there is any assignment."""
        last = [-1] * len(self.gears)
        for place, block in enumerate(self.shared):
            for gear in block.gears:
                last[gear] = place
        self.due = [
            [gear for gear, at in enumerate(last) if at == place]
            for place in range(-1, len(self.shared))
        ]
        return self._from(0, list(self.known))

    def _from(self, place: int, ratios: list[tuple[int, int]]) -> bool:
        """Tell whether the blocks from `place` on can be filled, given each gear's ratio so far."""
        for gear in self.due[place]:
            if not self._own_can_give(gear, *ratios[gear]):
                return False
        if place == len(self.shared):
            return True
        block = self.shared[place]
        for _, over, under in _values_from_the_middle(block.over, block.under):
            self._step()
            further = list(ratios)
            for gear, times in block.gears.items():
                a, b = (over, under) if times > 0 else (under, over)
                done = ratios[gear]
                further[gear] = (done[0] * a ** abs(times), done[1] * b ** abs(times))
            if self._from(place + 1, further):
                return True
        return False

    def _own_can_give(self, gear: int, over: int, under: int) -> bool:
        """Tell whether the gear's own wheels can bring the ratio so far into its interval."""
        printed = self.gears[gear]
        return self._can_give(
            printed.low * under, printed.high * under, printed.den * over, *self.own[gear]
        )

    def _can_give(self, low: int, high: int, den: int, drivens: int, drivers: int) -> bool:
        """Tell whether `drivens` over `drivers` can lie from low/den to high/den."""
        self._step()
        if (
            low * FEWEST**drivers > den * MOST**drivens
            or high * MOST**drivers < den * FEWEST**drivens
        ):
            return False
        if drivens + drivers == 0:
            return low <= den <= high
        if drivens <= 1 and drivers <= 1:
            return _has_value(low, high, den, _values(drivens, drivers))
        first = (min(drivens, 1), min(drivers, 1))
        return any(
            self._can_give(
                low * under, high * under, den * over, drivens - first[0], drivers - first[1]
            )
            for _, over, under in _values_from_the_middle(*first)
        )

    def _step(self) -> None:
        self.steps += 1
        if self.steps > MOST_STEPS:
            raise _TooLongError


def _has_value(low: int, high: int, den: int, values: Sequence[_Value]) -> bool:
    """Tell whether any of the rising values lies from low/den to high/den, exactly."""
    at = bisect_left(values, (low / den * (1 - _SLACK),))
    top = high / den * (1 + _SLACK)
    while at < len(values) and values[at][0] <= top:
        _, over, under = values[at]
        if low * under <= den * over <= high * under:
            return True
        at += 1
    return False


@lru_cache(maxsize=16)
def _values(drivens: int, drivers: int) -> tuple[_Value, ...]:
    """Every different value of up to one driven over up to one driver, rising."""
    teeth = range(FEWEST, MOST + 1)
    found = {
        (over // gcd(over, under), under // gcd(over, under))
        for over in (teeth if drivens else (1,))
        for under in (teeth if drivers else (1,))
    }
    return tuple(sorted((over / under, over, under) for over, under in found))


@lru_cache(maxsize=16)
def _near_first(drivens: int, drivers: int) -> tuple[_Value, ...]:
    middle = _COMMON_RATIO if drivens == drivers else 30 ** (drivens - drivers)
    return tuple(sorted(_values(drivens, drivers), key=lambda v: abs(v[0] - middle)))


def _values_from_the_middle(drivens: int, drivers: int) -> Iterator[_Value]:
    """Every value of several drivens over several drivers, those of usual gears soonest."""
    if drivens <= 1 and drivers <= 1:
        yield from _near_first(drivens, drivers)
        return
    first = (min(drivens, 1), min(drivers, 1))
    for _, over, under in _near_first(*first):
        for _, more, less in _values_from_the_middle(drivens - first[0], drivers - first[1]):
            yield over * more / (under * less), over * more, under * less
