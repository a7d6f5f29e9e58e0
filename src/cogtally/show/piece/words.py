"""What there is to say of a loose piece, in sentences that one person could read to another.

Which piece it is, what to look at next, and how pieces, sets, marks and features are named. Where
the sentences stand on the screen is left to `screen`, every number to the evidence.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence

from cogtally.evidence import loose
from cogtally.evidence.advice import LIKELY, SMALL_WORTH, entropy
from cogtally.evidence.posterior import UNCATALOGUED
from cogtally.evidence.reading import NO, OPEN, UNDECIDED, YES
from cogtally.evidence.seen import MARK
from cogtally.show.box import bits, box_name, told_apart
from cogtally.show.screen import per_cent, plain, said, teeth_text, written_list

#: So many of each are named before the rest is a number.
SETS_NAMED, VALUES_NAMED, NAMES_NAMED, RINGS_NAMED, ROLES_NAMED, TOLD_APART = 4, 3, 2, 2, 5, 3
UNITS = {"_mm": " mm", "_deg": " degrees"}
#: Below this an answer is called unlikely, be it the likeliest of all.
POSSIBLE = 0.10
#: From here on it is told what an unlisted piece is nearest to.
WORTH_NEAREST = 0.01
#: An answer below this is not worth telling apart.
LEAST = 0.005
#: Where more wheels differ, no word above it is said: "very likely".
WHEELS_DIFFER, MOST_SAID = 2, 0.97


def sentences(answer: loose.LooseAnswer) -> list[str]:
    """Return the headline, then all else that has to be said first, one sentence each."""
    meant = [*_as_longer(answer)]
    if answer.other_role is not None and answer.role is not None:
        name = _upper(f"the {_meant(answer.other_role)}")
        role = plain(answer.other_role.piece)
        meant = [f"{name} has these teeth: say --role {role} if it is one."]
    rings = [] if meant else [*_dog_ring(answer)]
    return [*_expected(answer), *meant, *_found(answer, rings)]


def _meant(kind: loose.Meant) -> str:
    return f"{plain(kind.piece)} of {kind.family} ({sets_text(kind.sets)})"


def is_far(answer: loose.LooseAnswer) -> bool:
    """Tell whether a count is so far from all that is listed that no answer is worth a line."""
    return bool(answer.beyond) and not (
        answer.verdict.kind in (loose.TYPE, loose.RECOUNT, loose.UNLISTED)
        and answer.groups[0].is_listed
    )


def _found(answer: loose.LooseAnswer, rings: Sequence[str]) -> list[str]:
    """What it is; `rings`: what to ask where it fits nowhere."""
    if not answer.fits:
        return [_wrong_size(answer), *rings]
    kind, probability = answer.verdict.kind, answer.verdict.probability
    if is_far(answer):
        return list(_far(answer))
    if kind == UNCATALOGUED:
        none = _upper(_none_listed(answer))
        found = f"{none} has these teeth: {said(probability)}."
        return [found, *(rings if answer.rings else _nearest(answer))]
    if not answer.is_counted:
        return ["Not settled: nothing was counted yet."]
    lead = answer.groups[0]
    if kind in (loose.TYPE, loose.RECOUNT):
        return [*_recount(lead), _headline(answer, lead), *_gaps(lead), *_alike(lead)]
    name = box_name(answer.catalog, lead.family.id, ())
    if kind == loose.UNLISTED:
        found = f"A {piece_name(lead)} of {name} that the catalog lacks: {said(probability)}."
        return [found, f"Nearest is {_near(lead)}."]
    if kind == loose.PIECE:
        most = f"most likely {teeth_text(lead.teeth)} of {sets_text(lead.sets)}"
        if not lead.is_listed:
            most = f"most likely one that the catalog lacks, nearest {_near(lead)}"
        return [
            f"The {piece_name(lead)} of {name}: {said(probability)}.",
            f"Which of them is not settled; {most}: {_said(lead)}.",
            *(_recount(lead) if lead.is_listed else ()),
        ]
    return [_not_settled(answer, lead), *rings]


def _expected(answer: loose.LooseAnswer) -> Iterator[str]:
    found = answer.expectation
    if found is None:
        return
    name = f"{found.family}/{found.set}"
    if found.answer == YES:
        yield f"Yes, it is of {name}: {said(found.probability)}."
    elif found.answer == NO:
        yield f"No, it is not of {name}: that is {said(found.probability)}."
    else:
        off = answer.expected_off
        doubt = f", and {_differs(off)}" if off else ""
        word = said(found.probability) if len(off) <= WHEELS_DIFFER else _capped(found.probability)
        yield f"Whether it is of {name} is not settled: {word}{doubt}."


def _as_longer(answer: loose.LooseAnswer) -> Iterator[str]:
    if answer.longer is not None and not is_far(answer):
        kind, written = answer.longer
        piece = f"the {plain(kind.piece)} of {kind.family}, {sets_text(kind.sets)}"
        yield f"As part of a longer piece: write {' '.join(written)} ({piece})."


def _far(answer: loose.LooseAnswer) -> Iterator[str]:
    listed = f"listed {plain(answer.role)}" if answer.role else "listed wheel"
    for far in answer.beyond[:RINGS_NAMED]:
        side = "over" if far.counted > far.listed else "under"
        again = "again" if len(answer.seen.places) == 1 else f"place {far.place} again"
        yield f"No {listed} has {side} {far.listed} teeth: count {again}."
    yield f"As counted, not in the catalog: {said(answer.posterior.uncatalogued)}."


def group_text(answer: loose.LooseAnswer, group: loose.LooseGroup) -> str:
    """Return one answer in short: family, piece, teeth, the sets, where the counts differ."""
    if not group.is_listed:
        text = f"{group.family.id} {piece_name(group)} not listed"
        return f"{text}; nearest {_near(group)}" if group.probability >= WORTH_NEAREST else text
    piece = f"{group.family.id} {piece_name(group)} {teeth_text(group.teeth)}"
    text = f"{piece} of {sets_text(group.sets)}"
    if _in_a_gap(answer, group):
        text += ", _ without a count in the catalog"
    # Of a piece of one wheel the teeth are there to be seen.
    if not group.off or len(group.piece.wheels) == 1:
        return text
    has = [f"{o.listed} at place {o.place}" for o in group.off]
    return f"{text}: has {written_list(has)}"


def _near(group: loose.LooseGroup) -> str:
    """The type nearest to an unlisted piece, and where it differs."""
    text = f"{teeth_text(group.teeth)} of {sets_text(group.near_sets)}"
    if len(group.piece.wheels) == 1:
        return text
    if len(group.off) > WHEELS_DIFFER:
        return f"{text}, which differs at places {written_list(str(o.place) for o in group.off)}"
    named = [plain(group.piece.wheels[group.wheels[o.place - 1]]) for o in group.off]
    off = zip(group.off, named, strict=True)
    has = [f"{o.listed} at place {o.place} ({wheel})" for o, wheel in off]
    return f"{text}, which has {written_list(has)}" if has else text


def _said(group: loose.LooseGroup) -> str:
    differ = len(group.off) > WHEELS_DIFFER
    return _capped(group.probability) if differ else said(group.probability)


def _capped(probability: float) -> str:
    if probability < MOST_SAID:
        return said(probability)
    return f"very likely, {per_cent(probability)}"


def mate_text(group: loose.LooseGroup, mate: loose.Mate) -> str:
    """Return a wheel that one of a piece mates with: `3.driven 21`, by sets where they differ."""
    if len(mate.teeth) == 1:
        return f"{mate.mate} {teeth_text(mate.teeth[0][:1])}"
    by_set = [f"{teeth_text([teeth])} ({sets_text(sets)})" for teeth, sets in mate.teeth]
    return f"{mate.mate} {written_list(by_set, 'or')}"


def _in_a_gap(answer: loose.LooseAnswer, group: loose.LooseGroup) -> bool:
    """Whether a wheel was counted of which the catalog has no count."""
    places = zip(group.wheels, answer.seen.places, strict=True)
    return any(counts and group.teeth[wheel] is None for wheel, counts in places)


def _headline(answer: loose.LooseAnswer, lead: loose.LooseGroup) -> str:
    many = len(lead.sets) > SETS_NAMED
    name = box_name(answer.catalog, lead.family.id, () if many else lead.sets)
    which = f", of {sets_text(lead.sets)}" if many else ""
    piece = f"{piece_name(lead)} {teeth_text(lead.teeth)}"
    return f"The {piece} of {name}{which}: {_said(lead)}."


def _not_settled(answer: loose.LooseAnswer, lead: loose.LooseGroup) -> str:
    fitting = [g for g in answer.groups if g.is_listed and not g.off and not _in_a_gap(answer, g)]
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
    if not lead.is_listed:
        name = f"a {piece_name(lead)} of {plain(lead.family.title)} that the catalog lacks"
    likeliest = "Most likely" if lead.probability >= POSSIBLE else "The likeliest is"
    return f"{what} {likeliest} {name}: {_said(lead)}."


def _none_listed(answer: loose.LooseAnswer) -> str:
    return f"no {plain(answer.role)} of the catalog" if answer.role else "no listed piece"


def _wrong_size(answer: loose.LooseAnswer) -> str:
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


def _dog_ring(answer: loose.LooseAnswer) -> Iterator[str]:
    """Ask whether a ring that is no wheel was counted, or a wheel passed over."""
    sizes = answer.posterior.sizes
    seen = len(answer.seen.places)
    if answer.rings:
        told = [
            f"without place {place} ({loose.counted_teeth(answer.seen.places[place - 1])}) it has "
            f"the teeth of the {_meant(kind)}"
            for place, kind in answer.rings[:RINGS_NAMED]
        ]
        yield f"Was a dog ring counted as a wheel? {_upper(', or '.join(told))}."
    elif not answer.fits and sizes and seen > min(sizes):
        yield "Was a dog ring counted as a wheel? Leave it out."
    if not answer.fits and sizes and seen < max(sizes):
        yield "Is there a wheel that was passed over? Write _ for it, or .. for wheels beyond."


def _upper(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


def _nearest(answer: loose.LooseAnswer) -> Iterator[str]:
    near = answer.posterior.nearest
    if near is not None and near.away:
        teeth = "tooth" if near.away == 1 else "teeth"
        text = f"{near.family.id} {piece_name(near)} {teeth_text(near.teeth)}"
        yield f"Nearest is {text} of {sets_text(near.sets)}, {near.away} {teeth} away in all."


def _recount(group: loose.LooseGroup) -> Iterator[str]:
    """Every wheel that disagrees, to be counted again before anything is said."""
    if len(group.off) == 1:
        yield f"Recount place {group.off[0].place}: {_differs(group.off)}."
    elif group.off:
        yield f"Recount places {written_list([str(o.place) for o in group.off])}."


def _differs(off: Sequence[loose.Off]) -> str:
    if len(off) == 1:
        return f"counted {off[0].counted}, listed {off[0].listed}"
    return written_list([f"place {o.place} counted {o.counted}, listed {o.listed}" for o in off])


def _gaps(group: loose.LooseGroup) -> Iterator[str]:
    open_wheels = [w for w, t in zip(group.piece.wheels, group.teeth, strict=True) if t is None]
    if open_wheels:
        yield f"The catalog has no count of {written_list(open_wheels)} there."


def _alike(group: loose.LooseGroup) -> Iterator[str]:
    """Types with the same teeth: which mark or feature parts them."""
    if len(group.shares) < 2:
        return
    found = loose.partings([group])
    if found:
        told = [parting_text([group], parting) for parting in found]
        yield f"Types alike in teeth; what parts them is {', then '.join(told)}."
    else:
        yield "Types alike in teeth, and no mark or feature is listed that parts them."


def next_sentences(answer: loose.LooseAnswer) -> list[str]:
    """Return what to look at next, one sentence each, and what it would settle."""
    if not answer.fits:
        return []
    worth = answer.posterior.worth
    best = max(range(len(worth)), key=lambda i: worth[i])
    most = f"({bits(worth[best])}{'' if worth[best] >= SMALL_WORTH else ' at most'})"
    unsettled = answer.verdict.kind in (loose.PIECE, UNDECIDED)
    found = list(_beyond(answer)) if unsettled else []
    if worth[best] >= SMALL_WORTH:
        found.insert(0, f"{_count(answer, best)} {most}{_settles(answer, best)}.")
    elif unsettled and answer.posterior.steady < LIKELY and len(worth) > 1:
        found.insert(
            0, "count all of it again; the counts look hasty, and one more settles little."
        )
    expected = answer.expectation
    if expected is not None and expected.answer == OPEN and answer.family is None:
        found.append(f"if you know that it is of {expected.family}, say so with --family.")
    if unsettled and answer.is_counted:
        role, told = _by_role(answer)
        if role:
            found.insert(0 if told > worth[best] else len(found), role)
        groups = _likely(answer)
        partings = loose.partings(groups, 1, SMALL_WORTH)
        found += [f"look at {parting_text(groups, parting)}." for parting in partings]
    if not found:
        return [f"Next: nothing left to count on it is worth much {most}."]
    return [f"Next: {found[0]}", *(f"{text[:1].upper()}{text[1:]}" for text in found[1:])]


def _likely(answer: loose.LooseAnswer) -> list[loose.LooseGroup]:
    return [g for g in answer.groups if g.is_listed and g.probability >= LEAST]


def _count(answer: loose.LooseAnswer, place: int) -> str:
    counts = answer.seen.places[place]
    if len(answer.seen.places) == 1:
        return "count it again" if counts else "count it"
    return f"count place {place + 1}{' again' if counts else ''}"


def _settles(answer: loose.LooseAnswer, place: int) -> str:
    """What a count would tell apart, by what the likeliest answers have there."""
    by_teeth: dict[int, loose.LooseGroup] = {}
    for group in _likely(answer):
        teeth = group.teeth[group.wheels[place]]
        if teeth is not None:
            by_teeth.setdefault(teeth, group)
    return _told(dict(list(by_teeth.items())[:TOLD_APART]))


def _told(by_teeth: Mapping[int, loose.LooseGroup]) -> str:
    groups = list(by_teeth.values())
    return told_apart(f"{teeth} ({label(group, groups)})" for teeth, group in by_teeth.items())


def _beyond(answer: loose.LooseAnswer) -> Iterator[str]:
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


def _beside(
    groups: Sequence[loose.LooseGroup], place: int, inner: int
) -> dict[int, loose.LooseGroup]:
    """The teeth of the wheel beyond a place, seen from the place inside it, and who has them."""
    found: dict[int, loose.LooseGroup] = {}
    for group in groups:
        at = group.wheels[place]
        teeth = group.teeth[2 * at - group.wheels[inner]]
        if teeth is not None:
            found.setdefault(teeth, group)
    return found


def _by_role(answer: loose.LooseAnswer) -> tuple[str, float]:
    """What to say where its name as a piece would tell something, and the bits that it would."""
    shares: dict[str, float] = {}
    for group in _likely(answer):
        shares[piece_name(group)] = shares.get(piece_name(group), 0.0) + group.probability
    if answer.role is not None or answer.verdict.kind == loose.PIECE or len(shares) < 2:
        return "", 0.0
    named = capped(shares, ROLES_NAMED)
    told = sum(shares.values()) * entropy(list(shares.values()))
    return f"if you know what piece it is, say so with --role ({named}).", told


def piece_name(group: loose.LooseGroup) -> str:
    """Return the piece as the catalog names it."""
    return plain(group.piece.name)


def sets_text(sets: Iterable[str]) -> str:
    """Return sets as one of which it is: `wide, low-first or late`."""
    return capped((plain(name) for name in sets), SETS_NAMED)


def capped(words: Iterable[str], most: int) -> str:
    """Return words as a choice, those beyond `most` as a number."""
    found = list(dict.fromkeys(words))
    if len(found) > most:
        return written_list([*found[: most - 1], f"{len(found) - most + 1} more"])
    return written_list(found, "or")


def label(
    group: loose.LooseGroup, among: Sequence[loose.LooseGroup], sets: Iterable[str] = ()
) -> str:
    """Return a short name of a group by what tells it from the others it stands among.

    By its sets (or those of them that are given) among types of one piece, else by family and
    piece, and by set too where these are alike.
    """
    named = list(sets) or list(group.sets)
    pieces = [(g.family.id, g.piece.name) for g in among]
    if len(set(pieces)) == 1:
        return sets_text(named)
    own = f"{group.family.id} {piece_name(group)}"
    if len(set(pieces)) == len(pieces):
        return own
    return f"{own} of {capped((plain(name) for name in named), NAMES_NAMED)}"


def parting_text(groups: Sequence[loose.LooseGroup], parting: loose.Parting) -> str:
    """Return what to look at, and what each value of it says."""
    values = [
        f"{_value(parting.what, value)}: {_types(groups, members)}"
        for value, members in parting.values[:VALUES_NAMED]
    ]
    more = len(parting.values) - VALUES_NAMED
    if more > 0:
        values.append(f"{more} more")
    return f"the {_feature(parting.what)}{_where(groups, parting.place)} ({'; '.join(values)})"


def _where(groups: Sequence[loose.LooseGroup], place: int | str | None) -> str:
    if place is None:
        return ""
    if isinstance(place, str):
        return f" of {plain(place)}"
    wheels = {g.piece.wheels[g.wheels[place - 1]] for g in groups}
    return f" of {plain(wheels.pop())}" if len(wheels) == 1 else f" at place {place}"


def _types(groups: Sequence[loose.LooseGroup], members: Sequence[loose.Member]) -> str:
    by_group: dict[int, list[str]] = {}
    for group, share in members:
        by_group.setdefault(group, []).extend(groups[group].shares[share].sets)
    if len({(g.family.id, g.piece.name) for g in groups}) == 1:
        return sets_text(name for sets in by_group.values() for name in sets)
    return capped((label(groups[g], groups, sets) for g, sets in by_group.items()), NAMES_NAMED)


def _feature(what: str) -> str:
    if what == MARK:
        return "mark"
    for unit in UNITS:
        what = what.removesuffix(unit)
    return plain(what.replace("_", " "))


def _value(what: str, value: object) -> str:
    unit = next((said for name, said in UNITS.items() if what.endswith(name)), "")
    return f"{value:g}{unit}" if isinstance(value, (int, float)) else plain(str(value))
