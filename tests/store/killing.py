"""Processes that are killed at a random moment while they change a book, and what is left of it.

What is done to the book, and what it may look like then, is left to the tests.
"""

import os
import shutil
import signal
import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from random import Random

Do = Callable[[Path], object]
State = Callable[[Path], object]

#: Seconds until a process that should end by itself is given up.
PATIENCE = 60


@dataclass(frozen=True)
class Killed:
    """How many runs were killed before they ended, and how many books were as before and after."""

    killed: int
    before: int
    after: int


def kill_often(book: Path, do: Do, state: State, times: int, seed: int = 0) -> Killed:
    """Do something to `times` copies of a book, killed with SIGKILL at random moments.

    Asserts that each copy is whole, and in the state from before or in that from after, and that
    what was killed can be done again to the end.
    """
    random = Random(seed)
    before = state(book)
    copy = _copied(book, "whole")
    seconds = _run(do, copy, None) or PATIENCE
    after = state(copy)
    assert before != after
    counts = {"killed": 0, "before": 0, "after": 0}
    for number in range(times):
        copy = _copied(book, f"kill-{number}")
        moment = random.uniform(0, 1.1 * seconds)
        passed = _run(do, copy, moment)
        if passed is None:
            counts["killed"] += 1
        else:
            # The first run may have waited for the disk: the moments keep to the fastest.
            seconds = min(seconds, passed)
        assert_whole(copy)
        left = state(copy)
        assert left in (before, after), f"killed after {moment} s"
        counts["before" if left == before else "after"] += 1
        if left == before:
            _run(do, copy, None)
            assert state(copy) == after
        shutil.rmtree(copy.parent)
    return Killed(**counts)


def assert_whole(book: Path) -> None:
    """Assert that a book opens, and that SQLite finds nothing wrong in it."""
    with closing(sqlite3.connect(book)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []


def in_process(do: Callable[[], object]) -> int:
    """Start a process that does something silently; return its number."""
    number = os.fork()
    if number == 0:
        code = 1
        try:
            silence = os.open(os.devnull, os.O_WRONLY)
            os.dup2(silence, 1)
            os.dup2(silence, 2)
            do()
            code = 0
        finally:
            os._exit(code)
    return number


def _run(do: Do, book: Path, moment: float | None) -> float | None:
    """Do it in a process of its own; return its seconds, or None if it was killed at `moment`."""
    reads, writes = os.pipe()

    def work() -> None:
        os.write(writes, b"!")
        do(book)

    process = in_process(work)
    os.close(writes)
    os.read(reads, 1)
    os.close(reads)
    began = time.perf_counter()
    while True:
        ended, code = os.waitpid(process, os.WNOHANG)
        passed = time.perf_counter() - began
        if ended:
            assert code == 0
            return passed
        if moment is not None and passed >= moment:
            os.kill(process, signal.SIGKILL)
            return None if os.waitpid(process, 0)[1] == signal.SIGKILL else passed
        assert passed < PATIENCE
        time.sleep(0.0002)


def _copied(book: Path, name: str) -> Path:
    """Copy a book into a folder of its own."""
    folder = book.parent / name
    folder.mkdir()
    return Path(shutil.copy(book, folder / book.name))
