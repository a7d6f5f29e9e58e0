"""`cogtally session`: the same as identify, asked count by count at the bench.

What is asked is left to `shelf`, what is said to `show`, the talk itself to `asking`.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import replace
from errno import EIO
from functools import lru_cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cogtally.catalog.find import as_called
from cogtally.catalog.model import Catalog
from cogtally.cli.known import asked_catalog
from cogtally.cli.main import STOPPED
from cogtally.cli.options import CatalogOption, DemoOption
from cogtally.cli.output import now_written
from cogtally.cli.places import VARIABLE, own_book
from cogtally.evidence.advice import Advice, advise, advise_briefly
from cogtally.evidence.reading import Answer, identify
from cogtally.gears.errors import UserError
from cogtally.gears.words import Seen
from cogtally.shelf.session import (
    HELP,
    HOW,
    LOOKED,
    QUIT,
    SEEN,
    SKIP,
    Asked,
    Bench,
    Outcome,
    Question,
    Session,
    SessionFile,
    View,
    best_turn,
    enter,
    look,
)
from cogtally.show import session as said
from cogtally.show.screen import STRONG, console_for, note, plain, wrapped

if TYPE_CHECKING:
    from rich.console import Console


#: The folder that sessions are kept in, where it is not to be the user's data folder.
SESSIONS = "COGTALLY_SESSIONS"
RESUME_FIRST = "write --resume before the name of a session"


def session(
    session_id: Annotated[
        str | None,
        typer.Argument(
            metavar="ID",
            show_default=False,
            help="With --resume: which session. Else the one entered to last.",
        ),
    ] = None,
    title: Annotated[
        str | None, typer.Option(metavar="TEXT", help="Customer and vehicle, for the list.")
    ] = None,
    quick: Annotated[
        bool,
        typer.Option("--quick", help="Ends once the box is named at 90 %. This is the default."),
    ] = False,
    sure: Annotated[
        bool, typer.Option("--sure", help="To be sure that it is not mixed: every piece counted.")
    ] = False,
    resume: Annotated[bool, typer.Option("--resume", help="Go on with a session.")] = False,
    as_list: Annotated[bool, typer.Option("--list", help="List the sessions kept.")] = False,
    delete: Annotated[
        str | None, typer.Option(metavar="ID", help="Delete a session that is kept.")
    ] = None,
    family: Annotated[
        str | None,
        typer.Option("--family", metavar="FAMILY", help="Ask about this family only."),
    ] = None,
    catalog: CatalogOption = None,
    demo: DemoOption = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the answer as JSON.")] = False,
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

    from cogtally.shelf.session import default_folder, last_session, read_session

    folder = Path(os.environ.get(SESSIONS) or default_folder())
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

    raise typer.Exit(hold_session(known, asked, folder, kept, as_json))


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
    from cogtally.show.screen import console_for, note
    from cogtally.show.session import list_json, list_lines

    sessions, errors = all_sessions(folder)
    if as_json:
        from cogtally.show.screen import print_json

        print_json(list_json(sessions))
    else:
        console = console_for()
        for line in list_lines(sessions, console.width):
            console.print(line, soft_wrap=True)
    for error in errors:
        note(f"Note: {error}.")


def _delete(folder: Path, session_id: str, as_json: bool) -> None:
    """Delete a session, one that cannot be read too; what was counted in it is said once more."""
    from cogtally.shelf.session import delete_session, read_session
    from cogtally.show.screen import console_for
    from cogtally.show.session import deleted_lines

    kept: Session | None = None
    with suppress(UserError):
        kept = read_session(folder, session_id)
    delete_session(folder, session_id)
    now_written(f"session {session_id} is deleted")
    if as_json:
        from cogtally.show.screen import print_json

        print_json({"format": 1, "deleted": session_id})
        return
    console = console_for()
    for line in deleted_lines(kept, session_id):
        console.print(line, soft_wrap=True)


#: So many of the last answers are kept at hand.
ANSWERS_KEPT = 32


def hold_session(
    catalog: Catalog, asked: Asked, folder: Path, kept: Session | None, as_json: bool
) -> int:
    """Hold a session at the prompt, from the start or from where `kept` stands; the exit code."""
    talk = _Talk(catalog, asked, SessionFile(folder, asked, kept), as_json)
    bench = Bench(asked.end, kept.bench.steps if kept is not None else ())
    try:
        view = talk.look(bench)
        talk.begin(bench, view, kept)
        bench, view, ended = talk.ask_on(bench, view)
        talk.end(bench, view, ended)
    except KeyboardInterrupt:
        talk.stopped()
        return STOPPED
    except OSError as error:
        if error.errno != EIO:
            raise
        # The terminal was closed: nobody is left to talk to, and all is kept.
        talk.leave()
        return STOPPED
    return 0


class _Typed:
    """Lines typed at a terminal, or read from a file or a pipe; there each is shown again."""

    def __init__(self, notes: Console) -> None:
        self._notes = notes
        self._live = sys.stdin.isatty()
        self._line_editor = self._live and sys.stdout.isatty()
        reconfigure = getattr(sys.stdin, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")
        if self._line_editor:
            # Not every Python has a line editor; then the terminal's own must do.
            with suppress(ImportError):
                import readline  # noqa: F401

    def read(self, prompt: str) -> str | None:
        """Return the next line; None at the end of input, or where the terminal is gone."""
        if self._line_editor:
            try:
                return input(prompt)
            except (EOFError, OSError):
                self._notes.print()
                return None
        print(prompt, end="", file=sys.stderr, flush=True)
        try:
            line = sys.stdin.readline()
        except OSError:
            line = ""
        if not self._live or not line:
            self._notes.print(plain(line.rstrip("\r\n")), soft_wrap=True)
        return line.rstrip("\r\n") if line else None


class _Talk:
    def __init__(self, catalog: Catalog, asked: Asked, file: SessionFile, as_json: bool) -> None:
        self._catalog = catalog
        self._asked = asked
        self._file = file
        self._as_json = as_json
        self._notes = console_for(sys.stderr)
        # JSON has standard output for itself.
        self._answers = self._notes if as_json else console_for()
        self._typed = _Typed(self._notes)
        # A wish, something left out or taken back asks of what was answered before.
        self._answer = lru_cache(ANSWERS_KEPT)(self._identify)
        self._advice = lru_cache(ANSWERS_KEPT)(self._advise)

    def look(self, bench: Bench) -> View:
        """Ask what the session comes to as it stands."""
        seen = self._named(bench.seen)
        return look(bench, self._answer(seen), partial(self._advice, seen))

    def _named(self, seen: Seen, before: str = "--") -> Seen:
        """What was seen, its pieces as the catalog calls them; UserError for what cannot be."""
        from cogtally.evidence.looked import resolved
        from cogtally.evidence.overdrive_turns import refuse_overdrive_turns

        refuse_overdrive_turns(self._catalog, seen, self._asked.family or None)
        return resolved(self._catalog, seen, before)

    def _called(self, typed: Seen) -> Seen:
        """What was just typed, its pairs too as the catalog calls them."""
        return self._named(as_called(self._catalog, typed), before="")

    def _identify(self, seen: Seen) -> Answer:
        return identify(self._catalog, seen, family=self._asked.family or None)

    def _advise(self, seen: Seen, turns: bool) -> Advice:
        if turns:
            self._note(["Weighing the turn tests …"])
        return advise(self._catalog, seen, self._asked.family or None, turns=turns)

    def _best_turn(self, bench: Bench) -> Question | None:
        return best_turn(bench, self._advice(self._named(bench.seen), True))

    def begin(self, bench: Bench, view: View, kept: Session | None) -> None:
        """Say what the session is for, and where it stands if it is taken up again."""
        self._file.begin()
        self._note(said.first_lines(bench, self._catalog, self._asked.family))
        if kept is not None and kept.torn:
            lines = "1 line" if kept.torn == 1 else f"{kept.torn} lines"
            note(f"Note: {lines} of this session cannot be read and are left out; all else counts.")
        if kept is not None:
            self._file.keep_title()
            self._note(said.resumed_lines(replace(kept, bench=bench, asked=self._asked), view))
            self._note([said.changed_line(kept.asked, self._asked)])

    def ask_on(self, bench: Bench, view: View) -> tuple[Bench, View, bool]:
        """Ask until the end, and tell whether it came by itself."""
        while True:
            self._notes.print()
            self._note(said.question_lines(view))
            text = self._typed.read(said.prompt(view.question))
            while text is not None and not text.strip():
                text = self._typed.read(said.prompt(view.question))
            if text is None:
                return bench, view, False
            try:
                turn = partial(self._best_turn, bench)
                outcome = enter(bench, view.question, text, turn, self._called)
                if outcome.step is not None:
                    self._file.keep(outcome.step)
                    now_written(f"session {self._file.id} is kept")
            except UserError as error:
                note(str(error))
                continue
            if outcome.kind == QUIT:
                return bench, view, False
            bench, view = self._go_on(outcome, view)
            if view.ending and outcome.kind in (*LOOKED, SKIP):
                return bench, view, True

    def _go_on(self, outcome: Outcome, view: View) -> tuple[Bench, View]:
        if outcome.kind == HELP:
            self._note(said.HELP)
        elif outcome.kind == HOW:
            self._note(said.how_lines(view.question, view.answer.family))
        if outcome.step is None:
            return outcome.bench, view
        now = self.look(outcome.bench)
        self._file.keep_answer(said.answer_line(now.answer))
        line = said.entered_line(outcome, view.answer, now.answer)
        if line:
            self._answers.print(_filled(line, self._answers), style=STRONG)
        if outcome.kind == SEEN:
            self._note([said.turned_line(now.answer)])
        return outcome.bench, now

    def end(self, bench: Bench, view: View, ended: bool) -> None:
        """Give the whole answer, the line that asks for it again, and how to go on."""
        self._file.end()
        if ended:
            self._note([said.end_line(view)])
        self._notes.print()
        if bench.last_seen is not None:
            self._whole_answer(bench)
            self._notes.print()
            self._note(["The same again in one line:"])
            command = said.command_line(bench, self._asked)
            print(command, file=sys.stderr if self._as_json else sys.stdout, flush=True)
        else:
            self._note(["Nothing was counted, so there is nothing to say of the box."])
        self._note(said.kept_lines(self._file.id, view, bench.end))

    def leave(self) -> None:
        """Leave nothing behind of a session without entries."""
        self._file.end()

    def stopped(self) -> None:
        """Say after Ctrl-C that nothing is lost."""
        self._file.end()
        self._notes.print()
        self._note(said.kept_lines(self._file.id, None, self._asked.end))

    def _whole_answer(self, bench: Bench) -> None:
        """Show what identify shows of the same words."""
        answer = identify(
            self._catalog,
            self._named(bench.seen),
            family=self._asked.family or None,
            advising=advise if self._as_json else advise_briefly,
            why=self._as_json,
        )
        if self._as_json:
            from cogtally.show.box import answer_json
            from cogtally.show.screen import print_json

            print_json(answer_json(answer))
            sys.stdout.flush()
        else:
            from cogtally.show.box import show_answer

            show_answer(answer, self._answers)

    def _note(self, lines: Iterable[str]) -> None:
        for line in lines:
            if line:
                self._notes.print(_filled(line, self._notes))


def _filled(line: str, console: Console) -> str:
    return "\n".join(wrapped(line, console.width))
