"""One question and its whole answer: all that any screen, file or machine needs to know of a box.

Every number in it comes from a room below; `show` makes views of it and computes nothing again.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache, partial
from typing import TYPE_CHECKING, NamedTuple

from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.evidence.engine import posterior
from cogtally.evidence.posterior import MATCHED, Posterior, Share, first_answers
from cogtally.evidence.reading.account import Account, account
from cogtally.evidence.reading.hints import Ask, Recount, TurnedRound, exchanged_turns, hints
from cogtally.evidence.reading.nearest import Difference, Near, measure, nearest_sets
from cogtally.evidence.reading.remedy import Remedy, remedies_of
from cogtally.evidence.reading.verdict import (
    RECOUNT,
    Expectation,
    Verdict,
    expected,
    judge,
    likeliest_pieces,
)
from cogtally.evidence.reading.views import (
    Checked,
    GearRatio,
    LookLine,
    MeshSum,
    PairLine,
    PairTable,
    checked_wheels,
    look_lines,
)
from cogtally.evidence.seen import Counted
from cogtally.gears.notation import Seen

if TYPE_CHECKING:
    from cogtally.evidence.advice import Advice

RIVALS_SHOWN = 5
#: A rival below this is not worth a line.
LEAST_RIVAL = 0.0005

#: Weighs what to count next: `advise`, `advise_briefly` or `advise_shut`.
Advising = Callable[[Catalog, Seen, str | None], "Advice"]


class Rival(NamedTuple):
    """An answer beside the one that was given, and what of the counts it does not have.

    `near` is None for mixed, variant and uncatalogued.
    """

    share: Share
    near: Near | None

    @property
    def differences(self) -> tuple[Difference, ...]:
        """The wheels whose count this answer does not have."""
        return self.near.differences if self.near else ()


@dataclass(frozen=True, slots=True)
class Answer:
    """All that is to be said of one assembled box.

    `beside`: the sets that stand beside the counts in `lines`, of the family `beside_family`; they
    are the verdict's, or the nearest one where there is none. `advice` and `account`: what to count
    next and why, where they were asked for. `recounts`: wheels to count again; `thirds`: wheels
    counted differently, no result more often than another; `turned`: pairs that may have been
    written the wrong way round. `checked`: each wheel of the set that was expected, else of the one
    that is named, as agreeing or not. `remedies`: what makes a box whole. `restricted`: the id of
    the only family that was asked about, if any.
    """

    catalog: Catalog
    seen: Seen
    posterior: Posterior
    verdict: Verdict
    gears: tuple[GearRatio, ...]
    meshes: tuple[MeshSum, ...]
    lines: tuple[PairLine, ...]
    rivals: tuple[Rival, ...]
    nearest: tuple[Near, ...]
    beside_family: Family | None
    beside: tuple[RatioSet, ...]
    recounts: tuple[Recount, ...]
    thirds: tuple[Counted, ...]
    turned: TurnedRound | None
    exchanged: tuple[tuple[str, str], ...]
    expectation: Expectation | None
    restricted: str | None
    advice: Advice | None = None
    account: Account | None = None
    looks: tuple[LookLine, ...] = ()
    checked: Checked | None = None
    remedies: tuple[Remedy, ...] = ()

    @property
    def family(self) -> Family | None:
        """The leading family; None in an empty catalog."""
        return self.catalog.by_id.get(self.posterior.leading)


def identify(
    catalog: Catalog,
    seen: Seen,
    *,
    family: str | None = None,
    expect: tuple[str, str] | None = None,
    advising: Advising | None = None,
    why: bool = False,
) -> Answer:
    """Say which set a box is; `family` (an id) asks about that one only.

    `expect`: ids of a family and a set of it, to be told whether the box is that. `advising`: how
    to say what to count next (one of the functions of `advice`). `why`: with the account.
    """
    # A hint may have to ask the same again for another family.
    ask: Ask = cache(partial(posterior, catalog, family=family))
    found = ask(seen)
    advice = None if advising is None else advising(catalog, seen, family)
    verdict = judge(catalog, found, seen)
    near = nearest_sets(catalog, seen, family)
    recounts, turned = hints(catalog, seen, verdict, near, ask, family)
    stands = catalog.by_id.get(verdict.family)
    beside_family, beside = _beside(catalog, verdict, near)
    likeliest = likeliest_pieces(found.pieces) if verdict.family == found.leading else {}
    table = PairTable(stands, seen, likeliest, beside_family, beside)
    of, wanted = expect or (verdict.family, next(iter(verdict.sets), ""))
    # An account needs a rival, however improbable.
    rivals = _rivals(catalog, seen, found, verdict, 1 if why else 0)
    return Answer(
        catalog=catalog,
        seen=seen,
        posterior=found,
        verdict=verdict,
        gears=table.gears,
        meshes=table.meshes,
        lines=table.lines(),
        rivals=rivals,
        nearest=near,
        beside_family=beside_family,
        beside=tuple(beside),
        recounts=recounts,
        thirds=tuple(c for c in table.counted.values() if c.is_tied),
        turned=turned,
        exchanged=exchanged_turns(catalog, seen, found.leading, near) if seen.turns else (),
        expectation=expected(catalog, found, *expect, seen) if expect else None,
        restricted=family,
        advice=advice,
        account=account(catalog, seen, found, [r.share for r in rivals], family) if why else None,
        looks=look_lines(seen, beside_family, beside) if seen.looks else (),
        checked=checked_wheels(catalog.by_id.get(of), wanted, seen),
        remedies=remedies_of(catalog, seen, found, verdict),
    )


def _beside(
    catalog: Catalog, verdict: Verdict, near: Sequence[Near]
) -> tuple[Family | None, list[RatioSet]]:
    """The sets to stand beside the counts: the verdict's, else the nearest if it says anything."""
    family = catalog.by_id.get(verdict.family)
    wanted = verdict.sets
    if family is None or not wanted:
        # Beside a new set stands the nearest of its family.
        nearest = next((n for n in near if verdict.family in ("", n.family)), None)
        if nearest is not None and (nearest.compared or nearest.worst_ratio_error is not None):
            family, wanted = catalog.by_id[nearest.family], (nearest.set,)
    if family is None:
        return None, []
    return family, [known for known in family.sets if known.id in wanted]


def _rivals(
    catalog: Catalog, seen: Seen, found: Posterior, verdict: Verdict, fewest: int
) -> tuple[Rival, ...]:
    """The most probable answers, without the one that the verdict is; so few at least."""
    shares = [a for a in first_answers(found, RIVALS_SHOWN + 1) if not _is_said(a, verdict)]
    shares.sort(key=lambda a: -a.probability)
    rivals: list[Rival] = []
    for share in shares[:RIVALS_SHOWN]:
        if share.probability < LEAST_RIVAL and len(rivals) >= fewest:
            break
        near = None
        if share.kind == MATCHED:
            family = catalog.by_id[share.family]
            known = next(s for s in family.sets if s.id in share.sets)
            near = measure(family, known, seen)
        rivals.append(Rival(share, near))
    return tuple(rivals)


def _is_said(share: Share, verdict: Verdict) -> bool:
    """Whether an answer is what the verdict says of the box."""
    if share.kind == MATCHED:
        one = verdict.is_sure and verdict.kind in (MATCHED, RECOUNT)
        return one and (share.family, share.sets) == (verdict.family, verdict.sets)
    return share.kind == verdict.kind and share.family in ("", verdict.family)
