"""Measure loose pieces: questions a second, growth with the catalog, and the rows of a file.

The catalogs are made by `benchmark_catalogs`; each part prints a table of `benchmark`.
"""

from __future__ import annotations

import random
import tempfile
from collections.abc import Sequence
from pathlib import Path

from benchmark_catalogs import box, of_sets, words_of
from benchmark_measure import (
    PROGRAM,
    SEED,
    Scale,
    cost,
    cost_of_command,
    head,
    median,
    power,
    row,
)

from cogtally.catalog.files.writers import csv_of
from cogtally.catalog.model import Catalog
from cogtally.evidence.loose import LoosePosterior
from cogtally.gears.looks import SeenPiece, parse_piece

ROUNDS = 5
#: Loose pieces in one process; rows of loose pieces and of boxes in a file.
PIECES, ROWS, BOXES = 2_000, 20_000, 200
#: Sets of the greatest catalog of loose pieces, and of that of the rows.
MOST_SETS, BATCH_SETS = 10_000, 1_000
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


def microseconds(catalog: Catalog, asked: Sequence[tuple[SeenPiece, str | None]]) -> float:
    """Return the CPU microseconds of one question, the catalog made ready before."""

    def ask_all() -> None:
        for seen, role in asked:
            LoosePosterior(catalog, seen, role).leading(10, 0.001)

    ask_all()
    return 1e6 * median(cost(ask_all) for _ in range(ROUNDS)).cpu / len(asked)


def loose(scale: Scale) -> None:
    """Loose pieces in one process as the catalog grows: time of a question, and its growth."""
    head("sets", "pieces", "µs CPU a piece", "pieces a second", "growth, power")
    before: dict[str, tuple[int, float]] = {}
    for sets in scale.up_to(MOST_SETS):
        catalog = of_sets(sets)
        for name, fewest in (("all", 1), ("of several wheels", 2)):
            asked = [
                (parse_piece(words), role)
                for words, role in pieces(catalog, scale.share(PIECES), fewest=fewest)
            ]
            now = microseconds(catalog, asked)
            grown = power(before.get(name), (sets, now))
            before[name] = sets, now
            row(f"{sets:,}", name, f"{now:.0f}", f"{1e6 / now:,.0f}", grown)


def batch(scale: Scale) -> None:
    """Many rows at once against up to 1,000 sets, the start and the reading of them included."""
    catalog = of_sets(scale.up_to(BATCH_SETS)[-1])
    loose_rows = ["item,counts,role"]
    for number, (words, role) in enumerate(pieces(catalog, scale.share(ROWS))):
        counts = " ".join(words) if number % BAD else "twelve"
        loose_rows.append(f"crate {number},{counts},{role or ''}")
    boxes = ["item,seen"]
    for number in range(scale.share(BOXES)):
        counts = " ".join(words_of(box(catalog, number), 10)) if number % BAD else "twelve"
        boxes.append(f"box {number},{counts}")
    head("command", "rows", "s CPU", "s wall", "rows a second of CPU", "bad rows told")
    with tempfile.TemporaryDirectory() as folder:
        known, rows, out = (Path(folder, name) for name in ("known.csv", "rows.csv", "out.csv"))
        known.write_text(csv_of(catalog.families), encoding="utf-8")
        for name, lines in (("piece", loose_rows), ("identify", boxes)):
            rows.write_text("\n".join(lines), encoding="utf-8")
            out.unlink(missing_ok=True)
            command = [PROGRAM, name, "--catalog", str(known), "--from", str(rows)]
            took, said = cost_of_command([*command, "--out", str(out)], check=False)
            told = sum(line.startswith("cogtally: ") for line in said.splitlines())
            number = len(lines) - 1
            speed = f"{number / took.cpu:,.0f}"
            row(f"{name} --from", f"{number:,}", f"{took.cpu:.1f}", f"{took.wall:.1f}", speed, told)


PARTS = {"loose": loose, "batch": batch}
