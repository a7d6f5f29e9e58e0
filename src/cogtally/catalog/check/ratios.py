"""Rules on printed ratios: that a set's own teeth agree, and that some teeth can give them.

An overdrive's too. The search is exact, by whole numbers; how likely teeth are is left to evidence.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import gcd, prod

from cogtally.catalog.draft import Draft
from cogtally.catalog.model import Family, RatioSet, gear_ratios
from cogtally.catalog.problem import Finding
from cogtally.gears.trains import LEAST_BETWEEN, Epicyclic, train_ratio

FEWEST, MOST = 5, 99
#: Steps of one search, and of all searches of a catalog, after which ratios are taken as possible
#: rather than be accused falsely. The printed ratios of a box take some tens, of four decimals
#: some thousands.
MOST_STEPS, MOST_STEPS_IN_ALL = 200_000, 1_000_000
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


class Effort:
    """How many steps of searching are left for a catalog."""

    def __init__(self) -> None:
        self.left = MOST_STEPS_IN_ALL


def are_possible(
    gears: Sequence[Printed], teeth: Mapping[str, int] | None = None, effort: Effort | None = None
) -> bool:
    """Tell whether some teeth of 5 to 99 for every wheel give all the printed ratios.

    A wheel on several paths has the same teeth on all. `teeth`: wheels that are known, and keep
    theirs. Beyond MOST_STEPS of searching, or where no `effort` is left, the answer is True.
    """
    effort = effort or Effort()
    if effort.left <= 0:
        return True
    search = _Search(gears, teeth or {}, min(MOST_STEPS, effort.left))
    found = search.can_fill(0, search.known)
    effort.left -= search.steps
    return found


@dataclass(frozen=True, slots=True)
class _Block:
    """Wheels that work in the same gears, so that only their ratio together matters there.

    `over` and `under`: how many of them are multiplied and divided by. `gears`: in which gears,
    with the sign of that.
    """

    over: int
    under: int
    gears: Mapping[int, int]


@dataclass(frozen=True, slots=True)
class _Plan:
    """How the wheels nobody counted tie gears together.

    `own`: for each gear, how many wheels of its own are multiplied and divided by. `due`: which
    gears have nothing but those left, before the first of the shared blocks and behind each.
    """

    own: tuple[tuple[int, int], ...]
    shared: tuple[_Block, ...]
    due: tuple[tuple[int, ...], ...]


#: What is multiplied and divided by on the paths of some gears: drivens and drivers of each.
_Paths = tuple[tuple[tuple[str, ...], tuple[str, ...]], ...]


@lru_cache(maxsize=512)
def _plan(paths: _Paths, known: frozenset[str]) -> _Plan:
    """Sort unknown wheels into blocks; those of one gear alone become that gear's own."""
    uses: dict[str, Counter[int]] = {}
    for number, (drivens, drivers) in enumerate(paths):
        for wheels, sign in ((drivens, 1), (drivers, -1)):
            for wheel in wheels:
                if wheel not in known:
                    uses.setdefault(wheel, Counter())[number] += sign
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
    own, shared = [(0, 0)] * len(paths), []
    for signature, (over, under) in blocks.items():
        (gear, times), *more = signature
        if more or abs(times) > 1:
            shared.append(_Block(over, under, dict(signature)))
        else:
            mine = (over, under) if times > 0 else (under, over)
            own[gear] = (own[gear][0] + mine[0], own[gear][1] + mine[1])
    # What ties most gears comes first, so that the rest is searched for teeth that can be.
    shared.sort(key=lambda block: -len(block.gears))
    last = {gear: place for place, block in enumerate(shared) for gear in block.gears}
    due = [
        tuple(gear for gear in range(len(paths)) if last.get(gear, -1) == place)
        for place in range(-1, len(shared))
    ]
    return _Plan(tuple(own), tuple(shared), tuple(due))


class _Search:
    """Goes through the blocks that several gears share; what is left is one gear's own each."""

    def __init__(self, gears: Sequence[Printed], teeth: Mapping[str, int], most: int) -> None:
        self.steps, self._most = 0, most
        self.gears = gears
        paths = tuple((gear.drivens, gear.drivers) for gear in gears)
        on_paths = {wheel for ends in paths for wheels in ends for wheel in wheels}
        plan = _plan(paths, frozenset(on_paths.intersection(teeth)))
        self.own, self.shared, self.due = plan.own, plan.shared, plan.due
        self.known = [
            (prod(teeth.get(w, 1) for w in drivens), prod(teeth.get(w, 1) for w in drivers))
            for drivens, drivers in paths
        ]

    def can_fill(self, place: int, ratios: list[tuple[int, int]]) -> bool:
        """Tell whether the blocks from `place` on can be filled, given each gear's ratio so far."""
        for gear in self.due[place]:
            (over, under), printed = ratios[gear], self.gears[gear]
            ends = printed.low * under, printed.high * under, printed.den * over
            # Its own wheels are to bring the ratio so far into the interval.
            if not self._can_give(*ends, *self.own[gear]):
                return False
        if place == len(self.shared):
            return True
        block = self.shared[place]
        for _, over, under in _values_from_the_middle(block.over, block.under):
            if self._is_spent():
                return True
            further = list(ratios)
            for gear, times in block.gears.items():
                a, b = (over, under) if times > 0 else (under, over)
                done = ratios[gear]
                further[gear] = (done[0] * a ** abs(times), done[1] * b ** abs(times))
            if self.can_fill(place + 1, further):
                return True
        return False

    def _can_give(self, low: int, high: int, den: int, drivens: int, drivers: int) -> bool:
        """Tell whether `drivens` over `drivers` can lie from low/den to high/den."""
        if self._is_spent():
            return True
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

    def _is_spent(self) -> bool:
        """Take a step; tell whether there are none left, and the answer is True whatever it is."""
        self.steps += self.steps <= self._most
        return self.steps > self._most


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


def check_ratios(draft: Draft, family: Family, effort: Effort) -> Iterator[Finding]:
    """Yield what is wrong with the printed ratios of a family's sets (of `draft`).

    `effort`: what is left for searching teeth that give them; where it ends, that is said once.
    """
    was_left = effort.left > 0
    for number, known in enumerate(draft.family.sets):
        if not known.ratios:
            continue
        yield from _printed(family, number, known, effort)
        if was_left and effort.left <= 0:
            was_left = False
            sentence = "from here on nobody looked whether any teeth give the printed ratios"
            mend = "there are too many of so many decimals; check the files one by one"
            yield Finding("ratio-unchecked", sentence, mend, number, "ratios")


def _printed(family: Family, number: int, known: RatioSet, effort: Effort) -> Iterator[Finding]:
    """Compare printed ratios with the set's own teeth; wheels not counted may have any."""
    counted = known.is_counted
    teeth = {w: t for w, t in family.teeth_of(known).items() if t is not None}
    gears: dict[str, Printed] = {}
    for gear, text in known.ratios.items():
        key = f"ratios.{gear}"
        path = family.train.path(gear) if counted else family.path_of(gear)
        if path is None:
            sentence = f"the family has no gear {gear}: the ratio is compared with nothing"
            yield Finding("ratio-unchecked", sentence, "", number, key)
            continue
        if counted and not all(pair in known.pairs for pair in path):
            continue
        wheels = family.train.path_wheels(path)
        if counted and all(wheel in teeth for ends in wheels for wheel in ends):
            ratio = train_ratio([(teeth[driver], teeth[driven]) for driver, driven in wheels])
            through = " and ".join(path) if path else "the direct gear"
            yield from _contradicted(text, ratio, through, number, key)
        else:
            gears[gear] = printed_gear(text, wheels)
    yield from _impossible(gears, known, teeth, number, effort)


def _impossible(
    gears: Mapping[str, Printed],
    known: RatioSet,
    teeth: Mapping[str, int],
    number: int,
    effort: Effort,
) -> Iterator[Finding]:
    """Yield the gears that no teeth can give by themselves, or else together."""
    alone = [gear for gear, printed in gears.items() if not are_possible([printed], teeth, effort)]
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
    if len(rest) > 1 and not are_possible(list(rest.values()), teeth, effort):
        texts = [f"{known.ratios[gear]} for {gear}" for gear in list(rest)[:MOST_NAMED]]
        texts += [f"{len(rest) - MOST_NAMED} more"] if len(rest) > MOST_NAMED else []
        sentence = f"no {wheels} give {', '.join(texts[:-1])} and {texts[-1]} together"
        mend = "they share wheels; read the source again"
        yield Finding("ratios-impossible", sentence, mend, number, "ratios")


def _contradicted(
    text: str, ratio: Fraction | None, of: str, number: int, key: str
) -> Iterator[Finding]:
    """Yield that teeth give another ratio than is printed, with a decimal more than that has."""
    printed = printed_gear(text, ())
    if ratio is not None and not printed.low <= ratio * printed.den <= printed.high:
        given = f"{float(ratio):.{min(len(text.partition('.')[2]) + 1, 9)}f}"
        sentence = f"{text} is printed, the teeth of {of} give {given}"
        mend = "count again, or take the printed ratio out"
        yield Finding("ratio-contradicts", sentence, mend, number, key)


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
        yield from _contradicted(text, ratios[gear], gear, number, key)
