"""The answers and the pieces of one family, read off the sums over its configurations.

The sums come from `configurations`; what the shares mean beside other parts is left to `assembled`.
"""

from __future__ import annotations

from collections.abc import Sequence

from cogtally.evidence.configurations import Sums
from cogtally.evidence.posterior import PieceShare
from cogtally.evidence.prior import FamilyPrior


def answer_shares(
    prior: FamilyPrior, every: Sequence[Sums], scales: Sequence[float], *, lacks: bool
) -> dict[tuple[str, ...], float]:
    """Return the matched groups by their sets, and the variants under the empty group.

    `every` and `scales`: by hand. Nothing is matched that `lacks` something seen.
    """
    sets = prior.family.counted_sets
    found: dict[tuple[str, ...], float] = {(): 0.0}
    for scale, sums in zip(scales, every, strict=True):
        for mask, value in sums.masks.items():
            group: tuple[str, ...] = ()
            if mask & prior.listed_bit and not lacks:
                group = tuple([s.id for i, s in enumerate(sets) if mask >> i & 1])
            found[group] = found.get(group, 0.0) + scale * value
    return found


def piece_shares(
    prior: FamilyPrior, tables: Sequence[Sequence[Sequence[float]]], scales: Sequence[float]
) -> list[PieceShare]:
    """Return the share of every type of every piece.

    `tables[hand][piece][state]`, and what each hand's sums weigh.
    """
    family = prior.family
    shares = []
    for index, piece in enumerate(prior.pieces):
        types = family.types[piece.name]
        by_kind: dict[int | None, float] = dict.fromkeys([*range(len(types)), None], 0.0)
        for number, state in enumerate(prior.states[index]):
            by_kind[state.kind] += sum(
                [scale * table[index][number] for scale, table in zip(scales, tables, strict=True)]
            )
        heads = piece_heads(prior, index)
        shares += [
            PieceShare(*head, share) for head, share in zip(heads, by_kind.values(), strict=True)
        ]
    return shares


def piece_heads(
    prior: FamilyPrior, index: int
) -> list[tuple[str, str, tuple[int | None, ...] | None, tuple[str, ...]]]:
    """Return what stands before the probability in each share of a piece: its types, unlisted."""
    family, name = prior.family, prior.pieces[index].name
    sets = family.counted_sets
    heads: list[tuple[str, str, tuple[int | None, ...] | None, tuple[str, ...]]] = [
        (family.id, name, kind.teeth, tuple([sets[c].id for c in kind.carriers]))
        for kind in family.types[name]
    ]
    return [*heads, (family.id, name, None, ())]
