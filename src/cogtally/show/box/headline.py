"""What an answer comes to in sentences that one person could read to another over the phone.

The verdict is left to the evidence, where the sentences stand to `answer`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from cogtally.catalog.model import Catalog
from cogtally.evidence.counted import GEAR, IDLER, PAIR, Lacking
from cogtally.evidence.posterior import MATCHED, MIXED, NEW, UNCATALOGUED, VARIANT
from cogtally.evidence.reading import (
    NARROWED,
    NO,
    UNDECIDED,
    YES,
    Answer,
    Difference,
    Foreign,
    Recount,
    TurnedRound,
    Verdict,
)
from cogtally.show.screen import per_cent, plain, said, written_list

PIECES_NAMED, WHEELS_NAMED, SUSPECTS_NAMED = 4, 4, 2
AXLE = "Right counts do not prove a matched pair: compare the numbers on pinion and crown wheel."


def sentences(answer: Answer) -> list[str]:
    """Return the headline, then all that has to be said of the whole box, one sentence each."""
    found = [*_expected(answer), *_turned(answer), *_recount_first(answer)]
    found += [
        _headline(answer),
        *_strange_wheels(answer),
        *_whole_box(answer),
        *_keep_new(answer),
        *_recount_named(answer),
        *_lacking(answer),
        *_alike(answer),
        *_printed(answer),
    ]
    family = answer.catalog.by_id.get(answer.verdict.family)
    if family is not None and family.layout == "axle":
        found.append(AXLE)
    return found


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


def teeth_text(teeth: Iterable[int | None]) -> str:
    """Return the teeth of a piece in order along the axis: `28-24-19-14-12`."""
    return "-".join("_" if t is None else str(t) for t in teeth)


def _headline(answer: Answer) -> str:
    verdict = answer.verdict
    phrase = _phrase(answer)
    if verdict.kind == UNDECIDED:
        if not (answer.seen.counts or answer.seen.turns or answer.seen.looks):
            return "Not settled: nothing was counted or turned yet."
        return f"Not settled yet. Most likely {phrase}: {said(verdict.probability)}."
    return f"{phrase[:1].upper()}{phrase[1:]}: {said(verdict.probability)}."


def _phrase(answer: Answer) -> str:
    verdict = answer.verdict
    if verdict.leaning == UNCATALOGUED:
        return _uncatalogued(answer)
    name = box_name(answer.catalog, verdict.family, verdict.sets)
    if verdict.leaning == MATCHED:
        return f"{name}, {_so_far(answer)}"
    if verdict.leaning == NARROWED:
        return f"{name}, alike {_so_far(answer)}"
    if verdict.leaning == VARIANT:
        return _variant(answer, name)
    if verdict.leaning == NEW:
        return f"of {name}, a set that the catalog lacks"
    return _mixture(answer, name)


def _mixture(answer: Answer, name: str) -> str:
    verdict = answer.verdict
    if verdict.foreign:
        strangers = [f"the {_foreign_piece(f)}" for f in verdict.foreign]
        return f"a mixture: {name}, with {written_list(strangers + _unlisted(verdict))}"
    if verdict.suspects:
        strangers = [
            f"the {_foreign_piece(f)}, {per_cent(f.probability)}"
            for f in verdict.suspects[:SUSPECTS_NAMED]
        ]
        return (
            f"a mixture of sets, mostly {name}; the stranger may be {written_list(strangers, 'or')}"
        )
    return f"a mixture of sets, mostly {name}"


def _so_far(answer: Answer) -> str:
    if answer.seen.counts:
        return "as far as counted"
    if not answer.seen.looks:
        return "by turning alone"
    return f"by {'turning, ' if answer.seen.turns else ''}marks and features alone"


def _uncatalogued(answer: Answer) -> str:
    if answer.restricted:
        return f"not {box_name(answer.catalog, answer.restricted, ())} as the catalog has it"
    return "not in the catalog, for no family there fits"


def _foreign_piece(foreign: Foreign) -> str:
    teeth = teeth_text(foreign.teeth) + (" teeth" if len(foreign.teeth) == 1 else "")
    return f"{foreign.piece} ({teeth}) of set {written_list(foreign.from_sets, 'or')}"


def _variant(answer: Answer, name: str) -> str:
    verdict = answer.verdict
    strange = _unlisted(verdict)
    if verdict.lacking:
        throughout = "" if strange else " throughout"
        with_all = written_list([*strange, _lacking_things(verdict.lacking)])
        return f"a variant: {name}{throughout}, with {with_all}"
    return f"a variant of {name}" + (f", with {written_list(strange)}" if strange else "")


def _unlisted(verdict: Verdict) -> list[str]:
    """The pieces that are likelier unlisted than not, given what the verdict leans to."""
    pieces = [u.piece for u in verdict.unlisted if u.probability > verdict.probability / 2]
    return [f"{written_list(_a(p) for p in pieces)} that no listed set has"] if pieces else []


def _a(piece: str) -> str:
    return f"{'an' if piece[:1].lower() in 'aeiou' else 'a'} {piece}"


def _strange_wheels(answer: Answer) -> list[str]:
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


def _keep_new(answer: Answer) -> list[str]:
    """How a set that the catalog lacks gets into it; only a whole one can be kept."""
    verdict = answer.verdict
    if verdict.kind != NEW:
        return []
    off = [mesh for mesh in answer.meshes if mesh.agrees is False]
    sums = [] if off else ["All tooth sums counted are sums of the family."]
    return [*sums, f"To keep it: --keep-as {verdict.family}/NAME."]


def _lacking_things(lacking: Iterable[Lacking]) -> str:
    words = {PAIR: "a pair {}", IDLER: "an idler in pair {}", GEAR: "a gear {}"}
    named = written_list(words[thing.kind].format(thing.name) for thing in lacking)
    return f"{named} that the family does not have"


def _lacking(answer: Answer) -> list[str]:
    verdict = answer.verdict
    if not verdict.lacking or verdict.leaning == VARIANT:
        return []
    things = _lacking_things(verdict.lacking)
    return [f"There is {things}."]


def _alike(answer: Answer) -> list[str]:
    """Sets that have the same teeth in every wheel are not parted by any count."""
    if answer.verdict.kind != NARROWED or any(len(line.listed) > 1 for line in answer.lines):
        return []
    return ["They are alike in every wheel: only marks or features can part them."]


def _printed(answer: Answer) -> list[str]:
    if answer.verdict.leaning not in (MATCHED, NARROWED):
        return []
    if any(known.is_counted for known in answer.beside):
        return []
    return ["Only its printed ratios are known: no teeth are listed for it."]


def _whole_box(answer: Answer) -> list[str]:
    verdict = answer.verdict
    if verdict.leaning == UNCATALOGUED:
        return _nearest(answer)
    if not answer.seen.counts:
        return ["No teeth are counted yet."] if answer.seen.turns else []
    not_counted = _not_counted(answer, verdict)
    if verdict.leaning in (MIXED, NEW, VARIANT) or verdict.kind == UNDECIDED:
        return [f"{not_counted[:1].upper()}{not_counted[1:]}."] if verdict.not_counted else []
    return [f"For the whole box, {not_counted}: {said(verdict.whole_box)}."]


def _not_counted(answer: Answer, verdict: Verdict) -> str:
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


def _nearest(answer: Answer) -> list[str]:
    near = next(iter(answer.nearest), None)
    if near is None or not near.compared or not near.tooth_differences:
        return []
    name = box_name(answer.catalog, near.family, (near.set,))
    teeth = "tooth" if near.tooth_differences == 1 else "teeth"
    return [f"Nearest is {name}, {near.tooth_differences} {teeth} away in all."]


def _expected(answer: Answer) -> list[str]:
    expectation = answer.expectation
    if expectation is None:
        return []
    name = f"{expectation.family}/{expectation.set}"
    if expectation.answer == YES:
        return [f"Yes, it is {name}: {said(expectation.probability)}."]
    if expectation.answer == NO:
        return [f"No, it is not {name}: that is {said(expectation.probability)}."]
    return [f"Whether it is {name} cannot be settled yet: {said(expectation.probability)}."]


def _turned(answer: Answer) -> list[str]:
    turned = answer.turned
    if turned is None:
        return []
    verdict = turned.verdict
    then = f"Then it is {_named(answer.catalog, verdict)}: {said(verdict.probability)}."
    return [f"{_question(turned)} {then}" if verdict.is_clean else _question(turned)]


def _question(turned: TurnedRound) -> str:
    if turned.all:
        meant = " ".join(turned.meant)
        return f"All pairs fit far better the other way round: did you mean {meant}?"
    meant = written_list((m.partition("=")[2] for m in turned.meant), "and")
    return f"{written_list(turned.read)}: did you mean {meant}?"


def _named(catalog: Catalog, verdict: Verdict) -> str:
    return box_name(catalog, verdict.family, verdict.sets)


def _recount_first(answer: Answer) -> list[str]:
    """A miscount that alone stands in the way comes before what it would make of the box."""
    found = []
    for recount in answer.recounts:
        if recount.without is not None:
            name = _named(answer.catalog, recount.without)
            found.append(
                f"Recount {recount.wheel}: {_has(recount)}. This one count alone speaks against "
                f"{name}; without it that is {said(recount.without.probability)}."
            )
    return found


def _recount_named(answer: Answer) -> list[str]:
    again = [r for r in answer.recounts if r.without is None]
    if not again:
        return []
    named = written_list(r.wheel for r in again[:WHEELS_NAMED])
    if len(again) == 1:
        return [f"Recount {named}: {_has(again[0])}."]
    return [f"Recount {named}."]


def _has(recount: Recount | Difference) -> str:
    if recount.listed is None:
        return f"counted {recount.counted}, and there is no such wheel"
    return f"counted {recount.counted}, listed {recount.listed}"
