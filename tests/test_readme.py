"""Every example of the README and of the guide is run, and its output is the real one.

The outputs are written anew with `scripts/test --write-snapshots`.
"""

import os
import re
import shlex
from pathlib import Path

import pytest

import cogtally.guide
from conftest import WRITE

README = Path(__file__).parents[1] / "README.md"
GUIDE = Path(cogtally.guide.__file__).parent
BLOCK = re.compile(r"```console\n\$ cogtally (?P<words>[^\n]*)\n(?P<output>.*?)```", re.DOTALL)
PAGES = {"README": README, **{name: GUIDE / f"{name}.md" for name in cogtally.guide.PAGES}}
EXAMPLES = [
    (page, found["words"])
    for page, file in PAGES.items()
    for found in BLOCK.finditer(file.read_text(encoding="utf-8"))
]
LONGEST_README = 400


def test_there_are_examples():
    """The README shows the main job and more, a loose piece too."""
    words = [words for page, words in EXAMPLES if page == "README"]
    assert len(words) >= 4
    assert {word.split()[0] for word in words} >= {"identify", "piece", "ratios"}


@pytest.mark.parametrize(("page", "words"), EXAMPLES)
def test_example(page, words, cogtally, tmp_path, monkeypatch):
    """The example runs, and prints what the page shows; files that it writes go elsewhere."""
    monkeypatch.chdir(tmp_path)
    ran = cogtally(*shlex.split(words), columns=80)
    assert ran.code == 0, ran.err
    text = PAGES[page].read_text(encoding="utf-8")
    if os.environ.get(WRITE):
        shown = f"```console\n$ cogtally {words}\n{ran.out}```"
        text = BLOCK.sub(lambda found: shown if found["words"] == words else found[0], text)
        PAGES[page].write_text(text, encoding="utf-8", newline="\n")
    example = next(found for found in BLOCK.finditer(text) if found["words"] == words)
    assert example["output"] == ran.out


def test_it_opens_with_the_job():
    """The README opens with the job in one paragraph, then the two commands; it stays short."""
    text = README.read_text(encoding="utf-8")
    opening = text.split("\n\n")[1]
    assert "teeth" in opening
    assert "catalog" in opening
    assert text.index("scripts/demo") < text.index("scripts/test") < text.index("## A gear")
    assert text.count("\n") <= LONGEST_README


def test_every_page_of_the_guide_is_listed():
    """A page that lies there is offered, and one that is offered lies there."""
    assert {file.stem for file in GUIDE.glob("*.md")} == set(cogtally.guide.PAGES)
