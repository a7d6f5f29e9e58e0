"""The posterior of an assembled box, read off all parts of what can be true.

The parts and their weights are left to `weighed`, the reading in words to `verdict`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from math import fsum
from operator import attrgetter

from cogtally.catalog.model import Catalog
from cogtally.evidence.likelihood import HASTY, STEADY
from cogtally.evidence.parts import Counted, Ratios
from cogtally.evidence.posterior import (
    MATCHED,
    MIXED,
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
    matched: dict[tuple[str, tuple[str, ...]], float] = {}
    so_far: list[Share] = []
    counted_families = {part.family.id for part in weighed.parts if part.view.wheels}
    shares = _no_shares(weighed)
    mixed = variant = 0.0
    ratio_groups: dict[tuple[str, object], tuple[list[str], float]] = {}
    for part, scales in zip(weighed.worked, weighed.scales, strict=True):
        steady, hasty = scales
        whole = steady * part.values[STEADY] + hasty * part.values[HASTY]
        shares[part.family.id] += whole
        if isinstance(part, Ratios):
            ids, share = ratio_groups.get((part.family.id, part.known.key), ([], 0.0))
            ratio_groups[part.family.id, part.known.key] = (
                [*ids, part.known.known.id],
                share + whole,
            )
            continue
        counted = part.answers(scales)
        settled = fsum(counted.values())
        variant += counted.pop((), 0.0)
        matched.update({(part.family.id, sets): p for sets, p in counted.items()})
        mixed += max(0.0, whole - settled)
        groups = part.groups or ()
        by_hand = [sums.groups for sums in part.sums]
        for (sets, _), one, other in zip(groups, *by_hand, strict=True):
            share = steady * one + hasty * other
            so_far.append(Share(MATCHED, share, part.family.id, sets))
    if weighed.stacked:
        counted_families.update(f for f, _ in ratio_groups if _is_counted(weighed, f))
    for (family, _), (names, share) in ratio_groups.items():
        matched[family, tuple(names)] = share
        if family in counted_families:
            so_far.append(Share(MATCHED, share, family, tuple(names)))
    answers = [Share(MATCHED, p, family, sets) for (family, sets), p in matched.items()]
    rest = [
        Share(MIXED, mixed),
        Share(VARIANT, variant),
        Share(UNCATALOGUED, fsum(weighed.uncatalogued)),
    ]
    if weighed.stacked:
        return _with_stacks(weighed, shares, answers, so_far, rest)
    leading = max(shares, key=shares.__getitem__, default="")
    return Posterior(
        answers=(*sorted(answers, key=_PROBABILITY, reverse=True), *rest),
        so_far=tuple(sorted(so_far, key=_PROBABILITY, reverse=True)),
        families=shares,
        leading=leading,
        pieces=_pieces(weighed, leading),
        steady=weighed.hands()[STEADY],
        log_evidence=weighed.log_total,
    )


def _with_stacks(
    weighed: Weighed,
    known: Mapping[str, float],
    answers: Sequence[Share],
    so_far: Sequence[Share],
    rest: Sequence[Share],
) -> Posterior:
    """Return the posterior with the families in arrays beside what is known of all others."""
    from cogtally.evidence.stacked_answers import pieces_of, read_stacks

    stacks = read_stacks(weighed)
    mixed, variant, uncatalogued = rest
    shares = stacks.shares(known)
    number = shares.leading()
    leading = stacks.ids[number]
    return Posterior(
        answers=stacks.answers(
            answers,
            [
                replace(mixed, probability=mixed.probability + stacks.mixed),
                replace(variant, probability=variant.probability + stacks.variant),
                uncatalogued,
            ],
        ),
        so_far=stacks.groups(so_far),
        families=shares,
        leading=leading,
        pieces=_pieces(weighed, leading) or tuple(pieces_of(weighed, number)),
        steady=weighed.hands()[STEADY],
        log_evidence=weighed.log_total,
    )


def _pieces(weighed: Weighed, family: str) -> tuple[PieceShare, ...]:
    """Every type of every piece of a family that was worked out alone; nothing of any other."""
    for part, scales in zip(weighed.worked, weighed.scales, strict=True):
        if isinstance(part, Counted) and part.family.id == family:
            return tuple(part.pieces(scales))
    return ()


def _no_shares(weighed: Weighed) -> dict[str, float]:
    """A share of nothing for each family that is not in arrays."""
    if weighed.stacked:
        return dict.fromkeys((part.family.id for part in weighed.worked), 0.0)
    return dict.fromkeys((family.id for family in weighed.families), 0.0)


def _is_counted(weighed: Weighed, family: str) -> bool:
    """Tell whether any wheel of the counted sets of a family was counted."""
    known = weighed.ready.catalog.by_id[family]
    return bool(known.counted_sets) and any(n in known.train.names for n in weighed.box.counts)
