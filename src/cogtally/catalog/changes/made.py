"""From what was counted to the pairs of a set: as somebody writes a set down, or of one real box.

How counts are written is left to the notation, whether the set will do to `check`.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from cogtally.catalog.draft import LARGEST_NUMBER, as_number
from cogtally.catalog.model import Family, FeatureValue, RatioSet, Teeth
from cogtally.gears.errors import UserError, shown
from cogtally.gears.looks import FEATURES, parse_feature
from cogtally.gears.notation import Count, Seen, Word
from cogtally.gears.printed import ROUNDED, interval
from cogtally.gears.ratios import pair_sizes
from cogtally.gears.recover import Problem, Recovery, Solution
from cogtally.gears.trains import NO_SUMS, REVERSE, pair_of, roles, wheel_names


@dataclass(frozen=True, slots=True)
class CountedPairs:
    """The pairs of a set: their teeth, and as `typed` what somebody wrote for whole pairs.

    `doubtful`: wheels that were counted and yet are gaps; `gaps`: every wheel without a count, the
    doubtful ones included.
    """

    pairs: Mapping[str, Teeth]
    typed: Mapping[str, str]
    doubtful: tuple[str, ...] = ()
    gaps: tuple[str, ...] = ()


def written_pairs(seen: Seen, family: Family | None) -> CountedPairs:
    """Return the pairs of a set that somebody writes down, in the order of its family's.

    `family` is the one that the set goes to, None for a new one. A catalog holds counts that are
    sure: raises UserError for a turn test, an unsure count, and two different counts of one wheel.
    """
    for word in seen.words:
        if word.turn is not None:
            mend = "write teeth, 1=14/31, and printed ratios with --ratio 1=3.65"
            raise UserError("a turn test gives no teeth", word.text, mend)
        for count in word.counts:
            if count.unsure:
                mend = "count it again, or write _ for a wheel that is not known yet"
                raise UserError("a catalog has no unsure counts", word.text, mend)
    teeth: dict[str, int] = {}
    for count in seen.counts:
        if teeth.setdefault(count.wheel, count.teeth) != count.teeth:
            both = f"{teeth[count.wheel]} and {count.teeth} were written"
            raise UserError(both, count.wheel, "a set has one count for a wheel, or _")
    pairs = _filled(_sizes(seen.words, family), teeth)
    typed = {word.pair: word.text.partition("=")[2] for word in seen.words if word.pair is not None}
    alone = {pair_of(word.wheel) for word in seen.words if word.wheel is not None}
    kept = {pair: text for pair, text in typed.items() if pair not in alone}
    return CountedPairs(_in_order(pairs, family), kept, gaps=_gaps(pairs))


def box_pairs(seen: Seen, family: Family) -> CountedPairs:
    """Return the pairs of a box that was counted, as a set of `family` would have them.

    A wheel is kept where one result was counted for sure more often than all others together; else
    it is a gap, as is every wheel that nobody counted. Turn tests are left aside. Raises UserError
    where no count is left.
    """
    keep = family.train.canonical
    counts: dict[str, list[Count]] = {}
    for count in seen.counts:
        counts.setdefault(keep(count.wheel), []).append(count)
    settled = {wheel: _settled(found) for wheel, found in counts.items()}
    teeth = {wheel: result for wheel, result in settled.items() if result is not None}
    if not counts:
        mend = "count wheels: input=17/28 1=14/31"
        raise UserError("nothing was counted, and a set has teeth", mend=mend)
    if not teeth:
        raise UserError("no count is sure, and a set has teeth", mend="count again")
    sizes = dict(family.train.pairs) if family.counted_sets else {}
    for pair, size in _sizes(seen.words, family).items():
        sizes[pair] = max(size, sizes.get(pair, 0))
    names = {name: keep(name) for p, n in sizes.items() for name in wheel_names(p, n)}
    pairs = _filled(sizes, {name: teeth[w] for name, w in names.items() if w in teeth})
    return CountedPairs(
        _in_order(pairs, family),
        {},
        doubtful=tuple(wheel for wheel, result in settled.items() if result is None),
        gaps=tuple(dict.fromkeys(keep(wheel) for wheel in _gaps(pairs))),
    )


def _settled(counts: Iterable[Count]) -> int | None:
    """The one result that outweighs all the others; None where there is none."""
    times: dict[int, int] = {}
    unsure = 0
    for count in counts:
        if count.unsure:
            unsure += count.times
        else:
            times[count.teeth] = times.get(count.teeth, 0) + count.times
    if not times:
        return None
    best = max(times, key=lambda teeth: times[teeth])
    return best if times[best] > sum(times.values()) - times[best] else None


def _sizes(words: Iterable[Word], family: Family | None) -> dict[str, int]:
    """How many wheels each pair has that was written, as far as the family tells."""
    known = family.train.pairs if family is not None and family.counted_sets else None
    return pair_sizes(words, known)


def _filled(sizes: Mapping[str, int], teeth: Mapping[str, int]) -> dict[str, Teeth]:
    return {
        pair: tuple(teeth.get(wheel) for wheel in wheel_names(pair, size))
        for pair, size in sizes.items()
    }


def _in_order(pairs: Mapping[str, Teeth], family: Family | None) -> dict[str, Teeth]:
    """The pairs in the order in which the family's other sets have them, new ones behind."""
    if family is None or not family.counted_sets:
        return dict(pairs)
    known = [pair for pair in family.train.pairs if pair in pairs]
    return {pair: pairs[pair] for pair in dict.fromkeys([*known, *pairs])}


def _gaps(pairs: Mapping[str, Teeth]) -> tuple[str, ...]:
    return tuple(
        f"{pair}.{role}"
        for pair, teeth in pairs.items()
        for role, count in zip(roles(len(teeth)), teeth, strict=True)
        if count is None
    )


_NUMBER = re.compile(r"[0-9]{1,15}|[0-9]{0,15}\.[0-9]{1,15}")


def written_marks(
    texts: Iterable[str], family: Family | None, trade_names: Mapping[str, str]
) -> dict[str, tuple[str, ...]]:
    """Return the marks of each piece out of texts such as `laygear:LG 3102`.

    `family` is the one that the set goes to, None for a new one; `trade_names` are other names of
    its pieces. Raises UserError for a text without a piece or without a mark.
    """
    own = _pieces(family)
    found: dict[str, tuple[str, ...]] = {}
    for text in texts:
        piece, colon, mark = (part.strip() for part in text.partition(":"))
        if not colon or not piece or not mark:
            sentence = "a piece, ':' and what is stamped on it were expected"
            mend = "write PIECE:TEXT: 'laygear:LG 3102'"
            raise UserError(sentence, f"--mark {shown(text)}", mend)
        name = _named(piece, own, trade_names)
        found[name] = (*found.get(name, ()), mark)
    return found


def written_features(
    texts: Iterable[str], family: Family | None, trade_names: Mapping[str, str]
) -> dict[str, dict[str, FeatureValue]]:
    """Return the features of each wheel or piece out of texts such as `laygear.splines=10`.

    A feature that can be looked at has a value of its kind; any other has a number or a text.
    Raises UserError for what is no feature, or unsure, or given twice.
    """
    own = _pieces(family)
    found: dict[str, dict[str, FeatureValue]] = {}
    for text in texts:
        place = f"--feature {shown(text)}"
        left, _, value = text.partition("=")
        owner, _, feature = left.strip().rpartition(".")
        if not owner or not feature or not value.strip():
            mend = "write OF.FEATURE=VALUE: laygear.splines=10, 3.driver.hand=left"
            raise UserError("a wheel or piece, '.', feature, '=' and value expected", place, mend)
        name = owner if "." in owner else _named(owner, own, trade_names)
        given = found.setdefault(name, {})
        key, known = _value(feature, value.strip(), text, place)
        if key in given:
            raise UserError("two values of one feature were written", place)
        given[key] = known
    return found


def _value(feature: str, value: str, text: str, place: str) -> tuple[str, FeatureValue]:
    if feature.casefold() in FEATURES:
        read = parse_feature(text)
        if read.unsure or read.times != 1:
            mend = "look again, and write what is sure"
            raise UserError("a catalog has no unsure or repeated values", place, mend)
        return read.feature, read.value
    if _NUMBER.fullmatch(value) is None:
        return feature, value
    number: int | float = float(value) if "." in value else int(value)
    if as_number(number) is None:
        raise UserError(f"the number is larger than {LARGEST_NUMBER:g}", place)
    return feature, number


def _pieces(family: Family | None) -> Collection[str]:
    return () if family is None else {piece.name for piece in family.pieces}


def _named(piece: str, own: Collection[str], trade_names: Mapping[str, str]) -> str:
    """A piece as its family calls it."""
    return piece if piece in own else trade_names.get(piece.casefold(), piece)


def check_family(problem: Problem, family: Family) -> None:
    """Raise UserError where a family cannot have a set that is recovered as `problem` asks."""
    if problem.layout != family.layout:
        raise UserError(
            f"{family.id} is a box of layout {family.layout}, the ratios were read as of layout "
            f"{problem.layout}",
            "--keep-as",
            f"write --layout {family.layout}, or name another family",
        )


def picked(found: Recovery, place: int) -> Solution:
    """Return the solution at a place of the list, from 1; raise UserError where there is none."""
    if not 1 <= place <= len(found.solutions):
        listed = len(found.solutions)
        mend = f"pick 1 to {listed}" if listed else "nothing prints as these ratios"
        raise UserError("the list has no such solution", f"--pick {place}", mend)
    return found.solutions[place - 1]


def set_of(found: Recovery, solution: Solution, family: Family, set_id: str) -> RatioSet:
    """Return a solution as a set of `family`: its teeth, the printed ratios, and its source.

    The idler of a reverse is a gap, since no ratio tells it, and so is every pair of the family
    that no ratio was given for. A printed ratio that the teeth do not round to is left out (read
    as cut off or misprinted), for the catalog would contradict itself. The pair of an axle or an
    overdrive is called as the family calls it.
    """
    problem = found.problem
    names = _one_pair(problem, family)
    pairs: dict[str, Teeth] = {}
    for pair in problem.pairs:
        driver, driven = (solution.teeth[wheel] for wheel in wheel_names(pair, 2))
        pairs[names.get(pair, pair)] = (
            (driver, None, driven) if pair == REVERSE else (driver, driven)
        )
    if family.counted_sets:
        missing = {p: size for p, size in family.train.pairs.items() if p not in pairs}
        pairs |= {pair: (None,) * size for pair, size in missing.items()}
    agreeing = {
        names.get(target.gear, target.gear): target.printed.text
        for target in problem.targets
        if solution.ratios[target.gear] in interval(target.printed, ROUNDED)
    }
    return RatioSet(set_id, pairs=pairs, ratios=agreeing, source=source_of(found, solution))


def _one_pair(problem: Problem, family: Family) -> dict[str, str]:
    """The name of the one pair of an axle or an overdrive to that which the family has for it."""
    own = tuple(family.train.pairs) if family.counted_sets else ()
    if family.layout not in NO_SUMS or len(own) != 1 or len(problem.pairs) != 1:
        return {}
    return {problem.pairs[0]: own[0]}


def source_of(found: Recovery, solution: Solution) -> str:
    """Return in one line how a solution was found: from what, and as which of how many."""
    problem = found.problem
    printed = " ".join(f"{t.gear}={t.printed.text}" for t in problem.targets)
    said = [f"recovered from printed ratios {printed} ({problem.reading})"]
    if problem.counted:
        counted = (f"{wheel}={problem.spans[wheel].low}" for wheel in problem.counted)
        said.append(f"counted {' '.join(counted)}")
    else:
        said.append("no wheel counted")
    said.append(f"no. {solution.place} of {found.count}")
    if solution.share is not None and found.count > 1:
        said.append(f"weight {solution.share:.2f}")
    return "; ".join(said)
