"""What to do next in plain words, and what makes a box whole: which piece goes in, where one lies.

What a look is worth and which pieces go in is left to the evidence, what is for sale to the shelf.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from cogtally.evidence.advice import SMALL_WORTH, LookWorth, Worth
from cogtally.evidence.posterior import MATCHED, MIXED, NEW, UNCATALOGUED, VARIANT, Share
from cogtally.evidence.reading import RECOUNT, Answer, Change, Remedy
from cogtally.evidence.seen import kept_name
from cogtally.gears.looks import feature_name, value_text
from cogtally.show.box.headline import a_piece
from cogtally.show.screen import keys_of, money_json, plain, teeth_text, wrapped, written_list

if TYPE_CHECKING:
    from cogtally.shelf.stock import Item


#: So many answers at most are named as told apart.
TOLD_APART = 3
#: So many actions are named beside the one that is worth most.
OTHERS_NAMED = 2
#: An answer below this is not worth telling apart.
LEAST = 0.005
WORTH_MOST = "Next, worth most:"


def next_lines(answer: Answer, width: int) -> list[str]:
    """Return what to do next as lines of at most `width` columns; none without advice.

    The first sentence is one action; the others are what comes after it.
    """
    if answer.advice is None:
        return []
    first, *others = _sentences(answer) or [""]
    found = wrapped(first, width) if first else []
    return found + (wrapped(" ".join(others), width) if others else [])


def then(answer: Answer, options: Sequence[Worth | LookWorth]) -> str:
    """Return the two next best as a sentence, `Then turn gear 3 or count 2.driven.`; or nothing."""
    also = [_action(answer, one, briefly=True) for one in options[:OTHERS_NAMED]]
    return f"Then {written_list(also, 'or')}." if also else ""


def bits(value: float) -> str:
    """Return bits as a person reads them."""
    return f"{value:.2f} bit" if value >= 0.01 else "under 0.01 bit"


def _sentences(answer: Answer) -> list[str]:
    advice = answer.advice
    if advice is None:
        return []
    if advice.count_all_again:
        return ["Next: count all of it again; the counts look hasty, and one more settles little."]
    wheels = [r.wheel for r in answer.recounts] + [c.wheel for c in answer.thirds]
    # These are to be counted again before anything else is worth the while.
    again = list(dict.fromkeys(wheels if answer.turned is None else ()))
    asked = [f"count {wheel} again" for wheel in again]
    options = [one for one in _by_worth(answer) if _action(answer, one) not in asked]
    if again:
        found = [f"Next: count {written_list(again)} again."]
    elif options:
        best = options.pop(0)
        settles = _settles(answer, best) if isinstance(best, Worth) else ""
        found = [f"{WORTH_MOST} {_action(answer, best)}{settles}."]
    else:
        found = _without_worth(answer)
    if options and not answer.remedies:
        found.append(then(answer, options))
    left = answer.verdict.not_counted
    if left and answer.verdict.kind not in (MIXED, VARIANT, NEW) and answer.seen.counts:
        found.append(f"To be sure that nothing is mixed count {written_list(left)} too.")
    return found


def _by_worth(answer: Answer) -> list[Worth | LookWorth]:
    """What is worth the while, falling: counts, turn tests and looks.

    A box that was turned and not opened is not opened to look at a mark first.
    """
    advice = answer.advice
    if advice is None:
        return []
    weighed: list[Worth | LookWorth] = [*advice.wheels, *advice.turns, *advice.looks]
    options = [one for one in weighed if one.bits >= SMALL_WORTH]
    options.sort(key=lambda one: -one.bits)
    if answer.seen.turns and not (answer.seen.counts or answer.seen.looks):
        first = next((one for one in options if isinstance(one, Worth)), None)
        return [] if first is None else [first, *(one for one in options if one is not first)]
    return options


def _without_worth(answer: Answer) -> list[str]:
    """What is said where nothing is worth much, and no wheel is asked for again."""
    if answer.turned is not None:
        pairs = [text.partition("=")[0] for text in answer.turned.read]
        return [f"Next: see which wheel of pair {written_list(pairs)} is the driver."]
    if answer.remedies:
        # What makes it whole is what is left to do.
        return []
    off = [d.wheel for line in answer.lines for d in line.differs]
    if off and answer.verdict.leaning not in (NEW, UNCATALOGUED):
        return [f"Next: count {written_list(dict.fromkeys(off))} again."]
    shut = answer.seen.turns and not answer.seen.counts
    what = "no other turn test" if shut else "nothing left to count"
    return [f"Next: {what} is worth much."]


def _action(answer: Answer, worth: Worth | LookWorth, *, briefly: bool = False) -> str:
    if not isinstance(worth, Worth):
        return f"look at {look_words(answer, worth, briefly=briefly)}"
    if worth.wheel:
        family = answer.family
        counted = {kept_name(family, count.wheel) for count in answer.seen.counts}
        return f"count {worth.wheel}{' again' if worth.wheel in counted else ''}"
    if briefly:
        return f"turn gear {worth.gear}"
    whole = "one whole turn" if worth.turns == 1 else f"{worth.turns} whole turns"
    return f"in gear {worth.gear} turn the input {whole} and read the output"


def _likely(answer: Answer) -> list[Share]:
    """The answers worth a word; of a large catalog the others are not even made."""
    shares = answer.posterior.answers
    return [shares[at] for at, share in enumerate(shares.probabilities) if share >= LEAST]


def _settles(answer: Answer, worth: Worth) -> str:
    """What the look would tell apart, by what the likeliest answers have there."""
    shares = _likely(answer)
    shares.sort(key=lambda share: -share.probability)
    if worth.wheel:
        teeth = {s: _teeth(answer, worth.wheel, s) for s in shares if s.kind == MATCHED}
        known = {t for t in teeth.values() if t is not None}
        if len(known) > 1:
            return told_apart(f"{_name(s)} ({t})" for s, t in teeth.items() if t)
    shares.sort(key=lambda share: share.kind != MATCHED)
    return told_apart(map(_name, shares))


def told_apart(told: Iterable[str]) -> str:
    """Return what would be settled: `: tells wide (21) from late (22)`; nothing for one answer."""
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


def look_words(answer: Answer, look: LookWorth, *, briefly: bool = False) -> str:
    """Return a look as `the mark of the alder-4 laygear (LG 3102: wide; LG 3104: close)`.

    `briefly`: without what can be found there.
    """
    shown = {s for a in _likely(answer) for s in a.sets}
    told = []
    for value, sets in look.values:
        named = [plain(name) for name in sets if name in shown]
        if named:
            said = value_text(look.feature, value)
            more = [f"{len(named) - SETS_NAMED} more"] if len(named) > SETS_NAMED else []
            told.append(f"{plain(said)}: {written_list([*named[:SETS_NAMED], *more], 'or')}")
    which = f" ({'; '.join(told[:VALUES_NAMED])})" if told and not briefly else ""
    what = look.feature if look.feature == MARK else feature_name(look.feature)
    family = f"{plain(answer.family.id)} " if answer.family is not None else ""
    return f"the {what} of the {family}{plain(look.owner)}{which}"


#: The items for sale that a change could use, the cheapest first.
Shelf = Mapping[Change, Sequence["Item"]]
#: So many ways are told on a screen, and so many items for each piece.
WAYS_SHOWN, ITEMS_SHOWN = 2, 2


def remedy_lines(answer: Answer, shelf: Shelf | None, width: int, folded: int = 0) -> list[str]:
    """Return what makes the box whole, a way in so many lines of at most `width` columns.

    `folded`: leave out what the old pieces serve in (1), then all but the nearest way (2), then
    that too where the counts hardly stand (3).
    """
    again = answer.verdict.kind == RECOUNT
    # Counted again, the box most likely is whole: the nearest way is enough.
    most = 1 if again or folded >= 2 else WAYS_SHOWN
    ways = answer.remedies[: 0 if again and folded >= 3 else most]
    return [
        line
        for way in ways
        for line in wrapped(
            remedy_text(answer, way, shelf, briefly=folded >= 1 or way is not ways[0]), width
        )
    ]


def remedy_text(
    answer: Answer, remedy: Remedy, shelf: Shelf | None, *, briefly: bool = False
) -> str:
    """Return one way as sentences: what goes in, where one lies, what the old piece is good for.

    `briefly`: without the last.
    """
    stands = "If the counts stand, to" if answer.verdict.kind == RECOUNT else "To"
    sets = plain(written_list(remedy.sets, "or"))
    found = [f"{stands} make it {sets}: {written_list(map(_goes_in, remedy.changes))}."]
    if shelf is not None and not any(shelf[change] for change in remedy.changes):
        found.append("None on the shelf.")
    else:
        for change in remedy.changes:
            found += _on_shelf(change, shelf, len(remedy.changes) > 1)
    if not briefly:
        found += [
            f"The {plain(change.piece)} {teeth_text(change.out)} that comes out serves in "
            f"{plain(written_list(change.serves, 'or'))}."
            for change in remedy.changes
            if change.serves
        ]
    return " ".join(found)


def remedies_json(answer: Answer, shelf: Shelf | None) -> list[dict[str, Any]]:
    """Return all ways for machines; `shelf` is null where no stock was looked through."""
    return [
        {
            **keys_of(remedy, "family", "sets"),
            "changes": [
                {
                    "piece": change.piece,
                    "out": change.out,
                    "in": change.into,
                    "sets": change.sets,
                    "mates": [{"piece": p, "teeth": t} for p, t in change.mates],
                    "serves": change.serves,
                    "shelf": None
                    if shelf is None
                    else [
                        {
                            "item": item.number,
                            **money_json(item.details.price),
                            "place": item.details.place,
                        }
                        for item in shelf[change]
                    ],
                }
                for change in remedy.changes
            ],
        }
        for remedy in answer.remedies
    ]


def _goes_in(change: Change) -> str:
    if len(change.into) > 1:
        return f"{plain(change.piece)} {teeth_text(change.into)}"
    mates = [f"{plain(piece)} {teeth}" for piece, teeth in change.mates]
    mated = f" (mates {written_list(mates)})" if mates else ""
    return f"{a_piece(plain(change.piece))} of {teeth_text(change.into)} teeth{mated}"


def _on_shelf(change: Change, shelf: Shelf | None, several: bool) -> list[str]:
    if shelf is None:
        return []
    items = shelf[change]
    which = f", the {plain(change.piece)}" if several else ""
    if not items:
        return [f"None on the shelf{which}."]
    more = len(items) - ITEMS_SHOWN
    named = [_item(item) for item in items[:ITEMS_SHOWN]] + ([f"{more} more"] if more > 0 else [])
    return [f"On the shelf{which}: {'; '.join(named)}."]


def _item(item: Item) -> str:
    price = item.details.price
    said = [f"item {item.number}", *([price.text] if price else []), plain(item.details.place)]
    return ", ".join(filter(None, said))
