"""What one posterior comes to: which set, which stranger among its pieces, or not settled.

A yes means yes: while the likeliest count of a wheel is not what the set has, the set is not
matched, however probable it is, but to be counted again. The probabilities are left to the engine,
asking again to `hints`, the words to `show`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from cogtally.catalog.model import Catalog, Family
from cogtally.evidence.posterior import (
    MATCHED,
    NEW,
    REST,
    UNCATALOGUED,
    PieceShare,
    Posterior,
    Share,
)
from cogtally.evidence.reading.nearest import Difference, differences
from cogtally.evidence.seen import Counted, Lacking, counted_wheels, lacking_in
from cogtally.gears.notation import Seen
from cogtally.gears.trains import pair_of

NARROWED, RECOUNT, UNDECIDED = "narrowed", "recount", "undecided"
#: What names one set, or several that fit alike.
NAMING = (MATCHED, NARROWED, RECOUNT)

SURE = 0.90  # "`verdict.kind`, at 0.90 and above"
#: A set with a wheel that disagrees is to be counted again where it is more likely than not.
MORE_LIKELY = 0.50
DENIED = 0.10  # "no when that answer is at most 0.10"
#: A piece of no listed type is worth a word from here on; one that nobody counted has 0.006.
UNLISTED_WORTH_SAYING = 0.01
#: A piece that may be the stranger is worth a word from here on.
SUSPECT_WORTH_SAYING = 0.10

#: With more wheels off than these no probability is called nearly certain.
MOST_OFF = 2

YES, NO, OPEN = "yes", "no", "open"


class Foreign(NamedTuple):
    """A piece of another listed type than the box's own set has, and the sets that carry it."""

    piece: str
    teeth: tuple[int | None, ...]
    from_sets: tuple[str, ...]
    probability: float


class Verdict(NamedTuple):
    """What to say of a box.

    `kind`: matched, narrowed, recount, mixed, variant, new, uncatalogued or undecided; `leaning`:
    the same, but for an undecided box the kind that has most. `family` and `sets`: which one; for
    mixed and variant the set that the box has most of, none for a new set; empty where it leans to
    no family. `probability` is that of what `leaning` says, `whole_box` that nothing else is in the
    box either. `not_counted`: pieces without any count. `foreign`: pieces likelier of another set
    than of `sets`; `suspects`: pieces that may be so, falling; `unlisted`: pieces that may be of no
    listed type. `lacking`: things seen that the
    family does not have. `disagrees`: every wheel whose likeliest count is not what the verdict
    says of its piece.
    """

    kind: str
    leaning: str
    family: str
    sets: tuple[str, ...]
    probability: float
    whole_box: float
    not_counted: tuple[str, ...] = ()
    foreign: tuple[Foreign, ...] = ()
    unlisted: tuple[PieceShare, ...] = ()
    suspects: tuple[Foreign, ...] = ()
    lacking: tuple[Lacking, ...] = ()
    disagrees: tuple[Difference, ...] = ()

    @property
    def is_clean(self) -> bool:
        """Whether one set, or several alike so far, can be named without a wheel against it."""
        return self.kind in (MATCHED, NARROWED)

    @property
    def is_sure(self) -> bool:
        """Whether what it says has 0.90; a recount may have less."""
        return self.kind != UNDECIDED and self.probability >= SURE

    @property
    def names_sets(self) -> bool:
        """Whether it leans to one set, or to several alike so far."""
        return self.leaning in NAMING


class Expectation(NamedTuple):
    """Whether the box is the set that was expected: `answer` is yes, no or open.

    `disagrees`: every wheel whose likeliest count that set does not have.
    """

    family: str
    set: str
    answer: str
    probability: float
    disagrees: tuple[Difference, ...] = ()


def judge(catalog: Catalog, posterior: Posterior, seen: Seen) -> Verdict:
    """Return what to say of a box of which `posterior` is known."""
    best = headline_share(posterior)
    leaning = NARROWED if len(best.sets) > 1 else best.kind
    family = catalog.by_id.get(best.family or posterior.leading)
    if leaning == UNCATALOGUED or family is None:
        kind = leaning if best.probability >= SURE else UNDECIDED
        return Verdict(kind, leaning, "", (), best.probability, best.probability)
    counted = counted_wheels(seen, family)
    # None of a new set's pieces is of any listed type, so none of them is a stranger.
    known = family.id == posterior.leading and leaning != NEW
    pieces = posterior.pieces if known else ()
    answers = posterior.answers.of_family(family.id)
    sets, whole = best.sets, best.probability
    if best.kind == MATCHED:
        inside = (a for a in answers if a.kind == MATCHED and set(a.sets) <= set(sets))
        whole = sum(a.probability for a in inside)
    elif leaning != NEW:
        sets = base_sets(family, pieces, answers)
    # The pieces of a new set are no strangers in it.
    new = sum(a.probability for a in answers if a.kind == NEW)
    unlisted = [p._replace(probability=p.probability - new) for p in pieces if p.teeth is None]
    suspects = _suspects(pieces, sets)
    lacking = _lacking(family, sets, seen)
    disagrees = disagreeing(family, sets, counted)
    if leaning not in (MATCHED, NARROWED):
        disagrees = _off_their_types(family, pieces, counted)
    elif disagrees:
        leaning = RECOUNT
    # To be counted again is what to do long before a set is sure.
    least = MORE_LIKELY if leaning == RECOUNT else SURE
    kind = leaning if best.probability >= least else UNDECIDED
    if lacking and kind in NAMING:
        # Printed ratios cannot deny a pair that they do not name, but no box with one is theirs.
        kind = UNDECIDED
    return Verdict(
        kind=kind,
        leaning=leaning,
        family=family.id,
        sets=sets,
        probability=best.probability,
        whole_box=whole,
        not_counted=tuple(
            p.name for p in family.pieces if not any(wheel in counted for wheel in p.wheels)
        ),
        foreign=_likelier_than_own(pieces, sets, suspects),
        unlisted=tuple(p for p in unlisted if p.probability >= UNLISTED_WORTH_SAYING),
        suspects=tuple(s for s in suspects if s.probability >= SUSPECT_WORTH_SAYING),
        lacking=lacking,
        disagrees=disagrees,
    )


def disagreeing(
    family: Family, sets: Sequence[str], counted: Mapping[str, Counted]
) -> tuple[Difference, ...]:
    """Return every wheel whose likeliest count none of `sets` has, with what the first has.

    A gap disagrees with nothing, nor does a set that is known by its printed ratios only.
    """
    both = zip(family.counted_sets, family.counted_teeth, strict=True)
    found = [differences(teeth, counted) for known, teeth in both if known.id in sets]
    first, *others = [{d.wheel: d for d in off} for off in found] or [{}]
    return tuple(d for wheel, d in first.items() if all(wheel in other for other in others))


def is_far_off(wheels: Sequence[Difference]) -> bool:
    """Tell whether a pair differs in two wheels, or more than two wheels differ."""
    pairs = [pair_of(d.wheel) for d in wheels]
    return len(wheels) > MOST_OFF or len(set(pairs)) < len(pairs)


def _off_their_types(
    family: Family, pieces: Sequence[PieceShare], counted: Mapping[str, Counted]
) -> tuple[Difference, ...]:
    """The wheels whose likeliest count is not what the likeliest type of their piece has."""
    types = likeliest_pieces(pieces)
    return tuple(
        Difference(wheel, counted[wheel].teeth, listed)
        for piece in family.pieces
        if piece.name in types
        for wheel, listed in zip(piece.wheels, types[piece.name].teeth or (), strict=False)
        if listed is not None and wheel in counted and counted[wheel].teeth != listed
    )


def _lacking(family: Family, sets: tuple[str, ...], seen: Seen) -> tuple[Lacking, ...]:
    """What was seen that neither the family nor a set known by its printed ratios has."""
    printed = {g for s in family.ratio_only_sets if s.id in sets for g in s.ratios}
    pairs = {pair for gear in printed for pair in family.path_of(gear)}
    return tuple(thing for thing in lacking_in(family, seen) if thing.name not in (printed | pairs))


def expected(
    catalog: Catalog, posterior: Posterior, family_id: str, set_id: str, seen: Seen
) -> Expectation:
    """Say whether the box is a set of a family, both by their ids.

    Yes only where every piece has a count, no wheel disagrees and nothing is strange to the family.
    """
    family = catalog.by_id[family_id]
    counted = counted_wheels(seen, family)
    probability = sum(
        a.probability for a in posterior.answers.of_family(family_id) if set_id in a.sets
    )
    all_counted = all(any(w in counted for w in piece.wheels) for piece in family.pieces)
    disagrees = disagreeing(family, (set_id,), counted)
    strange = disagrees or _lacking(family, (set_id,), seen)
    yes = probability >= SURE and all_counted and not strange
    answer = NO if probability <= DENIED else YES if yes else OPEN
    return Expectation(family_id, set_id, answer, probability, disagrees)


def base_sets(
    family: Family, pieces: Sequence[PieceShare], answers: Sequence[Share] = ()
) -> tuple[str, ...]:
    """Return the set of `family` that the box has most of, with its twins in all of that.

    It is the one that carries most of the pieces' likeliest types, weighted by probability. A
    family without counted sets gives the likeliest matched one of its `answers`.
    """
    likeliest = likeliest_pieces([p for p in pieces if p.teeth is not None]).values()
    if not family.counted_sets or not likeliest:
        return next((a.sets for a in answers if a.kind == MATCHED), ())
    shared = {
        s.id: sum(p.probability for p in pieces if p.teeth is not None and s.id in p.sets)
        for s in family.counted_sets
    }
    first = max(shared, key=lambda s: shared[s])
    carried = {p.piece for p in likeliest if first in p.sets}
    return tuple(s for s in shared if {p.piece for p in likeliest if s in p.sets} == carried)


def likeliest_pieces(pieces: Sequence[PieceShare]) -> Mapping[str, PieceShare]:
    """Return the likeliest type of each piece, unlisted included."""
    found: dict[str, PieceShare] = {}
    for share in pieces:
        if share.piece not in found or share.probability > found[share.piece].probability:
            found[share.piece] = share
    return found


def headline_share(posterior: Posterior) -> Share:
    """Return the most probable thing to say: a so-far group, else a matched one, or the rest."""
    # They are falling: of each kind the first is the most probable.
    first = [
        next((a for a in posterior.answers if a.kind == kind), None) for kind in (MATCHED, NEW)
    ]
    named = [posterior.so_far[0] if posterior.so_far else first[0], first[1]]
    rest = posterior.answers[-len(REST) :]
    return max([*filter(None, named), *rest], key=lambda share: share.probability)


def _suspects(pieces: Sequence[PieceShare], sets: tuple[str, ...]) -> list[Foreign]:
    """The likeliest foreign type of each piece, falling."""
    strange = likeliest_pieces(
        [p for p in pieces if p.teeth is not None and not set(p.sets) & set(sets)]
    )
    found = [Foreign(p.piece, p.teeth or (), p.sets, p.probability) for p in strange.values()]
    return sorted(found, key=lambda f: -f.probability)


def _likelier_than_own(
    pieces: Sequence[PieceShare], sets: tuple[str, ...], suspects: Sequence[Foreign]
) -> tuple[Foreign, ...]:
    def others(piece: str) -> float:
        mine = [p for p in pieces if p.piece == piece]
        own = sum(p.probability for p in mine if set(p.sets) & set(sets))
        return max(own, sum(p.probability for p in mine if p.teeth is None))

    return tuple(s for s in suspects if s.probability > others(s.piece))
