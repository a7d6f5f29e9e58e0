"""From counts and what is said of the box to its table of ratios, and what cannot be meant.

Which of several counts of a wheel is likeliest is left to the caller.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cogtally.gears import trains
from cogtally.gears.errors import UserError
from cogtally.gears.notation import Count, Seen, Word, parse_chain


@dataclass(frozen=True, slots=True)
class Wheel:
    """One wheel and what its counts come to: `teeth`, None where nobody counted it."""

    name: str
    teeth: int | None
    counts: tuple[Count, ...]

    @property
    def is_disputed(self) -> bool:
        """Whether it was counted more than once with different results."""
        return len({count.teeth for count in self.counts}) > 1

    @property
    def is_unsure(self) -> bool:
        """Whether no count that gave these teeth was a sure one."""
        agreeing = [count for count in self.counts if count.teeth == self.teeth]
        return bool(agreeing) and all(count.unsure for count in agreeing)


@dataclass(frozen=True, slots=True)
class Pair:
    """One pair: its wheels, driver first."""

    name: str
    wheels: tuple[Wheel, ...]

    @property
    def teeth(self) -> tuple[int | None, ...]:
        """Teeth of its wheels, driver first."""
        return tuple(wheel.teeth for wheel in self.wheels)

    @property
    def sums(self) -> tuple[int | None, ...]:
        """Tooth sum of each mesh."""
        return trains.tooth_sums(self.teeth)

    @property
    def factors(self) -> tuple[int | None, ...]:
        """Greatest common factor of the teeth of each mesh."""
        return trains.common_factors(self.teeth)

    @property
    def hunting(self) -> bool | None:
        """Whether every tooth meets every tooth of its mate; None where a count is missing."""
        return trains.is_hunting(self.teeth)

    @property
    def missing(self) -> tuple[str, ...]:
        """Wheels without which the pair has no ratio."""
        ends = (self.wheels[0], self.wheels[-1])
        return tuple(wheel.name for wheel in ends if wheel.teeth is None)


@dataclass(frozen=True, slots=True)
class Gear:
    """One gear. Ratios are turns in for one turn out; None where a count is missing.

    `path`: its pairs, none in direct. `missing`: wheels without a count that `ratio` would need.
    `step`: ratio of the gear numbered one lower over this one's; known sometimes where neither
    ratio is, since a pair on both paths cancels. `overall`: through the axle too. `overdrive`
    and `overdrive_overall`: the same with the overdrive in; never for reverse.
    """

    name: str
    path: tuple[str, ...]
    missing: tuple[str, ...]
    ratio: Fraction | None
    step_from: str | None = None
    step: Fraction | None = None
    overall: Fraction | None = None
    overdrive: Fraction | None = None
    overdrive_overall: Fraction | None = None


@dataclass(frozen=True, slots=True)
class RatioTable:
    """All that can be worked out of counts without a catalog.

    `assumed`: nobody named the layout. `axle`: the axle's pair where it stands behind the box.
    `unused`: pairs that no gear runs through. `paths`: the spelled-out ones.
    """

    layout: str
    assumed: bool
    direct: str | None
    paths: Mapping[str, tuple[str, ...]]
    gears: tuple[Gear, ...]
    pairs: tuple[Pair, ...]
    axle: Pair | None
    overdrive: trains.Epicyclic | None
    unused: tuple[str, ...]
    sums_apart: tuple[str, ...]

    @property
    def train(self) -> trains.Train:
        """How its pairs are arranged, the axle behind it left out."""
        inside = {pair.name: len(pair.wheels) for pair in self.pairs if pair is not self.axle}
        # A pair that the layout needs and that nobody wrote has two wheels without a count.
        inside |= {name: 2 for gear in self.gears for name in gear.path if name not in inside}
        return trains.Train(self.layout, inside, self.direct, self.paths)

    @property
    def axle_ratio(self) -> Fraction | None:
        """Turns of the pinion for one of the crown wheel; None without an axle or a count."""
        return None if self.axle is None else trains.pair_ratio(self.axle.teeth)

    @property
    def disputed(self) -> tuple[Wheel, ...]:
        """Wheels that were counted more than once with different results."""
        return tuple(wheel for pair in self.pairs for wheel in pair.wheels if wheel.is_disputed)

    @property
    def rising(self) -> tuple[Gear, ...]:
        """Gears whose ratio is not below that of the gear numbered one lower."""
        return tuple(gear for gear in self.gears if gear.step is not None and gear.step <= 1)


#: Returns the number of teeth that all counts of one wheel make likeliest.
Likeliest = Callable[[Sequence[Count]], int]


def ratio_table(
    seen: Seen,
    likeliest: Likeliest,
    *,
    layout: str | None = None,
    direct: str | None = None,
    paths: Iterable[tuple[str, tuple[str, ...]]] = (),
    axle: Word | None = None,
    overdrive: trains.Epicyclic | None = None,
) -> RatioTable:
    """Return all that can be worked out of the counts in `seen`; its turn tests are not used.

    `layout` if None: layshaft where `input` is written, sleeve where `output` is, axle where
    nothing but `final` is, else two-shaft. `axle` is what `parse_axle` read; a pair written as
    `final` is the axle behind the box too, unless a spelled-out path names it. Raises UserError
    where the parts named cannot belong together.
    """
    sizes = pair_sizes(seen.words)
    if not sizes:
        raise UserError("no teeth were counted", mend="write pairs: input=17/28 1=14/31 2=19/26")
    chosen = layout or default_layout(sizes)
    if chosen == trains.OVERDRIVE:
        mend = "'cogtally ratios' and 'cogtally road' take one behind a box: --overdrive 24/84"
        raise UserError("an overdrive has no gears of its own", f"--layout {chosen}", mend)
    if chosen not in trains.LAYOUTS:
        *others, last = trains.LAYOUTS
        mend = f"{', '.join(others)} or {last}"
        raise UserError("there is no such layout", f"--layout {chosen}", mend)
    spelled = _spelled(paths, sizes)
    words = seen.words
    if axle is not None:
        words, place = (*words, axle), f"--axle {axle.text}"
        if chosen == trains.AXLE:
            raise UserError("the axle is what the words describe", place, "leave --axle out")
        if trains.FINAL in sizes:
            raise UserError("the axle is written as final too", place, "keep one of the two")
    sizes = pair_sizes(words)
    named = {*spelled, *(pair for path in spelled.values() for pair in path)}
    behind = trains.FINAL in sizes and chosen != trains.AXLE and trains.FINAL not in named
    inside = {name: size for name, size in sizes.items() if not (behind and name == trains.FINAL)}
    _check_direct(direct, chosen, inside, spelled)
    if overdrive is not None and chosen == trains.AXLE:
        raise UserError("an axle alone has no overdrive", "--overdrive", "leave it out")
    pairs = _pairs(words, sizes, likeliest)
    train = trains.Train(chosen, inside, direct, spelled)
    behind_pair = pairs[trains.FINAL] if behind else None
    used = {name for gear in train.gears for name in train.path(gear) or ()}
    return RatioTable(
        layout=chosen,
        assumed=layout is None,
        direct=direct,
        paths=spelled,
        gears=_gears(train, pairs, behind_pair, overdrive),
        pairs=tuple(pairs.values()),
        axle=behind_pair,
        overdrive=overdrive,
        unused=tuple(name for name in inside if name not in used),
        sums_apart=_sums_apart(train, pairs),
    )


def parse_axle(text: str) -> Word:
    """Read `9/41`, pinion and crown wheel of the axle behind a box; raise UserError."""
    return _two_counts(text, trains.FINAL, "--axle", "write pinion/crown, for example --axle 9/41")


def parse_overdrive(text: str) -> trains.Epicyclic:
    """Read `24/84`, sun and annulus of an overdrive; raise UserError."""
    mend = "write SUN/ANNULUS, for example --overdrive 24/84"
    word = _two_counts(text, "overdrive", "--overdrive", mend)
    sun, annulus = (count.teeth for count in word.counts)
    try:
        return trains.epicyclic(sun, annulus)
    except UserError as error:
        raise UserError(error.sentence, f"--overdrive {text}", error.mend) from error


def _two_counts(text: str, pair: str, option: str, mend: str) -> Word:
    word = parse_chain(text, pair, mend, option)
    if word.size != 2 or len(word.counts) != 2:
        raise UserError("two counted wheels were expected", f"{option} {text}", mend)
    return word


def default_layout(pairs: Iterable[str]) -> str:
    """Return the layout that the names of the pairs speak for."""
    names = set(pairs)
    shared = (layout for layout, pair in trains.SHARED.items() if pair in names)
    return next(shared, trains.AXLE if names == {trains.FINAL} else trains.TWO_SHAFT)


def pair_sizes(words: Iterable[Word], known: Mapping[str, int] | None = None) -> dict[str, int]:
    """Return how many wheels each pair has that was written, whole or a wheel of it, in order.

    `known`: how many a pair has of which one wheel alone was written; else two, if no idler.
    """
    sizes: dict[str, int] = {}
    for word in words:
        pair, size = word.pair, word.size
        if word.wheel is not None:
            pair = trains.pair_of(word.wheel)
            size = 3 if trains.role_of(word.wheel) == "idler" else (known or {}).get(pair, 2)
        if pair is not None:
            sizes[pair] = max(size, sizes.get(pair, 0))
    return sizes


def _spelled(
    paths: Iterable[tuple[str, tuple[str, ...]]], sizes: Mapping[str, int]
) -> dict[str, tuple[str, ...]]:
    found: dict[str, tuple[str, ...]] = {}
    for gear, path in paths:
        place = f"--path {gear}={','.join(path)}"
        if gear in found:
            raise UserError(f"{gear} has two paths", place, "keep one of them")
        if gear in trains.NO_GEAR:
            mend = "write GEAR=PAIR,PAIR, for example R=input,R1,R2"
            raise UserError(f"{gear} is a pair that gears run through, no gear", place, mend)
        for pair in path:
            if pair not in sizes:
                mend = f"write its counts, {pair}=_/_ where nobody counted"
                raise UserError(f"the pair {pair} is not written", place, mend)
            if path.count(pair) > 1:
                raise UserError(f"the pair {pair} stands twice on one path", place, "name it once")
        found[gear] = path
    return found


def _check_direct(
    direct: str | None,
    layout: str,
    pairs: Mapping[str, int],
    spelled: Mapping[str, tuple[str, ...]],
) -> None:
    if direct is None:
        return
    place = f"--direct {direct}"
    if layout not in trains.SHARED:
        mend = f"write the input pair, or --layout {' or '.join(trains.SHARED)}"
        raise UserError(f"no gear of the layout {layout} locks input to output", place, mend)
    if direct in pairs or direct in spelled or direct in (*trains.NO_GEAR, trains.FINAL):
        mend = "direct is the gear that locks input to output and has no pair of its own"
        raise UserError(f"{direct} has a pair or a path, or is no gear", place, mend)


def _pairs(
    words: Iterable[Word], sizes: Mapping[str, int], likeliest: Likeliest
) -> dict[str, Pair]:
    counted: dict[str, list[Count]] = {}
    for word in words:
        for count in word.counts:
            counted.setdefault(count.wheel, []).append(count)

    def wheel(name: str) -> Wheel:
        counts = counted.get(name, [])
        different = {count.teeth for count in counts}
        teeth = likeliest(counts) if len(different) > 1 else next(iter(different), None)
        return Wheel(name, teeth, tuple(counts))

    return {
        pair: Pair(pair, tuple(wheel(name) for name in trains.wheel_names(pair, size)))
        for pair, size in sizes.items()
    }


def _gears(
    train: trains.Train,
    pairs: Mapping[str, Pair],
    axle: Pair | None,
    overdrive: trains.Epicyclic | None,
) -> tuple[Gear, ...]:
    final = None if axle is None else trains.pair_ratio(axle.teeth)
    found: list[Gear] = []

    def missing(pair: str) -> tuple[str, ...]:
        return pairs[pair].missing if pair in pairs else trains.wheel_names(pair, 2)

    for name in train.gears:
        path = train.path(name) or ()
        ratio = _ratio(path, pairs)
        lower = found[-1] if found and _is_next(found[-1].name, name) else None
        factor = None if overdrive is None or name == trains.REVERSE else overdrive.overdrive
        geared_up = _times(ratio, factor)
        found.append(
            Gear(
                name=name,
                path=path,
                missing=tuple(wheel for pair in path for wheel in missing(pair)),
                ratio=ratio,
                step_from=None if lower is None else lower.name,
                step=None if lower is None else _step(lower.path, path, pairs),
                overall=_times(ratio, final),
                overdrive=geared_up,
                overdrive_overall=_times(geared_up, final),
            )
        )
    return tuple(found)


def _is_next(lower: str, name: str) -> bool:
    return trains.is_numbered(lower) and trains.is_numbered(name) and int(lower) + 1 == int(name)


def _ratio(path: Iterable[str], pairs: Mapping[str, Pair]) -> Fraction | None:
    return trains.train_ratio(pairs[name].teeth if name in pairs else (None, None) for name in path)


def _step(lower: Sequence[str], path: Sequence[str], pairs: Mapping[str, Pair]) -> Fraction | None:
    """Return the ratio of one path over that of another; a pair on both need not be known."""
    over = _ratio((Counter(lower) - Counter(path)).elements(), pairs)
    under = _ratio((Counter(path) - Counter(lower)).elements(), pairs)
    return None if over is None or under is None else over / under


def _times(ratio: Fraction | None, factor: Fraction | None) -> Fraction | None:
    return None if ratio is None or factor is None else ratio * factor


def _sums_apart(train: trains.Train, pairs: Mapping[str, Pair]) -> tuple[str, ...]:
    """Return the pairs on the same two shafts if their sums are too far apart to be right.

    Reverse is left out: where its idler was not written, its sum says nothing.
    """
    for group in trains.same_shafts(train):
        sums = {name: pairs[name].sums[0] for name in group if name != trains.REVERSE}
        known = {name: total for name, total in sums.items() if total is not None}
        if known and max(known.values()) - min(known.values()) > trains.MOST_SUMS_APART:
            return tuple(known)
    return ()
