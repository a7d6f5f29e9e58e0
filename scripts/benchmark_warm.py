"""Measure a catalog that was asked before, as it grows: identification and the worth of wheels.

The catalogs are left to `benchmark_catalogs`, the peers to `benchmark_peers`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from benchmark_catalogs import box as box_of, fresh, of_sets, questions, teeth_array, words_of
from benchmark_measure import Cost, Scale, cost, head, median, ms, power, row, times
from benchmark_peers import FLOOR, PEERS, TABLE, TREE, Ask

from cogtally.catalog.model import Catalog
from cogtally.evidence.advice import advise
from cogtally.evidence.engine import bounds, posterior, ready
from cogtally.evidence.reading import identify
from cogtally.gears.notation import Seen

#: How many counts the boxes of the growth table have.
FEW, MANY = 4, 10
#: Every wheel's worth is measured up to so many sets, the whole answer too.
MOST_SETS = 10_000
Asked = list[tuple[Seen, list[int]]]


def _ours(catalog: Catalog, asked: Asked) -> list[Cost]:
    """The solver's cost of each question but the first, which makes ready."""
    found = [cost(lambda s=seen: posterior(catalog, s)) for seen, _ in asked]
    return found[1:] or found


@contextmanager
def _all_families() -> Iterator[None]:
    """Let no family be left out, however little it can matter."""
    kept = bounds.LEFT_OUT
    bounds.LEFT_OUT = 0.0
    try:
        yield
    finally:
        bounds.LEFT_OUT = kept


def _peer(ask: Ask, asked: Asked) -> list[Cost]:
    found = [cost(lambda p=plain: ask(p)) for _, plain in asked]
    return found[1:] or found


def _same(catalog: Catalog, asked: Asked, ask: Ask) -> str:
    """How often a peer's nearest set is in the solver's likeliest group so far."""
    per_family = len(catalog.families[0].sets)
    same = 0
    for seen, plain in asked:
        family, place = divmod(ask(plain), per_family)
        one = catalog.families[family]
        best = posterior(catalog, seen).so_far[0]
        same += best.family == one.id and one.sets[place].id in best.sets
    return f"{same} of {len(asked)}"


def warm(scale: Scale) -> None:
    """A question to a catalog asked before, beside peers that tell only the nearest set."""
    # Unpruned, every family is worked out, also those that a bound shows not to matter.
    head(
        *("sets", "counts", "posterior, ms CPU", "ms wall", "growth, power"),
        *("over BallTree with its fit", "over SQLite", "over the floor", "BallTree, ms"),
        *("SQLite, ms", "floor, ms", "BallTree names the likeliest"),
    )
    before: dict[object, tuple[int, float]] = {}
    for sets in scale.sizes:
        catalog = of_sets(sets)
        teeth = teeth_array(catalog)
        peers = {name: made(teeth) for name, made in PEERS.items()}
        for counts in (MANY, FEW):
            asked = questions(catalog, counts, scale.runs + 1)
            spent = {name: median(_peer(ask, asked)).cpu for name, ask in peers.items()}
            ours = {str(counts): median(_ours(catalog, asked))}
            if counts == MANY:
                with _all_families():
                    ours[f"{counts}, unpruned"] = median(_ours(catalog, asked))
            for words, cost_of in ours.items():
                grown = power(before.get(words), (sets, cost_of.cpu))
                before[words] = sets, cost_of.cpu
                row(
                    *(f"{sets:,}", words, ms(cost_of.cpu), ms(cost_of.wall), grown),
                    *(times(cost_of.cpu, spent[name]) for name in (TREE, TABLE, FLOOR)),
                    *(ms(spent[name]) for name in (TREE, TABLE, FLOOR)),
                    _same(catalog, asked, peers[TREE]),
                )


def answer(scale: Scale) -> None:
    """The whole answer as the screen needs it: nearest sets, reasons; and with all advice."""
    head(
        *("sets", "counts", "answer, ms CPU", "with all advice, ms CPU", "ms wall"),
        *("posterior alone, ms CPU", "answer over posterior"),
    )
    for sets in scale.and_between(MOST_SETS):
        catalog = of_sets(sets)
        for counts in (MANY, FEW):
            asked = questions(catalog, counts, scale.runs + 1)
            alone = median(_ours(catalog, asked)).cpu
            whole = [cost(lambda s=seen: identify(catalog, s)) for seen, _ in asked]  # noqa: B023
            # Other questions than before, so that nothing of them is known yet.
            anew = questions(catalog, counts, 2 * (scale.runs + 1))[scale.runs + 1 :]
            every = [
                cost(lambda s=seen: identify(catalog, s, advising=advise))  # noqa: B023
                for seen, _ in anew
            ]
            advised = median(every[1:])
            found = median(whole[1:]).cpu
            row(
                *(f"{sets:,}", counts, ms(found), ms(advised.cpu), ms(advised.wall)),
                *(ms(alone), times(found, alone)),
            )


def worth(scale: Scale) -> None:
    """The worth of every wheel of a five-speed box, its posterior known, beside that posterior."""
    head(
        "sets", "counts", "worth of all wheels, ms CPU", "posterior, ms CPU", "worth over posterior"
    )
    for sets in scale.up_to(MOST_SETS):
        catalog = of_sets(sets)
        ready(catalog)
        every = box_of(catalog, 0)
        for counts in (0, 2, FEW, MANY, 13):
            words = words_of(every, counts)
            known, spent = _worth(catalog, words, scale.runs)
            row(f"{sets:,}", counts, ms(spent.cpu), ms(known.cpu), times(spent.cpu, known.cpu))


def _worth(catalog: Catalog, words: Sequence[str], runs: int) -> tuple[Cost, Cost]:
    known, spent = [], []
    for number in range(runs + 1):
        seen = fresh(words, number)
        known.append(cost(lambda s=seen: posterior(catalog, s)))
        spent.append(cost(lambda s=seen: advise(catalog, s, turns=False)))
    return median(known[1:]), median(spent[1:])


PARTS = {"warm": warm, "answer": answer, "worth": worth}
