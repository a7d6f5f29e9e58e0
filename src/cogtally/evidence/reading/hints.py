"""What may have gone wrong in the counting, found by asking again: a miscount, a turned pair.

The verdict itself is left to `verdict`; a hint never changes it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from math import exp, inf, log
from operator import itemgetter
from typing import NamedTuple

from cogtally.catalog.model import Catalog, Family
from cogtally.evidence.engine import log_joints
from cogtally.evidence.posterior import MATCHED, UNCATALOGUED, Posterior, Share
from cogtally.evidence.reading.nearest import Near, measure, reads_as, set_ratios, teeth_away
from cogtally.evidence.reading.verdict import RECOUNT, SURE, Verdict, disagreeing, judge
from cogtally.evidence.seen import counted_wheels, kept_name, lacking_in
from cogtally.gears.notation import Count, Seen, Word, written_count
from cogtally.gears.trains import pair_of, role_of, roles

#: "fit far better the other way round": so many times as probable, in natural logarithms.
TURNED_GAIN = log(1000)
#: Turning a pair round is asked about where it brings the nearest set so many teeth nearer.
TURNED_TEETH = 2
#: A count is asked away only where a near set differs in few wheels, it among them.
FEW_WHEELS = 2
#: So many counts at most are asked away, those of the nearest sets first.
MOST_ASKED = 6
_OTHER_END = {"driver": "driven", "driven": "driver", "idler": "idler"}

Ask = Callable[[Seen], Posterior]


class Recount(NamedTuple):
    """One wheel to count again: what it speaks against has `listed` there.

    `results`: its different counts, in written order. `without`: the verdict if it alone stands in
    the way and is left out; None where it does not.
    """

    wheel: str
    counted: int
    listed: int | None
    results: tuple[int, ...]
    without: Verdict | None = None


class TurnedRound(NamedTuple):
    """Pairs that fit far better with driver and driven exchanged.

    `read` and `meant`: the words as they were written and as they may have been meant; `all`
    where every pair is turned round; `verdict`: what the box would be then.
    """

    read: tuple[str, ...]
    meant: tuple[str, ...]
    all: bool
    verdict: Verdict


def hints(
    catalog: Catalog,
    seen: Seen,
    verdict: Verdict,
    near: Sequence[Near],
    ask: Ask,
    only: str | None = None,
) -> tuple[tuple[Recount, ...], TurnedRound | None]:
    """Return wheels to count again, and pairs that may have been written the wrong way round.

    `ask` of a box, once each; `only` is the id of the one family that it asks about, if it is one.
    A count that agrees in everything raises no question and is not asked again.
    """
    if verdict.is_clean:
        return (), None
    counted = counted_wheels(seen, catalog.by_id.get(verdict.family))
    again = tuple(Recount(*d, counted[d.wheel].results) for d in verdict.disagrees)
    named = verdict.kind == RECOUNT and verdict.is_sure
    # Of a set that is named the pairs that differ; else every one.
    differing = {pair_of(d.wheel) for d in verdict.disagrees}
    pairs = [w.pair for w in seen.words if w.pair and (not named or w.pair in differing)]
    turned = _turned_hint(catalog, seen, ask, pairs, only)
    if turned is not None:
        round_ = {text.partition("=")[0] for text in turned.read}
        return tuple(r for r in again if pair_of(r.wheel) not in round_), turned
    one = None if named else _recount_hint(catalog, seen, verdict, near, ask, only)
    return (again if one is None else (one,)), None


def _turned_hint(
    catalog: Catalog, seen: Seen, ask: Ask, pairs: Iterable[str], only: str | None
) -> TurnedRound | None:
    """Ask again with each of `pairs`, and all of them, turned round; None if none gains much."""
    whole = [w.pair for w in seen.words if w.pair is not None and len(w.counts) > 1]
    every = [*dict.fromkeys(p for p in pairs if p in whole), *([None] if len(whole) > 1 else [])]
    options = [(pair, turned_round(seen, pair)) for pair in every]
    least = _least_away(catalog, seen, only) - TURNED_TEETH
    options = [one for one in options if _least_away(catalog, one[1], only) <= least < inf]
    pair, turned = max(options, key=lambda one: ask(one[1]).log_evidence, default=(None, seen))
    found = ask(turned)
    if found.log_evidence - ask(seen).log_evidence < TURNED_GAIN:
        return None
    changed = [
        (_pair_text(was), _pair_text(now))
        for was, now in zip(seen.words, turned.words, strict=True)
        if was.counts != now.counts and was.pair is not None
    ]
    return TurnedRound(
        read=tuple(was for was, _ in changed),
        meant=tuple(now for _, now in changed),
        all=pair is None,
        verdict=judge(catalog, found, turned),
    )


def _least_away(catalog: Catalog, seen: Seen, only: str | None) -> float:
    """The sum of |count − teeth| of the nearest set; infinite where no set has counts."""
    return min((teeth for teeth, _, _ in teeth_away(catalog, seen, only)), default=inf)


def turned_round(seen: Seen, pair: str | None = None) -> Seen:
    """Return the same with driver and driven exchanged, in one pair or (None) in all."""

    def turned(count: Count) -> Count:
        own = pair_of(count.wheel)
        if pair not in (None, own):
            return count
        return replace(count, wheel=f"{own}.{_OTHER_END[role_of(count.wheel)]}")

    words = (replace(word, counts=tuple(map(turned, word.counts))) for word in seen.words)
    return replace(seen, words=tuple(words))


def _pair_text(word: Word) -> str:
    """A pair's word as it reads in plain counts: `3=24/21`."""
    counts = {role_of(count.wheel): count for count in word.counts}
    found = [counts.get(role) for role in roles(word.size)]
    return f"{word.pair}={'/'.join('_' if c is None else _count_text(c) for c in found)}"


def _count_text(count: Count) -> str:
    times = f"x{count.times}" if count.times > 1 else ""
    return f"{written_count(count.teeth, count.unsure)}{times}"


def exchanged_turns(
    catalog: Catalog, seen: Seen, leading: str, near: Sequence[Near]
) -> tuple[tuple[str, str], ...]:
    """Return turn tests that fit no set of a near family as written, but do with in and out
    exchanged: each as it was written, and as it may have been meant.
    """
    ids = dict.fromkeys([leading, *(one.family for one in near)])
    families = [catalog.by_id[one] for one in ids if one in catalog.by_id]
    ratios = [set_ratios(family, known) for family in families for known in family.sets]
    found = []
    for word in seen.words:
        turn = word.turn
        if turn is None or turn.held or len(turn.gears) > 1 or turn.turns_in == turn.turns_out:
            continue
        listed = {of[turn.gears[0]] for of in ratios if turn.gears[0] in of}
        other = replace(turn, turns_in=turn.turns_out, turns_out=turn.turns_in)
        fits = [any(reads_as(one, ratio) for ratio in listed) for one in (turn, other)]
        if fits == [False, True]:
            name, _, turns = word.text.partition("@")
            into, _, out = turns.partition(":")
            found.append((word.text, f"{name}@{out}:{into}"))
    return tuple(found)


def _recount_hint(
    catalog: Catalog, seen: Seen, verdict: Verdict, near: Sequence[Near], ask: Ask, only: str | None
) -> Recount | None:
    """The one single count without which a set could be named, None if there is none."""
    found: list[tuple[float, Recount]] = []
    doubtful = _doubtful(catalog, seen, verdict, near)
    for left in dict.fromkeys(_without_wheel(seen, wheel, family) for family, wheel in doubtful):
        if not left.counts or not may_be_named(catalog, left, only):
            continue
        after = judge(catalog, ask(left), left)
        if after.is_clean:
            leading = catalog.by_id[after.family]
            counted = counted_wheels(seen, leading)
            found += [
                (after.probability, Recount(*off, counted[off.wheel].results, after))
                for off in disagreeing(leading, after.sets, counted)
                if off.listed is not None
            ]
    return max(found, key=itemgetter(0))[1] if found else None


def may_be_named(catalog: Catalog, seen: Seen, only: str | None = None) -> bool:
    """Tell whether a counted set may be sure, with no wheel against it; far quicker than to ask.

    It needs every count, and has no more than beside such sets of other families and no family.
    """
    exact = [
        Share(MATCHED, 0.0, family.id, (known.id,))
        for teeth, family, known in teeth_away(catalog, seen, only)
        if teeth == 0 and not lacking_in(family, seen)
    ]
    shares = [*exact, Share(UNCATALOGUED, 0.0)]
    logs = log_joints(catalog, [seen], shares, so_far=True, family=only)[:, 0].tolist()
    most: dict[str, float] = {}
    for share, weight in zip(shares, logs, strict=True):
        most[share.family] = max(weight, most.get(share.family, weight))
    best = max(most.values())
    return bool(exact) and sum(exp(weight - best) for weight in most.values()) <= 1 / SURE


def _without_wheel(seen: Seen, wheel: str, family: Family) -> Seen:
    """The same without any count of one wheel, named as `family` keeps it."""
    words = (
        replace(word, counts=tuple(c for c in word.counts if kept_name(family, c.wheel) != wheel))
        for word in seen.words
    )
    return replace(seen, words=tuple(words))


def _doubtful(
    catalog: Catalog, seen: Seen, verdict: Verdict, near: Sequence[Near]
) -> list[tuple[Family, str]]:
    """Wheels counted once that a near set, or the one that the box has most of, does not have."""
    own = catalog.by_id.get(verdict.family)
    named = [s for s in own.counted_sets if s.id in verdict.sets] if own else []
    doubted = [*(measure(own, known, seen) for known in named if own), *near]
    # A set that differs in fewer wheels is told apart by fewer counts; the others can wait.
    fewest = min((len(one.differences) for one in doubted if one.differences), default=0)
    found: dict[tuple[str, str], Family] = {}
    for one in doubted:
        family = catalog.by_id[one.family]
        counted = counted_wheels(seen, family)
        for d in one.differences if len(one.differences) == fewest <= FEW_WHEELS else ():
            if d.listed is not None and counted[d.wheel].times == 1:
                found[family.id, d.wheel] = family
    return [(family, wheel) for (_, wheel), family in found.items()][:MOST_ASKED]
