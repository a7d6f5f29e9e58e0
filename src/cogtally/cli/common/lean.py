"""Commands that take text as it was typed, without the validation library behind the parser.

What the text means is left to each command's own reading. Loading that library costs more than
all the rest of an answer; a parser that has no such step is left as it is.
"""

from __future__ import annotations

from typing import Any

from typer.core import TyperCommand, TyperGroup

#: Kinds of parameters that need no conversion: a flag, one text, several texts.
_AS_TYPED: tuple[object, ...] = (bool, str, list[str])


class _AsTyped:
    """Stand-in for a parameter's conversion: text stays what it is."""

    def __init__(self, several: bool) -> None:
        self.several = several

    def coerce(self, value: Any, param: Any, ctx: Any) -> Any:
        """Return the value as it was typed; what is no plain text goes the long way round."""
        if value is None:
            return () if self.several else None
        if self.several and isinstance(value, (list, tuple)):
            return list(value)
        if not self.several and isinstance(value, str) and param.type_descriptor.annotation is str:
            return value
        param._runtime_param = None
        return param.get_runtime_param().coerce(value, param=param, ctx=ctx)


def _leave_as_typed(params: list[Any]) -> list[Any]:
    for param in params:
        descriptor = getattr(param, "type_descriptor", None)
        annotation = getattr(descriptor, "annotation", None)
        if annotation in _AS_TYPED and getattr(param, "_runtime_param", False) is None:
            param._runtime_param = _AsTyped(annotation == list[str])
    return params


class LeanCommand(TyperCommand):
    """A command whose flags and texts are taken as they were typed."""

    def get_params(self, ctx: Any) -> list[Any]:
        """Return the parameters, those of plain text without a conversion."""
        return _leave_as_typed(super().get_params(ctx))


class LeanGroup(TyperGroup):
    """A group of commands whose own flags and texts are taken as they were typed."""

    def get_params(self, ctx: Any) -> list[Any]:
        """Return the parameters, those of plain text without a conversion."""
        return _leave_as_typed(super().get_params(ctx))
