"""What to do next, in plain words: the look worth most and what it would settle.

What a look is worth is left to `evidence.advice`.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from cogtally.evidence.advice import SMALL_WORTH, Worth
from cogtally.evidence.posterior import MATCHED, MIXED, NEW, VARIANT, Share, likely
from cogtally.evidence.reading import Answer
from cogtally.gears.looks import feature_name, value_text
from cogtally.show.screen import plain, wrapped, written_list

if TYPE_CHECKING:
    from cogtally.evidence.look_worth import LookWorth


#: So many answers at most are named as told apart.
TOLD_APART = 3
#: So many marks and features to look at are named.
LOOKS_NAMED = 2
#: An answer below this is not worth telling apart.
LEAST = 0.005


def next_lines(answer: Answer, width: int) -> list[str]:
    """Return what to do next as lines of at most `width` columns; none without advice."""
    if answer.advice is None:
        return []
    return wrapped(" ".join(_sentences(answer)), width)


def bits(value: float) -> str:
    """Return bits as a person reads them."""
    return f"{value:.2f} bit" if value >= 0.01 else "under 0.01 bit"


def _sentences(answer: Answer) -> Iterator[str]:
    advice = answer.advice
    if advice is None:
        return
    if advice.count_all_again:
        yield "Next: count all of it again; the counts look hasty, and one more settles little."
        return
    best = advice.best
    looks = [look for look in advice.looks if look.bits >= SMALL_WORTH][:LOOKS_NAMED]
    if advice.at_most < SMALL_WORTH or best is None or best.bits < SMALL_WORTH:
        most = best.bits if best is not None else advice.at_most
        if not looks:
            yield f"Next: nothing left to count is worth much ({bits(most)} at most)."
    else:
        counting = f"{_look(answer, best)} ({bits(best.bits)}){_settles(answer, best)}."
        if looks and looks[0].bits > best.bits:
            yield f"Next: {_at(answer, looks.pop(0))}. Or {counting}"
        else:
            yield f"Next: {counting}"
            looks = looks[:1]
    if looks:
        first = "Or" if best is not None and best.bits >= SMALL_WORTH else "Next:"
        yield f"{first} {', or '.join(_at(answer, look) for look in looks)}."
    left = answer.verdict.not_counted
    if left and answer.verdict.kind not in (MIXED, VARIANT) and answer.seen.counts:
        yield f"To be sure that nothing is mixed count {written_list(list(left), 'and')} too."


def _look(answer: Answer, worth: Worth) -> str:
    if worth.wheel:
        family = answer.family
        names = family.train.names if family is not None else {}
        counted = {names.get(count.wheel, count.wheel) for count in answer.seen.counts}
        return f"count {worth.wheel}{' again' if worth.wheel in counted else ''}"
    whole = "one whole turn" if worth.turns == 1 else f"{worth.turns} whole turns"
    return f"in gear {worth.gear} turn the input {whole} and read the output"


def _at(answer: Answer, look: LookWorth) -> str:

    return f"look at {look_words(answer, look)} ({bits(look.bits)})"


def _settles(answer: Answer, worth: Worth) -> str:
    """What the look would tell apart, by what the likeliest answers have there."""
    shares = likely(answer.posterior.answers, LEAST)
    shares.sort(key=lambda share: -share.probability)
    if worth.wheel:
        teeth = {s: _teeth(answer, worth.wheel, s) for s in shares if s.kind == MATCHED}
        known = {t for t in teeth.values() if t is not None}
        if len(known) > 1:
            return _apart([f"{_name(s)} ({t})" for s, t in teeth.items() if t])
    shares.sort(key=lambda share: share.kind != MATCHED)
    return _apart([_name(share) for share in shares])


def _apart(told: list[str]) -> str:
    names = list(dict.fromkeys(told))[:TOLD_APART]
    if len(names) == 2:
        return f": tells {names[0]} from {names[1]}"
    return f": tells apart {written_list(names, 'and')}" if len(names) > 2 else ""


def _name(share: Share) -> str:
    if share.kind == NEW:
        return f"a new set of {share.family}"
    if share.kind != MATCHED:
        return {MIXED: "a mixture", VARIANT: "a variant"}.get(share.kind, "no listed box")
    return f"{share.family}/{plain(share.sets[0])}"


def _teeth(answer: Answer, wheel: str, share: Share) -> int | None:
    family = answer.catalog.by_id[share.family]
    known = next(s for s in family.sets if s.id == share.sets[0])
    kept = family.train.names.get(wheel)
    return None if kept is None or not known.is_counted else family.teeth_of(known).get(kept)


#: So many values are named, with so many sets for each.
VALUES_NAMED, SETS_NAMED = 3, 3
MARK = "mark"
#: The sets of an answer below this are not named.
LEAST = 0.005


def look_words(answer: Answer, look: LookWorth) -> str:
    """Return a look as `the mark of laygear (LG 3102: wide; LG 3104: close)`."""
    shown = {s for a in likely(answer.posterior.answers, LEAST) for s in a.sets}
    told = []
    for value, sets in look.values:
        named = [plain(name) for name in sets if name in shown]
        if named:
            said = value_text(look.feature, value)
            more = [f"{len(named) - SETS_NAMED} more"] if len(named) > SETS_NAMED else []
            told.append(f"{plain(said)}: {written_list([*named[:SETS_NAMED], *more], 'or')}")
    which = f" ({'; '.join(told[:VALUES_NAMED])})" if told else ""
    what = look.feature if look.feature == MARK else feature_name(look.feature)
    return f"the {what} of {plain(look.owner)}{which}"
