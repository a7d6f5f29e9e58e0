"""The user's own editor on a file: which one it is, how it is run, where the file stands.

What is in the file is left to whoever asks.
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from cogtally.gears.errors import UserError, why_of
from cogtally.show.screen import note

#: Where neither VISUAL nor EDITOR is set: the first of these that is there.
USUAL = ("sensible-editor", "nano", "vi", "notepad")
LONGEST_PART = 60


def edit_file(path: Path) -> None:
    """Run the user's editor on a file until it ends; raise UserError where it does not do so well.

    Ctrl-C is the editor's while it runs.
    """
    words = _editor()
    try:
        process = subprocess.Popen([*words, str(path)])
    except OSError as error:
        mend = "set VISUAL or EDITOR to an editor, or give the text with --from FILE"
        raise UserError(f"the editor cannot be started: {why_of(error)}", words[0], mend) from None
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        code = process.wait()
    finally:
        signal.signal(signal.SIGINT, before)
    if code:
        mend = "nothing was written"
        raise UserError(f"the editor ended with an error ({code})", words[0], mend)


@contextmanager
def kept_beside(book: Path, subject: str, text: str, again: str = "") -> Iterator[Path]:
    """Write a text to be edited into a new file beside the book, and give its path.

    In the end the file goes, unless an error leaves it with another text: then that is said, and
    with `again` how it is taken up. There it outlives the machine's next start. Raises UserError.
    """
    path = _file_beside(book, subject, text)
    done = False
    try:
        yield path
        done = True
    finally:
        if done or _is_as_it_was(path, text):
            path.unlink(missing_ok=True)
        else:
            note(f"cogtally: the text is kept in {path}{again.format(path)}")


def _is_as_it_was(path: Path, text: str) -> bool:
    try:
        return path.read_bytes() == text.encode("utf-8")
    except OSError:
        return not path.exists()


def _file_beside(book: Path, subject: str, text: str) -> Path:
    """Write a text into a new file, named after what it is of; return its path."""
    part = re.sub(r"[^a-z0-9]+", "-", subject.casefold()).strip("-")[:LONGEST_PART]
    try:
        number, name = tempfile.mkstemp(".toml", f"edit-{part}-", book.parent)
        with open(number, "wb") as stream:
            stream.write(text.encode("utf-8"))
    except OSError as error:
        sentence = f"the text to be edited cannot be written: {why_of(error)}"
        raise UserError(sentence, str(book.parent)) from None
    return Path(name)


def _editor() -> list[str]:
    for variable in ("VISUAL", "EDITOR"):
        given = os.environ.get(variable, "").strip()
        if given:
            try:
                words = shlex.split(given, posix=os.name != "nt")
            except ValueError:
                mend = f"set {variable} to an editor, for example nano"
                raise UserError("its quotes do not match", variable, mend) from None
            if words:
                return words
    mend = "set EDITOR to an editor, or give the text with --from FILE"
    if not sys.stdin.isatty():
        # One of the usual editors would wait for keys that nobody can press.
        sentence = "none is set, and there is no terminal to open one on"
        raise UserError(sentence, "VISUAL and EDITOR", mend)
    for name in USUAL:
        if shutil.which(name):
            return [name]
    raise UserError("no editor was found", "VISUAL and EDITOR", mend)
