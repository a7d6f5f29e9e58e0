"""What a picture of a train is to show: the train, a label for each wheel, and words around it.

It comes out of counts alone, an answer, a family, or a blank. What the counts come to is left to
the rooms below, where all stands to `plan`, how it is drawn to `picture`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

from cogtally.catalog.model import Family
from cogtally.evidence.posterior import MIXED
from cogtally.evidence.seen import arranged
from cogtally.gears.errors import UserError
from cogtally.gears.ratios import RatioTable
from cogtally.gears.trains import (
    FINAL,
    INPUT,
    LAYOUTS,
    OUTPUT,
    OVERDRIVE,
    REVERSE,
    Train,
    is_numbered,
    pair_of,
    wheel_names,
)
from cogtally.gears.turning import Joints, joints
from cogtally.show import screen
from cogtally.show.train.places import ANNULUS, SUN
from cogtally.show.train.plan import NOT_COUNTED, Label, Subject

if TYPE_CHECKING:
    from cogtally.evidence.reading import Answer

#: What the pair of an overdrive is called where nobody named it.
BLANK_OVERDRIVE = "OD"
#: Every gear, each in a picture of its own: what `--gear` may say besides.
ALL_GEARS = "all"
#: Of more different counts in the sets beside it a label names none.
_MOST_LISTED = 2
#: An overdrive is sun, planets and annulus; it has no gears of its own.
_NO_JOINTS = Joints((), {}, (), {}, ())
_PLACES = 3
#: What the wheels of pairs that are no gears are called.
_CALLED = {"axle": ("pinion", "crown wheel"), OVERDRIVE: ("sun", "annulus")}


def _subject(
    title: str,
    train: Train,
    order: Sequence[str],
    teeth: Mapping[str, int],
    labels: Mapping[str, Label],
    ratios: Mapping[str, Fraction | None],
    *,
    axle: bool,
    gear: str | None = None,
    sliding: Collection[str] = (),
    remarks: Sequence[str] = (),
    **more: object,
) -> Subject:
    """Return what a picture shows, from what is known of the box.

    `train` and `order` are without the axle behind, `ratios` of its gears with that of the axle.
    Raises UserError where there is no gear, where `gear` is none of them, and for paths that no
    box can have.
    """
    if not train.gears and train.layout != OVERDRIVE:
        mend = "write the gears' pairs too, for example 1=14/31"
        sentence = "no gear is written, only pairs that gears run through"
        raise UserError(sentence, "--picture", mend)
    if gear is not None and gear not in train.gears:
        use = f"use {', '.join((*train.gears, ALL_GEARS))}"
        mend = use if train.gears else "leave --gear out"
        raise UserError("no such gear is drawn", f"--gear {gear}", mend)
    found = _NO_JOINTS if train.layout == OVERDRIVE else joints(train, axle=axle, sliding=sliding)
    words = list(remarks)
    heads: dict[str, str] = {}
    for name, ratio in ratios.items():
        if ratio is None or name == train.direct:
            continue
        text = f"{float(ratio):.{_PLACES}f}"
        if name in train.pairs or name == FINAL:
            heads[name] = text
        else:
            words.insert(0, f"{name}: {text}, through {', '.join(train.path(name) or ())}.")
    if found.sliding:
        gears = screen.written_list(found.sliding)
        words.append(f"{gears}: the driven wheel slides into mesh, in its own gear only.")
    return Subject(
        title=screen.plain(title if gear is None else f"{title}: gear {gear}"),
        train=train,
        joints=found,
        order=tuple(order),
        teeth=teeth,
        labels=_named_wheels(train, labels),
        axle=axle,
        heads=heads,
        gear=gear,
        remarks=tuple(words),
        **more,  # type: ignore[arg-type]
    )


def _named_wheels(train: Train, labels: Mapping[str, Label]) -> Mapping[str, Label]:
    """Return labels, those of pinions, crown wheels, suns and annuli with their names below."""
    found = dict(labels)
    called = dict(zip((SUN, ANNULUS), _CALLED[OVERDRIVE], strict=True))
    called |= dict(zip(wheel_names(FINAL, 2), _CALLED["axle"], strict=True))
    if train.layout in _CALLED:
        called |= dict(zip(train.wheels, _CALLED[train.layout], strict=False))
    for wheel, name in called.items():
        label = found.get(wheel)
        if label is not None:
            below = f"{name}, {label.below}" if label.below else name
            found[wheel] = replace(label, below=below)
    return found


def table_subject(
    table: RatioTable, *, gear: str | None = None, sliding: Collection[str] = ()
) -> Subject:
    """Return what the picture of a table shows, without a catalog.

    Raises UserError where no gear is written or `gear` is none of them.
    """
    train, has_axle = table.train, table.axle is not None
    teeth = {wheel.name: wheel.teeth for pair in table.pairs for wheel in pair.wheels}
    wheels = _all_wheels(train, has_axle)
    if table.overdrive is not None:
        teeth |= {SUN: table.overdrive.sun, ANNULUS: table.overdrive.annulus}
        wheels += (SUN, ANNULUS)
    labels = {name: _answer_label(teeth.get(name), (), False, "") for name in wheels}
    remarks = [
        f"{wheel.name} was counted with different results; {wheel.teeth} is the likeliest."
        for wheel in table.disputed
    ]
    if table.unused:
        remarks.append(f"Not drawn, for no gear runs through it: {', '.join(table.unused)}.")
    if table.sums_apart:
        remarks.append(f"The tooth sums of {', '.join(table.sums_apart)} are far apart.")
    if table.overdrive is not None:
        remarks.append("The overdrive is drawn in, its sun held; out, it turns as one.")
    ratios = {g.name: g.ratio for g in table.gears}
    if has_axle:
        ratios[FINAL] = table.axle_ratio
    return _subject(
        screen.layout_title(table.layout),
        train,
        default_order(train),
        {name: count for name, count in teeth.items() if count is not None},
        labels,
        ratios,
        axle=has_axle,
        overdrive=table.overdrive is not None,
        gear=gear,
        sliding=sliding,
        remarks=remarks,
        cautions=(screen.CAUTION,),
    )


def answer_subject(answer: Answer, *, gear: str | None = None) -> Subject:
    """Return what the picture of a box shows: as counted, beside it what the verdict's sets have.

    Raises UserError where there is no gear, or `gear` is none of them.
    """
    from cogtally.show.box import sentences

    stands = answer.catalog.by_id.get(answer.verdict.family)
    train = _answer_train(stands, answer)
    inside, axle = _inside(train)
    counted: dict[str, int] = {}
    listed: dict[str, tuple[int, ...]] = {}
    differs: set[str] = set()
    remarks: list[str] = []
    for line in answer.lines:
        for place, wheel in enumerate(line.wheels):
            kept = train.canonical(wheel)
            count = line.teeth[place]
            if count is not None:
                counted[kept] = count
            known = [row[place] for row in line.listed if place < len(row)]
            found = dict.fromkeys(t for t in known if t is not None)
            if found and None not in known:
                listed.setdefault(kept, tuple(found))
        differs |= {train.canonical(d.wheel) for d in line.differs}
        # A hypoid pair has no sum to keep.
        if line.name != FINAL and train.layout != "axle":
            remarks += [
                f"{line.name}: tooth sum {mesh.sum}, not {_or(mesh.expected_sums)}."
                for mesh in line.off
            ]
        remarks += [f"{a} and {b} are of different sets." for a, b in line.parted]
    hatches, sets, called = _by_sets(stands, answer, counted)
    labels = {
        name: _answer_label(
            counted.get(name), listed.get(name, ()), name in differs, called.get(name, "")
        )
        for name in _all_wheels(train, axle)
    }
    teeth = {name: counts[0] for name, counts in listed.items()} | counted
    demo = (screen.DEMO_CAUTION,) if answer.catalog.demo else ()
    return _subject(
        stands.title if stands else "Gearbox, as counted",
        inside,
        pairs_in_order(inside, stands),
        teeth,
        labels,
        {g.gear: g.ratio for g in answer.gears},
        axle=axle,
        gear=gear,
        sliding=_sliding(stands, inside),
        remarks=remarks,
        made=tuple(piece.wheels for piece in stands.pieces) if stands else (),
        said=" ".join(sentences(answer)),
        listed=_or(known.id for known in answer.beside),
        hatches=hatches,
        sets=sets,
        cautions=(*demo, screen.CAUTION),
    )


def _by_sets(
    family: Family | None, answer: Answer, counted: Mapping[str, int]
) -> tuple[dict[str, int], tuple[tuple[int | None, str], ...], dict[str, str]]:
    """Return the hatching of each wheel by the set that its piece is of, what each stands for, and
    what is said at the wheels of strangers.

    Nothing is hatched in a box of one set.
    """
    verdict = answer.verdict
    if family is None or not (verdict.leaning == MIXED or verdict.foreign):
        return {}, (), {}
    from cogtally.evidence.reading import likeliest_pieces

    own = next((s for s in family.counted_sets if s.id in verdict.sets), None)
    shares = likeliest_pieces(answer.posterior.pieces)
    kinds: dict[tuple[str, ...], list[str]] = {verdict.sets: []}
    hatches: dict[str, int] = {}
    called: dict[str, str] = {}
    left = 0
    for piece in family.pieces:
        share = shares.get(piece.name)
        if share is None or not any(wheel in counted for wheel in piece.wheels):
            left += 1
            continue
        sets = verdict.sets if set(share.sets) & set(verdict.sets) else share.sets
        kinds.setdefault(sets, []).append(piece.name)
        hatches |= dict.fromkeys(piece.wheels, list(kinds).index(sets))
        if sets != verdict.sets and own is not None:
            listed = family.teeth_of(own)
            odd = [w for w in piece.wheels if w in counted and counted[w] != listed.get(w)]
            wheel = next(iter(odd or [w for w in piece.wheels if w in counted]))
            has = screen.teeth_text(listed.get(w) for w in piece.wheels)
            what = f"of {_or(sets)}" if sets else "of no listed set"
            count = screen.teeth_text(counted.get(w) for w in piece.wheels)
            called[wheel] = f"{piece.name}, {count}: {what}; {_or(verdict.sets)} has {has}"
    told: list[tuple[int | None, str]] = [
        (kind, f"{_or(sets) or 'no listed set'}: {screen.number_of(len(names), 'piece')}")
        for kind, (sets, names) in enumerate(kinds.items())
        if names
    ]
    if left:
        told.append((None, f"not counted: {screen.number_of(left, 'piece')}"))
    return hatches, tuple(told), {wheel: screen.plain(text) for wheel, text in called.items()}


def family_subject(family: Family, labels: Mapping[str, Label]) -> Subject:
    """Return the train of a family with a label for each wheel, as high as its first set has it."""
    train = family.train
    inside, axle = _inside(train)
    teeth: dict[str, int] = {}
    for known in family.counted_sets:
        for name, count in family.teeth_of(known).items():
            if count is not None:
                teeth.setdefault(name, count)
    return _subject(
        family.title,
        inside,
        pairs_in_order(inside, family),
        teeth,
        labels,
        {},
        axle=axle,
        sliding=_sliding(family, inside),
        made=tuple(piece.wheels for piece in family.pieces),
    )


def _sliding(family: Family | None, train: Train) -> tuple[str, ...]:
    """Return the gears whose driven wheel slides, as the pieces of a family tell.

    Reverse teeth on a sleeve move with it; on a gear that another lever position locks they would
    hold the box fast unless that gear slides.
    """
    if family is None or train.layout not in ("layshaft", "two-shaft"):
        return ()
    locks = joints(train).locks
    wheels = {gear: lock.wheel for gear, lock in locks.items() if lock is not None}
    piece = family.piece_of.get(wheels.get(REVERSE, ""))
    if piece is None:
        return ()
    others = [g for g, wheel in wheels.items() if wheel in piece.wheels and g != REVERSE]
    if others or "sleeve" in piece.name:
        return (*others, REVERSE)
    return ()


def blank_train(layout: str, gears: int) -> tuple[Train, bool]:
    """Return the train of a box of so many gears of which nothing else is known.

    The highest gear of four in a layshaft or sleeve box is direct (common practice, no source);
    a two-shaft box has an axle behind it.
    """
    numbers = [str(number) for number in range(1, gears + 1)]
    if layout == "axle":
        return Train("axle", {FINAL: 2}), False
    if layout == OVERDRIVE:
        return Train(OVERDRIVE, {BLANK_OVERDRIVE: 2}), False
    if layout == "two-shaft":
        return Train("two-shaft", {**dict.fromkeys(numbers, 2), REVERSE: 3}), True
    direct = str(min(gears, 4))
    pairs = dict.fromkeys((n for n in numbers if n != direct), 2)
    if layout == "sleeve":
        return Train("sleeve", {**pairs, OUTPUT: 2}, direct), False
    return Train("layshaft", {INPUT: 2, **pairs, REVERSE: 3}, direct), False


def blank_subject(train: Train, axle: bool, labels: Mapping[str, Label]) -> Subject:
    """Return the train of a blank with a label for each wheel."""
    title = screen.layout_title(train.layout)
    return _subject(title, train, default_order(train), {}, labels, {}, axle=axle)


def _answer_train(family: Family | None, answer: Answer) -> Train:
    """Return the arrangement of a box: the family's, with the pairs that it does not have."""
    pairs, near = arranged(family, answer.seen).pairs, answer.beside_family
    if family is not None:
        return replace(family.train, pairs=pairs)
    from cogtally.gears.ratios import default_layout

    if near is not None and near.layout == OVERDRIVE and set(pairs) <= set(near.train.pairs):
        # It is half counted, and no family is named yet: the one that stands beside it will do.
        return near.train
    layout = default_layout(pairs)
    assert layout in LAYOUTS
    return Train(layout, pairs)


def _inside(train: Train) -> tuple[Train, bool]:
    """Return a train without the axle behind it: a pair `final` behind a box of other pairs.

    With it whether there is one.
    """
    spelled = (FINAL in path for path in train.paths.values())
    if FINAL not in train.pairs or train.layout == "axle" or any(spelled):
        return train, False
    return replace(train, pairs={p: n for p, n in train.pairs.items() if p != FINAL}), True


def _all_wheels(train: Train, axle: bool) -> tuple[str, ...]:
    return tuple(dict.fromkeys((*train.wheels, *(wheel_names(FINAL, 2) if axle else ()))))


def pairs_in_order(train: Train, family: Family | None) -> tuple[str, ...]:
    """Return pairs as they follow one another along the axis, as far as a family's pieces tell.

    A piece with wheels of most pairs gives the order, the rest follow as written; other pieces put
    theirs right; a pair that shares a wheel with another and stands on no such piece is beside
    that.
    """
    if family is None:
        return default_order(train)
    pairs = tuple(train.pairs)
    of_pieces = [
        [pair for pair in dict.fromkeys(map(pair_of, piece.wheels)) if pair in pairs]
        for piece in family.pieces
    ]
    of_pieces.sort(key=len, reverse=True)
    order = list(pairs)
    if of_pieces and 2 * len(of_pieces[0]) > len(pairs):
        order = [*of_pieces[0], *(p for p in pairs if p not in of_pieces[0])]
    for own in of_pieces:
        waiting = iter(own)
        order = [next(waiting) if pair in own else pair for pair in order]
    held = {pair for own in of_pieces if len(own) > 1 for pair in own}
    for pair in pairs:
        names = wheel_names(pair, train.pairs[pair])
        mates = (pair_of(train.canonical(w)) for w in names)
        mate = next((p for p in mates if p != pair and p in order), None)
        if mate is not None and pair not in held:
            order.remove(pair)
            order.insert(order.index(mate) + 1, pair)
    return tuple(order)


def default_order(train: Train) -> tuple[str, ...]:
    """Return pairs as they commonly follow one another where no pieces are known.

    In a layshaft box the input pair, then from the highest gear down (common practice, no source).
    """
    pairs = tuple(train.pairs)
    if train.layout != "layshaft":
        return pairs
    numbered = sorted((p for p in pairs if is_numbered(p)), key=int, reverse=True)
    first = [p for p in pairs if p == INPUT]
    rest = [p for p in pairs if not is_numbered(p) and p not in (INPUT, REVERSE)]
    return (*first, *numbered, *rest, *(p for p in pairs if p == REVERSE))


def _answer_label(count: int | None, listed: Sequence[int], differs: bool, called: str) -> Label:
    several = 0 < len(listed) <= _MOST_LISTED
    if count is None:
        return Label(NOT_COUNTED, f"({_or(listed)})" if several else "", known=False)
    if differs or called:
        said = f"not {_or(listed)}" if several else "differs"
        return Label(str(count), "", "" if called else said, marked=True, called=called)
    return Label(str(count))


def _or(words: Iterable[object]) -> str:
    return " or ".join(map(str, words))
