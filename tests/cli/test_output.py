"""Standard output that cannot be written, and places that cannot be reached: one line each."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from cogtally.cli import main as way_in
from cogtally.cli.output import OutputError, watched_output

if TYPE_CHECKING:
    from conftest import Ran

Run = Callable[..., "Ran"]

FULL = Path("/dev/full")
LONG = "a" * 300

COMMANDS = [
    ("piece", "20", "--demo"),
    ("identify", "1=14/31", "--demo", "--json"),
    ("ratios", "1=14/31"),
    ("completion", "bash"),
    ("--version",),
    ("identify", "--help"),
]


@pytest.mark.skipif(not FULL.exists(), reason="there is no device that is always full")
@pytest.mark.parametrize("words", COMMANDS)
def test_a_full_disk_is_one_line(words: tuple[str, ...]) -> None:
    """Where the disk behind standard output is full, one line says so, and the exit code is 2."""
    with FULL.open("wb") as full:
        done = subprocess.run(
            [sys.executable, "-m", "cogtally", *words],
            stdout=full,
            stderr=subprocess.PIPE,
            encoding="utf-8",
            timeout=60,
            check=False,
        )
    said = "cogtally: standard output could not be written: no space left on device\n"
    assert (done.returncode, done.stderr) == (2, said)


@pytest.mark.skipif(not FULL.exists(), reason="there is no device that is always full")
def test_a_session_on_a_full_disk_is_kept(tmp_path: Path) -> None:
    """What was entered is kept though its answer could not be written."""
    with FULL.open("wb") as full:
        done = subprocess.run(
            [sys.executable, "-m", "cogtally", "session", "--demo"],
            input="R.driver=13\n",
            stdout=full,
            stderr=subprocess.PIPE,
            env={**os.environ, "COGTALLY_SESSIONS": str(tmp_path)},
            encoding="utf-8",
            timeout=60,
            check=False,
        )
    assert done.returncode == 2
    assert "standard output could not be written" in done.stderr.splitlines()[-1]
    (kept,) = tmp_path.iterdir()
    assert "R.driver=13" in kept.read_text(encoding="utf-8")


@pytest.mark.skipif(os.name == "nt", reason="a shell of its own kind is needed")
@pytest.mark.parametrize(
    ("closed", "code", "said"),
    [
        (">&-", 2, "cogtally: standard output could not be written: it is closed"),
        ("2>&-", 0, "R-idler 20"),
        ("<&-", 0, "R-idler 20"),
    ],
)
def test_a_stream_closed_from_the_start(closed: str, code: int, said: str) -> None:
    """Closed standard output is one line; closed input and error output are no hindrance."""
    line = f'"{sys.executable}" -m cogtally piece 20 --demo {closed}'
    done = subprocess.run(
        ["sh", "-c", line], capture_output=True, encoding="utf-8", timeout=60, check=False
    )
    assert done.returncode == code
    assert said in " ".join((done.stdout + done.stderr).split())
    assert "Traceback" not in done.stderr


def test_output_is_given_back() -> None:
    """After a run the streams are those that were there before, whatever happened in it."""
    before = sys.stdin, sys.stdout, sys.stderr
    with suppress(OutputError), watched_output():
        assert sys.stdout is not before[1]
        raise OutputError("full")
    assert (sys.stdin, sys.stdout, sys.stderr) == before


@pytest.mark.parametrize(
    "words",
    [
        ("catalog", "log", "--catalog", LONG),
        ("catalog", "init", "--catalog", LONG),
        ("stock", "list", "--catalog", LONG),
        ("sheet", "alder-4", "--demo", "--out", f"{LONG}.svg"),
        ("identify", "1=14/31", "--demo", "--picture", f"{LONG}.svg"),
        ("identify", "1=14/31", "--catalog", LONG),
        ("piece", "--demo", "--from", f"{LONG}.csv"),
    ],
)
def test_a_name_too_long_for_the_disk_is_one_line(
    cogtally: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...]
) -> None:
    """A file that cannot even be asked about is one line with its name, and exit code 2."""
    monkeypatch.chdir(tmp_path)
    ran = cogtally(*words)
    assert (ran.code, ran.out, ran.err.count("\n")) == (2, "", 1)
    assert ran.err.startswith(f"cogtally: {LONG[:30]}")
    assert list(tmp_path.iterdir()) == []


def test_a_folder_of_sessions_that_cannot_be_reached_is_one_line(
    cogtally: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A folder for sessions that cannot be there is one line."""
    monkeypatch.setenv("COGTALLY_SESSIONS", LONG)
    ran = cogtally("session", "--list")
    assert (ran.code, ran.err.count("\n")) == (2, 1)
    assert "it cannot be reached: file name too long" in ran.err


def test_an_error_of_the_system_without_a_place_is_a_bug(monkeypatch: pytest.MonkeyPatch) -> None:
    """What names no place is not passed off as something that the person can mend."""

    def broken(words: list[str]) -> int:
        raise OSError(22, "invalid argument")

    monkeypatch.setattr(way_in, "_run", broken)
    with pytest.raises(OSError, match="invalid"):
        way_in.run([])
