"""Help, the guide and the version, as somebody who is lost asks for them."""

import shlex
from pathlib import Path
from typing import Any

import pytest
from typer.core import TyperArgument
from typer.main import get_command

from cogtally.cli.commands import EXAMPLES, app
from cogtally.guide import PAGES
from conftest import refused

CATALOG = Path(__file__).parents[2] / "catalog"
#: What waits for somebody at a terminal, or needs what a helper elsewhere makes.
NOT_RUN = ("session --demo", "undo 2")


def commands(group: Any, path: str = "") -> dict[str, Any]:
    """Return every command below a group by its words."""
    found: dict[str, Any] = {}
    for name in group.list_commands(None):
        command = group.get_command(None, name)
        words = f"{path} {name}".strip()
        found[words] = command
        if hasattr(command, "list_commands"):
            found.update(commands(command, words))
    return found


ALL = commands(get_command(app))


def test_help_groups_the_commands_and_shows_examples(cogtally):
    """What a command is for stands above it, and three examples end the page."""
    out = cogtally("--help").out
    titles = [out.index(f"{title}:") for title in ("Name it", "Work it out", "Keep it", "Examples")]
    assert titles == sorted(titles)
    assert out[titles[-1] :].count("  cogtally ") == 3


@pytest.mark.parametrize("path", [path for path, command in ALL.items() if path])
def test_help_of_a_command_says_no_types(cogtally, path):
    """Help of every command is plain words, the same through `help`."""
    asked = cogtally(*path.split(), "--help")
    assert (asked.code, asked.err) == (0, "")
    assert "<" not in asked.out
    assert cogtally("help", *path.split()).out == asked.out


def test_examples_of_help_run(cogtally, tmp_path, monkeypatch):
    """Every example that help shows is of a command, and runs on a book of the demo's families."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COGTALLY_CATALOG", str(tmp_path / "book.db"))
    monkeypatch.setenv("COGTALLY_SESSIONS", str(tmp_path / "sessions"))
    assert cogtally("catalog", "import", str(CATALOG), "--catalog", "book.db").code == 0
    failed: list[tuple[str, str]] = []
    for path, examples in EXAMPLES.items():
        assert not path or path in ALL, path
        for words in examples:
            if words not in NOT_RUN:
                ran = cogtally(*shlex.split(words))
                wrong = ran.code not in (0, 1, 3) or "Traceback" in ran.err
                failed += [(words, ran.err)] * wrong
    assert failed == []


def test_the_guide_lists_its_pages_and_shows_each(cogtally):
    """Every page is listed, and fits the width of the terminal but for its examples."""
    listed = cogtally("guide", columns=60).out
    for name in PAGES:
        assert f"\n{name} " in f"\n{listed}"
        page = cogtally("guide", name, columns=60)
        assert (page.code, page.err) == (0, "")
        prose = [line for line in page.out.splitlines() if not line.startswith("  ")]
        assert max(map(len, prose)) <= 60, name


def test_a_page_that_is_not_there_is_refused_with_the_nearest(cogtally):
    """A misspelt page is told the one that was meant."""
    refused(cogtally("guide", "bnech"), "did you mean bench?")


def test_what_is_no_plain_text_goes_the_way_of_the_parser(monkeypatch):
    """A parameter whose value is no text falls back on the conversion that the parser has."""
    asked: list[object] = []

    def usual(self: object, ctx: object, value: object) -> None:
        asked.append(value)

    monkeypatch.setattr(TyperArgument, "process_value", usual)
    command: Any = commands(get_command(app))["ratios"]
    context = command.make_context("ratios", ["1=14/31"], resilient_parsing=True)
    (seen,) = (p for p in command.get_params(context) if p.name == "seen")
    assert seen.process_value(context, ("1=14/31",)) == ["1=14/31"]
    assert seen.process_value(context, None) == ()
    assert asked == []
    seen.process_value(context, (7,))
    assert asked == [(7,)]
