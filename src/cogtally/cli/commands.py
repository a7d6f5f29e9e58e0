"""Which commands there are, and where each lives; only the one asked for is imported.

What a command does is left to its own room, errors to `main`.
"""

from __future__ import annotations

import importlib
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any

import typer
from typer.main import get_command

from cogtally import __version__
from cogtally.cli.lean import LeanCommand, LeanGroup
from cogtally.cli.output import ReaderGoneError

PROGRAM = "cogtally"
CONTEXT: dict[str, Any] = {"help_option_names": ["-h", "--help"], "max_content_width": 100}

#: What commands are for, in the order in which help lists them: each command's name to the place
#: of its function or of its app.
GROUPS = {
    "Name it": {
        "identify": "cogtally.cli.identify:identify",
        "piece": "cogtally.cli.piece:piece",
        "session": "cogtally.cli.session:session",
        "sheet": "cogtally.cli.sheet:sheet",
        "field": "cogtally.cli.field:field",
    },
    "Work it out": {
        "ratios": "cogtally.cli.ratios:ratios",
        "turning": "cogtally.cli.turning:turning",
        "road": "cogtally.cli.road:road",
        "recover": "cogtally.cli.recover:recover",
        "gauge": "cogtally.cli.gauge:gauge",
    },
    "Keep it": {
        "catalog": "cogtally.cli.catalog:app",
        "stock": "cogtally.cli.stock:app",
        "log": "cogtally.cli.log:log",
        "undo": "cogtally.cli.log:undo",
    },
    "Help": {
        "guide": "cogtally.cli.guide:guide",
        "help": "cogtally.cli.guide:help_on",
        "version": "cogtally.cli.guide:version",
        "completion": "cogtally.cli.completion:completion",
    },
}
COMMANDS = {name: place for group in GROUPS.values() for name, place in group.items()}


class Commands(LeanGroup):
    """The commands of the program, imported one at a time."""

    def list_commands(self, ctx: Any) -> list[str]:
        """Return the names of all commands."""
        return list(COMMANDS)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """Import the command of that name and return it; None where there is none."""
        if cmd_name not in COMMANDS:
            return None
        module, _, attribute = COMMANDS[cmd_name].partition(":")
        found = getattr(importlib.import_module(module), attribute)
        if not isinstance(found, typer.Typer):
            found = _alone(cmd_name, found)
        command: Any = get_command(found)
        command.name = cmd_name
        return command

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """Write the commands by what they are for."""
        widest = max(map(len, COMMANDS))
        for title, names in GROUPS.items():
            with formatter.section(title):
                formatter.write_dl(
                    [
                        (f"{n:{widest}}", self.get_command(ctx, n).get_short_help_str())
                        for n in names
                    ]
                )

    def make_context(self, *words: Any, **more: Any) -> Any:
        """Read the words, or print help or the version; a reader that left is left to `main`."""
        with _leaving_readers_to_main():
            return super().make_context(*words, **more)

    def invoke(self, ctx: Any) -> Any:
        """Run the command; a reader that went away is left to `main`."""
        with _leaving_readers_to_main():
            result = super().invoke(ctx)
            sys.stdout.flush()
        return result


@contextmanager
def _leaving_readers_to_main() -> Iterator[None]:
    try:
        yield
    except BrokenPipeError as error:
        # The parser would end the process with an exit code that means "no" here.
        raise ReaderGoneError from error


def group(about: str, commands: Mapping[str, Callable[..., None]]) -> typer.Typer:
    """Return commands by their names as one, which by itself prints its help."""
    found = typer.Typer(
        cls=LeanGroup,
        add_completion=False,
        rich_markup_mode=None,
        context_settings=CONTEXT,
        help=about,
    )

    def start(context: typer.Context) -> None:
        if context.invoked_subcommand is None:
            print(context.get_help())

    found.callback(invoke_without_command=True)(start)
    for name, function in commands.items():
        found.command(name, cls=LeanCommand, context_settings=CONTEXT)(function)
    return found


def _alone(name: str, function: Any) -> typer.Typer:
    found = typer.Typer(add_completion=False, rich_markup_mode=None)
    found.command(name, cls=LeanCommand, context_settings=CONTEXT)(function)
    return found


app = typer.Typer(
    cls=Commands,
    add_completion=False,
    rich_markup_mode=None,
    context_settings=CONTEXT,
    help="Name a gearbox set from counted teeth.",
)


def _print_version(asked: bool) -> None:
    if asked:
        print(f"{PROGRAM} {__version__}")
        raise typer.Exit


@app.callback(invoke_without_command=True)
def start(
    context: typer.Context,
    version: bool = typer.Option(
        False, "--version", help="Print the version.", is_eager=True, callback=_print_version
    ),
    debug: bool = typer.Option(False, "--debug", help="Show where an error arose in the program."),
) -> None:
    """Name a gearbox set from counted teeth."""
    if context.invoked_subcommand is None:
        print(context.get_help())
