"""What an answer comes to in sentences that one person could read to another over the phone.

The verdict is left to the evidence, where the sentences stand to `answer`.
"""

from collections.abc import Iterable, Sequence

from cogtally.catalog.model import Catalog
from cogtally.evidence import reading
from cogtally.evidence.posterior import MATCHED, MIXED, NEW, UNCATALOGUED, VARIANT
from cogtally.evidence.seen import GEAR, IDLER, PAIR, Lacking
from cogtally.gears.looks import feature_name
from cogtally.gears.notation import ReadMark
from cogtally.show.screen import per_cent, plain, said, teeth_text, written_list

PIECES_NAMED, WHEELS_NAMED, SUSPECTS_NAMED = 4, 4, 2
AXLE = "Right counts do not prove a matched pair: compare the numbers on pinion and crown wheel."
#: The word that each headline begins with.
KINDS = {
    MATCHED: "MATCHED",
    reading.NARROWED: "NARROWED",
    reading.RECOUNT: "RECOUNT",
    MIXED: "MIXED",
    VARIANT: "VARIANT",
    NEW: "NEW SET",
    UNCATALOGUED: "NOT IN THE CATALOG",
    reading.UNDECIDED: "NOT SETTLED",
}


def sentences(answer: reading.Answer) -> list[str]:
    """Return the headline, then all that has to be said of the whole box, one sentence each.

    The first begins with the word of the verdict's kind.
    """
    found = [
        *_expected(answer),
        *_turned(answer),
        *(f"{read}: did you mean {meant}?" for read, meant in answer.exchanged),
        *_recount_first(answer),
        *_headline(answer),
        *_strange_wheels(answer),
        *_whole_box(answer),
        *_thirds(answer),
        *_direct(answer),
        *_lacking_looks(answer),
        *_keep_new(answer),
        *_lacking(answer),
        *_alike(answer),
        *_printed(answer),
    ]
    family = answer.catalog.by_id.get(answer.verdict.family)
    if family is not None and family.layout == "axle":
        found.append(AXLE)
    first, *others = found
    kind = answer.verdict.kind
    # `RECOUNT 3.driven (counted 22, …`, the word not said twice.
    again = kind == reading.RECOUNT and first.startswith(_RECOUNT_WORD)
    begun = f" {first.removeprefix(_RECOUNT_WORD)}" if again else f": {first}"
    return [f"{KINDS[kind]}{begun}", *(f"{s[:1].upper()}{s[1:]}" for s in others)]


def box_name(catalog: Catalog, family_id: str, sets: Sequence[str]) -> str:
    """Return what to call one set, or several that fit alike, of a family."""
    family = catalog.by_id[family_id]
    title = plain(family.title)
    if not sets:
        return title if title == family_id else f"{title} ({family_id})"
    if len(sets) == 1:
        known = next(s for s in family.sets if s.id == sets[0])
        return f"{title}, {plain(known.title)} ({family_id}/{known.id})"
    return f"{title} ({family_id}), set {written_list(sets, 'or')}"


def _headline(answer: reading.Answer) -> list[str]:
    verdict = answer.verdict
    if verdict.kind == reading.UNDECIDED and not (
        answer.seen.counts or answer.seen.turns or answer.seen.looks
    ):
        return ["nothing was counted or turned yet."]
    before = "" if verdict.is_sure else "most likely "
    if verdict.is_sure and verdict.kind == reading.RECOUNT:
        before = "otherwise it is "
    return [f"{before}{_phrase(answer)}: {_said(verdict)}."]


def _said(verdict: reading.Verdict) -> str:
    return said(
        verdict.probability, held=verdict.names_sets and reading.is_far_off(verdict.disagrees)
    )


def _phrase(answer: reading.Answer) -> str:
    verdict = answer.verdict
    if verdict.leaning == UNCATALOGUED:
        if answer.restricted:
            return f"not {box_name(answer.catalog, answer.restricted, ())} as the catalog has it"
        return "no family there fits" if verdict.kind == UNCATALOGUED else "not in the catalog"
    name = box_name(answer.catalog, verdict.family, verdict.sets)
    if verdict.names_sets:
        return f"{name}, {'alike ' if len(verdict.sets) > 1 else ''}{_so_far(answer)}"
    if verdict.leaning == VARIANT:
        return _variant(answer, name)
    if verdict.leaning == NEW:
        return f"a set of {name} that the catalog lacks"
    return _mixture(answer, name)


def _mixture(answer: reading.Answer, name: str) -> str:
    verdict = answer.verdict
    if verdict.foreign:
        strangers = [f"the {_foreign_piece(f)}" for f in verdict.foreign]
        mixture = "" if verdict.kind == MIXED else "a mixture: "
        return f"{mixture}{name}, with {written_list(strangers + _unlisted(verdict))}"
    if verdict.suspects:
        strangers = [
            f"the {_foreign_piece(f)}, {per_cent(f.probability)}"
            for f in verdict.suspects[:SUSPECTS_NAMED]
        ]
        return (
            f"a mixture of sets, mostly {name}; the stranger may be {written_list(strangers, 'or')}"
        )
    return f"a mixture of sets, mostly {name}"


def _so_far(answer: reading.Answer) -> str:
    if answer.seen.counts:
        return "as far as counted"
    if not answer.seen.looks:
        return "by turning alone"
    return f"by {'turning, ' if answer.seen.turns else ''}marks and features alone"


def _foreign_piece(foreign: reading.Foreign) -> str:
    teeth = teeth_text(foreign.teeth) + (" teeth" if len(foreign.teeth) == 1 else "")
    return f"{foreign.piece} ({teeth}) of set {written_list(foreign.from_sets, 'or')}"


def _variant(answer: reading.Answer, name: str) -> str:
    verdict = answer.verdict
    settled = verdict.kind == VARIANT
    strange = _unlisted(verdict)
    if verdict.lacking:
        throughout = "" if strange else " throughout"
        with_all = written_list([*strange, _lacking_things(verdict.lacking)])
        return f"{'' if settled else 'a variant: '}{name}{throughout}, with {with_all}"
    return f"{'' if settled else 'a variant of '}{name}" + (
        f", with {written_list(strange)}" if strange else ""
    )


def _unlisted(verdict: reading.Verdict) -> list[str]:
    """The pieces that are likelier unlisted than not, given what the verdict leans to."""
    pieces = [u.piece for u in verdict.unlisted if u.probability > verdict.probability / 2]
    return [f"{written_list(a_piece(p) for p in pieces)} that no listed set has"] if pieces else []


def a_piece(piece: str) -> str:
    """Return a piece with its article: `a laygear`, `an R-idler`."""
    return f"{'an' if piece[:1].lower() in 'aeiou' else 'a'} {piece}"


def _strange_wheels(answer: reading.Answer) -> list[str]:
    """What was counted on the pieces that no listed set has."""
    verdict = answer.verdict
    family = answer.catalog.by_id.get(verdict.family)
    strange = {u.piece for u in verdict.unlisted if u.probability > verdict.probability / 2}
    if verdict.leaning not in (MIXED, VARIANT) or family is None or not strange:
        return []
    named = {
        d.wheel: f"{d.wheel} counted {d.counted}, listed {d.listed}"
        for line in answer.lines
        for d in line.differs
        if family.piece_of[family.train.canonical(d.wheel)].name in strange
    }
    return [f"{'; '.join(list(named.values())[:WHEELS_NAMED])}."] if named else []


def _keep_new(answer: reading.Answer) -> list[str]:
    """How a set that the catalog lacks gets into it; only a whole one can be kept."""
    verdict = answer.verdict
    if verdict.kind != NEW or answer.turned is not None or answer.recounts:
        return []
    known = [mesh.agrees for mesh in answer.meshes if mesh.agrees is not None]
    sums = ["all tooth sums are those of the family."] if known and all(known) else []
    return [*sums, f"to keep it in your book: the same with --keep-as {verdict.family}/NAME."]


def _lacking_things(lacking: Iterable[Lacking]) -> str:
    words = {PAIR: "a pair {}", IDLER: "an idler in pair {}", GEAR: "a gear {}"}
    named = written_list(words[thing.kind].format(thing.name) for thing in lacking)
    return f"{named} that the family does not have"


def _lacking(answer: reading.Answer) -> list[str]:
    verdict = answer.verdict
    if not verdict.lacking or verdict.leaning == VARIANT:
        return []
    return [f"There is {_lacking_things(verdict.lacking)}."]


def _alike(answer: reading.Answer) -> list[str]:
    """Sets that have the same teeth in every wheel are not parted by any count."""
    if answer.verdict.kind != reading.NARROWED or any(
        len(line.listed) > 1 for line in answer.lines
    ):
        return []
    return ["They are alike in every wheel: only marks or features can part them."]


def _printed(answer: reading.Answer) -> list[str]:
    if not answer.verdict.names_sets or any(known.is_counted for known in answer.beside):
        return []
    return ["Only its printed ratios are known: no teeth are listed for it."]


def _whole_box(answer: reading.Answer) -> list[str]:
    verdict = answer.verdict
    if verdict.leaning == UNCATALOGUED:
        return _nearest(answer)
    if not answer.seen.counts:
        return ["No teeth are counted yet."] if answer.seen.turns else []
    not_counted = _not_counted(answer, verdict)
    if verdict.leaning in (MIXED, NEW, VARIANT) or verdict.kind == reading.UNDECIDED:
        return [f"{not_counted[:1].upper()}{not_counted[1:]}."] if verdict.not_counted else []
    if not verdict.not_counted and per_cent(verdict.whole_box) == per_cent(verdict.probability):
        return ["every piece is counted."]
    held = reading.is_far_off(verdict.disagrees)
    return [f"for the whole box, {not_counted}: {said(verdict.whole_box, held=held)}."]


def _not_counted(answer: reading.Answer, verdict: reading.Verdict) -> str:
    missing = verdict.not_counted
    if not missing:
        return "every piece counted"
    if len(missing) <= PIECES_NAMED:
        return f"{written_list(missing)} not counted"
    pieces = answer.catalog.by_id[verdict.family].pieces
    counted = [p.name for p in pieces if p.name not in missing]
    if len(counted) <= PIECES_NAMED:
        return f"only {written_list(counted)} counted of {len(pieces)} pieces"
    more = len(missing) - PIECES_NAMED + 1
    return f"{written_list([*missing[: PIECES_NAMED - 1], f'{more} more pieces'])} not counted"


def _nearest(answer: reading.Answer) -> list[str]:
    near = next(iter(answer.nearest), None)
    if near is None or not near.compared or not near.tooth_differences:
        return []
    name = box_name(answer.catalog, near.family, (near.set,))
    teeth = "tooth" if near.tooth_differences == 1 else "teeth"
    return [f"nearest is {name}, {near.tooth_differences} {teeth} away in all."]


def _expected(answer: reading.Answer) -> list[str]:
    expectation = answer.expectation
    if expectation is None:
        return []
    name = f"{expectation.family}/{expectation.set}"
    off = expectation.disagrees
    if expectation.answer == reading.YES:
        return [f"yes, it is {name}: {said(expectation.probability)}."]
    if expectation.answer == reading.NO:
        return [f"no, it is not {name}: that is {said(expectation.probability)}."]
    probability = said(expectation.probability, held=reading.is_far_off(off))
    wheels = "one wheel is" if len(off) == 1 else f"{len(off)} wheels are"
    yet = f"while {wheels} off" if off else "yet"
    return [f"whether it is {name} cannot be settled {yet}: {probability}."]


def _turned(answer: reading.Answer) -> list[str]:
    turned = answer.turned
    if turned is None:
        return []
    verdict, asked = turned.verdict, _question(turned)
    if not verdict.is_clean:
        return [asked]
    named = box_name(answer.catalog, verdict.family, verdict.sets)
    return [f"{asked} Then it is {named}: {_said(verdict)}."]


def _direct(answer: reading.Answer) -> list[str]:
    """A direct gear turns out what it is turned in, in every set."""
    return [
        f"nothing is learnt from turning gear {line.name}: it is direct."
        for line in answer.lines
        if line.is_direct and line.turns and not any(read.differs for read in line.turns)
    ]


def _lacking_looks(answer: reading.Answer) -> list[str]:
    """Marks and features of what the family does not have."""
    family = answer.beside_family
    if family is None:
        return []
    found = []
    for line in answer.looks:
        if line.lacking:
            of, what = (
                (line.look.piece, "mark")
                if isinstance(line.look, ReadMark)
                else (line.look.owner, feature_name(line.look.feature))
            )
            found.append(f"the {what} is of {a_piece(plain(of))}: {family.id} has none.")
    return found


def _question(turned: reading.TurnedRound) -> str:
    if turned.all:
        meant = " ".join(turned.meant)
        return f"all pairs fit far better the other way round: did you mean {meant}?"
    meant = written_list((m.partition("=")[2] for m in turned.meant), "and")
    return f"{written_list(turned.read)}: did you mean {meant}?"


_RECOUNT_WORD = "recount "


def _recount_first(answer: reading.Answer) -> list[str]:
    """What is to be counted again comes before what it would make of the box."""
    others = [r for r in answer.recounts if r.without is None]
    found = [f"{_RECOUNT_WORD}{written_list(map(_has, others))}."] if others else []
    for recount in answer.recounts:
        if recount.without is not None:
            without = recount.without
            name = box_name(answer.catalog, without.family, without.sets)
            found.append(
                f"{_RECOUNT_WORD}{_has(recount)}. This one count alone speaks against "
                f"{name}; without it that is {said(without.probability)}."
            )
    return found


def _thirds(answer: reading.Answer) -> list[str]:
    """Wheels whose counts differ, none of them more often than another."""
    return [
        f"{c.wheel} was counted {written_list(map(str, c.results))}: count it a third time."
        for c in answer.thirds
    ]


def _has(recount: reading.Recount) -> str:
    counted = written_list(map(str, recount.results or (recount.counted,)))
    listed = "no such wheel there" if recount.listed is None else f"listed {recount.listed}"
    return f"{recount.wheel} (counted {counted}, {listed})"
