"""Measure loose pieces: questions a second, growth with the catalog, and the rows of a file.

The catalogs are made by `benchmark`; each part prints a table, so that it can be one of its parts.
"""

from __future__ import annotations

import random
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from cogtally.catalog.csv_writer import csv_of
from cogtally.catalog.model import Catalog
from cogtally.evidence.loose import loose_posterior
from cogtally.gears.loose_words import SeenPiece, parse_piece

SEED, ROUNDS = 20260101, 5
PIECES, ROWS = 2_000, 20_000
#: One row in so many cannot be read.
BAD = 100
SHARE_OF_STRANGERS, SHARE_WITH_ROLE = 0.05, 0.3

Asked = tuple[list[str], str | None]


def pieces(catalog: Catalog, number: int, *, fewest: int = 1) -> list[Asked]:
    """Return seeded loose pieces of `fewest` wheels or more, as typed, some with a role.

    One count in twenty is a tooth off or more, one in ten unsure or counted twice, a twentieth of
    the pieces are of no catalog, and half are counted from the other end.
    """
    dice = random.Random(SEED)
    found: list[Asked] = []
    while len(found) < number:
        family = dice.choice(catalog.families)
        piece = dice.choice(family.pieces)
        if len(piece.wheels) < fewest:
            continue
        words = []
        for teeth in dice.choice(family.types[piece.name]).teeth:
            count = teeth or 20
            while dice.random() < 0.05:
                count += dice.choice((-1, 1))
            words.append(f"{max(count, 4)}{dice.choice([''] * 18 + ['u', 'x2'])}")
        if dice.random() < SHARE_OF_STRANGERS:
            words = [str(dice.randint(9, 45)) for _ in words]
        role = piece.name if dice.random() < SHARE_WITH_ROLE else None
        found.append((words[::-1] if dice.random() < 0.5 else words, role))
    return found


def cost(catalog: Catalog, asked: Sequence[tuple[SeenPiece, str | None]]) -> float:
    """Return the CPU microseconds of one question, the catalog made ready before."""

    def ask_all() -> float:
        start = time.process_time()
        for seen, role in asked:
            loose_posterior(catalog, seen, role, many=True).leading(10, 0.001)
        return time.process_time() - start

    ask_all()
    return 1e6 * statistics.median(ask_all() for _ in range(ROUNDS)) / len(asked)


def loose() -> None:
    """Loose pieces in one process as the catalog grows: time of a question, and its growth."""
    from benchmark import made

    print("| sets | pieces | µs a piece | pieces a second | growth for ten times the sets |")
    print("| --- | --- | --- | --- | --- |")
    before: dict[str, float] = {}
    for families in (20, 200, 2000):
        catalog = made(families)
        for name, fewest in (("all", 1), ("of several wheels", 2)):
            asked = [
                (parse_piece(words), role) for words, role in pieces(catalog, PIECES, fewest=fewest)
            ]
            now = cost(catalog, asked)
            growth = f"{now / before[name]:.2f}" if name in before else ""
            before[name] = now
            print(f"| {5 * families} | {name} | {now:.0f} | {1e6 / now:,.0f} | {growth} |")


def batch() -> None:
    """`piece --from` against 1,000 sets, its start and the reading of the catalog included."""
    from benchmark import made

    catalog = made(200)
    with tempfile.TemporaryDirectory() as folder:
        known, rows, out = (Path(folder, name) for name in ("known.csv", "rows.csv", "out.csv"))
        known.write_text(csv_of(catalog.families), encoding="utf-8")
        lines = ["item,counts,role"]
        for number, (words, role) in enumerate(pieces(catalog, ROWS)):
            counts = " ".join(words) if number % BAD else "twelve"
            lines.append(f"crate {number},{counts},{role or ''}")
        rows.write_text("\n".join(lines), encoding="utf-8")
        program = str(Path(sys.executable).with_name("cogtally"))
        command = [
            program,
            "piece",
            "--catalog",
            str(known),
            "--from",
            str(rows),
            "--out",
            str(out),
        ]
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        done = subprocess.run(command, stderr=subprocess.PIPE, encoding="utf-8", check=False)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
    seconds = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    told = sum(line.startswith("cogtally: ") for line in done.stderr.splitlines())
    print("| rows | CPU s | rows a second | bad rows told |")
    print("| --- | --- | --- | --- |")
    print(f"| {ROWS:,} | {seconds:.1f} | {ROWS / seconds:,.0f} | {told} |")


PARTS: dict[str, Callable[[], None]] = {"loose": loose, "batch": batch}

if __name__ == "__main__":
    for part in sys.argv[1:] or PARTS:
        PARTS[part]()
        print()
