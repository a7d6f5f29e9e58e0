"""Measure speed as ratios against a peer in the same run, and what following the advice saves."""

from __future__ import annotations

import os
import random
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests"))

from benchmark_batch import PARTS as BATCH_PARTS  # noqa: E402

from cogtally.catalog.files import demo_catalog, load_catalog  # noqa: E402
from cogtally.catalog.model import Catalog, Family, RatioSet  # noqa: E402
from cogtally.evidence.advice import advise  # noqa: E402
from cogtally.evidence.assembled import posterior  # noqa: E402
from cogtally.evidence.likelihood import HAND_PRIOR, Q_OF_HAND, SLIP  # noqa: E402
from cogtally.evidence.prepared import prepare  # noqa: E402
from cogtally.evidence.weighed import weigh  # noqa: E402
from cogtally.gears.notation import Seen, parse_seen  # noqa: E402

RUNS = 9
SEED = 20260101
BARE = """
import typer
from rich.console import Console
from rich.table import Table
app = typer.Typer()
@app.command()
def main(rows: int = 3) -> None:
    table = Table(title="bare")
    table.add_column("a")
    table.add_column("b")
    for row in range(rows):
        table.add_row(str(row), "x")
    Console().print(table)
app()
"""
TEN_COUNTS = ["input=17/28", "1=14/31", "2=19/26", "3=24/21", "R=12/_/28"]


def cpu_of(command: Sequence[str]) -> float:
    """Return the CPU seconds of one run of a command, its children's included."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, env={**os.environ})
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def cold() -> None:
    """`identify --demo` with ten counts against a bare typer command that prints a rich table."""
    program = str(Path(sys.executable).with_name("cogtally"))
    with tempfile.NamedTemporaryFile("w", suffix=".py") as bare:
        bare.write(BARE)
        bare.flush()
        cases = {
            "identify --demo, ten counts": [program, "identify", "--demo", *TEN_COUNTS],
            "the same with --json": [program, "identify", "--demo", "--json", *TEN_COUNTS],
            "ratios, ten counts": [program, "ratios", *TEN_COUNTS],
        }
        print("| cold command | CPU against a bare command, median | bare, s |")
        print("| --- | --- | --- |")
        for name, command in cases.items():
            pairs = [(cpu_of(command), cpu_of([sys.executable, bare.name])) for _ in range(RUNS)]
            ratio = statistics.median(a / b for a, b in pairs)
            print(f"| {name} | {ratio:.2f} | {statistics.median(b for _, b in pairs):.3f} |")


def timed(work: Callable[[], object]) -> float:
    """Return the CPU seconds of one call."""
    start = time.process_time()
    work()
    return time.process_time() - start


def reference() -> None:
    """The solver against the brute-force enumeration on the same small catalogs and boxes."""
    from reference.boxes import random_box
    from reference.enumeration import Reference
    from reference.worlds import toml_text, world

    ratios = []
    for seed in range(20):
        docs = world(seed)
        words = random_box(docs, seed)["words"]
        with tempfile.TemporaryDirectory() as folder:
            for doc in docs:
                Path(folder, f"{doc['family']['id']}.toml").write_text(toml_text(doc))
            catalog = load_catalog(folder)
        judge = Reference(docs)
        ours = timed(lambda c=catalog, w=words: posterior(c, parse_seen(w)))
        theirs = timed(lambda j=judge, w=words: j.identify(w))
        ratios.append(theirs / ours)
    print("| random small catalogs, first question | median of 20 |")
    print("| --- | --- |")
    print(f"| brute force over solver | {statistics.median(ratios):.1f} |")


def made(families: int) -> Catalog:
    """Return a seeded catalog of five-speed boxes, five sets a family."""
    dice = random.Random(SEED)
    found = []
    for number in range(families):
        whole = dice.randint(42, 58)
        sets, last = [], None
        for index in range(5):
            first = dice.randint(15, 22)
            pairs: dict[str, tuple[int | None, ...]] = {"input": (first, whole - first)}
            for gear, teeth in zip(
                "1235", sorted(dice.sample(range(13, whole - 14), 4)), strict=True
            ):
                pairs[gear] = (teeth, whole - teeth)
            pairs["R"] = (13, 20, whole - 18)
            if last is not None and dice.random() < 0.8:
                changed = dice.choice(list(pairs))
                pairs = {**last, changed: pairs[changed]}
            last = pairs
            sets.append(RatioSet(f"s{index}", pairs=pairs, commonness=dice.choice([1, 2, 3])))
        found.append(Family(f"made-{number}", "layshaft", sets=tuple(sets), direct="4"))
    return Catalog(tuple(found))


#: Pairs counted of the five-speed box: twelve wheels and an idler, ten, four, two, none.
COUNTED = {13: 6, 10: 5, 4: 2, 2: 1, 0: 0}


def _words(catalog: Catalog) -> list[str]:
    """The counts of one box of a made catalog, pair by pair."""
    pairs = catalog.families[7].sets[2].pairs
    return [f"{pair}={'/'.join(map(str, teeth))}" for pair, teeth in pairs.items()]


def _fresh(words: Sequence[str], number: int) -> Seen:
    """The same counts as a question that was not asked before."""
    return parse_seen([*words, f"{20 + number}=_/_"])


def warm(*sizes: str) -> None:
    """A question to a catalog that was asked before, as it grows: CPU of one core."""
    print("| sets | made ready, s | counts | identify, ms | families worked out |")
    print("| --- | --- | --- | --- | --- |")
    for families in map(int, sizes or ("200", "2000")):
        catalog = made(families)
        ready = timed(lambda c=catalog: prepare(c).stacked())
        words = _words(catalog)
        for counts, pairs in COUNTED.items():
            posterior(catalog, _fresh(words[:pairs], 0))
            spent = []
            for number in range(1, RUNS):
                seen = _fresh(words[:pairs], number)
                spent.append(timed(lambda c=catalog, s=seen: posterior(c, s)))
            found = weigh(catalog, _fresh(words[:pairs], 0))
            worked = len(found.worked) + sum(len(s.ready.block.families) for s in found.stacked)
            best = f"{1000 * statistics.median(spent):.0f}"
            print(f"| {5 * families} | {ready:.1f} | {counts} | {best} | {worked} |")


def worth() -> None:
    """The worth of every wheel of a five-speed box beside its posterior, 1,000 sets."""
    catalog = made(200)
    prepare(catalog).stacked()
    words = _words(catalog)
    print("| counts | worth of all wheels, ms |")
    print("| --- | --- |")
    for pairs in range(7):
        spent = []
        for number in range(RUNS):
            seen = _fresh(words[:pairs], number)
            posterior(catalog, seen)
            spent.append(timed(lambda c=catalog, s=seen: advise(c, s, turns=False)))
        counts = sum(1 for word in words[:pairs] for _ in word.split("/"))
        print(f"| {counts} | {1000 * statistics.median(spent):.0f} |")


def advice(boxes: int = 500) -> None:
    """Counts until a box has its name: following the advice, and along the shafts in order."""
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
    print(f"| {boxes} simulated boxes of the demo catalog | counts a box |")
    print("| --- | --- |")
    print(f"| along the shafts in order | {totals[False] / boxes:.2f} |")
    print(f"| following the advice | {totals[True] / boxes:.2f} |")
    print(f"| the second over the first | {totals[True] / totals[False]:.2f} |")


def _count(hand: random.Random, teeth: int, q: float) -> int:
    """One count by the law of the model."""
    if hand.random() < SLIP:
        return hand.randint(4, 200)
    size = 0
    while hand.random() < (q if size else 2 * q / (1 + q)):
        size += 1
    return max(4, min(200, teeth + (size if hand.random() < 0.5 else -size)))


PARTS: dict[str, Callable[..., None]] = {
    "cold": cold,
    "reference": reference,
    "warm": warm,
    "worth": worth,
    "advice": advice,
    **BATCH_PARTS,
}

if __name__ == "__main__":
    asked = sys.argv[1:] or list(PARTS)
    for part in asked:
        if part in PARTS:
            # Numbers behind `warm` are families: `warm 200 20000`.
            numbers = [word for word in asked if word.isdigit()]
            PARTS[part](*(numbers if part == "warm" else ()))
            print()
