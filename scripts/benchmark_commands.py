"""Measure whole commands and what they begin with: the start, opening a catalog, its memory.

Each stands beside a peer that does the least that such a command can do.
"""

from __future__ import annotations

import json
import sqlite3
import statistics
import subprocess
import sys
import tomllib
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path
from tempfile import NamedTemporaryFile

from benchmark_catalogs import box, kept_book, kept_toml, of_sets, words_of
from benchmark_measure import (
    PROGRAM,
    Cost,
    Scale,
    cost,
    cost_of_command,
    head,
    median,
    ms,
    power,
    row,
    times,
)

from cogtally.catalog.book import read_book
from cogtally.catalog.files.reading import load_catalog

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
#: What a process held at most, in kilobytes, after each step: VmHWM, which Linux alone tells.
#: (`getrusage` will not do: there a child begins with what its parent held.)
STEPS = """
import json, re, sys
def most():
    with open("/proc/self/status") as status:
        return int(re.search(r"VmHWM:\\s+([0-9]+) kB", status.read())[1])
from cogtally.catalog.book import read_book
from cogtally.evidence.engine import posterior
from cogtally.gears.notation import parse_seen
import numpy
found = [most()]
catalog = read_book(sys.argv[1])
found.append(most())
posterior(catalog, parse_seen(sys.argv[2:]))
found.append(most())
print(json.dumps(found))
"""
TEN_COUNTS = ["input=17/28", "1=14/31", "2=19/26", "3=24/21", "R=12/_/28"]
#: What is asked of the demo catalog, and of no catalog.
ON_THE_DEMO = {
    "identify --demo, ten counts": ["identify", "--demo", *TEN_COUNTS],
    "the same with --json": ["identify", "--demo", "--json", *TEN_COUNTS],
    "the same with --why": ["identify", "--demo", "--why", *TEN_COUNTS],
    "identify --demo, three pairs": ["identify", "--demo", *TEN_COUNTS[:3]],
    "identify --demo, two pairs": ["identify", "--demo", *TEN_COUNTS[:2]],
    "the same two pairs with --json": ["identify", "--demo", "--json", *TEN_COUNTS[:2]],
    "identify --demo, one wheel": ["identify", "--demo", "1.driver=14"],
    "identify --demo, a turn test of a shut box": ["identify", "--demo", "--shut", "1@4:1.1"],
    "identify --demo, two turn tests": ["identify", "--demo", "--shut", "1@4:1.1", "2@4:1.77"],
    "piece 24 --demo": ["piece", "24", "--demo"],
    "piece, a laygear, --demo": ["piece", "28", "24", "19", "14", "12", "--demo"],
    "ratios, ten counts": ["ratios", *TEN_COUNTS],
}
#: What is asked of each book, and the counts that are typed.
ASKED = (("ten counts", 10), ("three pairs", 6), ("two pairs", 4), ("one pair", 2))
#: What is looked for in the largest book.
FOUND = {
    "a misspelt name": ["mdae-12"],
    "a pair": ["28/_"],
    "a ratio": ["--ratio", "1=3.65"],
}
#: What takes more seconds than this is run once: what a machine does beside it is little then.
LONG = 20
#: A catalog in TOML is measured up to so many sets.
MOST_TOML = 10_000


def cold(scale: Scale) -> None:
    """One run of a command, its start included, beside a bare typer command with a rich table."""
    cases = {name: [PROGRAM, *words] for name, words in ON_THE_DEMO.items()}
    once = set()
    for sets in scale.and_between(max(scale.sizes)):
        of = f"a book of {sets:,} sets"
        made = box(of_sets(sets), 0)
        ask = [PROGRAM, "identify", "--catalog", str(kept_book(sets))]
        # The first question writes tables beside the book.
        first = f"identify, ten counts, first, {of}"
        cases[first] = [*ask, *words_of(made, 10)]
        once.add(first)
        for told, counts in ASKED:
            cases[f"identify, {told}, {of}"] = [*ask, *words_of(made, counts)]
        cases[f"identify, one wheel, {of}"] = [*ask, f"1.driver={made['1'][0]}"]
        cases[f"identify, a turn test of a shut box, {of}"] = [*ask, "--shut", "1@4:1.1"]
        if sets == max(scale.sizes):
            there = ["--catalog", str(kept_book(sets))]
            last = of_sets(sets).families[-1].id
            cases[f"catalog show FAMILY, {of}"] = [PROGRAM, "catalog", "show", last, *there]
            for told, words in FOUND.items():
                find = [PROGRAM, "catalog", "find", *words, *there]
                once.add(f"catalog find, {told}, first, {of}")
                cases[f"catalog find, {told}, first, {of}"] = find
                cases[f"catalog find, {told}, {of}"] = find
    head("cold command", "over a bare command, CPU", "s CPU", "s wall", "bare, s CPU")
    with NamedTemporaryFile("w", suffix=".py") as bare:
        bare.write(BARE)
        bare.flush()
        for name, command in cases.items():
            pairs = [_pair(command, [sys.executable, bare.name])]
            runs = 1 if name in once or pairs[0][0].cpu > LONG else scale.runs
            pairs += [_pair(command, [sys.executable, bare.name]) for _ in range(runs - 1)]
            ours, theirs = median(a for a, _ in pairs), median(b for _, b in pairs)
            ratio = statistics.median(a.cpu / b.cpu for a, b in pairs)
            row(name, f"{ratio:.2f}", f"{ours.cpu:.3f}", f"{ours.wall:.3f}", f"{theirs.cpu:.3f}")


def _pair(command: Sequence[str], bare: Sequence[str]) -> tuple[Cost, Cost]:
    # A command that says "not settled yet" ends with another code than 0.
    return cost_of_command(command, check=False)[0], cost_of_command(bare)[0]


def opening(scale: Scale) -> None:
    """Opening a catalog, beside reading the same bytes with the standard library alone."""
    head("sets", "kept as", "ms CPU", "ms wall", "growth, power", "over its floor", "floor, ms")
    kinds = {
        "TOML": (kept_toml, load_catalog, _bare_toml, MOST_TOML),
        "book": (kept_book, read_book, _bare_book, max(scale.sizes)),
    }
    for kind, (kept, read, bare, most) in kinds.items():
        before: tuple[int, float] | None = None
        for sets in scale.up_to(most):
            place = kept(sets)
            runs = 1 if sets >= MOST_TOML else scale.runs
            ours = median(cost(lambda r=read, p=place: r(p)) for _ in range(runs))
            least = median(cost(lambda b=bare, p=place: b(p)) for _ in range(runs)).cpu
            grown = power(before, (sets, ours.cpu))
            before = sets, ours.cpu
            ratio = times(ours.cpu, least)
            row(f"{sets:,}", kind, ms(ours.cpu), ms(ours.wall), grown, ratio, ms(least))


def _bare_toml(folder: Path) -> None:
    for file in sorted(folder.iterdir()):
        tomllib.loads(file.read_text(encoding="utf-8"))


def _bare_book(place: Path) -> None:
    with closing(sqlite3.connect(place)) as book:
        for (teeth,) in book.execute("SELECT teeth FROM sets").fetchall():
            json.loads(teeth)


def memory(scale: Scale) -> None:
    """The most memory that a process holds, step by step, to one question of four counts."""
    head(
        "sets", "begun with numpy, MB", "book open, MB", "asked, MB", "asked over begun", "kB a set"
    )
    for sets in scale.sizes:
        words = words_of(box(of_sets(sets), 0), 4)
        command = [sys.executable, "-c", STEPS, str(kept_book(sets)), *words]
        done = subprocess.run(command, check=True, stdout=subprocess.PIPE, encoding="utf-8")
        begun, opened, asked = json.loads(done.stdout)
        shown = (f"{kilobytes / 1024:,.0f}" for kilobytes in (begun, opened, asked))
        row(f"{sets:,}", *shown, times(asked, begun), f"{(asked - begun) / sets:.1f}")


PARTS = {"cold": cold, "opening": opening, "memory": memory}
