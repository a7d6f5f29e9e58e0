"""The page for who works on the program: short, and every path on it is there."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
SRC = ROOT / "src" / "cogtally"
TEXT = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
#: What stands in backticks and is written as a path: with a stroke, or a file's ending.
PATH = re.compile(r"`((?:[\w.-]+/)+[\w.-]*|[\w-]+\.(?:py|md|toml|sh|js))[^`]*`|\]\((\S+?)\)")
QUESTIONS = re.findall(r"^\| ([^|]+\?) \| (.+) \|$", TEXT, re.MULTILINE)
LONGEST, FEWEST_QUESTIONS, MOST_STEPS = 200, 10, 3


@pytest.mark.parametrize("path", sorted({a or b for a, b in PATH.findall(TEXT)}))
def test_every_path_is_there(path):
    """A path on the page is one of the checkout, of the house, or of a floor."""
    assert any((top / path).exists() for top in (ROOT, SRC, *SRC.iterdir()))


def test_a_newcomer_is_led_in_three_steps():
    """Ten questions or more are answered, each with files of the house three steps down at most."""
    assert len(QUESTIONS) >= FEWEST_QUESTIONS
    for question, answer in QUESTIONS:
        paths = re.findall(r"`([\w./]+)`", answer)
        assert paths, question
        for path in paths:
            assert (SRC / path).is_file(), path
            assert path.count("/") < MOST_STEPS, path


def test_the_page_is_short():
    """The page has at most 200 lines."""
    assert TEXT.count("\n") <= LONGEST
