"""Which commands there are, and where each lives; only the one asked for is imported.

Their parameters are taken as they were typed, and their help ends with examples. The validation
library behind the parser costs more to load than all the rest of an answer; plain text goes around
it, and whatever is not plain text goes the parser's own way. What a command does and what its text
means is left to its own room, errors to `main`.
"""

import importlib
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any

import typer
from typer.core import TyperCommand, TyperGroup
from typer.main import get_command

from cogtally import __version__
from cogtally.cli.output import ReaderGoneError

PROGRAM = "cogtally"
CONTEXT: dict[str, Any] = {"help_option_names": ["-h", "--help"], "max_content_width": 100}
#: How the parser is to be: with no completion, no markup of its own.
PLAINLY: dict[str, Any] = {"add_completion": False, "rich_markup_mode": None}

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
        "turning": "cogtally.cli.ratios:turning",
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


EXAMPLES: Mapping[str, tuple[str, ...]] = {
    "": (
        "identify --demo input=17/28 1=14/31 2=19/26 3=24/21",
        "piece --demo 28 24 19 14 12",
        "guide bench",
    ),
    "identify": (
        "identify --demo input=17/28 1=14/31 2=19/26 3=24/22x2 --why",
        "identify --demo --shut 1@4:1.1 2@4:1.77",
        "identify --expect alder-4/wide input=17/28 1=14/31 2=19/26 3=24/21",
    ),
    "piece": (
        "piece --demo 28 24 19 14 12",
        "piece --demo 24u 19 .. --role laygear",
        "piece 22 --family alder-4",
    ),
    "session": ("session --demo", "session --list"),
    "ratios": (
        "ratios input=16/29 1=15/30 2=20/25 3=25/20 --direct 4",
        "ratios input=16/29 1=15/30 --axle 9/41",
    ),
    "turning": (
        "turning input=16/29 1=15/30 2=20/25",
        "turning input=16/29 1=15/30 2=20/25 --noise 1",
    ),
    "recover": ("recover 3.65 2.25 1.44", "recover 3.9 --layout axle"),
    "gauge": (
        "gauge --teeth 24 --outside 81.3 --span 4:32.83",
        "gauge --standard 3 --angle 20 --teeth 22-26",
    ),
    "road": (
        "road --set alder-4/wide --axle 9/41 --tyre 165/80R15",
        "road input=16/29 1=15/30 2=20/25 --axle 4.11 --tyre 1960mm --rpm 5000",
    ),
    "sheet": ("sheet alder-4 --out sheet.pdf", "sheet --blank layshaft --out blank.pdf"),
    "field": ("field --out field.html", "field --family alder-4 --out alder.html"),
    "guide": ("guide", "guide bench"),
    "help": ("help identify", "help stock add"),
    "catalog": ("catalog check book.db", "catalog show alder-4", "catalog find alder"),
    "catalog check": ("catalog check book.db", "catalog check book.db --json"),
    "catalog list": ("catalog list", "catalog list --json"),
    "catalog show": ("catalog show alder-4", "catalog show alder-4/wide"),
    "catalog find": ("catalog find alder", "catalog find '1=14/31'"),
    "catalog apart": ("catalog apart alder-4", "catalog apart willow-4 --json"),
    "catalog add": (
        "catalog add alder-4/trial input=18/27 1=15/30 2=20/25 3=25/20 R=12/20/28",
        "catalog add alder-4/leaflet --ratio 1=3.21 --ratio 2=2.00 --ratio 3=1.33",
    ),
    "catalog export": ("catalog export out", "catalog export again --force"),
    "stock": ("stock add 28 24 19 14 12 --place 'shelf 3'", "stock list", "stock kits"),
    "stock add": (
        "stock add 28 24 19 14 12 --price 45 --currency GBP",
        "stock add --pair 3=24/21",
        "stock add input=17/28 1=14/31 2=19/26 3=24/21",
    ),
    "stock list": ("stock list", "stock list --all"),
    "stock show": ("stock show 1", "stock show 1 --json"),
    "stock find": ("stock find 28 24", "stock find shelf"),
    "stock edit": ("stock edit 1 --place attic", "stock edit 1 --price 50"),
    "stock kits": ("stock kits", "stock kits alder-4 --by count"),
    "stock label": (
        "stock label 1 --size 60x30 --out roll.pdf",
        "stock label --all-new --grid 8x3 --out sheet-of-labels.pdf",
    ),
    "stock recheck": ("stock recheck --dry-run", "stock recheck"),
    "stock export": ("stock export stock.csv", "stock export stock.json"),
    "stock sell": ("stock sell 1 --to 'a friend' --price 40",),
    "log": ("log", "log 2"),
    "undo": ("undo", "undo 2"),
}


def _as_typed(param: Any) -> Any:
    """Return a parameter that takes plain text as it is, and all else as the parser does."""
    annotation = getattr(getattr(param, "type_descriptor", None), "annotation", None)
    if annotation in (bool, str, list[str]) and "process_value" not in vars(param):
        param.process_value = _taking(param, param.process_value, several=annotation == list[str])
    return param


def _taking(
    param: Any, usual: Callable[[Any, Any], Any], *, several: bool
) -> Callable[[Any, Any], Any]:
    def process_value(ctx: Any, value: Any) -> Any:
        if value in (None, (), []):
            if param.required:
                return usual(ctx, value)
            value = () if several else None
        elif several and isinstance(value, (list, tuple)):
            if not all(isinstance(each, str) for each in value):
                return usual(ctx, value)
            value = list(value)
        elif several or not isinstance(value, str):
            return usual(ctx, value)
        return value if param.callback is None else param.callback(ctx, param, value)

    return process_value


class _Lean:
    """What commands and groups have in common: texts taken as typed, help ending with examples."""

    def get_params(self, ctx: Any) -> list[Any]:
        """Return the parameters, those of plain text without a conversion."""
        return [_as_typed(param) for param in super().get_params(ctx)]  # type: ignore[misc]

    def format_epilog(self, ctx: Any, formatter: Any) -> None:
        """Write the examples."""
        examples = EXAMPLES.get(ctx.command_path.partition(" ")[2], ())
        if examples:
            with formatter.section("Examples"):
                for words in examples:
                    formatter.write(f"{'':{formatter.current_indent}}cogtally {words}\n")


class LeanCommand(_Lean, TyperCommand):
    """A command of text."""

    def format_options(self, ctx: Any, formatter: Any) -> None:
        """Write arguments, then options; what kind of text an argument is needs no saying."""
        records: dict[str, list[tuple[str, str]]] = {"argument": [], "option": []}
        for param in self.get_params(ctx):
            record = param.get_help_record(ctx)
            if record is not None:
                name = record[0].partition(" <")[0]
                is_option = param.param_type_name == "option"
                records[param.param_type_name].append(record if is_option else (name, record[1]))
        for title, listed in zip(("Arguments", "Options"), records.values(), strict=True):
            if listed:
                with formatter.section(title):
                    formatter.write_dl(listed)


class LeanGroup(_Lean, TyperGroup):
    """A group of such commands."""


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
            function, found = found, typer.Typer(**PLAINLY)
            found.command(cmd_name, cls=LeanCommand, context_settings=CONTEXT)(function)
        command: Any = get_command(found)
        command.name = cmd_name
        return command

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """Write the commands by what they are for."""
        widest = max(map(len, COMMANDS))
        for title, names in GROUPS.items():
            with formatter.section(title):
                told = [(n, self.get_command(ctx, n).get_short_help_str()) for n in names]
                formatter.write_dl([(f"{name:{widest}}", about) for name, about in told])

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
    found = typer.Typer(cls=LeanGroup, context_settings=CONTEXT, help=about, **PLAINLY)

    def start(context: typer.Context) -> None:
        if context.invoked_subcommand is None:
            print(context.get_help())

    found.callback(invoke_without_command=True)(start)
    for name, function in commands.items():
        found.command(name, cls=LeanCommand, context_settings=CONTEXT)(function)
    return found


ABOUT = "Name a gearbox set from counted teeth."
app = typer.Typer(cls=Commands, context_settings=CONTEXT, help=ABOUT, **PLAINLY)


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
