"""A session at a terminal: asks, reads what is typed, and says what it comes to.

What an entry makes of a session is left to `shelf.session`, the options to `session`.
"""

import sys
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import replace
from errno import EIO
from functools import lru_cache, partial
from pathlib import Path

from rich.console import Console

from cogtally.catalog.find import as_called
from cogtally.catalog.model import Catalog
from cogtally.cli.main import STOPPED
from cogtally.cli.output import now_written
from cogtally.evidence.advice import Advice, advise, advise_briefly
from cogtally.evidence.reading import identify
from cogtally.gears.errors import UserError
from cogtally.gears.notation import Seen
from cogtally.shelf import session as sessions
from cogtally.shelf.session import look
from cogtally.show import session as said
from cogtally.show.screen import STRONG, console_for, note, plain, print_json, wrapped

#: So many of the last answers are kept at hand.
ANSWERS_KEPT = 32


def hold_session(
    catalog: Catalog,
    asked: sessions.Asked,
    folder: Path,
    kept: sessions.Session | None,
    as_json: bool,
) -> int:
    """Hold a session at the prompt, from the start or from where `kept` stands; the exit code."""
    file = sessions.SessionFile(folder, asked, kept)
    talk = _Talk(catalog, asked, file, as_json)
    bench = replace(kept.bench if kept is not None else sessions.Bench(), end=asked.end)
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
        file.end()
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
    def __init__(
        self, catalog: Catalog, asked: sessions.Asked, file: sessions.SessionFile, as_json: bool
    ) -> None:
        self._catalog = catalog
        self._asked = asked
        self._file = file
        self._as_json = as_json
        self._notes = console_for(sys.stderr)
        # JSON has standard output for itself.
        self._answers = self._notes if as_json else console_for()
        self._typed = _Typed(self._notes)
        # A wish, something left out or taken back asks of what was answered before.
        answered = partial(identify, catalog, family=asked.family or None)
        self._answer = lru_cache(ANSWERS_KEPT)(answered)
        self._advice = lru_cache(ANSWERS_KEPT)(self._advise)

    def look(self, bench: sessions.Bench) -> sessions.View:
        """Ask what the session comes to as it stands."""
        seen = self._named(bench.together)
        return look(bench, self._answer(seen), partial(self._advice, seen))

    def _named(self, seen: Seen, before: str = "--") -> Seen:
        """What was seen, its pieces as the catalog calls them; UserError for what cannot be."""
        from cogtally.catalog.looked import refuse_overdrive_turns, resolved

        refuse_overdrive_turns(self._catalog, seen, self._asked.family or None)
        return resolved(self._catalog, seen, before)

    def _called(self, typed: Seen) -> Seen:
        """What was just typed, its pairs too as the catalog calls them."""
        return self._named(as_called(self._catalog, typed), before="")

    def _advise(self, seen: Seen, turns: bool) -> Advice:
        if turns:
            self._note(["Weighing the turn tests …"])
        return advise(self._catalog, seen, self._asked.family or None, turns=turns)

    def begin(
        self, bench: sessions.Bench, view: sessions.View, kept: sessions.Session | None
    ) -> None:
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

    def ask_on(
        self, bench: sessions.Bench, view: sessions.View
    ) -> tuple[sessions.Bench, sessions.View, bool]:
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

                def turn(bench: sessions.Bench = bench) -> sessions.Question | None:
                    advice = self._advice(self._named(bench.together), True)
                    return sessions.best_turn(bench, advice)

                outcome = sessions.enter(bench, view.question, text, turn, self._called)
                if outcome.step is not None:
                    self._file.keep(outcome.step)
                    now_written(f"session {self._file.id} is kept")
            except UserError as error:
                note(str(error))
                continue
            if outcome.kind == sessions.QUIT:
                return bench, view, False
            bench, view = self._go_on(outcome, view)
            if view.ending and outcome.kind in (*sessions.LOOKED, sessions.SKIP):
                return bench, view, True

    def _go_on(
        self, outcome: sessions.Outcome, view: sessions.View
    ) -> tuple[sessions.Bench, sessions.View]:
        if outcome.kind == sessions.HELP:
            self._note(said.HELP)
        elif outcome.kind == sessions.HOW:
            self._note(said.how_lines(view.question, view.answer.family))
        if outcome.step is None:
            return outcome.bench, view
        now = self.look(outcome.bench)
        self._file.keep_answer(said.answer_line(now.answer))
        line = said.entered_line(outcome, view.answer, now.answer)
        if line:
            self._answers.print(_filled(line, self._answers), style=STRONG)
        if outcome.kind == sessions.SEEN:
            self._note([said.turned_line(now.answer)])
        return outcome.bench, now

    def end(self, bench: sessions.Bench, view: sessions.View, ended: bool) -> None:
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

    def stopped(self) -> None:
        """Say after Ctrl-C that nothing is lost."""
        self._file.end()
        self._notes.print()
        self._note(said.kept_lines(self._file.id, None, self._asked.end))

    def _whole_answer(self, bench: sessions.Bench) -> None:
        """Show what identify shows of the same words."""
        answer = identify(
            self._catalog,
            self._named(bench.seen),
            family=self._asked.family or None,
            advising=advise if self._as_json else advise_briefly,
            why=self._as_json,
        )
        from cogtally.show.box import answer_json, show_answer

        if self._as_json:
            print_json(answer_json(answer))
            sys.stdout.flush()
        else:
            show_answer(answer, self._answers)

    def _note(self, lines: Iterable[str]) -> None:
        for line in lines:
            if line:
                self._notes.print(_filled(line, self._notes))


def _filled(line: str, console: Console) -> str:
    return "\n".join(wrapped(line, console.width))
