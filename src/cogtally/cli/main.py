"""The way in: the one place where an error becomes a line and an exit code.

Which commands there are is left to `commands`, what each does to its own room.

Exit codes: 0 answered; 1 answered, and the answer is no, or not all of it could be done; 2 could
not be understood or read, and nothing was written; 3 cannot be settled yet; 130 stopped with
Ctrl-C; 141 the reader of the output went away.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from typing import TextIO

from cogtally.cli.output import OutputError, ReaderGoneError, watched_output, written_so_far
from cogtally.gears.errors import PerhapsWrittenError, UserError
from cogtally.show.screen import note, written_list

NOT_WHOLE, NOT_UNDERSTOOD, STOPPED, READER_GONE = 1, 2, 130, 141
DEBUG = "--debug"


def main() -> None:
    """Run the command that the command line asks for, and end the process with its exit code."""
    # The arrays are small: threads of their own would cost more than they give.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    sys.exit(run(sys.argv[1:]))


def run(words: Sequence[str]) -> int:
    """Run the command that `words` ask for and return the exit code; errors become lines."""
    debug, words = _without_debug(list(words))
    with watched_output():
        try:
            code = _code_of(words, debug)
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
        why = (error.strerror or str(error)).lower()
        return _say(UserError(f"it cannot be reached: {why}", str(error.filename)))
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
