"""Marks and features as they were seen, beside what the catalog has: one line each.

What they are worth is left to `account` and `look_worth`, how a line looks to `show`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from cogtally.catalog.model import Family, PieceType, RatioSet
from cogtally.evidence.feature_pool import own_name, owner_in, value_in
from cogtally.evidence.likelihood import STEADY, Helix, clashes
from cogtally.evidence.likelihood_features import log_feature
from cogtally.evidence.likelihood_marks import edits
from cogtally.evidence.posterior import PieceShare
from cogtally.gears.looks import HAND, HELIX, SIZED, SeenPiece, Value, mark_key, value_text
from cogtally.gears.words import ReadFeature, ReadMark, Seen

NOT_KNOWN = "is not known there"


@dataclass(frozen=True, slots=True)
class LookLine:
    """One mark or feature as seen, and what each of the sets beside it has there.

    `listed`: the different values, as text; empty where none of the sets is known by it.
    `differs`: no set has what was seen.
    """

    look: ReadMark | ReadFeature
    listed: tuple[str, ...]
    differs: bool


def look_lines(
    seen: Seen, family: Family | None, beside: Sequence[RatioSet]
) -> tuple[LookLine, ...]:
    """Return a line for each mark, then each feature, beside what sets of a family have."""
    return tuple(
        _line(look, [_there(family, known.id, look) for known in beside] if family else [])
        for look in seen.looks
    )


def piece_look_lines(
    seen: SeenPiece, kinds: Sequence[PieceType], wheels: Sequence[int]
) -> tuple[LookLine, ...]:
    """Return the same of a loose piece beside types of it; place i is the wheel `wheels[i]`."""
    found = [_line(mark, [(k, own_name(k.piece)) for k in kinds]) for mark in seen.marks]
    for look in seen.features:
        owners = [
            k.piece.wheels[wheels[int(look.owner) - 1]] if look.owner else own_name(k.piece)
            for k in kinds
        ]
        found.append(_line(look, list(zip(kinds, owners, strict=True))))
    return tuple(found)


def listed_text(family: Family, set_id: str, look: ReadMark | ReadFeature) -> str:
    """Return what a set has where a mark or feature was seen, as part of a sentence: `has 10`."""
    there = _there(family, set_id, look)
    found = () if there is None else _listed(*there, look)
    return f"has {' or '.join(found)}" if found else NOT_KNOWN


def clashing(
    family: Family, wheels: Sequence[str], likeliest: Mapping[str, PieceShare], seen: Seen
) -> bool:
    """Tell whether two wheels in mesh (kept names) cannot run together by hand or angle of helix.

    As they were looked at, else as the likeliest type of their piece has it.
    """
    return clashes(*(_helix(family, wheel, likeliest, seen) for wheel in wheels))


def _helix(family: Family, wheel: str, likeliest: Mapping[str, PieceShare], seen: Seen) -> Helix:
    piece = family.piece_of[wheel]
    looked = {
        f.feature: f.value for f in seen.features if owner_in(family, f.owner) == (piece, wheel)
    }
    share = likeliest.get(piece.name)
    types = family.types[piece.name]
    kind = next(
        (k for k in types if share and share.sets and _carried(family, k) == share.sets), None
    )

    def value(feature: str) -> Value | None:
        if feature in looked:
            return looked[feature]
        return None if kind is None else value_in(kind, wheel, feature)

    hand, angle = value(HAND), value(HELIX)
    return Helix(
        hand if isinstance(hand, str) else None,
        float(angle) if isinstance(angle, (int, float)) else None,
    )


def _carried(family: Family, kind: PieceType) -> tuple[str, ...]:
    return tuple(family.counted_sets[c].id for c in kind.carriers)


#: A type of the piece that was looked at, and what its features are kept under there.
_There = tuple[PieceType, str]


def _line(look: ReadMark | ReadFeature, beside: Sequence[_There | None]) -> LookLine:
    there = [one for one in beside if one is not None]
    listed = tuple(dict.fromkeys(text for one in there for text in _listed(*one, look)))
    return LookLine(look, listed, bool(listed) and not any(_fits(*one, look) for one in there))


def _there(family: Family, set_id: str, look: ReadMark | ReadFeature) -> _There | None:
    """The type that a counted set has of the piece that was looked at."""
    found = owner_in(family, look.piece if isinstance(look, ReadMark) else look.owner)
    number = next((i for i, s in enumerate(family.counted_sets) if s.id == set_id), None)
    if found is None or number is None:
        return None
    piece, owner = found
    return family.types[piece.name][family.type_index[piece.name][number]], owner


def _listed(kind: PieceType, owner: str, look: ReadMark | ReadFeature) -> tuple[str, ...]:
    if isinstance(look, ReadMark):
        return kind.marks or ()
    value = value_in(kind, owner, look.feature)
    return () if value is None else (value_text(look.feature, value),)


def _fits(kind: PieceType, owner: str, look: ReadMark | ReadFeature) -> bool:
    """Whether a type has what was seen; one that is not known by it has nothing else."""
    if isinstance(look, ReadMark):
        return kind.marks is None or any(
            edits(look.reading, mark_key(mark)) == 0 for mark in kind.marks
        )
    value = value_in(kind, owner, look.feature)
    return value is None or _near(look, value)


#: A size is said to differ where it is this much less likely than the size itself: e^(−4.5).
_FAR = 4.5


def _near(look: ReadFeature, value: Value) -> bool:
    if look.feature not in SIZED:
        return look.value == value
    best = ReadFeature(look.owner, look.feature, value, look.unsure)
    once = ReadFeature(look.owner, look.feature, look.value, look.unsure)
    return log_feature(once, value, STEADY) > log_feature(best, value, STEADY) - _FAR
