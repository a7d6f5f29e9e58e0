"""Places of a loose piece that may be rings of dogs: without one, the rest is a listed type.

When that is worth saying is left to `loose_views`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from cogtally.catalog.model import Catalog, Family, PieceType
from cogtally.evidence.likelihood import likeliest_teeth
from cogtally.evidence.loose import places
from cogtally.gears.looks import SeenPiece
from cogtally.gears.notation import FEWEST_TEETH, MOST_TEETH, Count

#: Counts go as far as they can be written.
_ANY_TEETH = range(FEWEST_TEETH, MOST_TEETH + 1)


@dataclass(frozen=True, slots=True)
class Ring:
    """A place, from 1 as written, without which the rest has the teeth of `piece` in `sets`."""

    place: int
    family: str
    piece: str
    sets: tuple[str, ...]


def counted_teeth(counts: Sequence[Count]) -> int | None:
    """Return the teeth that the counts of one place make likeliest; None where there are none."""
    if len(counts) == 1:
        return counts[0].teeth
    return likeliest_teeth(counts, _ANY_TEETH) if counts else None


def rings_of(catalog: Catalog, seen: SeenPiece, role: str | None) -> tuple[Ring, ...]:
    """Return the counted places without which all other counts are those of a listed type.

    One count alone says something only where it was all that there was beside the ring. The
    commonest type is told for each place.
    """
    whole = len(seen.places) == 2 and not (seen.open_start or seen.open_end)
    found = []
    for place, counts in enumerate(seen.places):
        rest = seen.places[:place] + seen.places[place + 1 :]
        if not counts or sum(map(bool, rest)) < (1 if whole else 2):
            continue
        kinds = _exact(catalog, replace(seen, places=rest), role)
        if kinds:
            family, kind = max(kinds, key=lambda of: of[1].weight)
            sets = tuple(family.counted_sets[c].id for c in kind.carriers)
            found.append(Ring(place + 1, family.id, kind.piece.name, sets))
    return tuple(found)


def _exact(catalog: Catalog, seen: SeenPiece, role: str | None) -> list[tuple[Family, PieceType]]:
    """Every type that has just the teeth counted."""
    counted = [counted_teeth(counts) for counts in seen.places]
    return [
        (family, kind)
        for family in catalog.families
        for piece in family.pieces
        if role in (None, piece.name)
        for kind in family.types[piece.name]
        if any(
            all(c is None or kind.teeth[w] == c for w, c in zip(wheels, counted, strict=True))
            for wheels in places(len(kind.teeth), seen)
        )
    ]
