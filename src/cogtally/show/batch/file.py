"""The two ends of a run over many items: the file that it reads, and the file that it writes.

What stands in a line is left to `batch`. Whatever ends a run, what it wrote is whole lines and at
most one that is cut short, so that it can be taken up behind the last whole one.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, TextIO

from cogtally.gears.errors import UserError
from cogtally.gears.printed import shown
from cogtally.shelf.batch.sheet import LONGEST_LINE
from cogtally.show.batch.screen import Lines

#: As a name of the file to read: standard input.
STANDARD_INPUT = "-"
#: A line of so many bytes was not written here.
LONGEST_ANSWER = 2**20


@dataclass(frozen=True, slots=True)
class Done:
    """What an earlier run wrote: so many whole lines, of them refused, and the last one's item."""

    rows: int = 0
    refused: int = 0
    item: str = ""


@contextmanager
def reading(name: str, at: Callable[[int, int], None]) -> Iterator[Iterator[str]]:
    """Open a file to be read line by line; `at` is told how many bytes were read, of how many.

    What is no UTF-8 comes as lone surrogates. Raises UserError where it cannot be opened.
    """
    if name == STANDARD_INPUT:
        yield _lines(sys.stdin.buffer, lambda read: None)
        return
    try:
        path = Path(name).expanduser()
        size = os.stat(path).st_size
        stream = path.open("rb")
    except (OSError, ValueError, RuntimeError) as error:
        raise _unreadable(name, error) from error
    with stream:
        yield _lines(stream, lambda read: at(read, max(size, read)))


def _lines(stream: BinaryIO, at: Callable[[int], None]) -> Iterator[str]:
    read = 0
    try:
        # Four bytes a character at most: what is longer than a row may be comes in parts.
        while line := stream.readline(4 * LONGEST_LINE):
            read += len(line)
            at(read)
            yield line.decode("utf-8", "surrogateescape")
    except OSError as error:
        raise _unreadable(getattr(stream, "name", ""), error) from error


def _unreadable(name: object, error: Exception) -> UserError:
    mend = "give a .csv file with a row an item, or - for standard input"
    return UserError(f"the file cannot be read: {_reason(error)}", shown(str(name)), mend)


def _reason(error: Exception) -> str:
    return (getattr(error, "strerror", None) or str(error)).lower()


@contextmanager
def writing(name: str | None, lines: Lines, *, resume: bool) -> Iterator[tuple[TextIO, Done]]:
    """Open the file to be written, or standard output, with its header written.

    A file that is there already is refused, but with `resume` taken up behind its last whole
    line. Raises UserError where it cannot be written, or was not written by such a run.
    """
    try:
        with _opened(name, lines, resume=resume) as opened:
            yield opened
    except BrokenPipeError:
        raise
    except FileExistsError as error:
        mend = "write --resume to go on with it, or another name"
        raise UserError("the file is there already", shown(name or ""), mend) from error
    except (OSError, ValueError) as error:
        place = "standard output" if name is None else shown(name)
        mend = "" if name is None else "give --out a file in a folder that can be written"
        raise UserError(f"the answers cannot be written: {_reason(error)}", place, mend) from error


@contextmanager
def _opened(name: str | None, lines: Lines, *, resume: bool) -> Iterator[tuple[TextIO, Done]]:
    if name is None:
        sys.stdout.write(lines.header)
        yield sys.stdout, Done()
        sys.stdout.flush()
        return
    path = Path(name)
    done = _taken_up(path, lines) if resume and path.exists() else Done()
    begun = resume and path.exists() and path.stat().st_size > 0
    with path.open("a" if resume else "x", encoding="utf-8", newline="\n") as stream:
        if not begun:
            stream.write(lines.header)
        yield stream, done


def _taken_up(path: Path, lines: Lines) -> Done:
    """Cut off the last line where it is not whole, and tell what stands above it."""
    rows = refused = whole = 0
    item = ""
    header = lines.header.encode("utf-8")
    with path.open("r+b") as stream:
        for number, line in enumerate(iter(lambda: stream.readline(LONGEST_ANSWER), b"")):
            if len(line) == LONGEST_ANSWER:
                raise _not_ours(path)
            if not line.endswith(b"\n"):
                break
            whole += len(line)
            if number == 0 and header:
                if line != header:
                    raise _not_ours(path)
                continue
            found = lines.read(line.decode("utf-8", "replace"))
            if found is None:
                raise _not_ours(path)
            item = found[0]
            refused += found[1]
            rows += 1
        stream.truncate(whole)
    return Done(rows, refused, item)


def _not_ours(path: Path) -> UserError:
    mend = "leave --resume out and write another name"
    return UserError("the file was not begun by such a run", shown(str(path)), mend)
