"""The posterior of an assembled box, read off all parts of what can be true.

The parts and their weights are left to `weighed`, the reading in words to `verdict`.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from math import fsum
from operator import attrgetter

from cogtally.catalog.model import Catalog
from cogtally.evidence.likelihood import STEADY
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
    listed: list[Share] = []
    if weighed.stacked:
        from cogtally.evidence.stacked_answers import read_stacks

        stacks = read_stacks(weighed)
        shares.update(stacks.families)
        mixed, variant = stacks.mixed, stacks.variant
        listed, so_far = stacks.matched, stacks.so_far
    ratio_groups: dict[tuple[str, object], tuple[list[str], float]] = {}
    for part, scales in zip(weighed.worked, weighed.scales, strict=True):
        whole = sum(w * v for w, v in zip(scales, part.values, strict=True))
        shares[part.family.id] += whole
        if isinstance(part, Ratios):
            ids, share = ratio_groups.get((part.family.id, part.known.key), ([], 0.0))
            ratio_groups[part.family.id, part.known.key] = (
                [*ids, part.known.known.id],
                share + whole,
            )
            continue
        counted = _read_masks(part, scales)
        settled = fsum(counted.values())
        variant += counted.pop((), 0.0)
        matched.update({(part.family.id, sets): p for sets, p in counted.items()})
        mixed += max(0.0, whole - settled)
        for number, (sets, _) in enumerate(part.groups or ()):
            share = sum(w * s.groups[number] for w, s in zip(scales, part.sums, strict=True))
            so_far.append(Share(MATCHED, share, part.family.id, sets))
    if weighed.stacked:
        counted_families.update(f for f, _ in ratio_groups if _is_counted(weighed, f))
    for (family, _), (names, share) in ratio_groups.items():
        matched[family, tuple(names)] = share
        if family in counted_families:
            so_far.append(Share(MATCHED, share, family, tuple(names)))
    answers = [Share(MATCHED, p, family, sets) for (family, sets), p in matched.items()]
    answers += listed
    answers.sort(key=_PROBABILITY, reverse=True)
    answers += [
        Share(MIXED, mixed),
        Share(VARIANT, variant),
        Share(UNCATALOGUED, fsum(weighed.uncatalogued)),
    ]
    leading = max(shares, key=shares.__getitem__, default="")
    pieces: list[PieceShare] = []
    for part, scales in zip(weighed.worked, weighed.scales, strict=True):
        if isinstance(part, Counted) and part.family.id == leading:
            pieces = part.pieces(scales)
    if weighed.stacked and not pieces:
        from cogtally.evidence.stacked_answers import pieces_of

        pieces = pieces_of(weighed, leading)
    return Posterior(
        answers=tuple(answers),
        so_far=tuple(sorted(so_far, key=_PROBABILITY, reverse=True)),
        families=shares,
        leading=leading,
        pieces=tuple(pieces),
        steady=weighed.hands()[STEADY],
        log_evidence=weighed.log_total,
    )


def _no_shares(weighed: Weighed) -> dict[str, float]:
    """A share of nothing for each family; quick where all of a catalog's are asked."""
    catalog = weighed.ready.catalog
    if weighed.ready.shortcuts is None and weighed.families is catalog.families:
        return dict.fromkeys(catalog.by_id, 0.0)
    return dict.fromkeys((f.id for f in weighed.families), 0.0)


def _is_counted(weighed: Weighed, family: str) -> bool:
    """Tell whether any wheel of the counted sets of a family was counted."""
    known = weighed.ready.catalog.by_id[family]
    return bool(known.counted_sets) and any(n in known.train.names for n in weighed.box.counts)


def _read_masks(part: Counted, scales: Sequence[float]) -> dict[tuple[str, ...], float]:
    """Matched groups by their sets, and the variants under the empty group."""
    sets = part.family.counted_sets
    listed = 1 << len(sets)
    found: dict[tuple[str, ...], float] = {(): 0.0}
    for scale, sums in zip(scales, part.sums, strict=True):
        for mask, value in sums.masks.items():
            group: tuple[str, ...] = ()
            if mask & listed and not part.view.lacks:
                group = tuple(s.id for i, s in enumerate(sets) if mask >> i & 1)
            found[group] = found.get(group, 0.0) + scale * value
    return found
