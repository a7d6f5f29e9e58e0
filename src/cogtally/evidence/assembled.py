"""The posterior of an assembled box, read off all parts of what can be true.

The parts and their weights are left to `weighed`, the reading in words to `verdict`.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from math import fsum
from operator import attrgetter, mul

from cogtally.catalog.model import Catalog
from cogtally.evidence.likelihood import HASTY, STEADY
from cogtally.evidence.parts import Counted, New, Ratios
from cogtally.evidence.posterior import (
    MATCHED,
    MIXED,
    NEW,
    UNCATALOGUED,
    VARIANT,
    PieceShare,
    Posterior,
    Share,
)
from cogtally.evidence.weighed import Weighed, weigh
from cogtally.gears.notation import Seen

_PROBABILITY = attrgetter("probability")


def posterior(catalog: Catalog, seen: Seen, family: str | None = None) -> Posterior:
    """Return the exact posterior of a box; `family` (an id) restricts what is catalogued to one.

    ρ is of the whole catalog either way. Sums are exact but for rounding, and for families that a
    bound proves to be below 1e-12 of the total together.
    """
    return read_posterior(weigh(catalog, seen, family))


@lru_cache(maxsize=1)
def read_posterior(weighed: Weighed) -> Posterior:
    """Read the answers off the parts of one question; the last is kept, for advice asks again."""
    answers: list[Share] = []
    so_far: list[Share] = []
    counted_families = {part.family.id for part in weighed.parts if part.view.wheels}
    shares = dict.fromkeys((family.id for family in weighed.families), 0.0)
    mixed = variant = 0.0
    ratio_groups: dict[tuple[str, object], tuple[list[str], float]] = {}
    for part, scales in zip(weighed.worked, weighed.scales, strict=True):
        steady, hasty = scales
        name = part.family.id
        whole = steady * part.values[STEADY] + hasty * part.values[HASTY]
        shares[name] += whole
        if isinstance(part, New):
            answers.append(Share(NEW, whole, name))
            continue
        if isinstance(part, Ratios):
            ids, share = ratio_groups.get((name, part.known.key), ([], 0.0))
            ratio_groups[name, part.known.key] = ([*ids, part.known.known.id], share + whole)
            continue
        counted = part.answers(scales)
        settled = fsum(counted.values())
        variant += counted.pop((), 0.0)
        answers += [Share(MATCHED, p, name, sets) for sets, p in counted.items()]
        mixed += max(0.0, whole - settled)
        groups = part.groups or ()
        by_hand = [sums.groups for sums in part.sums]
        for (sets, _), one, other in zip(groups, *by_hand, strict=True):
            so_far.append(Share(MATCHED, steady * one + hasty * other, name, sets))
    for (name, _), (ids, share) in ratio_groups.items():
        printed = Share(MATCHED, share, name, tuple(ids))
        answers.append(printed)
        if name in counted_families:
            so_far.append(printed)
    leading = max(shares, key=shares.__getitem__, default="")
    return Posterior(
        answers=(
            *sorted(answers, key=_PROBABILITY, reverse=True),
            Share(MIXED, mixed),
            Share(VARIANT, variant),
            Share(UNCATALOGUED, fsum(weighed.uncatalogued)),
        ),
        so_far=tuple(sorted(so_far, key=_PROBABILITY, reverse=True)),
        families=shares,
        leading=leading,
        pieces=_pieces(weighed, leading),
        steady=weighed.hands()[STEADY],
        log_evidence=weighed.log_total,
    )


def _pieces(weighed: Weighed, family: str) -> tuple[PieceShare, ...]:
    """Every type of every piece of a family; those of its new set are unlisted."""
    found: tuple[PieceShare, ...] = ()
    new = 0.0
    for part, scales in zip(weighed.worked, weighed.scales, strict=True):
        if part.family.id == family and isinstance(part, Counted):
            found = tuple(part.pieces(scales))
        elif part.family.id == family and isinstance(part, New):
            new = fsum(map(mul, scales, part.values))
    if not found and new:
        family_of = weighed.ready.catalog.by_id[family]
        return tuple(PieceShare(family, p.name, None, (), new) for p in family_of.pieces)
    return tuple(
        replace(share, probability=share.probability + new) if share.teeth is None else share
        for share in found
    )
