"""The posterior of a loose piece, counted along its axis from either end.

How its counts are typed belongs to `gears.notation`; assembled boxes belong to `assembled`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import exp, fsum, prod

from cogtally.catalog.model import Catalog, Family, PieceType
from cogtally.evidence.likelihood import (
    HAND_PRIOR,
    HASTY,
    STEADY,
    TEETH_RANGE,
    UNCATALOGUED_PRIOR,
    WheelLikelihood,
    wheel_likelihood,
)
from cogtally.evidence.rho import Rho, spread_of
from cogtally.evidence.worth import Joint, expected_fall
from cogtally.gears.loose_words import SeenPiece
from cogtally.gears.notation import Count

HANDS = (STEADY, HASTY)

#: Teeth of one wheel to their weight.
Spread = Mapping[int, float]


@dataclass(frozen=True, slots=True)
class LooseShare:
    """One answer: the piece is of this type of `piece` of `family`, which `sets` carry."""

    family: str
    piece: str
    kind: PieceType
    sets: tuple[str, ...]
    probability: float


@dataclass(frozen=True, slots=True)
class LoosePosterior:
    """The exact posterior of a loose piece.

    `answers` falling, adding up to 1 with `uncatalogued`; `steady`: probability of a steady hand;
    `worth[i]`: bits that one more count of place i is expected to bring; `sizes`: how many wheels
    the catalogued pieces (of the role asked for) have.
    """

    answers: tuple[LooseShare, ...]
    uncatalogued: float
    steady: float
    worth: tuple[float, ...]
    sizes: tuple[int, ...]


def loose_posterior(catalog: Catalog, seen: SeenPiece, role: str | None = None) -> LoosePosterior:
    """Return the exact posterior of a loose piece; `role` (a piece name) restricts the candidates.

    All places in a type that fit, both ways round, are equally likely.
    """
    rho = Rho(catalog)
    known_teeth = {t for pool in rho.pools.values() for t in pool}
    tables = [_place_tables(counts, known_teeth) for counts in seen.places]
    scales = [sum(table[hand].log_scale for table in tables if table) for hand in HANDS]
    top = max(scales)
    hands = [HAND_PRIOR[hand] * exp(scales[hand] - top) for hand in HANDS]
    together = _pool_of_all(catalog)
    candidates = [
        (family, kind, fitting)
        for family in catalog.families
        for piece in family.pieces
        if role is None or piece.name == role
        for kind in family.types[piece.name]
        if (fitting := list(places(len(piece.wheels), seen)))
    ]
    commonness = fsum(kind.weight for _, kind, _ in candidates)
    joints: list[list[list[dict[int, float]]]] = []
    for family, kind, ways in candidates:
        prior = (1 - UNCATALOGUED_PRIOR) * kind.weight / commonness / len(ways)
        teeth = _teeth(family, kind, rho)
        joint = [_nothing(seen) for _ in HANDS]
        for place in ways:
            _add(joint, [teeth[i] for i in place], tables, [prior * h for h in hands])
        joints.append(joint)
    unknown = [_nothing(seen) for _ in HANDS]
    prior = UNCATALOGUED_PRIOR if candidates else 1.0
    _add(unknown, [together] * len(seen.places), tables, [prior * h for h in hands])
    return _gathered(candidates, joints, unknown, rho, seen, catalog, role)


def _gathered(
    candidates: Sequence[tuple[Family, PieceType, object]],
    joints: Sequence[list[list[dict[int, float]]]],
    unknown: list[list[dict[int, float]]],
    rho: Rho,
    seen: SeenPiece,
    catalog: Catalog,
    role: str | None,
) -> LoosePosterior:
    """Read answers, hands and worth off the joint of (answer, hand, place, teeth)."""
    # The weight of an answer is the same whichever place its teeth are summed over.
    weights = [[fsum(joint[hand][0].values()) for hand in HANDS] for joint in [*joints, unknown]]
    total = fsum(w for pair in weights for w in pair)
    shares = [
        LooseShare(
            family.id,
            kind.piece.name,
            kind,
            tuple(family.counted_sets[c].id for c in kind.carriers),
            fsum(pair) / total,
        )
        for (family, kind, _), pair in zip(candidates, weights, strict=False)
    ]
    worth = tuple(
        expected_fall([Joint(joint[STEADY][i], joint[HASTY][i]) for joint in [*joints, unknown]])
        for i in range(len(seen.places))
    )
    sizes = {
        len(piece.wheels)
        for family in catalog.families
        for piece in family.pieces
        if family.counted_sets and (role is None or piece.name == role)
    }
    return LoosePosterior(
        answers=tuple(sorted(shares, key=lambda share: -share.probability)),
        uncatalogued=fsum(weights[-1]) / total,
        steady=fsum(pair[STEADY] for pair in weights) / total,
        worth=worth,
        sizes=tuple(sorted(sizes)),
    )


def _nothing(seen: SeenPiece) -> list[dict[int, float]]:
    return [{} for _ in seen.places]


def _place_tables(
    counts: Sequence[Count], known_teeth: set[int]
) -> tuple[WheelLikelihood, WheelLikelihood] | None:
    """The likelihood of one place from each hand; None where nothing was counted."""
    if not counts:
        return None
    teeth = {*TEETH_RANGE, *known_teeth}
    return wheel_likelihood(counts, STEADY, teeth), wheel_likelihood(counts, HASTY, teeth)


def places(wheels: int, seen: SeenPiece) -> Iterator[tuple[int, ...]]:
    """Give every way that what was seen fits on a piece: for each place seen, the wheel it is."""
    length = len(seen.places)
    for backwards in (False, True):
        before, behind = seen.open_start, seen.open_end
        if backwards:
            before, behind = behind, before
        for first in range(wheels - length + 1):
            if (first > 0) == before and (first + length < wheels) == behind:
                place = tuple(range(first, first + length))
                yield place[::-1] if backwards else place


def _teeth(family: Family, kind: PieceType, rho: Rho) -> list[Spread]:
    """What each wheel of a type has: its teeth, or ρ for a gap."""
    return [
        dict(zip(TEETH_RANGE, rho.of(wheel), strict=True)) if teeth is None else {teeth: 1.0}
        for wheel, teeth in zip(kind.piece.wheels, kind.teeth, strict=True)
    ]


def _pool_of_all(catalog: Catalog) -> Spread:
    """ρ over all wheels of the catalog together; a wheel with two names is one wheel."""
    pool: dict[int, float] = {}
    for family in catalog.families:
        for known in family.counted_sets:
            for teeth in family.teeth_of(known).values():
                if teeth is not None:
                    pool[teeth] = pool.get(teeth, 0.0) + known.commonness
    return dict(zip(TEETH_RANGE, spread_of(pool), strict=True))


def _add(
    joint: Sequence[list[dict[int, float]]],
    wheels: Sequence[Spread],
    tables: Sequence[tuple[WheelLikelihood, WheelLikelihood] | None],
    weights: Sequence[float],
) -> None:
    """Add one place of one answer to its joint of (hand, place, teeth)."""
    for hand in HANDS:
        spreads = []
        for wheel, table in zip(wheels, tables, strict=True):
            by_teeth = None if table is None else table[hand].by_teeth
            spreads.append(
                dict(wheel)
                if by_teeth is None
                else {t: weight * by_teeth[t] for t, weight in wheel.items()}
            )
        totals = [sum(spread.values()) for spread in spreads]
        for i, spread in enumerate(spreads):
            rest = weights[hand] * prod(totals[:i]) * prod(totals[i + 1 :])
            into = joint[hand][i]
            for teeth, weight in spread.items():
                into[teeth] = into.get(teeth, 0.0) + rest * weight
