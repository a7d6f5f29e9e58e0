"""Every example of the README is run, and its output is the real one.

The outputs are written anew with `scripts/test --write-snapshots`.
"""

from __future__ import annotations

import os
import re
import shlex
from collections.abc import Callable
from pathlib import Path

import pytest

from conftest import WRITE, Ran

README = Path(__file__).parents[1] / "README.md"
BLOCK = re.compile(r"```console\n\$ cogtally (?P<words>[^\n]*)\n(?P<output>.*?)```", re.DOTALL)
COMMANDS = [found["words"] for found in BLOCK.finditer(README.read_text(encoding="utf-8"))]


def test_there_are_examples() -> None:
    """The README shows the main job and more."""
    assert len(COMMANDS) >= 5
    assert any(words.startswith("identify") for words in COMMANDS)


@pytest.mark.parametrize("words", COMMANDS)
def test_example(
    words: str, cogtally: Callable[..., Ran], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The example runs, and prints what the README shows; files that it writes go elsewhere."""
    monkeypatch.chdir(tmp_path)
    ran = cogtally(*shlex.split(words), columns=80)
    assert ran.code == 0, ran.err
    text = README.read_text(encoding="utf-8")
    if os.environ.get(WRITE):
        shown = f"```console\n$ cogtally {words}\n{ran.out}```"
        text = BLOCK.sub(lambda found: shown if found["words"] == words else found[0], text)
        README.write_text(text, encoding="utf-8", newline="\n")
    example = next(found for found in BLOCK.finditer(text) if found["words"] == words)
    assert example["output"] == ran.out


def test_it_opens_with_the_job() -> None:
    """The README opens with the job in one paragraph, then the two commands of the set-up."""
    text = README.read_text(encoding="utf-8")
    opening = text.split("\n\n")[1]
    assert "teeth" in opening
    assert "catalog" in opening
    assert text.index("scripts/demo") < text.index("scripts/test") < text.index("## Name a box")
