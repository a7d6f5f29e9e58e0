"""What to look at next on a loose piece: a count, another wheel, what it is called, a mark.

The worth of a count and what parts the types are left to the evidence.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from cogtally.evidence.advice import LIKELY, SMALL_WORTH
from cogtally.evidence.loose_parting import SMALL_GAIN, partings
from cogtally.evidence.loose_views import PIECE, TYPE, LooseAnswer, LooseGroup
from cogtally.evidence.posterior import UNCATALOGUED
from cogtally.evidence.worth import entropy
from cogtally.show.box import bits
from cogtally.show.piece.parting import capped, label, parting_text, piece_name
from cogtally.show.screen import written_list

#: An answer below this is not worth telling apart.
LEAST = 0.005
ROLES_NAMED, TOLD_APART = 5, 3


def next_sentences(answer: LooseAnswer) -> list[str]:
    """Return what to look at next, one sentence each, and what it would settle."""
    if not answer.fits:
        return []
    worth = answer.posterior.worth
    best = max(range(len(worth)), key=lambda i: worth[i])
    most = f"({bits(worth[best])}{'' if worth[best] >= SMALL_WORTH else ' at most'})"
    unsettled = answer.verdict.kind not in (TYPE, UNCATALOGUED)
    found = list(_beyond(answer)) if unsettled else []
    if worth[best] >= SMALL_WORTH:
        found.insert(0, f"{_count(answer, best)} {most}{_settles(answer, best)}.")
    elif unsettled and answer.posterior.steady < LIKELY and len(worth) > 1:
        found.insert(
            0, "count all of it again; the counts look hasty, and one more settles little."
        )
    if unsettled and answer.is_counted:
        role, told = _by_role(answer)
        if role:
            found.insert(0 if told > worth[best] else len(found), role)
        found += _by_mark(answer)
    if not found:
        return [f"Next: nothing left to count on it is worth much {most}."]
    return [f"Next: {found[0]}", *(f"{text[:1].upper()}{text[1:]}" for text in found[1:])]


def _likely(answer: LooseAnswer) -> list[LooseGroup]:
    return [group for group in answer.groups if group.probability >= LEAST]


def _count(answer: LooseAnswer, place: int) -> str:
    counts = answer.seen.places[place]
    if len(answer.seen.places) == 1:
        return "count it again" if counts else "count it"
    return f"count place {place + 1}{' again' if counts else ''}"


def _settles(answer: LooseAnswer, place: int) -> str:
    """What a count would tell apart, by what the likeliest answers have there."""
    by_teeth: dict[int, LooseGroup] = {}
    for group in _likely(answer):
        teeth = group.teeth[group.wheels[place]]
        if teeth is not None:
            by_teeth.setdefault(teeth, group)
    return _told(dict(list(by_teeth.items())[:TOLD_APART]))


def _told(by_teeth: Mapping[int, LooseGroup]) -> str:
    groups = list(by_teeth.values())
    names = [f"{teeth} ({label(group, groups)})" for teeth, group in by_teeth.items()]
    if len(names) == 2:
        return f": tells {names[0]} from {names[1]}"
    return f": tells apart {written_list(names)}" if len(names) > 2 else ""


def _beyond(answer: LooseAnswer) -> Iterator[str]:
    """The next wheel beyond an open end, where the likeliest answers differ there."""
    seen = answer.seen
    if len(seen.places) == 1:
        if seen.open_start or seen.open_end:
            yield "count a wheel beside it, and write both in their order."
        return
    for is_open, place, inner in ((seen.open_start, 0, 1), (seen.open_end, -1, -2)):
        if is_open:
            by_teeth = _beside(_likely(answer), place, inner)
            if len(by_teeth) > 1:
                at = "first" if place == 0 else "last"
                told = _told(dict(list(by_teeth.items())[:TOLD_APART]))
                yield f"count the wheel beyond the {at} one{told}."


def _beside(groups: Sequence[LooseGroup], place: int, inner: int) -> dict[int, LooseGroup]:
    """The teeth of the wheel beyond a place, seen from the place inside it, and who has them."""
    found: dict[int, LooseGroup] = {}
    for group in groups:
        at = group.wheels[place]
        teeth = group.teeth[2 * at - group.wheels[inner]]
        if teeth is not None:
            found.setdefault(teeth, group)
    return found


def _by_role(answer: LooseAnswer) -> tuple[str, float]:
    """What to say where its name as a piece would tell something, and the bits that it would."""
    shares: dict[str, float] = {}
    for group in _likely(answer):
        shares[piece_name(group)] = shares.get(piece_name(group), 0.0) + group.probability
    if answer.role is not None or answer.verdict.kind == PIECE or len(shares) < 2:
        return "", 0.0
    named = capped(shares, ROLES_NAMED)
    told = sum(shares.values()) * entropy(list(shares.values()))
    return f"if you know what piece it is, say so with --role ({named}).", told


def _by_mark(answer: LooseAnswer) -> Iterator[str]:
    groups = _likely(answer)
    for parting in partings(groups, 1, SMALL_GAIN):
        yield f"look at {parting_text(groups, parting)}."
