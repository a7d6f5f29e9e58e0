"""Measure what following the advice saves, and the solver beside the brute-force enumeration.

Both ask small catalogs: the demo, and random ones. What turn tests cost is asked of large ones.
"""

from __future__ import annotations

import random
import statistics
import sys
import tempfile
from functools import cache
from pathlib import Path

from benchmark_catalogs import COUNTED, box as box_of, fresh, of_sets, words_of
from benchmark_measure import ROOT, SEED, Scale, cost, head, median, ms, row, times

from cogtally.catalog.files.reading import demo_catalog, load_catalog
from cogtally.catalog.model import Family, RatioSet
from cogtally.evidence.advice import advise
from cogtally.evidence.engine import posterior
from cogtally.evidence.laws import HAND_PRIOR, Q_OF_HAND, SLIP
from cogtally.gears.notation import parse_seen

#: So many random catalogs and simulated boxes, if not only one is tried.
REFERENCE_CATALOGS, ADVISED_BOXES = 20, 500
#: Sets of the greatest catalog that is asked for turn tests.
MOST_SETS = 10_000


def reference(scale: Scale) -> None:
    """The solver against the brute-force enumeration on the same small catalogs and boxes."""
    sys.path.insert(0, str(ROOT / "tests"))
    from reference.boxes import random_box
    from reference.enumeration import Reference
    from reference.worlds import toml_text, world

    catalogs = scale.share(REFERENCE_CATALOGS)
    ratios = []
    for seed in range(catalogs):
        docs = world(seed)
        words = random_box(docs, seed)["words"]
        with tempfile.TemporaryDirectory() as folder:
            for doc in docs:
                Path(folder, f"{doc['family']['id']}.toml").write_text(toml_text(doc))
            catalog = load_catalog(folder)
        judge = Reference(docs)
        ours = cost(lambda c=catalog, w=words: posterior(c, parse_seen(w)))
        theirs = cost(lambda j=judge, w=words: j.identify(w))
        ratios.append(theirs.cpu / ours.cpu)
    head("random small catalogs, first question", f"median of {catalogs}")
    row("brute force over solver", f"{statistics.median(ratios):.1f}")


def advice(scale: Scale) -> None:
    """Counts until a box has its name: following the advice, and along the shafts in order."""
    boxes = scale.share(ADVISED_BOXES)
    catalog = demo_catalog()
    dice = random.Random(SEED)
    pool = [(f, s) for f in catalog.families for s in f.counted_sets]

    @cache
    def named(words: tuple[str, ...]) -> bool:
        found = posterior(catalog, parse_seen(words))
        best = max(found.so_far, key=lambda share: share.probability, default=None)
        if best is None or best.probability < 0.90:
            return False
        family = catalog.by_id[best.family]
        teeth = [family.teeth_of(s) for s in family.counted_sets if s.id in best.sets]
        return all(other == teeth[0] for other in teeth)

    @cache
    def wheels_by_worth(words: tuple[str, ...]) -> tuple[str, ...]:
        found = advise(catalog, parse_seen(words), turns=False)
        return tuple(worth.wheel for worth in found.wheels)

    def counts_needed(family: Family, known: RatioSet, seed: int, *, advised: bool) -> int:
        hand = random.Random(seed)
        q = Q_OF_HAND[hand.choices((0, 1), HAND_PRIOR)[0]]
        teeth = family.teeth_of(known)
        words: tuple[str, ...] = ()
        order = [w for w in family.train.wheels if teeth[w] is not None]
        for number in range(3 * len(order)):
            wheel = order[number % len(order)]
            if advised:
                there = [w for w in wheels_by_worth(words) if teeth.get(w) is not None]
                wheel = there[0] if there else wheel
            words = (*words, f"{wheel}={_count(hand, teeth[wheel] or 0, q)}")
            if named(words):
                return number + 1
        return 3 * len(order)

    totals = {True: 0, False: 0}
    for number in range(boxes):
        family, known = dice.choices(pool, [s.commonness for _, s in pool])[0]
        for advised in totals:
            totals[advised] += counts_needed(family, known, SEED + number, advised=advised)
    head(f"{boxes} simulated boxes of the demo catalog", "counts a box")
    row("along the shafts in order", f"{totals[False] / boxes:.2f}")
    row("following the advice", f"{totals[True] / boxes:.2f}")
    row("the second over the first", f"{totals[True] / totals[False]:.2f}")


def _count(hand: random.Random, teeth: int, q: float) -> int:
    """One count by the law of the model."""
    if hand.random() < SLIP:
        return hand.randint(4, 200)
    size = 0
    while hand.random() < (q if size else 2 * q / (1 + q)):
        size += 1
    return max(4, min(200, teeth + (size if hand.random() < 0.5 else -size)))


def turned(scale: Scale) -> None:
    """All advice with the worth of a turn test of every gear, beside the posterior alone."""
    head("sets", "counts", "advice, ms CPU", "posterior, ms CPU", "advice over posterior")
    for sets in scale.up_to(MOST_SETS):
        catalog = of_sets(sets)
        for counts in sorted(COUNTED):
            words = words_of(box_of(catalog, 0), counts)
            known, spent = [], []
            for number in range(scale.runs + 1):
                seen = fresh(words, number)
                known.append(cost(lambda s=seen: posterior(catalog, s)))  # noqa: B023
                spent.append(cost(lambda s=seen: advise(catalog, s)))  # noqa: B023
            alone, whole = median(known[1:]).cpu, median(spent[1:]).cpu
            row(f"{sets:,}", counts, ms(whole), ms(alone), times(whole, alone))


PARTS = {"reference": reference, "advice": advice, "turned": turned}
