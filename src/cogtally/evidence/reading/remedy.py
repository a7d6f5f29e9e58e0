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
        changed = (_change(family, piece, held, teeth) for piece in family.pieces)
        changes = tuple(change for change in changed if change is not None)
        if not changes:
            return ()
        found.setdefault(changes, []).append(known)

    def order(changes: tuple[Change, ...]) -> tuple[int, int, float]:
        wheels = sum(len(change.into) for change in changes)
        return len(changes), wheels, -max(s.commonness for s in found[changes])

    made = sorted(found, key=order)
    near = max([len(held) // 2, *map(len, made[:1])])
    ids = {changes: tuple(s.id for s in sets) for changes, sets in found.items()}
    return tuple(Remedy(family.id, ids[one], one) for one in made if len(one) <= near)


def _change(
    family: Family, piece: Piece, held: Mapping[str, Teeth], teeth: Mapping[str, int | None]
) -> Change | None:
    """The change of one piece; None where it is not held, or nowhere known to differ."""
    into = tuple(teeth.get(wheel) for wheel in piece.wheels)
    out = held.get(piece.name, into)
    if all(None in ends or ends[0] == ends[1] for ends in zip(out, into, strict=True)):
        return None
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
