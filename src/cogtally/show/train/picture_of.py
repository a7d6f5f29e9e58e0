"""Pictures of trains out of what is known of them: counts alone, an answer, or a family.

What the counts come to is left to the rooms below, the picture to `picture`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from cogtally.catalog.model import Family
from cogtally.evidence.arrangement import Arrangement
from cogtally.gears.ratios import RatioTable
from cogtally.gears.trains import (
    FINAL,
    INPUT,
    LAYOUTS,
    OUTPUT,
    OVERDRIVE,
    REVERSE,
    Train,
    wheel_names,
)
from cogtally.show.drawing.primitives import Drawing
from cogtally.show.screen import CAUTION, DEMO_CAUTION
from cogtally.show.train.order import default_order, pairs_in_order
from cogtally.show.train.picture import train_drawing
from cogtally.show.train.subject import NOT_COUNTED, Label, Subject, subject_of

if TYPE_CHECKING:
    from cogtally.evidence.reading import Answer

#: What the pair of an overdrive is called where nobody named it.
BLANK_OVERDRIVE = "OD"
#: Of more different counts in the sets beside it a label names none.
_MOST_LISTED = 2
_TITLES = {
    "layshaft": "Layshaft box",
    "sleeve": "Sleeve box",
    "two-shaft": "Two-shaft box",
    "axle": "Axle",
    OVERDRIVE: "Overdrive",
}


def drawing_of_table(
    table: RatioTable, *, gear: str | None = None, sliding: Collection[str] = ()
) -> Drawing:
    """Return the picture of what was counted, without a catalog.

    Raises UserError where no gear is written or `gear` is none of them.
    """
    return train_drawing(table_subject(table, gear=gear, sliding=sliding))


def table_subject(
    table: RatioTable, *, gear: str | None = None, sliding: Collection[str] = ()
) -> Subject:
    """Return what the picture of a table shows; raises UserError as `drawing_of_table`."""
    train = _table_train(table)
    teeth = {wheel.name: wheel.teeth for pair in table.pairs for wheel in pair.wheels}
    labels = {
        name: Label(_count(count), known=count is not None)
        for name in _all_wheels(train, table.axle is not None)
        for count in [teeth.get(name)]
    }
    remarks = [
        f"{wheel.name} was counted with different results; {wheel.teeth} is the likeliest."
        for wheel in table.disputed
    ]
    if table.unused:
        remarks.append(f"Not drawn, for no gear runs through it: {', '.join(table.unused)}.")
    if table.overdrive is not None:
        remarks.append("The overdrive behind is not drawn.")
    if table.sums_apart:
        remarks.append(f"The tooth sums of {', '.join(table.sums_apart)} are far apart.")
    ratios = {g.name: g.ratio for g in table.gears}
    if table.axle is not None:
        ratios[FINAL] = table.axle_ratio
    return subject_of(
        _TITLES[table.layout],
        train,
        default_order(train, tuple(train.pairs)),
        {name: count for name, count in teeth.items() if count is not None},
        labels,
        ratios,
        axle=table.axle is not None,
        gear=gear,
        sliding=sliding,
        remarks=remarks,
        cautions=(CAUTION,),
    )


def _table_train(table: RatioTable) -> Train:
    """Return the arrangement of a table's pairs, without the axle behind the box."""
    inside = {p.name: len(p.wheels) for p in table.pairs if p is not table.axle}
    inside |= {name: 2 for gear in table.gears for name in gear.path if name not in inside}
    return Train(table.layout, inside, table.direct, table.paths)


def drawing_of_answer(answer: Answer, *, gear: str | None = None) -> Drawing:
    """Return the picture of a box as counted, beside it what the sets of the verdict have.

    Raises UserError where there is no gear, or `gear` is none of them.
    """
    return train_drawing(answer_subject(answer, gear=gear))


def answer_subject(answer: Answer, *, gear: str | None = None) -> Subject:
    """Return what the picture of a box shows; raises UserError as `drawing_of_answer`."""
    from cogtally.show.box import sentences

    stands = answer.catalog.by_id.get(answer.verdict.family)
    train = _answer_train(stands, answer)
    axle = _has_axle(train)
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
        remarks += [
            f"{line.name}: tooth sum {mesh.sum}, not {_or(mesh.expected_sums)}."
            for mesh in line.off
        ]
        remarks += [f"{a} and {b} are of different sets." for a, b in line.parted]
    labels = {
        name: _answer_label(counted.get(name), listed.get(name, ()), name in differs)
        for name in _all_wheels(train, axle)
    }
    teeth = {name: counts[0] for name, counts in listed.items()} | counted
    demo = (DEMO_CAUTION,) if answer.catalog.demo else ()
    return subject_of(
        stands.title if stands else "Gearbox, as counted",
        _without_axle(train, axle),
        _order(stands, _without_axle(train, axle)),
        teeth,
        labels,
        {g.gear: g.ratio for g in answer.gears},
        axle=axle,
        gear=gear,
        remarks=remarks,
        said=" ".join(sentences(answer)),
        listed=_or(known.id for known in answer.beside),
        cautions=(*demo, CAUTION),
    )


def family_subject(family: Family, labels: Mapping[str, Label]) -> Subject:
    """Return the train of a family with a label for each wheel, as high as its first set has it."""
    train = family.train
    axle = _has_axle(train)
    teeth: dict[str, int] = {}
    for known in family.counted_sets:
        for name, count in family.teeth_of(known).items():
            if count is not None:
                teeth.setdefault(name, count)
    inside = _without_axle(train, axle)
    order = _order(family, inside)
    return subject_of(family.title, inside, order, teeth, labels, {}, axle=axle)


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
    order = default_order(train, tuple(train.pairs))
    return subject_of(_TITLES[train.layout], train, order, {}, labels, {}, axle=axle)


def _answer_train(family: Family | None, answer: Answer) -> Train:
    """Return the arrangement of a box: the family's, with the pairs that it does not have."""
    arrangement = Arrangement(family, answer.seen)
    if family is not None:
        train = family.train
        more = {p: n for p, n in arrangement.pairs.items() if p not in train.pairs}
        sizes = {p: max(n, arrangement.pairs.get(p, n)) for p, n in train.pairs.items()}
        return Train(train.layout, {**sizes, **more}, train.direct, train.paths, train.same)
    from cogtally.gears.ratios import default_layout

    pairs = arrangement.pairs
    layout = default_layout(pairs)
    assert layout in LAYOUTS
    return Train(layout, pairs)


def _has_axle(train: Train) -> bool:
    """Tell whether a pair `final` hangs behind a box of other pairs."""
    spelled = (FINAL in path for path in train.paths.values())
    return FINAL in train.pairs and train.layout != "axle" and not any(spelled)


def _without_axle(train: Train, axle: bool) -> Train:
    if not axle:
        return train
    inside = {p: n for p, n in train.pairs.items() if p != FINAL}
    return Train(train.layout, inside, train.direct, train.paths, train.same)


def _order(family: Family | None, train: Train) -> tuple[str, ...]:
    pairs = tuple(train.pairs)
    if family is None:
        return default_order(train, pairs)
    return pairs_in_order(train, [piece.wheels for piece in family.pieces], pairs)


def _all_wheels(train: Train, axle: bool) -> tuple[str, ...]:
    return tuple(dict.fromkeys((*train.wheels, *(wheel_names(FINAL, 2) if axle else ()))))


def _answer_label(count: int | None, listed: Sequence[int], differs: bool) -> Label:
    several = 0 < len(listed) <= _MOST_LISTED
    if count is None:
        return Label(NOT_COUNTED, f"({_or(listed)})" if several else "", known=False)
    if differs:
        return Label(str(count), "", f"not {_or(listed)}" if several else "differs", marked=True)
    return Label(str(count))


def _count(count: int | None) -> str:
    return NOT_COUNTED if count is None else str(count)


def _or(words: Iterable[object]) -> str:
    return " or ".join(map(str, words))
