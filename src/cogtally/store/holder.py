"""A note beside the book that says who is writing it just now.

Whether anybody is, the lock of the book alone decides; a note left behind by a process that was
killed says nothing, for it is read only when the lock is held.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

_LONGEST_NOTE = 300


def holder_note(path: Path) -> Path:
    """Return where the note of a book stands."""
    return path.with_name(path.name + "-holder")


@contextmanager
def held(path: Path, what: str, at: str) -> Iterator[None]:
    """Keep a note that this process writes the book at `path`; a full disk is no reason to stop."""
    note = holder_note(path)
    with suppress(OSError):
        note.write_text(f"process {os.getpid()}, {what}, since {at}", encoding="utf-8")
    try:
        yield
    finally:
        with suppress(OSError):
            note.unlink()


def held_by(note: Path | None) -> str:
    """Return who holds a book, as far as its note tells."""
    if note is not None:
        with suppress(OSError, UnicodeError):
            text = note.read_text(encoding="utf-8")[:_LONGEST_NOTE].strip()
            if text:
                return f"{text}, holds it"
    return "another program holds it"
