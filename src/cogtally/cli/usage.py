"""What a misused command line comes to in one plain line.

Which errors there can be is the parser's affair; printing them is left to `main`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import typer

from cogtally.gears.errors import UserError

#: The class of all errors of the parser.
USAGE_ERRORS = typer.TyperException

LONGEST_SHOWN = 40


def as_user_error(error: Any, words: Sequence[str]) -> UserError:
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
    return UserError(_sentence(error), mend=help_line)


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


def _sentence(error: Any) -> str:
    text = " ".join(error.format_message().split()).rstrip(".")
    return text[:1].lower() + text[1:]


def _shown(word: str) -> str:
    return word if len(word) <= LONGEST_SHOWN else word[: LONGEST_SHOWN - 1] + "…"
