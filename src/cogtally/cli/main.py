"""The way in: the one place where an error becomes a line and an exit code.

Which commands there are is left to `commands`, what each does to its own room.

Exit codes: 0 answered; 1 answered, and the answer is no; 2 could not be understood or read;
3 cannot be settled yet; 130 stopped with Ctrl-C; 141 the reader of the output went away.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence

from cogtally.cli.output import OutputError, watched_output
from cogtally.gears.errors import UserError

NOT_UNDERSTOOD, STOPPED, READER_GONE = 2, 130, 141
DEBUG = "--debug"


class ReaderGoneError(Exception):
    """Whoever read the output has closed it."""


def main() -> None:
    """Run the command that the command line asks for, and end the process with its exit code."""
    sys.exit(run(sys.argv[1:]))


def run(words: Sequence[str]) -> int:
    """Run the command that `words` ask for and return the exit code; errors become lines."""
    debug, words = _without_debug(list(words))
    with watched_output():
        return _code_of(words, debug)


def _code_of(words: list[str], debug: bool) -> int:
    try:
        code = _run(words)
        sys.stdout.flush()
    except KeyboardInterrupt:
        _print_traceback(debug)
        return STOPPED
    except (BrokenPipeError, ReaderGoneError):
        _leave_quietly()
        return READER_GONE
    except OutputError as error:
        _print_traceback(debug)
        _leave_quietly()
        _print_errors(UserError(f"standard output could not be written: {error}"))
        return NOT_UNDERSTOOD
    except UserError as error:
        _print_traceback(debug)
        _print_errors(error)
        return NOT_UNDERSTOOD
    except OSError as error:
        # A place that cannot even be asked about: a folder that is not to be entered, a name that
        # is too long. An error without a place is one of the program.
        if error.filename is None:
            raise
        _print_traceback(debug)
        why = (error.strerror or str(error)).lower()
        _print_errors(UserError(f"it cannot be reached: {why}", str(error.filename)))
        return NOT_UNDERSTOOD
    return code


def _run(words: list[str]) -> int:
    # The parser is imported here, so that Ctrl-C finds a handler even while it loads.
    from typer import Abort
    from typer.main import get_command

    from cogtally.cli.commands import PROGRAM, app
    from cogtally.cli.usage import USAGE_ERRORS, as_user_error

    try:
        result = get_command(app).main(args=words, prog_name=PROGRAM, standalone_mode=False)
    except USAGE_ERRORS as error:
        raise as_user_error(error, words) from error
    except Abort:
        # The end of what is typed (Ctrl-D) at a question; older parsers say so of Ctrl-C too.
        return STOPPED
    return result if isinstance(result, int) else 0


def _without_debug(words: list[str]) -> tuple[bool, list[str]]:
    """Take `--debug` out, wherever it stands before a `--`."""
    end = words.index("--") if "--" in words else len(words)
    kept = [word for word in words[:end] if word != DEBUG]
    return len(kept) < end, kept + words[end:]


def _print_errors(error: UserError) -> None:
    problems = getattr(error, "problems", None) or (error,)
    for problem in problems:
        print(f"cogtally: {_one_line(str(problem))}", file=sys.stderr)


def _print_traceback(debug: bool) -> None:
    if debug:
        import traceback

        traceback.print_exc()


def _one_line(text: str) -> str:
    """Keep what strangers wrote from breaking the line or steering the terminal."""
    text = " ".join(text.splitlines())
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text)


def _leave_quietly() -> None:
    """Keep the interpreter from writing to what cannot be written once more when it ends."""
    devnull = os.open(os.devnull, os.O_WRONLY)
    os.dup2(devnull, sys.stdout.fileno())
