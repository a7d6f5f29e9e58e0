"""`cogtally catalog edit`: change a family or a set of the user's own book in an editor.

What the text is and whether it will do is left to the catalog. Nothing that was typed is lost: a
text that was not written stays in a file, and that is named.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from cogtally.cli import options
from cogtally.cli.catalog.add import refuse_demo, say_kept
from cogtally.cli.options import argument, option
from cogtally.cli.places import asked_book
from cogtally.gears.errors import UserError
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
    from cogtally.catalog.changes import to_edit
    from cogtally.catalog.find import find_any

    place = asked_book(catalog, there=True)
    editing = to_edit(*find_any(partly_read(place), what))
    if file is None:
        kept = _in_editor(editing, place)
    else:
        kept = _written(editing, _text_of(file), place, "-" if file == "-" else file)
    say_kept(kept, str(place), as_json=as_json)


def _text_of(file: str) -> str:
    from cogtally.catalog.changes import decoded, read_text

    if file == "-":
        return decoded(sys.stdin.buffer.read(), "-")
    if not file or "\0" in file:
        raise UserError("the name of the file is empty", "--from", "write --from FILE")
    return read_text(Path(file).expanduser())


def _written(editing: Editing, text: str, place: Path, file: str) -> Kept:
    """Check the text and write what it changes; raise CatalogError with all that is wrong."""
    from cogtally.catalog.changes import Kept, from_edited, keep_family
    from cogtally.evidence.structure import is_entangled

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
    from cogtally.cli.catalog.editor import edit_file, kept_beside

    with kept_beside(place, editing.subject, editing.text) as path:
        while True:
            edit_file(path)
            try:
                text = read_text(path)
                return (
                    Kept(()) if text == editing.text else _written(editing, text, place, str(path))
                )
            except UserError as error:
                _say_problems(error)
                if not _goes_on():
                    mend = (
                        f"'cogtally catalog edit {editing.subject} --from {path}' takes it up again"
                    )
                    raise UserError("nothing was written", editing.subject, mend) from error


def _say_problems(error: UserError) -> None:
    for problem in getattr(error, "problems", None) or (error,):
        note(f"cogtally: {problem}")


def _goes_on() -> bool:
    """Ask whether to go on editing; off a terminal nobody can say so."""
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        return False
    print("Go on editing? [Y/n] ", end="", file=sys.stderr, flush=True)
    answer = sys.stdin.readline()
    # An end of input is no wish to go on.
    return bool(answer) and answer.strip().casefold() in ("", "y", "yes")
