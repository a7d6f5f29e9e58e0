"""`cogtally catalog edit`: change a family or a set of the user's own book in an editor.

Which editor that is, how it is run, and where the file stands. What the text is and whether it will
do is left to the catalog. Nothing that was typed is lost: a text that was not written stays in a
file, and that is named.
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
from typing import TYPE_CHECKING

from cogtally.cli import options
from cogtally.cli.catalog.add import refuse_demo, say_kept
from cogtally.cli.known import asked_book, is_entangled
from cogtally.cli.options import argument, option
from cogtally.gears.errors import UserError, why_of
from cogtally.show.screen import note

if TYPE_CHECKING:
    from cogtally.catalog.changes import Editing, Kept


def edit(
    what: str | None = argument("FAMILY[/SET]", "A family with its sets, or one set."),
    file: str | None = option(
        "FILE", "Take the text from this file, - for standard input.", "--from"
    ),
    catalog: str | None = options.BOOK,
    demo: bool = options.NO_DEMO,
    as_json: bool = options.JSON,
) -> None:
    """Change a family or a set in your editor.

    The text is TOML, the editor VISUAL, else EDITOR. What comes back is checked as a whole; where
    something is wrong nothing is written, and you can go on editing. --from FILE changes it without
    an editor.
    """
    refuse_demo(demo)
    if not what:
        mend = "name a family, or FAMILY/SET"
        raise UserError("FAMILY[/SET] is missing", "cogtally catalog edit", mend)
    from cogtally.catalog.book import partly_read
    from cogtally.catalog.changes import decoded, read_text, to_edit
    from cogtally.catalog.find import find_any

    place = asked_book(catalog, there=True)
    editing = to_edit(*find_any(partly_read(place), what))
    if file is None:
        kept = _in_editor(editing, place)
    else:
        if not file or "\0" in file:
            raise UserError("the name of the file is empty", "--from", "write --from FILE")
        stdin = file == "-"
        text = (
            decoded(sys.stdin.buffer.read(), "-") if stdin else read_text(Path(file).expanduser())
        )
        kept = _written(editing, text, place, file)
    say_kept(kept, str(place), as_json=as_json)


def _written(editing: Editing, text: str, place: Path, file: str) -> Kept:
    """Check the text and write what it changes; raise CatalogError with all that is wrong."""
    from cogtally.catalog.changes import Kept, from_edited, keep_family

    if not text.strip():
        raise UserError("the text is empty", file, "nothing was changed")
    after = from_edited(editing, text, file, entangled=is_entangled)
    if after == editing.family:
        return Kept(())
    what = f"catalog edit {editing.subject}"
    return keep_family(place, editing.family, after, what, entangled=is_entangled)


def _in_editor(editing: Editing, place: Path) -> Kept:
    """Have the text edited until it will do, or until nobody wants to go on."""
    from cogtally.catalog.changes import Kept, read_text

    with kept_beside(place, editing.subject, editing.text) as path:
        while True:
            edit_file(path)
            try:
                text = read_text(path)
                if text == editing.text:
                    return Kept(())
                return _written(editing, text, place, str(path))
            except UserError as error:
                for problem in getattr(error, "problems", None) or (error,):
                    note(f"cogtally: {problem}")
                if not _goes_on():
                    again = f"'cogtally catalog edit {editing.subject} --from {path}'"
                    mend = f"{again} takes it up again"
                    raise UserError("nothing was written", editing.subject, mend) from error


def _goes_on() -> bool:
    """Ask whether to go on editing; off a terminal nobody can say so."""
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        return False
    print("Go on editing? [Y/n] ", end="", file=sys.stderr, flush=True)
    answer = sys.stdin.readline()
    # An end of input is no wish to go on.
    return bool(answer) and answer.strip().casefold() in ("", "y", "yes")


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
        try:
            as_it_was = path.read_bytes() == text.encode("utf-8")
        except OSError:
            as_it_was = not path.exists()
        if done or as_it_was:
            path.unlink(missing_ok=True)
        else:
            note(f"cogtally: the text is kept in {path}{again.format(path)}")


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
