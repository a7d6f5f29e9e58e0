"""Which sets of a family are alike in all that was looked at: the groups of what is known so far.

How probable a group is is left to `parts`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from cogtally.catalog.model import Family
from cogtally.evidence.clusters import Allowed
from cogtally.evidence.family_view import FamilyView
from cogtally.evidence.prior import FamilyPrior

if TYPE_CHECKING:
    from cogtally.evidence.observed import FamilyLooks


def so_far_groups(
    family: Family, prior: FamilyPrior, view: FamilyView, looks: FamilyLooks | None = None
) -> list[tuple[tuple[str, ...], Allowed]]:
    """Return the sets alike in every counted wheel, with what their pieces may be.

    Where marks or features were seen, those are equally likely under all sets of a group.
    """
    parts = {} if looks is None else looks.parts
    if view.lacks or not (view.wheels or parts):
        return []
    columns: dict[int, tuple[tuple[int | None, ...], ...]] = {}
    for index, piece in enumerate(prior.pieces):
        places = [i for i, w in enumerate(piece.wheels) if w in view.wheels]
        if places or index in parts:
            columns[index] = tuple(
                (
                    *(kind.teeth[i] for i in places),
                    *(parts[index][k : k + 1] if index in parts else ()),
                )
                for k, kind in enumerate(family.types[piece.name])
            )
    members: dict[tuple[tuple[int | None, ...], ...], list[int]] = {}
    for number in range(len(family.counted_sets)):
        own = (family.type_index[prior.pieces[index].name][number] for index in columns)
        rows = tuple(column[k] for column, k in zip(columns.values(), own, strict=True))
        members.setdefault(rows, []).append(number)
    return [
        (
            tuple(family.counted_sets[s].id for s in sets),
            {
                index: frozenset(k for k, row in enumerate(column) if row == wanted)
                for (index, column), wanted in zip(columns.items(), rows, strict=True)
            },
        )
        for rows, sets in members.items()
    ]
