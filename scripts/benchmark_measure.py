"""Know how a cost is measured, and how a table of costs is printed and kept.

What is measured is left to the parts of `benchmark`.
"""

from __future__ import annotations

import io
import re
import resource
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from math import log10
from pathlib import Path

ROOT = Path(__file__).parents[1]
PROGRAM = str(Path(sys.executable).with_name("cogtally"))
SEED = 20260101
#: A large collection in one hand; whole commands and answers are measured with it too.
BETWEEN = 2_000
BEGIN, END = "<!-- benchmark: begin -->", "<!-- benchmark: end -->"


@dataclass(frozen=True, slots=True)
class Scale:
    """How large a run is: sets of the catalogs, rising, and how often each thing is measured."""

    sizes: tuple[int, ...]
    runs: int

    def up_to(self, most: int) -> tuple[int, ...]:
        """Return the sizes that are not above `most`; the smallest is always among them."""
        return tuple(size for size in self.sizes if size <= max(most, self.sizes[0]))

    def and_between(self, most: int) -> tuple[int, ...]:
        """Return the same sizes and, where larger ones are measured, BETWEEN; rising."""
        between = {BETWEEN} if max(self.sizes) > BETWEEN else set()
        return tuple(sorted({*self.up_to(most), *between}))

    def share(self, number: int) -> int:
        """Return how many of `number` to do: all, or a few where each is done once."""
        return number if self.runs > 1 else max(number // 250, 2)


SMALL = Scale((20,), 1)
USUAL = Scale((100, 1_000, 10_000, 100_000), 7)
MILLION = 1_000_000


@dataclass(frozen=True, slots=True)
class Cost:
    """What something took, in seconds: `cpu` of all threads, and `wall`."""

    cpu: float
    wall: float


def cost(work: Callable[[], object]) -> Cost:
    """Return what one call takes."""
    wall, cpu = time.perf_counter(), time.process_time()
    work()
    return Cost(time.process_time() - cpu, time.perf_counter() - wall)


def cost_of_command(command: Sequence[str], *, check: bool = True) -> tuple[Cost, str]:
    """Return what one run of a command takes, its start included, and what it said of errors.

    With `check` raises CalledProcessError where it ends with another code than 0.
    """
    before, wall = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    done = subprocess.run(command, check=check, capture_output=True, encoding="utf-8")
    wall = time.perf_counter() - wall
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return Cost(cpu, wall), done.stderr


def median(costs: Iterable[Cost]) -> Cost:
    """Return the median CPU and the median wall."""
    found = list(costs)
    return Cost(statistics.median(c.cpu for c in found), statistics.median(c.wall for c in found))


def ms(seconds: float) -> str:
    """Return seconds as milliseconds, three digits of them."""
    value = 1000 * seconds
    return f"{value:,.0f}" if value >= 100 else f"{value:.3g}"


def times(above: float, below: float) -> str:
    """Return how many times one is the other."""
    if below <= 0:
        return ""
    value = above / below
    return f"{value:,.0f}" if value >= 10 else f"{value:.2f}"


def power(before: tuple[int, float] | None, now: tuple[int, float]) -> str:
    """Return p of time ~ size**p between two (size, time): the slope on a log-log paper."""
    if before is None or before[1] <= 0 or now[1] <= 0:
        return ""
    return f"{log10(now[1] / before[1]) / log10(now[0] / before[0]):.2f}"


def head(*names: str) -> None:
    """Print the head of a table."""
    row(*names)
    row(*["---"] * len(names))


def row(*cells: object) -> None:
    """Print one row of a table."""
    print(f"| {' | '.join(map(str, cells))} |", flush=True)


class Heard(io.TextIOBase):
    """What is printed goes on to the screen and is kept."""

    def __init__(self) -> None:
        self._out = sys.stdout
        self.text = ""

    def write(self, text: str) -> int:
        """Print and keep a text."""
        self.text += text
        return self._out.write(text)

    def flush(self) -> None:
        """Show what was printed."""
        self._out.flush()


def put_table(page: Path, title: str, table: str, order: Sequence[str]) -> None:
    """Write a table between the markers of a page, titles in `order`; the others there stay.

    Raises ValueError where the page has no markers.
    """
    text = page.read_text(encoding="utf-8")
    before, begin, rest = text.partition(BEGIN)
    kept, end, after = rest.partition(END)
    if not (begin and end):
        raise ValueError(f"{page.name} has no {BEGIN} with an {END} behind it")
    parts = re.split(r"^### (.+)\n", kept, flags=re.MULTILINE)[1:]
    found = {
        **dict(zip(parts[::2], map(str.strip, parts[1::2]), strict=True)),
        title: table.strip(),
    }
    body = "\n\n".join(f"### {name}\n\n{found[name]}" for name in order if name in found)
    page.write_text(f"{before}{BEGIN}\n\n{body}\n\n{END}{after}", encoding="utf-8")
