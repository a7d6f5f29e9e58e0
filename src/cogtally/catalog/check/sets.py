"""Rules on the sets of a family: that there are some, that they are of one shape, and apart.

How the pairs make a gearbox belongs to `trains`, printed ratios to `ratios`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from cogtally.catalog.draft import Draft, shown
from cogtally.catalog.model import RatioSet, Teeth
from cogtally.catalog.problem import Finding
from cogtally.gears.trains import wheel_names

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
