"""What a catalog must meet, whole: the rules of all rooms, and those between families.

Single values are judged where they are read, in `draft`; files and lines are left to `files`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import islice

from cogtally.catalog.check import trains
from cogtally.catalog.check.ratios import Effort, check_overdrive, check_ratios
from cogtally.catalog.draft import MOST_FINDINGS, Draft
from cogtally.catalog.model import Catalog, Family, PieceType, RatioSet, Teeth
from cogtally.catalog.problem import ERROR, Finding, Problem, severity_of
from cogtally.gears.errors import shown
from cogtally.gears.trains import FAMILY_LAYOUTS, OVERDRIVE, wheel_names

#: Below this number teeth are undercut and the count is worth a second look.
FEWEST_USUAL_TEETH = 9

#: The pairs of a set and how many wheels each has, whatever their order.
Shape = frozenset[tuple[str, int]]


def shape_of(known: RatioSet) -> Shape:
    """Return the pairs of a set with their numbers of wheels."""
    return frozenset((pair, len(teeth)) for pair, teeth in known.pairs.items())


def usual_shape(draft: Draft) -> Shape:
    """Return the shape that most counted sets of a family have, on a tie the first written."""
    unread = with_unread_pairs(draft)
    shapes = [
        shape_of(known)
        for number, known in enumerate(draft.family.sets)
        if known.is_counted and number not in unread
    ]
    return Counter(shapes).most_common(1)[0][0] if shapes else frozenset()


def with_unread_pairs(draft: Draft) -> frozenset[int]:
    """Return the sets that have a pair whose name would not do: their shape is not known."""
    return frozenset(
        f.set_no
        for f in draft.findings
        if f.set_no is not None
        and (f.key == "pairs" or (f.code == "bad-name" and f.key.startswith("pairs.")))
    )


def check_sets(draft: Draft) -> Iterator[Finding]:
    """Yield what is wrong with the sets of a family, each by itself and beside the others."""
    family = draft.family
    if not family.sets and (None, "set") not in draft.spoilt:
        yield Finding("no-sets", "the family has no set", "write [[set]] with an id and pairs")
    if len(family.sets) == 1 and (None, "set") not in draft.spoilt:
        yield Finding("one-set", "the family has one set only: nothing can be mixed with it")
    yield from _ids(family.sets)
    yield from _empty(draft)
    yield from _shapes(draft)
    yield from _alike(family.sets)
    for number, known in enumerate(family.sets):
        yield from _few_teeth(draft, number, known)
        if not known.source and (number, "source") not in draft.spoilt:
            mend = "say it in source: counted on the bench, one box"
            yield Finding("no-source", "nothing says where this set comes from", mend, number)


def _ids(sets: tuple[RatioSet, ...]) -> Iterator[Finding]:
    first: dict[str, int] = {}
    for number, known in enumerate(sets):
        if known.id and first.setdefault(known.id, number) != number:
            sentence = f"the id '{shown(known.id)}' is used twice in this family"
            mend = f"it is that of set {first[known.id] + 1} too; give one of them another"
            yield Finding("id-twice", sentence, mend, number, "id")


def _empty(draft: Draft) -> Iterator[Finding]:
    for number, known in enumerate(draft.family.sets):
        spoilt = {(number, "pairs"), (number, "ratios")} & draft.spoilt
        if not known.is_counted and not known.ratios and not spoilt:
            mend = "give the teeth of its pairs, or the ratios that are printed of it"
            sentence = "the set has neither a counted wheel nor a printed ratio"
            yield Finding("empty-set", sentence, mend, number)


def _shapes(draft: Draft) -> Iterator[Finding]:
    unread = with_unread_pairs(draft)
    usual = dict(usual_shape(draft))
    like_most = next((s for s in draft.family.sets if dict(shape_of(s)) == usual), None)
    usual_pairs = list(like_most.pairs) if like_most else []
    for number, known in enumerate(draft.family.sets):
        if not known.is_counted or number in unread:
            continue
        strange = [pair for pair in known.pairs if pair not in usual]
        missing = [pair for pair in usual_pairs if pair not in known.pairs]
        if strange or missing:
            said = [f"pair {pair} is in no other set" for pair in strange]
            said += [f"pair {pair} is missing" for pair in missing]
            mend = "name the same pairs in every counted set, with _ for wheels nobody counted"
            yield Finding("pairs-differ", ", ".join(said), mend, number, "pairs")
        for pair, teeth in known.pairs.items():
            if len(teeth) != usual.get(pair, len(teeth)):
                sentence = f"pair {pair} has {len(teeth)} wheels, in the other sets {usual[pair]}"
                mend = "write _ for a wheel that nobody counted"
                yield Finding("pairs-differ", sentence, mend, number, f"pairs.{pair}")


def _alike(sets: tuple[RatioSet, ...]) -> Iterator[Finding]:
    first: dict[frozenset[tuple[str, Teeth]], RatioSet] = {}
    for number, known in enumerate(sets):
        if not known.is_counted:
            continue
        twin = first.setdefault(frozenset(known.pairs.items()), known)
        if twin is not known:
            sentence = f"the set has the teeth of '{shown(twin.id)}' in every wheel"
            mend = "a count cannot tell them apart; give marks or features that can"
            if known.marks or known.features or twin.marks or twin.features:
                mend = "a count cannot tell them apart; only marks or features can"
            yield Finding("sets-alike", sentence, mend, number)


def _few_teeth(draft: Draft, number: int, known: RatioSet) -> Iterator[Finding]:
    seen = set()
    for pair, teeth in known.pairs.items():
        for wheel, count in zip(wheel_names(pair, len(teeth)), teeth, strict=True):
            kept = draft.family.train.canonical(wheel)
            if count is not None and count < FEWEST_USUAL_TEETH and kept not in seen:
                seen.add(kept)
                sentence = f"{wheel} has {count} teeth, fewer than gears usually have"
                yield Finding("few-teeth", sentence, "count again", number, f"pairs.{pair}")


#: Tells whether a family is too entangled to compute; the evidence knows.
Entangled = Callable[[Family], bool]

#: So much may look wrong in a family that has no error; no honest one comes near.
MOST_WARNINGS = 10_000

#: Where one of these is wrong, sums and types would only repeat it in other words.
_OF_THE_TRAIN = frozenset({"path-unknown-pair", "path", "same-wheel", "direct", "pairs-differ"})


def check_catalog(catalog: Catalog, *, entangled: Entangled | None = None) -> tuple[Problem, ...]:
    """Return all problems of a catalog that came from no file."""
    drafts = [Draft(family) for family in catalog.families]
    effort = Effort()
    found = [
        (draft, f)
        for draft in drafts
        for f in check_draft(draft, entangled=entangled, effort=effort)
    ]
    found += [(drafts[number], f) for number, f in check_between(drafts)]
    return tuple(problem_of(draft.family, finding) for draft, finding in found)


def problem_of(
    family: Family, finding: Finding, file: str = "", line: int | None = None
) -> Problem:
    """Return the problem that a finding in a family is, with its place in a file."""
    inside = finding.set_no is not None and finding.set_no < len(family.sets)
    set_id = family.sets[finding.set_no].id if inside and finding.set_no is not None else ""
    return Problem(
        severity=severity_of(finding.code),
        code=finding.code,
        file=file,
        line=finding.line if finding.line is not None else line,
        family=shown(family.id),
        set=shown(set_id),
        key=shown(finding.key),
        sentence=finding.sentence,
        mend=finding.mend,
    )


def check_draft(
    draft: Draft, *, entangled: Entangled | None = None, effort: Effort | None = None
) -> tuple[Finding, ...]:
    """Return all that is wrong with one family: its values as read, then its rules.

    `entangled` is asked only about a family without any error. `effort`: what is left for
    searching, where several families share it. Past MOST_FINDINGS, one of them an error, no more
    is looked for; past MOST_WARNINGS that is an error itself.
    """
    found: list[Finding] = []
    wrong = False
    for finding in _all_of(draft, found, effort or Effort()):
        found.append(finding)
        wrong = wrong or severity_of(finding.code) == ERROR
        if len(found) > MOST_FINDINGS and wrong:
            break
        if len(found) > MOST_WARNINGS:
            sentence = f"more than {MOST_WARNINGS:,} things look wrong in the family"
            found.append(Finding("too-many", sentence, "mend those that are named first"))
            wrong = True
            break
    if not wrong and entangled is not None and entangled(draft.family):
        sentence = "the family is too entangled to compute"
        mend = "its pieces tie too many pairs together: part it into families of fewer sets"
        found.append(Finding("entangled", sentence, mend))
    return tuple(found)


def _all_of(draft: Draft, found: Sequence[Finding], effort: Effort) -> Iterator[Finding]:
    """All findings of a draft, as they are found; `found` are those taken so far."""
    yield from draft.findings
    yield from check_sets(draft)
    if draft.family.layout in FAMILY_LAYOUTS:
        yield from _check_arrangement(draft, {f.code for f in found}, effort)


def _check_arrangement(draft: Draft, wrong: set[str], effort: Effort) -> Iterator[Finding]:
    family = of_one_shape(draft)
    trouble = list(trains.check_train(family))
    yield from trouble
    family = trains.with_good_names(family)
    yield from trains.check_shared_wheels(draft, family)
    yield from trains.check_pieces(draft, family)
    if family.layout == OVERDRIVE:
        yield from check_overdrive(draft, family)
        return
    yield from check_ratios(draft, family, effort)
    if not _OF_THE_TRAIN & {*wrong, *(f.code for f in trouble)}:
        yield from trains.check_sums(draft, family)


def of_one_shape(draft: Draft) -> Family:
    """Return the family of a draft less the counted sets whose pairs are not those of most."""
    usual = usual_shape(draft)
    kept = tuple(s for s in draft.family.sets if not s.is_counted or shape_of(s) == usual)
    return draft.family if len(kept) == len(draft.family.sets) else replace(draft.family, sets=kept)


def check_between(drafts: Sequence[Draft]) -> Iterator[tuple[int, Finding]]:
    """Yield what is wrong between families, each with the number of the family where it stands."""
    first: dict[str, int] = {}
    for number, draft in enumerate(drafts):
        family_id = draft.family.id
        if family_id and first.setdefault(family_id, number) != number:
            sentence = f"the id '{shown(family_id)}' is used by another family too"
            yield number, Finding("id-twice", sentence, "give one of them another", None, "id")
    yield from islice(_marks_twice(drafts), MOST_WARNINGS)


def _marks_twice(drafts: Sequence[Draft]) -> Iterator[tuple[int, Finding]]:
    """A mark on two types names neither; the same part in two casings is no such case."""
    first: dict[str, tuple[int, PieceType]] = {}
    counted: dict[int, list[int]] = {}

    def carrier(number: int, kind: PieceType, mark: str) -> int:
        """The number of the first set of a family that gives a mark to a type."""
        sets = drafts[number].family.sets
        if number not in counted:
            usual = usual_shape(drafts[number])
            alike = (no for no, s in enumerate(sets) if s.is_counted and shape_of(s) == usual)
            counted[number] = list(alike)
        carriers = [counted[number][place] for place in kind.carriers]
        giving = (no for no in carriers if mark in sets[no].marks.get(kind.piece.name, ()))
        return next(giving, carriers[0])

    for number, draft in enumerate(drafts):
        if not any(known.marks for known in draft.family.sets):
            continue
        for kind in _types(draft):
            for mark in dict.fromkeys(kind.marks or ()):
                before, other = first.setdefault(mark, (number, kind))
                if other is kind or (before != number and other.teeth == kind.teeth):
                    continue
                home = drafts[before].family
                where = home.sets[carrier(before, other, mark)].id
                if before != number:
                    where = f"{home.id}/{where}"
                sentence = (
                    f"the mark '{shown(mark)}' is on another type too: "
                    f"{other.piece.name} of {shown(where)}"
                )
                mend = "a mark on two types tells neither; read both again"
                key = f"marks.{kind.piece.name}"
                yield (
                    number,
                    Finding("mark-twice", sentence, mend, carrier(number, kind, mark), key),
                )


def _types(draft: Draft) -> Iterable[PieceType]:
    """The types of a family, as far as it can be arranged at all."""
    if draft.family.layout not in FAMILY_LAYOUTS:
        return ()
    family = trains.with_good_names(of_one_shape(draft))
    return [kind for kinds in family.types.values() for kind in kinds]
