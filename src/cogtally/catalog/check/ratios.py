"""Rules on printed ratios: that a set's own teeth agree, and that some teeth can give them.

The search for such teeth is left to `possible`.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import gcd

from cogtally.catalog.draft import Draft
from cogtally.catalog.model import Family, RatioSet, gear_ratios
from cogtally.catalog.problem import Finding
from cogtally.gears.printed import interval, parse_ratio
from cogtally.gears.trains import LEAST_BETWEEN, Epicyclic

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


#: So many ratios of one set are named in a sentence.
MOST_NAMED = 8


def check_ratios(draft: Draft, family: Family) -> Iterator[Finding]:
    """Yield what is wrong with the printed ratios of a family's sets (of `draft`)."""
    for number, known in enumerate(draft.family.sets):
        if not known.ratios:
            continue
        if known.is_counted:
            yield from _counted(family, number, known)
        else:
            yield from _printed_only(family, number, known)


def _counted(family: Family, number: int, known: RatioSet) -> Iterator[Finding]:
    """Compare printed ratios with the set's own teeth; wheels not counted may have any."""
    teeth = {w: t for w, t in family.teeth_of(known).items() if t is not None}
    gears: dict[str, Printed] = {}
    for gear, text in known.ratios.items():
        key = f"ratios.{gear}"
        path = family.train.path(gear)
        if path is None:
            sentence = f"the family has no gear {gear}: the ratio is compared with nothing"
            yield Finding("ratio-unchecked", sentence, "", number, key)
            continue
        if not all(pair in known.pairs for pair in path):
            continue
        wheels = family.train.path_wheels(path)
        printed = printed_gear(text, wheels)
        ends = [w for pair in wheels for w in pair]
        if all(w in teeth for w in ends):
            ratio = _ratio(printed, teeth)
            if not printed.low <= ratio * printed.den <= printed.high:
                decimals = len(text.partition(".")[2])
                given = _near(ratio, decimals)
                sentence = f"{text} is printed, the teeth of {_through(path)} give {given}"
                mend = "count again, or take the printed ratio out"
                yield Finding("ratio-contradicts", sentence, mend, number, key)
        else:
            gears[gear] = printed
    yield from _impossible(gears, known, teeth, number)


def _printed_only(family: Family, number: int, known: RatioSet) -> Iterator[Finding]:
    gears = {
        gear: printed_gear(text, family.train.path_wheels(family.path_of(gear)))
        for gear, text in known.ratios.items()
    }
    yield from _impossible(gears, known, {}, number)


def _impossible(
    gears: Mapping[str, Printed], known: RatioSet, teeth: Mapping[str, int], number: int
) -> Iterator[Finding]:
    """Yield the gears that no teeth can give by themselves, or else together."""
    alone = [gear for gear, printed in gears.items() if not are_possible([printed], teeth)]
    wheels = f"wheels of {FEWEST} to {MOST} teeth"
    for gear in alone:
        text = known.ratios[gear]
        if gears[gear].drivers:
            sentence = f"no {wheels} give {text} for gear {gear}"
            if any(w in teeth for w in (*gears[gear].drivers, *gears[gear].drivens)):
                sentence += " beside those that are counted"
        else:
            sentence = f"gear {gear} is direct and has the ratio 1, not {text}"
        mend = "read the source again, the decimal point too"
        yield Finding("ratios-impossible", sentence, mend, number, f"ratios.{gear}")
    rest = {gear: printed for gear, printed in gears.items() if gear not in alone}
    if len(rest) > 1 and not are_possible(list(rest.values()), teeth):
        texts = [f"{known.ratios[gear]} for {gear}" for gear in list(rest)[:MOST_NAMED]]
        texts += [f"{len(rest) - MOST_NAMED} more"] if len(rest) > MOST_NAMED else []
        sentence = f"no {wheels} give {', '.join(texts[:-1])} and {texts[-1]} together"
        mend = "they share wheels; read the source again"
        yield Finding("ratios-impossible", sentence, mend, number, "ratios")


def _ratio(printed: Printed, teeth: Mapping[str, int]) -> Fraction:
    ratio = Fraction(1)
    for driver, driven in zip(printed.drivers, printed.drivens, strict=True):
        ratio *= Fraction(teeth[driven], teeth[driver])
    return ratio


def _through(path: tuple[str, ...]) -> str:
    return " and ".join(path) if path else "the direct gear"


def _near(ratio: Fraction, decimals: int) -> str:
    """A ratio with a decimal more than was printed, so that the difference can be seen."""
    return f"{float(ratio):.{min(decimals + 1, 9)}f}"


def check_overdrive(draft: Draft, family: Family) -> Iterator[Finding]:
    """Yield what is wrong with the one pair of an overdrive and with its printed ratios.

    `family` is that of the draft as far as its sets are of one shape.
    """
    if family.counted_sets and list(family.train.pairs.values()) != [2]:
        sentence = "an overdrive is one pair, a sun and the annulus round it"
        yield Finding("chain", sentence, 'write it as OD = "24/84"', 0, "pairs")
        return
    for key, given in (("paths", family.paths), ("same", family.same)):
        if given:
            yield Finding("path", f"an overdrive has no {key}", "take the table out", None, key)
    for number, known in enumerate(draft.family.sets):
        if known.ratios and not known.is_counted:
            sentence = "an overdrive is known by its teeth, not by printed ratios alone"
            mend = "'cogtally recover --layout overdrive' finds the teeth that print so"
            yield Finding("empty-set", sentence, mend, number, "ratios")
        elif known.is_counted:
            wrong = list(_teeth(known, number))
            # What wrong teeth come to is not said besides.
            yield from wrong or _ratios(family, known, number)


def _teeth(known: RatioSet, number: int) -> Iterator[Finding]:
    for pair, (sun, *_, annulus) in known.pairs.items():
        if sun is None or annulus is None:
            continue
        key = f"pairs.{pair}"
        if annulus < sun + LEAST_BETWEEN:
            sentence = f"the annulus of {annulus} teeth cannot stand round a sun of {sun}"
            turned = f"did you mean {annulus}/{sun}?" if annulus < sun else "count both again"
            yield Finding("teeth", sentence, turned, number, key)
        elif not Epicyclic(sun, annulus).possible_planets():
            sentence = f"no planets that are evenly spaced stand between {sun} and {annulus} teeth"
            yield Finding("no-planets", sentence, "count both again", number, key)


def _ratios(family: Family, known: RatioSet, number: int) -> Iterator[Finding]:
    ratios = gear_ratios(family, known)
    for gear, text in known.ratios.items():
        key = f"ratios.{gear}"
        if gear not in ratios:
            sentence = f"the family has no gear {gear}: the ratio is compared with nothing"
            yield Finding("ratio-unchecked", sentence, "", number, key)
            continue
        ratio = ratios[gear]
        printed = parse_ratio(text)
        if ratio is not None and ratio not in interval(printed):
            given = f"{float(ratio):.{printed.decimals + 1}f}"
            sentence = f"{text} is printed, the teeth of {gear} give {given}"
            mend = "count again, or take the printed ratio out"
            yield Finding("ratio-contradicts", sentence, mend, number, key)
