"""What there is to say of a loose piece, in sentences that one person could read to another.

Where the sentences stand on the screen is left to `piece`, every number to the evidence.
"""

from __future__ import annotations

from collections.abc import Iterator

from cogtally.evidence.loose_parting import partings
from cogtally.evidence.loose_rings import counted_teeth
from cogtally.evidence.loose_views import (
    PIECE,
    TYPE,
    LooseAnswer,
    LooseGroup,
    Mate,
    mates_of,
)
from cogtally.evidence.posterior import UNCATALOGUED
from cogtally.show.box import box_name, teeth_text
from cogtally.show.piece.parting import SETS_NAMED, parting_text, piece_name, sets_text
from cogtally.show.screen import plain, said, written_list

RINGS_NAMED = 2
#: Below this an answer is called unlikely, be it the likeliest of all.
POSSIBLE = 0.10


def sentences(answer: LooseAnswer) -> list[str]:
    """Return the headline, then all else that has to be said first, one sentence each."""
    if not answer.fits:
        return [_wrong_size(answer), *_dog_ring(answer)]
    kind = answer.verdict.kind
    if kind == UNCATALOGUED:
        none = _upper(_none_listed(answer))
        found = f"{none} has these teeth: {said(answer.verdict.probability)}."
        return [found, *(_dog_ring(answer) if answer.rings else _nearest(answer))]
    if not answer.is_counted:
        return ["Not settled: nothing was counted yet."]
    lead = answer.groups[0]
    if kind == TYPE:
        return [_headline(answer, lead), *_recount(lead), *_gaps(lead), *_alike(lead)]
    if kind == PIECE:
        name = box_name(answer.catalog, lead.family.id, ())
        return [
            f"The {piece_name(lead)} of {name}: {said(answer.verdict.probability)}.",
            f"Which of them is not settled; most likely {teeth_text(lead.teeth)} of "
            f"{sets_text(lead.sets)}: {said(lead.probability)}.",
            *_recount(lead),
        ]
    return [_not_settled(answer, lead), *_dog_ring(answer)]


def group_text(answer: LooseAnswer, group: LooseGroup) -> str:
    """Return one answer in short: family, piece, teeth, the sets, where the counts differ."""
    piece = f"{group.family.id} {piece_name(group)} {teeth_text(group.teeth)}"
    text = f"{piece} of {sets_text(group.sets)}"
    if _in_a_gap(answer, group):
        text += ", _ without a count in the catalog"
    # Of a piece of one wheel the teeth are there to be seen.
    if not group.off or len(group.piece.wheels) == 1:
        return text
    has = [f"{o.listed} at place {o.place}" for o in group.off]
    return f"{text}: has {written_list(has)}"


def mates_text(group: LooseGroup) -> str:
    """Return all that a piece mates with."""
    return written_list(dict.fromkeys(mate_text(group, mate) for mate in mates_of(group)))


def mate_text(group: LooseGroup, mate: Mate) -> str:
    """Return a wheel that one of a piece mates with: `3.driven 21`, by sets where they differ."""
    if len(mate.teeth) == 1:
        return f"{mate.mate} {_teeth(mate.teeth[0][0])}"
    by_set = [f"{_teeth(teeth)} ({sets_text(sets)})" for teeth, sets in mate.teeth]
    return f"{mate.mate} {written_list(by_set, 'or')}"


def _teeth(teeth: int | None) -> str:
    return "_" if teeth is None else str(teeth)


def _in_a_gap(answer: LooseAnswer, group: LooseGroup) -> bool:
    """Whether a wheel was counted of which the catalog has no count."""
    places = zip(group.wheels, answer.seen.places, strict=True)
    return any(counts and group.teeth[wheel] is None for wheel, counts in places)


def _headline(answer: LooseAnswer, lead: LooseGroup) -> str:
    many = len(lead.sets) > SETS_NAMED
    name = box_name(answer.catalog, lead.family.id, () if many else lead.sets)
    which = f", of {sets_text(lead.sets)}" if many else ""
    piece = f"{piece_name(lead)} {teeth_text(lead.teeth)}"
    return f"The {piece} of {name}{which}: {said(lead.probability)}."


def _not_settled(answer: LooseAnswer, lead: LooseGroup) -> str:
    fitting = [g for g in answer.groups if not g.off and not _in_a_gap(answer, g)]
    families = len({g.family.id for g in fitting})
    of = f"of {families} families " if families > 1 else ""
    if len(fitting) > 1:
        what = f"Not settled: {len(fitting)} listed pieces {of}have these teeth."
    elif fitting:
        what = "Not settled, though one listed piece has these teeth."
    else:
        what = "Not settled: no listed piece has exactly these teeth."
    outside = answer.posterior.uncatalogued
    if outside > lead.probability and outside >= POSSIBLE:
        return f"{what} Most likely not in the catalog: {said(outside)}."
    name = f"the {piece_name(lead)} {teeth_text(lead.teeth)} of {plain(lead.family.title)}"
    likeliest = "Most likely" if lead.probability >= POSSIBLE else "The likeliest is"
    return f"{what} {likeliest} {name}: {said(lead.probability)}."


def _none_listed(answer: LooseAnswer) -> str:
    return f"no {plain(answer.role)} of the catalog" if answer.role else "no listed piece"


def _wrong_size(answer: LooseAnswer) -> str:
    seen = len(answer.seen.places)
    beyond = answer.seen.open_start + answer.seen.open_end
    least = seen + beyond
    sizes = answer.posterior.sizes
    if not sizes:
        return f"Not in the catalog: {_none_listed(answer)} was ever counted."
    rings = "wheel" if least == 1 else "wheels"
    many = f"{least} {rings} or more" if beyond else f"{least} {rings}"
    has = written_list([str(size) for size in sizes], "or")
    return f"Not in the catalog: {_none_listed(answer)} has {many}, they have {has}."


def _dog_ring(answer: LooseAnswer) -> Iterator[str]:
    """Ask whether a ring that is no wheel was counted, or a wheel passed over."""
    sizes = answer.posterior.sizes
    seen = len(answer.seen.places)
    if answer.rings:
        told = [
            f"without place {ring.place} ({counted_teeth(answer.seen.places[ring.place - 1])}) it "
            f"has the teeth of the {plain(ring.piece)} of {ring.family} ({sets_text(ring.sets)})"
            for ring in answer.rings[:RINGS_NAMED]
        ]
        yield f"Was a dog ring counted as a wheel? {_upper(', or '.join(told))}."
    elif not answer.fits and sizes and seen > min(sizes):
        yield "Was a dog ring counted as a wheel? Leave it out."
    if not answer.fits and sizes and seen < max(sizes):
        yield "Is there a wheel that was passed over? Write _ for it, or .. for wheels beyond."


def _upper(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


def _nearest(answer: LooseAnswer) -> Iterator[str]:
    near = min(answer.groups, key=lambda g: sum(abs(o.counted - o.listed) for o in g.off))
    away = sum(abs(o.counted - o.listed) for o in near.off)
    if away:
        teeth = "tooth" if away == 1 else "teeth"
        text = f"{near.family.id} {piece_name(near)} {teeth_text(near.teeth)}"
        yield f"Nearest is {text} of {sets_text(near.sets)}, {away} {teeth} away in all."


def _recount(group: LooseGroup) -> Iterator[str]:
    if len(group.off) == 1:
        (off,) = group.off
        yield f"Recount place {off.place}: counted {off.counted}, listed {off.listed}."
    elif group.off:
        yield f"Recount places {written_list([str(o.place) for o in group.off])}."


def _gaps(group: LooseGroup) -> Iterator[str]:
    open_wheels = [w for w, t in zip(group.piece.wheels, group.teeth, strict=True) if t is None]
    if open_wheels:
        yield f"The catalog has no count of {written_list(open_wheels)} there."


def _alike(group: LooseGroup) -> Iterator[str]:
    """Types with the same teeth: which mark or feature parts them."""
    if len(group.shares) < 2:
        return
    found = partings([group])
    if found:
        told = [parting_text([group], parting) for parting in found]
        yield f"Types alike in teeth; what parts them is {', then '.join(told)}."
    else:
        yield "Types alike in teeth, and no mark or feature is listed that parts them."
