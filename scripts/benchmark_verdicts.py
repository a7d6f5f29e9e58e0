"""Say what the verdicts on simulated boxes are: of listed sets, of sets that the catalog lacks.

The boxes are of the demo catalog, counted whole by steady and hasty hands. How a table is printed
is left to `benchmark_measure`.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache

from benchmark_measure import SEED, Scale, head, row

from cogtally.catalog.files.reading import demo_catalog
from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.evidence.engine import posterior
from cogtally.evidence.laws import HAND_PRIOR, Q_OF_HAND, SLIP, TEETH_RANGE
from cogtally.evidence.posterior import MATCHED, MIXED, NEW, UNCATALOGUED, VARIANT
from cogtally.evidence.reading import NARROWED, RECOUNT, SURE, UNDECIDED, YES, judge
from cogtally.evidence.reading.verdict import expected
from cogtally.evidence.seen.counted import counted_wheels
from cogtally.gears.notation import FEWEST_TEETH, MOST_TEETH, parse_seen

#: So many boxes of each kind, if not only a few are tried.
BOXES = 2_000
LISTED, STEADY, TAKEN_OUT = "set listed", "set listed, steady hand", "set taken out"
FOREIGN, FOREIGN_TWICE = "foreign gear, counted once", "foreign gear, counted twice"
CHANGED = "one wheel changed"
KINDS = (LISTED, STEADY, TAKEN_OUT, FOREIGN, FOREIGN_TWICE, CHANGED)
#: A box of a set that was taken out is plainly another where so many wheels are off every set.
PLAINLY_OFF = 3
#: "three times the miscounts"
MORE = 3
VERDICTS = (MATCHED, NARROWED, RECOUNT, MIXED, VARIANT, NEW, UNCATALOGUED, UNDECIDED)
Teeth = Mapping[str, int]


@dataclass(frozen=True, slots=True)
class Box:
    """A simulated box: the catalog that is asked, what was counted, and what it is.

    `right`: the listed sets that it is, none where it is mixed, changed or not listed; `off`: the
    fewest wheels in which it differs from a listed set.
    """

    catalog: Catalog
    family: str
    words: tuple[str, ...]
    right: frozenset[str]
    off: int


@dataclass(frozen=True, slots=True)
class Judged:
    """What was said of a box: `named` a set at 0.90 or more, `rightly` if a set named is its own.

    `yes`: --expect says yes to a set that the box is not; `yes_off`: and a counted wheel disagrees.
    """

    kind: str
    named: bool
    rightly: bool
    yes: bool
    yes_off: bool
    off: int


def boxes(kind: str, number: int, more: int = 1, seed: int = SEED) -> Iterator[Box]:
    """Give seeded boxes of a kind; `more` times as many miscounts as the laws of counting have."""
    dice = random.Random(f"{seed} {kind} {more}")
    families = [f for f in _demo().families if len(f.counted_sets) > 1]
    known = [(f, s) for f in families for s in f.counted_sets if _is_whole(f, s)]
    weights = [s.commonness for _, s in known]
    drawn = dice.choices(known, weights, k=number)
    # Boxes of one set stand together: the catalog that lacks it is made ready once.
    for family, one in sorted(drawn, key=lambda pair: (pair[0].id, pair[1].id)):
        teeth: dict[str, int] = {w: t for w, t in family.teeth_of(one).items() if t is not None}
        strange: Sequence[str] = ()
        if kind in (FOREIGN, FOREIGN_TWICE):
            strange = _foreign(family, teeth, dice)
        elif kind == CHANGED:
            strange = [_changed(teeth, dice)]
        catalog = _without(family.id, one.id) if kind == TAKEN_OUT else _demo()
        asked = catalog.by_id[family.id]
        hand = 0 if kind == STEADY or dice.random() < HAND_PRIOR[0] else 1
        off = {
            s.id: sum(t != teeth[w] for w, t in _teeth(asked, s).items())
            for s in asked.counted_sets
        }
        right = frozenset(known for known, wheels in off.items() if not wheels)
        twice = strange if kind == FOREIGN_TWICE else ()
        words = [
            f"{wheel}={_counted(has, hand, more, dice)}"
            for wheel, has in teeth.items()
            for _ in range(2 if wheel in twice else 1)
        ]
        yield Box(catalog, family.id, tuple(words), right, min(off.values()))


def judged(box: Box) -> Judged:
    """Ask of a box, and whether it is any set that has 0.90."""
    seen = parse_seen(box.words)
    found = posterior(box.catalog, seen)
    verdict = judge(box.catalog, found, seen)
    named = verdict.is_sure and verdict.kind in (MATCHED, NARROWED, RECOUNT)
    rightly = (
        verdict.kind in (MATCHED, NARROWED, RECOUNT)
        and verdict.family == box.family
        and bool(box.right & set(verdict.sets))
    )
    yes = yes_off = False
    for answer in found.answers:
        if answer.kind != MATCHED or answer.probability < SURE:
            continue
        family = box.catalog.by_id[answer.family]
        counted = counted_wheels(seen, family)
        for known in answer.sets:
            asked = expected(box.catalog, found, family.id, known, seen)
            wrong = asked.answer == YES and not (family.id == box.family and known in box.right)
            teeth = _teeth(family, next(s for s in family.sets if s.id == known))
            yes |= wrong
            yes_off |= wrong and any(
                counted[w].teeth != t for w, t in teeth.items() if w in counted
            )
    return Judged(verdict.kind, named, rightly, yes, yes_off, box.off)


def verdicts(scale: Scale) -> None:
    """Verdicts on simulated boxes of the demo, every wheel counted. In per cent of the boxes."""
    number = scale.share(BOXES)
    head("box", "miscounts", "boxes", *VERDICTS, "named rightly", "named wrongly", "wrong yes")
    said: dict[tuple[str, int], list[Judged]] = {}
    for kind in KINDS:
        for more in (1, MORE):
            found = said[kind, more] = [judged(box) for box in boxes(kind, number, more)]
            kinds = Counter(one.kind for one in found)
            row(
                kind,
                "usual" if more == 1 else f"{more} times",
                number,
                *(_per_cent(kinds[name], number) for name in VERDICTS),
                _per_cent(sum(one.rightly for one in found), number),
                _per_cent(sum(one.named and not one.rightly for one in found), number),
                _per_cent(sum(one.yes for one in found), number),
            )
    for more in (1, MORE):
        plain = [one for one in said[TAKEN_OUT, more] if one.off >= PLAINLY_OFF]
        wrong = sum(one.named for one in plain)
        steady = said[STEADY, more]
        print(
            f"\nMiscounts {'as usual' if more == 1 else f'{more} times as many'}: of {len(plain)} "
            f"boxes whose set was taken out and that are {PLAINLY_OFF} wheels or more off every "
            f"listed one {_per_cent(wrong, len(plain))} % got a wrong name; of listed sets counted "
            f"by a steady hand {_per_cent(sum(o.rightly for o in steady), len(steady))} % were "
            "named; --expect said yes to "
            f"{sum(o.yes_off for found in said.values() for o in found)} boxes with a counted "
            "wheel that disagrees."
        )


PARTS = {"verdicts": verdicts}


def _per_cent(part: int, whole: int) -> str:
    return f"{100 * part / whole:.1f}" if whole else "0.0"


def _is_whole(family: Family, known: RatioSet) -> bool:
    return None not in family.teeth_of(known).values()


def _teeth(family: Family, known: RatioSet) -> Teeth:
    return {w: t for w, t in family.teeth_of(known).items() if t is not None}


def _foreign(family: Family, teeth: dict[str, int], dice: random.Random) -> Sequence[str]:
    """Put a piece of another listed type in; return its wheels, none where there is no other."""
    others = [
        (piece, kind.teeth)
        for piece in family.pieces
        for kind in family.types[piece.name]
        if None not in kind.teeth and kind.teeth != tuple(teeth[w] for w in piece.wheels)
    ]
    if not others:
        return ()
    piece, has = dice.choice(others)
    teeth.update((w, t) for w, t in zip(piece.wheels, has, strict=True) if t is not None)
    return piece.wheels


def _changed(teeth: dict[str, int], dice: random.Random) -> str:
    wheel = dice.choice(sorted(teeth))
    near = [t for t in range(teeth[wheel] - 4, teeth[wheel] + 5) if t != teeth[wheel]]
    teeth[wheel] = dice.choice([t for t in near if TEETH_RANGE[0] <= t <= TEETH_RANGE[-1]])
    return wheel


@cache
def _demo() -> Catalog:
    return demo_catalog()


@cache
def _without(family: str, known: str) -> Catalog:
    """The demo without one set."""
    return Catalog(
        tuple(
            replace(f, sets=tuple(s for s in f.sets if (f.id, s.id) != (family, known)))
            for f in _demo().families
        ),
        "demo",
        demo=True,
    )


def _counted(teeth: int, hand: int, more: int, dice: random.Random) -> int:
    """A count by the law of counting: a discrete Laplace error, and a slip."""
    if dice.random() < SLIP * more:
        return dice.randint(FEWEST_TEETH, MOST_TEETH)
    q = Q_OF_HAND[hand] * more
    # The difference of two geometric numbers is a discrete Laplace one.
    found = teeth + _geometric(q, dice) - _geometric(q, dice)
    return min(max(found, FEWEST_TEETH), MOST_TEETH)


def _geometric(q: float, dice: random.Random) -> int:
    number = 0
    while dice.random() < q:
        number += 1
    return number
