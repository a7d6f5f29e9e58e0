"""Sums over a star of stacked families of which wheels were turned.

What the tests make of the tables of the star is left to `stacked_tested`; all sums are added up
over what the table that is held can be.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cogtally.evidence.stacked_arms import Question
from cogtally.evidence.stacked_groups import group_rows
from cogtally.evidence.stacked_held import Counted
from cogtally.evidence.stacked_ready import Ready, star_tables
from cogtally.evidence.stacked_rows import Parted, RowPlaces, StarRows, Weights
from cogtally.evidence.stacked_sums import hub_of, messages_of, over_hub
from cogtally.evidence.stacked_tables import Array
from cogtally.evidence.stacked_tested import StarTests, multiplied


@dataclass(frozen=True, slots=True)
class StarSums:
    """The sums of one star: `whole[hand, base, family]`.

    `rows` of each part of the rows of a block [hand, base, row]; `so_far` of each so-far group
    likewise, 1 where there are none.
    """

    whole: Array
    rows: Sequence[Array]
    so_far: Array | float


def tested_star(
    tests: StarTests,
    ready: Ready,
    question: Question,
    counted: Counted,
    weights: Weights,
    rows: Sequence[Parted],
    grouped: RowPlaces | None,
) -> StarSums:
    """Return the sums of a star with its turn tests.

    `counted`: the likeliest teeth of each wheel; `grouped`: where the so-far groups stand, if any.
    """
    block, star = ready.block, tests.star
    hub = hub_of(block, star, ready.norms, apart=True)
    every = star_tables(ready, star, question)
    whole: list[Array] = []
    of_rows: list[list[Array]] = [[] for _ in rows]
    so_far: list[Array] = []
    for factors in tests.factors(block, every, counted):
        tables = multiplied(every, factors)
        messages = messages_of(block, star, tables)
        _add(whole, over_hub(hub, messages))
        for (places, codes, _), into in zip(rows, of_rows, strict=True):
            _add(into, StarRows(weights, places, codes, star, hub, tables).sums())
        if grouped is not None:
            of_groups = group_rows(
                weights, grouped, star, hub, tables, messages, question.counted, tests.tied
            )
            _add(so_far, of_groups)
    return StarSums(whole[0], [into[0] for into in of_rows], so_far[0] if so_far else 1.0)


def _add(into: list[Array], values: Array) -> None:
    into[:] = [into[0] + values] if into else [values]
