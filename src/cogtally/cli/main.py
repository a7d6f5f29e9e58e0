"""The way in: the one place where an error becomes a line and an exit code, the parser's too.

Which commands there are is left to `commands`, what each does to its own room.

Exit codes: 0 answered; 1 answered, and the answer is no, or not all of it could be done; 2 could
not be understood or read, and nothing was written; 3 cannot be settled yet; 130 stopped with
Ctrl-C; 141 the reader of the output went away.
"""

import os
import sys
from collections.abc import Sequence
from typing import Any, TextIO

from cogtally.cli.output import OutputError, ReaderGoneError, watched_output, written_so_far
from cogtally.gears.errors import PerhapsWrittenError, UserError, why_of
from cogtally.show.screen import note, written_list

NOT_WHOLE, NOT_UNDERSTOOD, STOPPED, READER_GONE = 1, 2, 130, 141
DEBUG = "--debug"
LONGEST_SHOWN = 40


def main() -> None:
    """Run the command that the command line asks for, and end the process with its exit code."""
    # The arrays are small: threads of their own would cost more than they give.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    sys.exit(run(sys.argv[1:]))


def run(words: Sequence[str]) -> int:
    """Run the command that `words` ask for and return the exit code; errors become lines."""
    # It is taken out wherever it stands before a `--`.
    end = list(words).index("--") if "--" in words else len(words)
    kept = [word for word in words[:end] if word != DEBUG]
    with watched_output():
        try:
            code = _code_of([*kept, *words[end:]], len(kept) < end)
        except BrokenPipeError:
            # The reader of standard error went away before the error was said.
            _leave_quietly(sys.stdout, sys.stderr)
            return READER_GONE
        try:
            sys.stderr.flush()
        except OSError:
            _leave_quietly(sys.stderr)
        return code


def _code_of(words: list[str], debug: bool) -> int:
    try:
        code = _run(words)
        sys.stdout.flush()
    except KeyboardInterrupt:
        _print_traceback(debug)
        return STOPPED
    except (BrokenPipeError, ReaderGoneError):
        _leave_quietly(sys.stdout, sys.stderr)
        return READER_GONE
    except OutputError as error:
        _print_traceback(debug)
        _leave_quietly(sys.stdout)
        return _say(UserError(f"standard output could not be written: {error}"))
    except UserError as error:
        _print_traceback(debug)
        return _say(error)
    except OSError as error:
        # A place that cannot even be asked about: a folder that is not to be entered, a name that
        # is too long. An error without a place is one of the program.
        if error.filename is None:
            raise
        _print_traceback(debug)
        return _say(UserError(f"it cannot be reached: {why_of(error)}", str(error.filename)))
    return code


def _run(words: list[str]) -> int:
    # The parser is imported here, so that Ctrl-C finds a handler even while it loads.
    from typer import Abort, TyperException
    from typer.main import get_command

    from cogtally.cli.commands import PROGRAM, app

    try:
        result = get_command(app).main(args=words, prog_name=PROGRAM, standalone_mode=False)
    except TyperException as error:
        raise _as_user_error(error, words) from error
    except Abort:
        # The end of what is typed (Ctrl-D) at a question; older parsers say so of Ctrl-C too.
        return STOPPED
    return result if isinstance(result, int) else 0


def _say(error: UserError) -> int:
    """Say what is wrong, and what was written for good before; return the exit code."""
    for problem in getattr(error, "problems", None) or (error,):
        text = str(problem)
        # An error about the command itself names the program already.
        note(text if text.startswith("cogtally ") else f"cogtally: {text}")
    written = written_so_far()
    if not written:
        return NOT_WHOLE if isinstance(error, PerhapsWrittenError) else NOT_UNDERSTOOD
    note(f"cogtally: even so, {written_list(written)}")
    return NOT_WHOLE


def _print_traceback(debug: bool) -> None:
    if debug:
        import traceback

        traceback.print_exc()


def _leave_quietly(*streams: TextIO) -> None:
    """Keep the interpreter from writing to what cannot be written once more when it ends."""
    devnull = os.open(os.devnull, os.O_WRONLY)
    for stream in streams:
        os.dup2(devnull, stream.fileno())


def _as_user_error(error: Any, words: Sequence[str]) -> UserError:
    """Return what the parser found wrong in `words` as our one kind of error."""
    context = getattr(error, "ctx", None)
    help_line = f"'{_command_path(context, words)} --help' lists what can be written"
    kind = type(error).__name__
    if kind == "NoSuchOption":
        return _no_such_option(error, words, help_line)
    if kind == "MissingParameter" and error.param is not None:
        name = getattr(error.param, "metavar", None) or error.param.name
        return UserError(f"{name} is missing", mend=help_line)
    if kind == "BadOptionUsage":
        takes_none = "not take" in error.format_message()
        sentence = "this option takes no value" if takes_none else "a value is missing behind it"
        return UserError(sentence, _shown(error.option_name), help_line)
    if "No such command" in error.format_message() and words:
        return _no_such_command(context, words)
    text = " ".join(error.format_message().split()).rstrip(".")
    return UserError(text[:1].lower() + text[1:], mend=help_line)


def _command_path(context: Any, words: Sequence[str]) -> str:
    """The command that the line was meant for: as far as the parser got, else by its words."""
    from typer.main import get_command

    from cogtally.cli.commands import PROGRAM, app

    found = [PROGRAM]
    command: Any = get_command(app)
    for word in words:
        inner = getattr(command, "get_command", lambda ctx, name: None)(context, word)
        if inner is not None:
            found.append(word)
            command = inner
    return max(" ".join(found), str(context.command_path) if context else "", key=len)


def _no_such_option(error: Any, words: Sequence[str], help_line: str) -> UserError:
    option = error.option_name
    word = next((w for w in words if w.startswith(option)), option)
    if word[1:2].isdigit() or word[1:2] == ".":
        sentence = "a word that begins with '-' is read as an option, and there is no such option"
        return UserError(sentence, _shown(word), "counts and turns are written without a sign")
    near = sorted(error.possibilities or ())
    mend = f"did you mean {' or '.join(near)}?" if near else help_line
    return UserError("there is no such option", _shown(option), mend)


def _no_such_command(context: Any, words: Sequence[str]) -> UserError:
    from difflib import get_close_matches

    from cogtally.cli.commands import COMMANDS, PROGRAM

    known = context.command.list_commands(context)
    above = context.command_path.split()
    word = next((w for w in words if not w.startswith("-") and w not in above), words[-1])
    if word in COMMANDS:
        return UserError("there is no such command", word, f"write {PROGRAM} {word}")
    near = get_close_matches(word, known)
    mend = f"did you mean {' or '.join(near)}?" if near else f"the commands are {', '.join(known)}"
    return UserError("there is no such command", _shown(word), mend)


def _shown(word: str) -> str:
    return word if len(word) <= LONGEST_SHOWN else word[: LONGEST_SHOWN - 1] + "…"
