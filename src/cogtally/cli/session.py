"""`cogtally session`: the same as identify, asked count by count at the bench.

What is asked is left to `shelf`, what is said to `show`, the talk itself to `asking`.
"""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from cogtally.catalog.model import Catalog
from cogtally.cli import options
from cogtally.cli.known import VARIABLE, asked_catalog, own_book
from cogtally.cli.options import argument, flag, option
from cogtally.cli.output import now_written
from cogtally.gears.errors import UserError
from cogtally.show.screen import say_notes, show_or_json

if TYPE_CHECKING:
    from cogtally.shelf.session import Asked, Session


#: The folder that sessions are kept in, where it is not to be the user's data folder.
SESSIONS = "COGTALLY_SESSIONS"
RESUME_FIRST = "write --resume before the name of a session"


def session(
    session_id: str | None = argument(
        "ID", "With --resume: which session. Else the one entered to last."
    ),
    title: str | None = option("TEXT", "Customer and vehicle, for the list."),
    quick: bool = flag("--quick", "Ends once the box is named at 90 %. This is the default."),
    sure: bool = flag("--sure", "To be sure that it is not mixed: every piece counted."),
    resume: bool = flag("--resume", "Go on with a session."),
    as_list: bool = flag("--list", "List the sessions kept."),
    delete: str | None = option("ID", "Delete a session that is kept."),
    family: str | None = options.FAMILY,
    catalog: str | None = options.CATALOG,
    demo: bool = options.DEMO,
    as_json: bool = flag("--json", "Print the answer as JSON."),
) -> None:
    """Name a box count by count.

    At each step the count that tells most is asked for. Marks and features are taken too: mark LG
    3?02, mark laygear: LG*02, feature laygear.splines=10.

    Every entry is kept at once; quit, Ctrl-C or a closed terminal lose nothing, and
    `cogtally session --resume` goes on. It ends with the answer of identify. Where standard input
    is no terminal, an entry is read from each line, and the end of input ends the session.
    """
    if quick and sure:
        raise UserError("--quick and --sure are two different ends", mend="write one of them")
    if session_id is not None and not resume:
        raise UserError("nothing is to be resumed", session_id, RESUME_FIRST)

    from cogtally.shelf.session import last_session, read_session

    folder = sessions_folder()
    if as_list:
        _list(folder, as_json)
        return
    if delete is not None:
        _delete(folder, delete, as_json)
        return
    kept: Session | None = None
    if resume:
        kept = read_session(folder, session_id) if session_id else last_session(folder)
    known, asked = _asked(kept, catalog, demo, family, title, quick, sure)

    from cogtally.cli.asking import hold_session

    raise typer.Exit(hold_session(known, asked, folder, kept, as_json))


def sessions_folder() -> Path:
    """Return where sessions are kept: where the environment says, else in the user's data."""
    return Path(os.environ.get(SESSIONS) or own_book().parent / "sessions")


def _asked(
    kept: Session | None,
    catalog: str | None,
    demo: bool,
    family: str | None,
    title: str | None,
    quick: bool,
    sure: bool,
) -> tuple[Catalog, Asked]:
    """What a session is for: as written now, else as the session that is resumed had it."""
    from cogtally.catalog.find import find_family
    from cogtally.shelf.session import NAME, SURE, Asked, digest_of
    from cogtally.shelf.stock import whole_text

    path = catalog
    if kept is not None and path is None and not demo:
        demo = kept.asked.demo
        path = None if demo else kept.asked.catalog or str(own_book())
    elif path is None and not demo:
        path = os.environ.get(VARIABLE) or None
    known = asked_catalog(path, demo)
    before = kept.asked if kept is not None else Asked(NAME)
    wanted = family if family is not None else before.family
    end = SURE if sure else NAME if quick else before.end
    full = os.path.abspath(os.path.expanduser(path)) if path is not None else ""
    return known, Asked(
        end=end,
        catalog="" if full == str(own_book()) else full,
        demo=demo,
        digest=digest_of(known),
        family=find_family(known, wanted).id if wanted else "",
        title=before.title if title is None else whole_text(title, "--title"),
    )


def _list(folder: Path, as_json: bool) -> None:
    from cogtally.shelf.session import all_sessions
    from cogtally.show.session import list_json, list_lines

    sessions, errors = all_sessions(folder)
    show_or_json(
        as_json,
        lambda: list_json(sessions),
        lambda console: console.print(
            "\n".join(list_lines(sessions, console.width)), soft_wrap=True
        ),
    )
    say_notes(f"{error}." for error in errors)


def _delete(folder: Path, session_id: str, as_json: bool) -> None:
    """Delete a session, one that cannot be read too; what was counted in it is said once more."""
    from cogtally.shelf.session import delete_session, read_session
    from cogtally.show.session import deleted_lines

    kept: Session | None = None
    with suppress(UserError):
        kept = read_session(folder, session_id)
    delete_session(folder, session_id)
    now_written(f"session {session_id} is deleted")
    show_or_json(
        as_json,
        lambda: {"format": 1, "deleted": session_id},
        lambda console: console.print("\n".join(deleted_lines(kept, session_id)), soft_wrap=True),
    )
