"""What is asked of a recovery: printed ratios, the layout, ranges of teeth, wheels already counted.

How they are written, too. What the digits mean is left to `printed`, finding teeth to `solutions`.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from cogtally.gears import notation, trains
from cogtally.gears.errors import UserError, shown
from cogtally.gears.printed import ROUNDED, Interval, Printed, interval, parse_ratio
from cogtally.gears.trains import AXLE, FAMILY_LAYOUTS, LAYSHAFT, OVERDRIVE, SHARED

#: The layouts of one pair alone: an axle's pinion and crown wheel, an overdrive's sun and annulus.
OF_ONE_PAIR = {AXLE: trains.FINAL, OVERDRIVE: OVERDRIVE}
SPREADS = (0, 1, 2)
MOST_GEARS = 10
#: Fewer printed gears than this tie too little for a ranking.
FEWEST_RANKED = 2


@dataclass(frozen=True, slots=True)
class Span:
    """Teeth, or a sum of teeth, from `low` to `high`, both in."""

    low: int
    high: int


#: Ranges of teeth where none are given: (driver, driven). An overdrive's sun stands as driver,
#: its annulus as driven.
_SPANS = {
    **dict.fromkeys((*SHARED, trains.TWO_SHAFT), (Span(11, 40), Span(15, 50))),
    AXLE: (Span(5, 20), Span(20, 90)),
    OVERDRIVE: (Span(11, 40), Span(20, 90)),
}


@dataclass(frozen=True, slots=True)
class Target:
    """One printed ratio to meet: the gear, its ratio as printed, the interval that it leaves."""

    gear: str
    printed: Printed
    within: Interval


@dataclass(frozen=True, slots=True)
class Problem:
    """A recovery to be done, checked by `pose`.

    `forward`: the gears with a pair of their own, as written; `reverse`: through an idler.
    `spans`: the teeth allowed for each wheel, by its name; a `counted` wheel has one number there.
    `sums`: the tooth sums allowed for the pair that sets the sum, or None for any.
    """

    layout: str
    forward: tuple[Target, ...]
    reverse: Target | None
    reading: str
    spread: int
    free_input: bool
    spans: Mapping[str, Span]
    counted: tuple[str, ...] = ()
    sums: Span | None = None
    planets: int = trains.USUAL_PLANETS

    @property
    def shared(self) -> str | None:
        """The pair that every gear runs through: `input`, of a sleeve box `output`, or None."""
        return SHARED.get(self.layout)

    @property
    def pairs(self) -> tuple[str, ...]:
        """Names of the pairs whose teeth are sought: the shared one first, `R` last."""
        first = (self.shared,) if self.shared else ()
        last = (trains.REVERSE,) if self.reverse else ()
        return (*first, *(t.gear for t in self.forward), *last)

    @property
    def wheels(self) -> tuple[str, ...]:
        """Names of the wheels whose teeth are sought, pair by pair, the driver first."""
        return tuple(w for pair in self.pairs for w in trains.wheel_names(pair, 2))

    @property
    def ranked(self) -> bool:
        """Whether enough gears are printed for a ranking; otherwise it is under-determined."""
        return self.layout not in OF_ONE_PAIR and len(self.forward) >= FEWEST_RANKED

    @property
    def targets(self) -> tuple[Target, ...]:
        """Every printed ratio to meet, reverse last."""
        return (*self.forward, self.reverse) if self.reverse else self.forward

    @property
    def reference(self) -> str:
        """The pair whose sum the others are measured by.

        The shared pair; the lowest-numbered gear's (else the first written) where there is none,
        or one whose sum counts for nothing.
        """
        if self.shared and not self.free_input:
            return self.shared
        return min((t.gear for t in self.forward), key=trains.gear_order)

    def with_counted(self, wheel: str, teeth: int) -> Problem:
        """Return the same problem with one more wheel counted."""
        spans = {**self.spans, wheel: Span(teeth, teeth)}
        counted = tuple(dict.fromkeys((*self.counted, wheel)))
        return replace(self, spans=spans, counted=counted)

    def with_targets(self, targets: Sequence[Target]) -> Problem:
        """Return the same problem with other ratios to meet, in the order of `targets`."""
        if self.reverse:
            return replace(self, forward=tuple(targets[:-1]), reverse=targets[-1])
        return replace(self, forward=tuple(targets))


def pose(
    gears: Mapping[str, str],
    *,
    layout: str = LAYSHAFT,
    direct: str | None = None,
    reading: str = ROUNDED,
    spread: int = SPREADS[-1],
    free_input: bool = False,
    drivers: Span | None = None,
    driven: Span | None = None,
    counted: Mapping[str, int] | None = None,
    sums: Span | None = None,
    planets: int = trains.USUAL_PLANETS,
) -> Problem:
    """Make a problem of what a person asks; raise UserError, one line, for what cannot be asked.

    `gears` gives each gear's ratio as printed, by the gear's name (`R` is reverse, through an
    idler); of an axle or an overdrive the one ratio, under any name. `direct` names the gear that
    has no pair. `drivers` and `driven` are the ranges of teeth; a `counted` wheel
    (`{"input.driver": 17}`) has its own count, inside its range or not. An idler may be counted
    and changes nothing, since it is in no ratio. `planets`: of an overdrive.
    """
    if layout not in FAMILY_LAYOUTS:
        mend = f"use {', '.join(FAMILY_LAYOUTS)}"
        raise UserError(f"no layout is called '{shown(layout)}'", mend=mend)
    if spread not in SPREADS:
        raise UserError(f"a spread of {spread} was read", mend="the spread is 0, 1 or 2")
    if free_input and layout not in SHARED:
        mend = "leave it out"
        raise UserError(f"no pair of layout {layout} is shared by all gears", "--free-input", mend)
    if not 1 <= planets <= trains.MOST_PLANETS:
        raise UserError(f"{planets} planets were read", mend=f"write 1 to {trains.MOST_PLANETS}")
    forward, reverse = _targets(gears, layout, direct, reading)
    usual = _SPANS[layout]
    spans = (
        _checked(drivers or usual[0], "drivers", notation.MOST_TEETH),
        _checked(driven or usual[1], "driven", notation.MOST_TEETH),
    )
    asked = Problem(layout, forward, reverse, reading, spread, free_input, {}, planets=planets)
    if sums is not None:
        if layout in OF_ONE_PAIR:
            raise UserError(f"no tooth sum is known of an {layout}", mend="leave the sum out")
        _checked(sums, "tooth sums", 2 * notation.MOST_TEETH)
    named = dict(zip(asked.wheels, spans * len(asked.pairs), strict=True))
    asked = replace(asked, spans=named, sums=sums)
    for wheel, teeth in (counted or {}).items():
        if wheel == f"{trains.REVERSE}.idler" and reverse:
            continue
        asked = _count(asked, wheel, teeth)
    return asked


def _targets(
    gears: Mapping[str, str], layout: str, direct: str | None, reading: str
) -> tuple[tuple[Target, ...], Target | None]:
    read = {gear: parse_ratio(text) for gear, text in gears.items()}
    found = {gear: Target(gear, p, interval(p, reading)) for gear, p in read.items()}
    if not found:
        raise UserError("no ratio was read", mend="write the printed ratios, for example 3.65 2.25")
    if layout in OF_ONE_PAIR:
        return _one_target(found, layout, direct), None
    for gear in gears:
        if gear in (*trains.NO_GEAR, trains.FINAL):
            raise UserError(f"'{gear}' is no gear with a printed ratio", gear, "name a gear")
    if direct is not None:
        _drop_direct(found, layout, direct)
    reverse = found.pop(trains.REVERSE, None)
    if not found:
        mend = "write at least one forward ratio beside reverse and direct"
        raise UserError("no forward gear with a pair of its own was read", mend=mend)
    if len(found) > MOST_GEARS:
        raise UserError(f"{len(found)} gears were read", mend=f"write at most {MOST_GEARS}")
    return tuple(found.values()), reverse


def _one_target(found: Mapping[str, Target], layout: str, direct: str | None) -> tuple[Target, ...]:
    if len(found) > 1 or direct is not None:
        raise UserError(f"an {layout} has one ratio", mend="ask for one at a time")
    (target,) = found.values()
    if layout == OVERDRIVE and Fraction(1) <= target.printed.value:
        sentence = "an overdrive turns faster out than in, so its ratio is below 1"
        mend = "write turns in for one turn out, for example 0.78"
        raise UserError(sentence, target.printed.text, mend)
    return (replace(target, gear=OF_ONE_PAIR[layout]),)


def _drop_direct(found: dict[str, Target], layout: str, direct: str) -> None:
    """Take the direct gear out of the targets: it has no pair."""
    if layout not in SHARED:
        kinds = " or ".join(SHARED)
        raise UserError(f"only a {kinds} box has a direct gear", shown(direct), "leave it out")
    target = found.pop(direct, None)
    if target is not None and Fraction(1) not in target.within:
        sentence = f"a direct gear prints 1.00, not {target.printed.text}"
        mend = "name the gear that locks input to output, or none"
        raise UserError(sentence, shown(direct), mend)


def _checked(span: Span, what: str, most: int) -> Span:
    if not notation.FEWEST_TEETH <= span.low <= span.high <= most:
        mend = f"write the lower number first, within {notation.FEWEST_TEETH} to {most}"
        raise UserError(f"{what} {span.low} to {span.high} is no range", mend=mend)
    return span


def _count(problem: Problem, wheel: str, teeth: int) -> Problem:
    if wheel not in problem.spans:
        mend = f"wheels are {', '.join(problem.wheels)}"
        raise UserError("no such wheel is sought here", shown(wheel), mend)
    if not notation.FEWEST_TEETH <= teeth <= notation.MOST_TEETH:
        mend = f"a count is {notation.FEWEST_TEETH} to {notation.MOST_TEETH} teeth"
        raise UserError(f"{teeth} teeth were read", wheel, mend)
    return problem.with_counted(wheel, teeth)


_NAMED = re.compile(r"([^=@.+/]+)=([^/_]*)")
_SPAN = re.compile(r"([0-9]+)(?:-([0-9]+))?")
_WHOLE = re.compile(r"[0-9]+")


@dataclass(frozen=True, slots=True)
class Sought:
    """What was written: `gears`, each with its ratio as printed, and the `counted` wheels.

    `unsure`: wheels of which no sure count was written.
    """

    gears: Mapping[str, str]
    counted: Mapping[str, int]
    unsure: tuple[str, ...]


def parse_sought(words: Iterable[str]) -> Sought:
    """Read printed ratios and counts: `3.65`, `2=2.25`, `1=14/_`, `input.driver=17`.

    Ratios without a name are those of gears 1, 2, 3 and so on in their order, named ones left
    out. Raises UserError for what is neither, for a gear or a wheel with two different values, and
    for a turn test.
    """
    ratios: list[tuple[str, str]] = []
    counts: dict[str, int] = {}
    sure: set[str] = set()
    for text in words:
        found = _NAMED.fullmatch(text)
        if found is not None:
            ratios.append((_named(text, found[1], [name for name, _ in ratios]), found[2]))
        elif "=" in text or "@" in text:
            _take_counts(notation.parse_word(text), counts, sure)
        else:
            parse_ratio(text)
            ratios.append(("", text))
    taken = {name for name, _ in ratios}
    free = (name for name in map(str, itertools.count(1)) if name not in taken)
    return Sought(
        {name or next(free): text for name, text in ratios},
        counts,
        tuple(wheel for wheel in counts if wheel not in sure),
    )


def parse_span(text: str, option: str) -> Span:
    """Read a range, `11-40`, or one number for both its ends; raise UserError."""
    found = _SPAN.fullmatch(text)
    if found is None or len(text) > 2 * notation.LONGEST_NUMBER:
        mend = f"write {option} 11-40, lowest first"
        raise UserError("this is no range", f"{option} {shown(text)}", mend)
    low, high = int(found[1]), int(found[2] or found[1])
    return Span(low, high)


def parse_whole(text: str, option: str, example: int) -> int:
    """Read a whole number that was given to an option; raise UserError."""
    if not _WHOLE.fullmatch(text) or len(text) > notation.LONGEST_NUMBER:
        mend = f"write {option} {example}"
        raise UserError("this is no whole number", f"{option} {shown(text)}", mend)
    return int(text)


def _named(text: str, name: str, others: Collection[str]) -> str:
    gear = notation.parse_name(name)
    if gear in others:
        raise UserError(f"gear {gear} has two ratios", shown(text), "keep one of them")
    try:
        parse_ratio(text.partition("=")[2])
    except UserError as error:
        mend = f"write {gear}=3.65 for a printed ratio, {gear}=14/31 for counted teeth"
        raise UserError(error.sentence, shown(text), mend) from error
    return gear


def _take_counts(word: notation.Word, counts: dict[str, int], sure: set[str]) -> None:
    if word.turn is not None:
        mend = "identify works with turn tests"
        raise UserError("a turn test is no printed ratio", shown(word.text), mend)
    for count in word.counts:
        if counts.setdefault(count.wheel, count.teeth) != count.teeth:
            sentence = f"{count.wheel} was counted {counts[count.wheel]} and {count.teeth}"
            raise UserError(sentence, shown(word.text), "count it once more and write one of them")
        if not count.unsure:
            sure.add(count.wheel)
