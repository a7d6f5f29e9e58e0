"""What many tests need: the program run as a person runs it, and screens kept as plain files.

A kept screen stands in tests/snapshots/ and is written anew with `scripts/test --write-snapshots`,
or with COGTALLY_WRITE_SNAPSHOTS=1 in the environment of pytest.
"""

import os
import subprocess
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

# A busy machine is no fault of the program: how long an example takes proves nothing.
# Forty examples are enough for most claims; a test that needs more, or less, says so.
settings.register_profile(
    "any machine", max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("any machine")

#: A run that takes longer hangs: far above what the slowest takes on a busy machine.
MOST_SECONDS = 900
SNAPSHOTS = Path(__file__).parent / "snapshots"
WRITE = "COGTALLY_WRITE_SNAPSHOTS"

#: Variables of the surroundings that would change what is shown.
SURROUNDINGS = (
    "COLUMNS",
    "LINES",
    "NO_COLOR",
    "FORCE_COLOR",
    "TERM",
    "COGTALLY_CATALOG",
    "COGTALLY_SESSIONS",
)


@dataclass(frozen=True)
class Ran:
    """What a run of the program came to."""

    code: int
    out: str
    err: str


def refused(ran: Ran, *said: str) -> None:
    """Check that nothing was answered, and that one line tells why and says all this."""
    assert (ran.code, ran.out, ran.err.count("\n")) == (2, "", 1), ran
    assert [each for each in said if each not in ran.err] == [], ran.err


#: What the fixture `cogtally` returns: the words of a command to what they come to.
Run = Callable[..., Ran]


@pytest.fixture(autouse=True)
def _no_surroundings(monkeypatch) -> None:
    """Keep the surroundings of the test run out of every test."""
    for name in SURROUNDINGS:
        monkeypatch.delenv(name, raising=False)


@pytest.fixture
def snapshot() -> Callable[[str, str], None]:
    """Return a check that a text is what the file of that name in tests/snapshots/ holds."""

    def check(name: str, text: str) -> None:
        path = SNAPSHOTS / f"{name}.txt"
        if os.environ.get(WRITE):
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8", newline="\n")
        assert path.exists(), f"{path.name} was never written: run with {WRITE}=1 and read it"
        assert text == path.read_text(encoding="utf-8")

    return check


@pytest.fixture
def cogtally(capsys, monkeypatch) -> Callable[..., Ran]:
    """Return a function that runs the program in this process: `cogtally("ratios", "1=14/31")`.

    `columns` is the width of its screen, 80 off a terminal if not given.
    """

    def run(*words: str, columns: int | None = None) -> Ran:
        from cogtally.cli.main import run as run_words

        if columns is not None:
            monkeypatch.setenv("COLUMNS", str(columns))
        capsys.readouterr()
        code = run_words(words)
        printed = capsys.readouterr()
        if columns is not None:
            monkeypatch.delenv("COLUMNS")
        return Ran(code, printed.out, printed.err)

    return run


@pytest.fixture
def cogtally_process() -> Callable[..., Ran]:
    """Return a function that runs the program as a process of its own, its output piped."""

    def run(*words: str | bytes, env: Mapping[str, str] | None = None, stdin: str = "") -> Ran:
        done = subprocess.run(
            [sys.executable, "-m", "cogtally", *words],
            input=stdin,
            capture_output=True,
            encoding="utf-8",
            env={**os.environ, **(env or {})},
            timeout=MOST_SECONDS,
            check=False,
        )
        return Ran(done.returncode, done.stdout, done.stderr)

    return run
