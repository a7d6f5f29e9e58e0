"""What one loose piece comes to: types alike in teeth, what each would complete and mates with.

The probabilities are left to `loose`, rings of dogs to `loose_rings`, marks and features to
`loose_parting`, words to `show`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from math import inf, log
from typing import TYPE_CHECKING

from cogtally.catalog.model import Catalog, Family, Piece, Teeth
from cogtally.evidence.loose import LoosePosterior, LooseShare, loose_posterior, places
from cogtally.evidence.loose_rings import Ring, counted_teeth, rings_of
from cogtally.evidence.posterior import UNCATALOGUED
from cogtally.evidence.reading.verdict import SURE, UNDECIDED
from cogtally.gears.errors import UserError
from cogtally.gears.looks import SeenPiece

if TYPE_CHECKING:
    from cogtally.evidence.reading.views import LookLine

#: The verdict is of types alike in teeth; of a piece whose teeth are not settled; else as of boxes.
TYPE, PIECE = "type", "piece"
#: From here on it is likelier than not that no listed type is the piece.
LIKELIER = 0.5
#: Types under which logs of what was seen agree so far are not parted by it.
LOG_DECIMALS = 9


@dataclass(frozen=True, slots=True)
class Off:
    """A place, from 1 as written, where a type has other teeth than were counted."""

    place: int
    counted: int
    listed: int


@dataclass(frozen=True, slots=True)
class LooseGroup:
    """The types of one piece of one family that are alike in teeth, as one answer.

    Where marks or features were seen, these are equally likely under all of them.

    `shares` falling; `probability` is their sum. `wheels[i]` is the index of the wheel of `piece`
    that place i is, as the counts fit best; `off` is where they do not.
    """

    family: Family
    piece: Piece
    teeth: Teeth
    shares: tuple[LooseShare, ...]
    probability: float
    wheels: tuple[int, ...]
    off: tuple[Off, ...]

    @property
    def sets(self) -> tuple[str, ...]:
        """The sets that it would complete, in the order of the catalog."""
        carried = {name for share in self.shares for name in share.sets}
        return tuple(s.id for s in self.family.counted_sets if s.id in carried)


@dataclass(frozen=True, slots=True)
class Mate:
    """What one wheel of a piece runs with: the other wheel and its teeth in each set.

    `wheel` is the index in the piece; `teeth` are (teeth, sets) in the order of the catalog, None
    for a gap.
    """

    wheel: int
    mate: str
    teeth: tuple[tuple[int | None, tuple[str, ...]], ...]


@dataclass(frozen=True, slots=True)
class LooseVerdict:
    """What to say of a piece: type, piece, uncatalogued or undecided, with its probability.

    An undecided one has the probability of the leading group.
    """

    kind: str
    probability: float


@dataclass(frozen=True, slots=True)
class LooseAnswer:
    """All that is to be said of one loose piece.

    `groups` falling. `fits`: whether any catalogued piece (of the role) has room for what was
    seen. `rings`: the places that may be rings of dogs.
    `looks`: marks and features as seen, beside what the leading group has.
    """

    catalog: Catalog
    seen: SeenPiece
    role: str | None
    posterior: LoosePosterior
    groups: tuple[LooseGroup, ...]
    verdict: LooseVerdict
    rings: tuple[Ring, ...]
    looks: tuple[LookLine, ...] = ()

    @property
    def fits(self) -> bool:
        """Whether any catalogued piece has so many wheels."""
        return bool(self.groups)

    @property
    def is_counted(self) -> bool:
        """Whether any place has a count, or anything else was seen."""
        return any(self.seen.places) or bool(self.seen.marks or self.seen.features)


def identify_piece(catalog: Catalog, seen: SeenPiece, role: str | None = None) -> LooseAnswer:
    """Say what a loose piece is; `role` (a piece of the catalog) restricts the candidates."""
    also = None
    if seen.marks or seen.features:
        from cogtally.evidence.loose_looks import also_of

        also = also_of(catalog, seen)
    found = loose_posterior(catalog, seen, role, also=also)
    groups = _groups(catalog, seen, found)
    verdict = _verdict(groups, found.uncatalogued)
    rings = rings_of(catalog, seen, role) if found.uncatalogued > LIKELIER else ()
    looks: tuple[LookLine, ...] = ()
    if also is not None:
        from cogtally.evidence.reading.views import piece_look_lines

        lead = groups[0] if groups and verdict.kind == TYPE else None
        kinds = [share.kind for share in lead.shares] if lead else []
        looks = piece_look_lines(seen, kinds, lead.wheels if lead else ())
    return LooseAnswer(catalog, seen, role, found, groups, verdict, rings, looks)


def find_role(catalog: Catalog, text: str) -> str:
    """Return the piece that `text` names, in the catalog's or another word of the trade.

    Upper and lower case are alike. Raises UserError with the nearest right ones.
    """
    from cogtally.catalog.find import did_you_mean
    from cogtally.evidence.looked import named_piece, piece_names, trade_names
    from cogtally.gears.printed import shown

    names = piece_names(catalog)
    found = named_piece(names, text)
    if found is None:
        raise UserError(
            "no family of the catalog has a piece called that",
            f"--role {shown(text)}",
            did_you_mean(text, trade_names(names)),
        )
    return found


def mates_of(group: LooseGroup) -> tuple[Mate, ...]:
    """Return what every wheel of a piece runs with in the sets that it would complete.

    In the order of the piece's wheels; a wheel that runs with two (an idler) comes twice.
    """
    family = group.family
    teeth = {s.id: family.teeth_of(s) for s in family.counted_sets if s.id in group.sets}
    found = []
    for index, wheel in enumerate(group.piece.wheels):
        for mate in _in_mesh(family, wheel):
            by_teeth: dict[int | None, list[str]] = {}
            for name in group.sets:
                by_teeth.setdefault(teeth[name].get(mate), []).append(name)
            found.append(Mate(index, mate, tuple((t, tuple(s)) for t, s in by_teeth.items())))
    return tuple(found)


def _in_mesh(family: Family, wheel: str) -> Iterable[str]:
    meshes = family.train.meshes
    return dict.fromkeys(
        right if left == wheel else left for left, right in meshes if wheel in (left, right)
    )


def _groups(catalog: Catalog, seen: SeenPiece, found: LoosePosterior) -> tuple[LooseGroup, ...]:
    """The answers, those of one piece that nothing seen parts taken together; falling."""
    together: dict[tuple[str, str, Teeth, float], list[LooseShare]] = {}
    for share in found.answers:
        level = _level(share) if seen.marks or seen.features else 0.0
        together.setdefault((share.family, share.piece, share.kind.teeth, level), []).append(share)
    counted = [counted_teeth(counts) for counts in seen.places]
    groups = []
    for (family, _, teeth, _), shares in together.items():
        piece = shares[0].kind.piece
        wheels, off = best_place(seen, counted, teeth)
        probability = sum(share.probability for share in shares)
        groups.append(
            LooseGroup(catalog.by_id[family], piece, teeth, tuple(shares), probability, wheels, off)
        )
    return tuple(sorted(groups, key=lambda group: -group.probability))


def _level(share: LooseShare) -> float:
    """How likely all that was seen is under a type, beside others alike in teeth, as a log."""
    each = share.probability / share.kind.weight
    return round(log(each), LOG_DECIMALS) if each > 0 else -inf


def best_place(
    seen: SeenPiece, counted: Sequence[int | None], teeth: Teeth
) -> tuple[tuple[int, ...], tuple[Off, ...]]:
    """Return where on a type the counts fit with the fewest teeth off, and where they are off."""
    best: tuple[tuple[int, ...], tuple[Off, ...]] | None = None
    least = 0
    for wheels in places(len(teeth), seen):
        off = tuple(
            Off(place, count, listed)
            for place, (wheel, count) in enumerate(zip(wheels, counted, strict=True), 1)
            if count is not None and (listed := teeth[wheel]) is not None and listed != count
        )
        away = sum(abs(o.counted - o.listed) for o in off)
        if best is None or away < least:
            best, least = (wheels, off), away
    assert best is not None, "an answer has a place"
    return best


def _verdict(groups: Sequence[LooseGroup], uncatalogued: float) -> LooseVerdict:
    if not groups:
        return loose_verdict(uncatalogued, None, lambda: 0.0)
    lead = groups[0]
    whole = sum(
        g.probability for g in groups if g.family is lead.family and g.piece.name == lead.piece.name
    )
    return loose_verdict(uncatalogued, lead.probability, lambda: whole)


def loose_verdict(
    uncatalogued: float, lead: float | None, whole: Callable[[], float]
) -> LooseVerdict:
    """Return what to say of a piece by the probability of what it can be.

    `lead` is that of the leading types alike in teeth, None where nothing fits; `whole` gives that
    of its piece of its family, of whichever type.
    """
    if uncatalogued >= SURE:
        return LooseVerdict(UNCATALOGUED, uncatalogued)
    if lead is None:
        return LooseVerdict(UNDECIDED, uncatalogued)
    if lead >= SURE:
        return LooseVerdict(TYPE, lead)
    of_piece = whole()
    if of_piece >= SURE:
        return LooseVerdict(PIECE, of_piece)
    return LooseVerdict(UNDECIDED, lead)
