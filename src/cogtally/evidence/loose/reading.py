"""What one loose piece comes to: a verdict, whether it is what was expected, what was meant.

The probabilities are left to `posterior`, each answer to `groups`, words to `show`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

from cogtally.catalog.model import Catalog, Family, PieceType
from cogtally.evidence.loose.candidates import places
from cogtally.evidence.loose.groups import LooseGroup, Off, counted_teeth
from cogtally.evidence.loose.posterior import LoosePosterior
from cogtally.evidence.posterior import UNCATALOGUED
from cogtally.evidence.reading import (
    DENIED,
    NO,
    OPEN,
    SURE,
    UNDECIDED,
    YES,
    Expectation,
    LookLine,
    piece_look_lines,
)
from cogtally.gears.looks import OPEN as OPEN_END, SeenPiece
from cogtally.gears.notation import written_count

#: The verdict is of types alike in teeth; of such, while a count disagrees; of a piece of no listed
#: type; of a piece whose teeth are not settled; else as of boxes.
TYPE, RECOUNT, UNLISTED, PIECE = "type", "recount", "unlisted", "piece"
#: From here on it is likelier than not that no listed type is the piece.
LIKELIER = 0.5
#: Answers rarer than this are in no group.
LEAST_GROUP = 1e-7
#: A count so many teeth beyond all that is listed is no miscount of one of them.
BEYOND = 2


class LooseVerdict(NamedTuple):
    """What to say of a piece, and the probability of that.

    `kind`: type, recount, unlisted, piece, uncatalogued or undecided. An undecided one has the
    probability of the leading group.
    """

    kind: str
    probability: float


class Meant(NamedTuple):
    """A listed type that may have been meant: how common it is, its piece, and who has it."""

    weight: float
    family: str
    piece: str
    sets: tuple[str, ...]


@dataclass(frozen=True)
class LooseAnswer:
    """All that is to be said of one loose piece.

    `groups` falling, those of any weight. `looks`: marks and features as seen, beside what the
    leading group has. `expectation`: whether it is of the set that was expected, `expected_off`
    where the counts are not those that this has.
    """

    catalog: Catalog
    seen: SeenPiece
    role: str | None
    family: str | None
    posterior: LoosePosterior
    groups: tuple[LooseGroup, ...]
    verdict: LooseVerdict
    looks: tuple[LookLine, ...]
    expectation: Expectation | None
    expected_off: tuple[Off, ...]

    @property
    def fits(self) -> bool:
        """Whether any catalogued piece has so many wheels."""
        return bool(self.groups)

    @property
    def is_counted(self) -> bool:
        """Whether any place has a count, or anything else was seen."""
        return any(self.seen.places) or bool(self.seen.marks or self.seen.features)

    @cached_property
    def rings(self) -> tuple[tuple[int, Meant], ...]:
        """The places, from 1 as written, that may be rings of dogs: the rest is a listed type.

        Only where no listed type is likely. One count alone says something only where it was all
        that there was beside the ring. The commonest type is told for each place.
        """
        seen = self.seen
        if sum(g.probability for g in self.groups if g.is_listed) >= LIKELIER:
            return ()
        whole = len(seen.places) == 2 and not (seen.open_start or seen.open_end)
        found = []
        for place, counts in enumerate(seen.places):
            rest = seen.places[:place] + seen.places[place + 1 :]
            if counts and sum(map(bool, rest)) >= (1 if whole else 2):
                found.append((place + 1, self._exact(replace(seen, places=rest))))
        return tuple((place, one) for place, one in found if one is not None)

    @cached_property
    def longer(self) -> tuple[Meant, tuple[str, ...]] | None:
        """The commonest longer piece of which the counts are a part, where no piece has them.

        And how to write them as that part.
        """
        seen = self.seen
        if self._is_exact or not any(seen.places):
            return None
        written = [written_count(counted_teeth(counts)) for counts in seen.places]
        found = []
        for start, end in ((False, True), (True, False), (True, True)):
            opened = replace(seen, open_start=start, open_end=end)
            wider = start >= seen.open_start and end >= seen.open_end and opened != seen
            one = self._exact(opened) if wider else None
            if one is not None:
                before, behind = ([OPEN_END] if is_open else [] for is_open in (start, end))
                found.append((one, (*before, *written, *behind)))
        # Of those as common the one that is open at one end.
        return max(found, key=lambda of: of[0].weight, default=None)

    @cached_property
    def other_role(self) -> Meant | None:
        """The commonest other piece with the teeth counted, where no piece of the role has them."""
        if self.role is None or self._is_exact or not any(self.seen.places):
            return None
        return replace(self, role=None)._exact(self.seen)

    @property
    def _is_exact(self) -> bool:
        return any(group.is_listed and not group.off for group in self.groups)

    @cached_property
    def beyond(self) -> tuple[Off, ...]:
        """The places counted far from all that is listed for the pieces asked about."""
        listed = {t for _, kind in self._kinds() for t in kind.teeth if t is not None}
        found = []
        for place, counts in enumerate(self.seen.places, 1):
            counted = counted_teeth(counts)
            if counted is not None and listed:
                limit = min(max(counted, min(listed)), max(listed))
                if abs(counted - limit) > BEYOND:
                    found.append(Off(place, counted, limit))
        return tuple(found)

    def _kinds(self) -> Iterator[tuple[Family, PieceType]]:
        for family in self.catalog.families:
            if self.family in (None, family.id):
                for piece in family.pieces:
                    if self.role in (None, piece.name):
                        yield from ((family, kind) for kind in family.types[piece.name])

    def _exact(self, seen: SeenPiece) -> Meant | None:
        """The commonest type that has just the teeth counted."""
        counted = [counted_teeth(counts) for counts in seen.places]
        found = [
            Meant(kind.weight, family.id, kind.piece.name, kind.sets)
            for family, kind in self._kinds()
            if any(
                all(c is None or kind.teeth[w] == c for w, c in zip(wheels, counted, strict=True))
                for wheels in places(len(kind.teeth), seen)
            )
        ]
        return max(found, key=lambda kind: kind.weight, default=None)


def identify_piece(
    catalog: Catalog,
    seen: SeenPiece,
    role: str | None = None,
    *,
    family: str | None = None,
    expect: tuple[str, str] | None = None,
    least: float = LEAST_GROUP,
    most: int | None = None,
) -> LooseAnswer:
    """Say what a loose piece is.

    `role` (a piece of the catalog) and `family` restrict the candidates; `expect`: a family and a
    set of which it may be. Groups of less than `least`, or beyond the first `most`, are left out.
    """
    found = LoosePosterior(catalog, seen, role, family)
    groups = found.leading(most, least) or found.leading(1)
    verdict = _verdict(groups, found)
    lead = groups[0] if verdict.kind in (TYPE, RECOUNT) else None
    kinds = [s.kind for s in lead.shares if s.kind is not None] if lead else []
    looks = piece_look_lines(seen, kinds, lead.wheels if lead else ())
    expectation, off = _expected(*expect, found, groups) if expect else (None, ())
    return LooseAnswer(catalog, seen, role, family, found, groups, verdict, looks, expectation, off)


def _verdict(groups: tuple[LooseGroup, ...], found: LoosePosterior) -> LooseVerdict:
    # Without any answer it is of no family for certain.
    if found.uncatalogued >= SURE:
        return LooseVerdict(UNCATALOGUED, found.uncatalogued)
    lead = groups[0]
    if lead.probability >= SURE:
        kind = UNLISTED if not lead.is_listed else RECOUNT if lead.off else TYPE
        return LooseVerdict(kind, lead.probability)
    of_piece = found.of_piece(lead.family.id, lead.piece.name)
    if of_piece >= SURE:
        return LooseVerdict(PIECE, of_piece)
    return LooseVerdict(UNDECIDED, lead.probability)


def _expected(
    family: str, set_id: str, found: LoosePosterior, groups: tuple[LooseGroup, ...]
) -> tuple[Expectation, tuple[Off, ...]]:
    """Say whether the piece is of a set, and where the counts are not those that it has.

    Yes only where no count is.
    """
    probability = sum(
        s.probability for s in found.answers() if s.family == family and set_id in s.sets
    )
    own = next((g for g in groups if g.family.id == family and set_id in g.sets), None)
    answer = OPEN
    if probability <= DENIED:
        answer = NO
    elif probability >= SURE and own is not None and not own.off:
        answer = YES
    return Expectation(family, set_id, answer, probability), own.off if own else ()
