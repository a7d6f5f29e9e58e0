"""Problems of a catalog on the screen and as JSON.

What the problems are is left to the catalog; where the screen is, to `console`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from cogtally.catalog.model import Catalog
from cogtally.catalog.problem import Problem
from cogtally.gears.errors import plain
from cogtally.show.screen.console import DIM, MARKED, STRONG

if TYPE_CHECKING:
    from rich.console import Console

FORMAT = 1


def print_problems(console: Console, catalog: Catalog, problems: Sequence[Problem]) -> None:
    """Print one line a problem, then one that sums them up.

    On a terminal a long line goes on below, indented; piped, it stays one line.
    """
    from rich.padding import Padding
    from rich.text import Text

    for problem in problems:
        text = Text.assemble(
            (plain(_head(problem)), STRONG if problem.is_error else MARKED),
            plain(_body(problem)),
            (f"  ({problem.code})", DIM),
        )
        if not console.is_terminal:
            console.print(text, soft_wrap=True)
            continue
        lines = text.wrap(console, console.width - 2)
        for number, line in enumerate(lines):
            console.print(Padding(line, (0, 0, 0, 2 if number else 0)))
    console.print(_summary(catalog, problems), soft_wrap=not console.is_terminal)


def problems_json(catalog: Catalog, problems: Sequence[Problem]) -> dict[str, Any]:
    """Return the problems as plain values, their texts as they were written."""
    return {
        "format": FORMAT,
        "catalog": {
            "name": catalog.name,
            "families": len(catalog.families),
            "sets": catalog.set_count,
            "demo": catalog.demo,
        },
        "errors": _errors(problems),
        "warnings": len(problems) - _errors(problems),
        "problems": [
            {
                "severity": problem.severity,
                "code": problem.code,
                "file": problem.file,
                "line": problem.line,
                "column": problem.column,
                "family": problem.family,
                "set": problem.set,
                "key": problem.key,
                "sentence": problem.sentence,
                "mend": problem.mend,
            }
            for problem in problems
        ],
    }


def _head(problem: Problem) -> str:
    """Place and severity: `alder-4.toml:12: error: `."""
    return "".join(f"{part}: " for part in (problem.place, problem.severity) if part)


def _body(problem: Problem) -> str:
    text = f"{problem.subject}: {problem.sentence}" if problem.subject else problem.sentence
    return f"{text}; {problem.mend}" if problem.mend else text


def _summary(catalog: Catalog, problems: Sequence[Problem]) -> str:
    families = _number(len(catalog.families), "family", "families")
    read = f"{families}, {_number(catalog.set_count, 'set')}"
    if not problems:
        return f"{read}: nothing is wrong."
    errors = _errors(problems)
    warnings = len(problems) - errors
    counted = [
        _number(errors, "error") if errors else "no error",
        *([_number(warnings, "warning")] if warnings else []),
    ]
    return f"{read}: {' and '.join(counted)}."


def _errors(problems: Sequence[Problem]) -> int:
    return sum(problem.is_error for problem in problems)


def _number(count: int, one: str, several: str = "") -> str:
    return f"{count} {one if count == 1 else several or one + 's'}"
