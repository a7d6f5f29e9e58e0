"""Standard output that says by an error of its own when it cannot be written: a full disk, closed.

It also keeps what a command had written elsewhere by then. What both come to is left to `main`; a
reader that went away and a terminal that is gone, to those who await them.
"""

import os
import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from contextvars import ContextVar
from errno import EIO, EPIPE
from typing import Any, TextIO, cast

from cogtally.gears.errors import why_of

#: These have an end of their own: a closed pipe, a closed terminal.
_LEFT_TO_OTHERS = (EPIPE, EIO)

#: What this run has written into a book or a file, a clause each.
_written: ContextVar[tuple[str, ...]] = ContextVar("written", default=())


class ReaderGoneError(Exception):
    """Whoever read the output has closed it."""


class OutputError(Exception):
    """Standard output could not be written; the text says why."""


def now_written(clause: str) -> None:
    """Keep that something is written for good, `item 3 is in the stock`, whatever comes after.

    Where the command ends in an error that is all that a person is told of it.
    """
    _written.set((*_written.get(), clause))


def written_so_far() -> tuple[str, ...]:
    """Return all that was kept so in this run, each clause once, in order."""
    return tuple(dict.fromkeys(_written.get()))


class _Output:
    """A stream that turns what the system refuses into an OutputError, and is else as it was."""

    def __init__(self, stream: TextIO, closed_because: str = "") -> None:
        self._stream = stream
        self._closed_because = closed_because

    def write(self, text: str) -> int:
        """Write a text; raise OutputError where that cannot be done."""
        if self._closed_because:
            raise OutputError(self._closed_because)
        with _refused():
            return self._stream.write(text)

    def flush(self) -> None:
        """See all that was written out; raise OutputError where that cannot be done."""
        with _refused():
            self._stream.flush()

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)


class _Notes(_Output):
    """Standard error: what cannot be said changes nothing, unless its reader went away."""

    def write(self, text: str) -> int:
        """Write a text as far as that can be done."""
        try:
            return self._stream.write(text)
        except OSError as error:
            self._give_up(error)
            return len(text)

    def flush(self) -> None:
        """See out what was written, as far as that can be done."""
        try:
            self._stream.flush()
        except OSError as error:
            self._give_up(error)

    def _give_up(self, error: OSError) -> None:
        if error.errno in _LEFT_TO_OTHERS:
            raise error
        # What still waits to be written would else be tried again when the interpreter ends.
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, self._stream.fileno())
        os.close(nowhere)


@contextmanager
def watched_output() -> Iterator[None]:
    """Watch standard output; in place of streams that were closed before the start stand others."""
    before = sys.stdin, sys.stdout, sys.stderr
    with ExitStack() as opened:

        def there(stream: TextIO | None, mode: str) -> TextIO:
            # A stream that was closed is None, which nothing that reads or writes awaits.
            if stream is not None:
                return stream
            nowhere = opened.enter_context(open(os.devnull, mode, encoding="utf-8"))
            return cast("TextIO", nowhere)

        is_closed = cast("TextIO | None", sys.stdout) is None
        sys.stdin = there(sys.stdin, "r")
        sys.stderr = cast("TextIO", _Notes(there(sys.stderr, "w")))
        watched = _Output(there(sys.stdout, "w"), "it is closed" if is_closed else "")
        sys.stdout = cast("TextIO", watched)
        token = _written.set(())
        try:
            yield
        finally:
            _written.reset(token)
            sys.stdin, sys.stdout, sys.stderr = before


@contextmanager
def _refused() -> Iterator[None]:
    try:
        yield
    except OSError as error:
        if error.errno in _LEFT_TO_OTHERS:
            raise
        raise OutputError(why_of(error)) from error
