"""What makes a box whole: the pieces to change so that every piece is of one and the same set.

Which piece the box has where is left to `verdict`, whether one is for sale to the shelf.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from cogtally.catalog.model import Catalog, Family, Piece, RatioSet, Teeth
from cogtally.evidence.posterior import MIXED, VARIANT, PieceShare, Posterior
from cogtally.evidence.reading.verdict import RECOUNT, Verdict, likeliest_pieces
from cogtally.evidence.seen import Counted, counted_wheels
from cogtally.gears.notation import Seen

REMEDIES_KEPT = 5


class Change(NamedTuple):
    """One piece that comes out, and the one that goes in: teeth along the axis, None unknown.

    `sets`: those that have the piece that goes in. `mates`: what its wheels run with, by piece and
    teeth. `serves`: the other sets in which the piece that comes out would be right.
    """

    piece: str
    out: Teeth
    into: Teeth
    sets: tuple[str, ...]
    mates: tuple[tuple[str, int], ...]
    serves: tuple[str, ...]


class Remedy(NamedTuple):
    """What to change to make a box one of `sets`, which are alike in all that is changed."""

    family: str
    sets: tuple[str, ...]
    changes: tuple[Change, ...]


def remedies_of(
    catalog: Catalog, seen: Seen, found: Posterior, verdict: Verdict
) -> tuple[Remedy, ...]:
    """Return what makes a box whole after mixed, variant or recount; nothing after any other."""
    family = catalog.by_id.get(verdict.family)
    if family is None or verdict.kind not in (MIXED, VARIANT, RECOUNT):
        return ()
    # To be counted again: what would have to be changed if the counts should stand.
    pieces = () if verdict.kind == RECOUNT else found.pieces
    held = held_pieces(family, pieces, counted_wheels(seen, family))
    return remedies(family, held)[:REMEDIES_KEPT]


def held_pieces(
    family: Family, pieces: Sequence[PieceShare], counted: Mapping[str, Counted]
) -> Mapping[str, Teeth]:
    """Return the teeth of each piece that has a count, as far as they are known.

    They are those of its likeliest type; as counted where that is unlisted, or none is given.
    """
    likeliest = likeliest_pieces(pieces)
    held: dict[str, Teeth] = {}
    for piece in family.pieces:
        teeth = tuple(counted[w].teeth if w in counted else None for w in piece.wheels)
        if any(t is not None for t in teeth):
            share = likeliest.get(piece.name)
            held[piece.name] = teeth if share is None or share.teeth is None else share.teeth
    return held


def remedies(family: Family, held: Mapping[str, Teeth]) -> tuple[Remedy, ...]:
    """Return for each set what is to be changed to make a box it, least first; a piece stays that
    is nowhere known to differ.

    Fewest pieces, then fewest wheels, then the commoner set. Sets that share less than half of the
    pieces are told only where none is nearer; nothing is where a set has all of the pieces.
    """
    found: dict[tuple[Change, ...], list[RatioSet]] = {}
    for known in family.counted_sets:
        teeth = family.teeth_of(known)
        changed = [p for p in family.pieces if p.name in held and _differs(p, held[p.name], teeth)]
        if not changed:
            return ()
        changes = tuple(_change(family, piece, held[piece.name], teeth) for piece in changed)
        found.setdefault(changes, []).append(known)
    fewest = min(map(len, found), default=0)
    near = max(fewest, len(held) // 2)
    made = [(changes, sets) for changes, sets in found.items() if len(changes) <= near]
    made.sort(key=lambda one: (len(one[0]), _wheels(one[0]), -max(s.commonness for s in one[1])))
    return tuple(Remedy(family.id, tuple(s.id for s in sets), changes) for changes, sets in made)


def _differs(piece: Piece, has: Teeth, teeth: Mapping[str, int | None]) -> bool:
    pairs = [(own, teeth.get(w)) for own, w in zip(has, piece.wheels, strict=True)]
    return any(own is not None and set_ is not None and own != set_ for own, set_ in pairs)


def _wheels(changes: Sequence[Change]) -> int:
    return sum(len(change.into) for change in changes)


def _change(family: Family, piece: Piece, out: Teeth, teeth: Mapping[str, int | None]) -> Change:
    into = tuple(teeth.get(wheel) for wheel in piece.wheels)
    known = {s.id: family.teeth_of(s) for s in family.counted_sets}
    of_piece = {name: tuple(of.get(w) for w in piece.wheels) for name, of in known.items()}
    mates = [
        (family.piece_of[other].name, mate)
        for mesh in family.train.meshes
        for wheel, other in (mesh, mesh[::-1])
        if wheel in piece.wheels and (mate := teeth.get(other)) is not None
    ]
    # Where somebody left a gap, or one wheel was not counted, nobody can say that it would serve.
    serves = [name for name, has in of_piece.items() if None not in out and has == out]
    return Change(
        piece.name,
        out,
        into,
        tuple(name for name, has in of_piece.items() if has == into),
        tuple(dict.fromkeys(mates)),
        tuple(serves),
    )
