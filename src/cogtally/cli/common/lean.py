"""Commands of text: parameters taken as they were typed, and help that ends with examples.

What the text means is left to each command's own reading. The validation library behind the parser
costs more to load than all the rest of an answer; plain text goes around it, and whatever is not
plain text goes the parser's own way.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from typer.core import TyperCommand, TyperGroup

from cogtally.cli.common.examples import EXAMPLES


def _as_typed(param: Any) -> Any:
    """Return a parameter that takes plain text as it is, and all else as the parser does."""
    annotation = getattr(getattr(param, "type_descriptor", None), "annotation", None)
    is_new = "process_value" not in vars(param)
    if is_new and annotation in (str, list[str]) and param.callback is None:
        take = _taking(param.process_value, several=annotation is not str, required=param.required)
        param.process_value = take
    return param


def _taking(
    usual: Callable[[Any, Any], Any], *, several: bool, required: bool
) -> Callable[[Any, Any], Any]:
    def process_value(ctx: Any, value: Any) -> Any:
        if value in (None, (), []) and not required:
            return () if several else None
        if not several and isinstance(value, str):
            return value
        is_listed = several and value and isinstance(value, (list, tuple))
        if is_listed and all(isinstance(each, str) for each in value):
            return list(value)
        return usual(ctx, value)

    return process_value


def _write_examples(path: str, formatter: Any) -> None:
    examples = EXAMPLES.get(path.partition(" ")[2], ())
    if examples:
        with formatter.section("Examples"):
            for words in examples:
                formatter.write(f"{'':{formatter.current_indent}}cogtally {words}\n")


class LeanCommand(TyperCommand):
    """A command whose texts are taken as they were typed, and whose help ends with examples."""

    def get_params(self, ctx: Any) -> list[Any]:
        """Return the parameters, those of plain text without a conversion."""
        return [_as_typed(param) for param in super().get_params(ctx)]

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

    def format_epilog(self, ctx: Any, formatter: Any) -> None:
        """Write the examples."""
        _write_examples(ctx.command_path, formatter)


class LeanGroup(TyperGroup):
    """A group of commands whose own texts are taken as typed, and whose help ends with examples."""

    def get_params(self, ctx: Any) -> list[Any]:
        """Return the parameters, those of plain text without a conversion."""
        return [_as_typed(param) for param in super().get_params(ctx)]

    def format_epilog(self, ctx: Any, formatter: Any) -> None:
        """Write the examples."""
        _write_examples(ctx.command_path, formatter)
