"""One question and its whole answer: all that any screen, file or machine needs to know of a box.

Every number in it comes from a room below; `show` makes views of it and computes nothing again.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache, partial
from typing import TYPE_CHECKING

from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.evidence.arrangement import Arrangement
from cogtally.evidence.assembled import posterior
from cogtally.evidence.counted import counted_wheels
from cogtally.evidence.posterior import MATCHED, Posterior, Share, first_answers
from cogtally.evidence.reading.account import Account, account
from cogtally.evidence.reading.hints import (
    Ask,
    Recount,
    TurnedRound,
    differing_wheels,
    recount_hint,
    recounts_of_named,
    turnable,
    turned_hint,
)
from cogtally.evidence.reading.nearest import Difference, Near, measure, nearest_sets, turned_ratios
from cogtally.evidence.reading.verdict import (
    Expectation,
    Verdict,
    expected,
    judge,
    likeliest_pieces,
)
from cogtally.evidence.reading.views import (
    GearRatio,
    LookLine,
    MeshSum,
    PairLine,
    gear_ratios,
    look_lines,
    mesh_sums,
    pair_lines,
)
from cogtally.gears.notation import Seen

if TYPE_CHECKING:
    from cogtally.evidence.advice import Advice

RIVALS_SHOWN = 5

#: Weighs what to count next: `advise`, `advise_briefly` or `advise_shut`.
Advising = Callable[[Catalog, Seen, str | None], "Advice"]


@dataclass(frozen=True, slots=True)
class Rival:
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

    `beside`: the sets that stand beside the counts in `lines`, of the family `beside_family`;
    they are the verdict's, or the nearest one where there is none. `advice` and `account`: what to
    count next and why, where they were asked for. `recounts`: wheels to count
    again; `turned`: pairs that may have been written the wrong way round. `restricted`: the id of
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
    turned: TurnedRound | None
    expectation: Expectation | None
    restricted: str | None
    advice: Advice | None = None
    account: Account | None = None
    looks: tuple[LookLine, ...] = ()

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
    recounts, turned = _hints(catalog, seen, found, verdict, near, ask, family)
    stands = catalog.by_id.get(verdict.family)
    arrangement = Arrangement(stands, seen)
    counted = counted_wheels(seen, stands)
    beside_family, beside = _beside(catalog, verdict, near)
    return Answer(
        catalog=catalog,
        seen=seen,
        posterior=found,
        verdict=verdict,
        gears=gear_ratios(arrangement, counted),
        meshes=mesh_sums(arrangement, counted),
        lines=pair_lines(
            arrangement,
            seen,
            counted,
            (beside_family, beside) if beside_family else None,
            likeliest_pieces(found.pieces) if verdict.family == found.leading else {},
        ),
        rivals=_rivals(catalog, seen, found, verdict),
        nearest=near,
        beside_family=beside_family,
        beside=tuple(beside),
        recounts=recounts,
        turned=turned,
        expectation=_expectation(catalog, seen, found, expect),
        restricted=family,
        advice=advice,
        account=_account(catalog, seen, found, verdict, family) if why else None,
        looks=_looks(seen, beside_family, beside),
    )


def _looks(seen: Seen, family: Family | None, beside: Sequence[RatioSet]) -> tuple[LookLine, ...]:
    if not seen.looks:
        return ()
    return look_lines(seen, family, beside)


def _account(
    catalog: Catalog, seen: Seen, found: Posterior, verdict: Verdict, only: str | None
) -> Account | None:
    return account(catalog, seen, found, verdict.kind, only)


def _hints(
    catalog: Catalog,
    seen: Seen,
    found: Posterior,
    verdict: Verdict,
    near: Sequence[Near],
    ask: Ask,
    only: str | None,
) -> tuple[tuple[Recount, ...], TurnedRound | None]:
    """A count that agrees in everything raises no question and is not asked again."""
    family = catalog.by_id.get(verdict.family)
    counted = counted_wheels(seen, family)
    differing = differing_wheels(family, verdict.sets, counted) if family else {}
    if verdict.is_clean and not differing:
        return (), None
    pairs = turnable(differing, seen, everything=not verdict.is_clean)
    turned = turned_hint(catalog, seen, found, ask, pairs, only)
    if turned is not None:
        return (), turned
    if verdict.is_clean and family is not None:
        return recounts_of_named(family, verdict.sets, counted), None
    one = recount_hint(catalog, seen, verdict, near, ask)
    return (() if one is None else (one,)), None


def _beside(
    catalog: Catalog, verdict: Verdict, near: Sequence[Near]
) -> tuple[Family | None, list[RatioSet]]:
    """The sets to stand beside the counts: the verdict's, else the nearest if it says anything."""
    family = catalog.by_id.get(verdict.family)
    wanted = verdict.sets
    if (family is None or not wanted) and near and near[0].says_something:
        family, wanted = catalog.by_id[near[0].family], (near[0].set,)
    if family is None:
        return None, []
    return family, [known for known in family.sets if known.id in wanted]


def _rivals(catalog: Catalog, seen: Seen, found: Posterior, verdict: Verdict) -> tuple[Rival, ...]:
    """The most probable answers, without the one that the verdict is."""
    shares = [
        a
        for a in first_answers(found, RIVALS_SHOWN + 1)
        if not (
            (
                verdict.kind == MATCHED
                and a.kind == MATCHED
                and a.family == verdict.family
                and a.sets == verdict.sets
            )
            or (verdict.kind == a.kind != MATCHED and a.family in ("", verdict.family))
        )
    ]
    shares.sort(key=lambda a: -a.probability)
    turned = turned_ratios(seen)
    rivals = []
    for share in shares[:RIVALS_SHOWN]:
        near = None
        if share.kind == MATCHED:
            family = catalog.by_id[share.family]
            known = next(s for s in family.sets if s.id in share.sets)
            near = measure(family, known, counted_wheels(seen, family), turned)
        rivals.append(Rival(share, near))
    return tuple(rivals)


def _expectation(
    catalog: Catalog, seen: Seen, found: Posterior, expect: tuple[str, str] | None
) -> Expectation | None:
    if expect is None:
        return None
    family = catalog.by_id[expect[0]]
    return expected(found, family, expect[1], counted_wheels(seen, family))
