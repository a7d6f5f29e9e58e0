"""Measure speed as ratios against peers in the same run, and what following the advice saves.

All is seeded; the tables go to the screen, and between two markers into benchmark.md. What each
part measures is left to its own room, `benchmark_*.py`.
"""

from __future__ import annotations

import argparse
import contextlib
import platform
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import benchmark_advice
import benchmark_batch
import benchmark_commands
import benchmark_kits
import benchmark_network
import benchmark_verdicts
import benchmark_warm
from benchmark_measure import MILLION, SMALL, USUAL, Heard, Scale, put_table

PAGE = Path(__file__).with_suffix(".md")
PARTS: dict[str, Callable[[Scale], None]] = {
    **benchmark_commands.PARTS,
    **benchmark_warm.PARTS,
    **benchmark_network.PARTS,
    **benchmark_batch.PARTS,
    **benchmark_kits.PARTS,
    **benchmark_advice.PARTS,
    **benchmark_verdicts.PARTS,
}


def table_of(name: str, scale: Scale) -> str:
    """Run a part; return what it printed, its first line what it measures."""
    started = time.perf_counter()
    heard = Heard()
    with contextlib.redirect_stdout(heard):
        print(f"{PARTS[name].__doc__}\n")
        PARTS[name](scale)
    print(f"\n({name}: {time.perf_counter() - started:.0f} s)\n", file=sys.stderr, flush=True)
    return heard.text


def main(words: Sequence[str]) -> None:
    """Run what was asked for; write the tables where all was run, or where that was asked for."""
    parser = argparse.ArgumentParser(prog="scripts/benchmark", description=__doc__)
    parser.add_argument("parts", nargs="*", metavar="PART", help=f"{', '.join(PARTS)}; all if none")
    parser.add_argument("--sizes", type=int, nargs="+", help="sets of the catalogs, rising")
    parser.add_argument("--million", action="store_true", help="1,000,000 sets too")
    parser.add_argument("--small", action="store_true", help="each part once, 20 sets")
    parser.add_argument("--write", action="store_true", help=f"put the tables in {PAGE.name}")
    asked = parser.parse_args(words)
    if unknown := [name for name in asked.parts if name not in PARTS]:
        parser.error(f"no such part: {' '.join(unknown)}; there are {' '.join(PARTS)}")
    scale = SMALL if asked.small else USUAL
    if asked.sizes:
        scale = replace(scale, sizes=tuple(asked.sizes))
    if asked.million:
        scale = replace(scale, sizes=(*scale.sizes, MILLION))
    write = asked.write or not (asked.parts or asked.small or asked.sizes)
    where = f"{time.strftime('%Y-%m-%d')}, Python {platform.python_version()}, {platform.machine()}"
    for name in asked.parts or PARTS:
        table = table_of(name, scale)
        if write:
            put_table(PAGE, name, f"{table.strip()}\n\n({where})", list(PARTS))


if __name__ == "__main__":
    main(sys.argv[1:])
