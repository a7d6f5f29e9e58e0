"""What the commands that have to start fast load, and above all what they do not."""

import os
import subprocess
import sys

import pytest

#: Libraries that cost more to load than these commands take.
HEAVY = (
    "csv",
    "numpy",
    "platformdirs",
    "pydantic",
    "resvg_py",
    "rapidfuzz",
    "rich.table",
    "sqlite_utils",
    "uharfbuzz",
)
COUNTS = ("input=17/28", "1=14/31", "2=19/26", "3=24/21", "R=12/_/28")


def _loaded(*words: str) -> list[str]:
    """The heavy libraries that a command loads, in a program of its own."""
    code = (
        f"import sys; from cogtally.cli.main import run; run({list(words)!r}); "
        f"print(*(m for m in {HEAVY!r} if m in sys.modules), file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "NO_COLOR": "1"},
    )
    assert done.stdout
    return done.stderr.split()


@pytest.mark.parametrize(
    "words",
    [("--help",), ("--version",), ("identify", "--help"), ("ratios", *COUNTS)],
    ids=" ".join,
)
def test_nothing_heavy_is_loaded(words):
    """Help and ratios load none of the heavy libraries."""
    assert _loaded(*words) == []


@pytest.mark.parametrize(
    "words", [("identify", "--demo", *COUNTS), ("piece", "--demo", "20", "17")], ids=" ".join
)
def test_a_question_loads_numpy_alone(words):
    """A question to the demo loads what the sums need, and nothing else that is heavy."""
    assert _loaded(*words) == ["numpy"]
