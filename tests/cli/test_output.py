"""Standard output that cannot be written, and places that cannot be reached: one line each."""

import os
import subprocess
import sys
from contextlib import suppress
from pathlib import Path

import pytest

from cli.book_of import small_book
from cogtally.cli import main as way_in
from cogtally.cli.output import OutputError, now_written, watched_output
from cogtally.gears.errors import UserError

FULL = Path("/dev/full")
LONG = "a" * 300
REFUSED = "cogtally: standard output could not be written"

on_full = pytest.mark.skipif(not FULL.exists(), reason="there is no device that is always full")


def run_on_full(folder: Path, *words: str, typed: str = "") -> tuple[int, list[str]]:
    """Run the program with a book of its own and a full disk behind standard output."""
    book, kept = str(folder / "own.db"), str(folder / "kept")
    with FULL.open("wb") as full:
        done = subprocess.run(
            [sys.executable, "-m", "cogtally", *words],
            cwd=folder,
            input=typed,
            stdout=full,
            stderr=subprocess.PIPE,
            env={**os.environ, "COGTALLY_CATALOG": book, "COGTALLY_SESSIONS": kept},
            encoding="utf-8",
            timeout=60,
            check=False,
        )
    return done.returncode, done.stderr.splitlines()


@on_full
@pytest.mark.parametrize(
    "line",
    [
        *("piece 20 --demo", "identify 1=14/31 --demo --json", "ratios 1=14/31"),
        *("completion bash", "--version", "identify --help"),
    ],
)
def test_a_full_disk_is_one_line(tmp_path, line):
    """Where the disk behind standard output is full, one line says so, and the exit code is 2."""
    said = f"{REFUSED}: no space left on device"
    assert run_on_full(tmp_path, *line.split()) == (2, [said])


@on_full
def test_a_session_on_a_full_disk_is_kept(tmp_path):
    """What was entered is kept though its answer could not be written, and that is said."""
    code, said = run_on_full(tmp_path, "session", "--demo", typed="R.driver=13\n")
    (kept,) = (tmp_path / "kept").iterdir()
    assert (code, said[-2:]) == (
        1,
        [
            f"{REFUSED}: no space left on device",
            f"cogtally: even so, session {kept.stem} is kept",
        ],
    )
    assert "R.driver=13" in kept.read_text(encoding="utf-8")


@on_full
@pytest.mark.parametrize(
    ("line", "written"),
    [
        ("stock add 28 24 19", "item 1 is in the stock"),
        ("stock add 28 --quantity 2 --json", "items 1 to 2 are in the stock"),
        (
            "catalog add birch-4/new input=20/31 1=15/36 2=21/30 3=_/_ R=_/_/_",
            "the book is changed, and 'cogtally undo' takes that back",
        ),
        ("catalog export out.toml", "out.toml is written"),
        ("stock export out.csv", "out.csv is written"),
        ("sheet birch-4 --out out.svg", "out.svg is written"),
        ("ratios 1=14/31 --picture out.svg", "out.svg is written"),
        ("road 3.65 2 --axle 4 --tyre 1960mm --rpm 3000 --chart out.svg", "out.svg is written"),
    ],
)
def test_what_was_written_is_said_on_a_full_disk(tmp_path, line, written):
    """Where only the answer could not be printed, what was written is said, and it is no code 2."""
    small_book(tmp_path)
    code, said = run_on_full(tmp_path, *line.split())
    lines = [f"{REFUSED}: no space left on device", f"cogtally: even so, {written}"]
    assert (code, said[-2:]) == (1, lines)


@on_full
def test_each_change_is_said_on_a_full_disk(tmp_path):
    """Sold, undone, changed on a full disk: each is said, and happened; what wrote nothing is 2."""
    small_book(tmp_path)
    for line, happened in [
        ("stock add 28 24 19", "item 1 is in the stock"),
        ("stock sell 1", "item 1 is sold"),
        ("undo", "this change was taken back: stock sell: 1"),
        ("stock edit 1 --place attic", "item 1 is changed"),
    ]:
        code, said = run_on_full(tmp_path, *line.split())
        assert (code, said[-1]) == (1, f"cogtally: even so, {happened}")
    for line in ("stock edit 1 --place attic", "stock recheck --dry-run"):
        code, said = run_on_full(tmp_path, *line.split())
        assert (code, "even so" in said[-1]) == (2, False)


@pytest.mark.skipif(os.name == "nt", reason="a shell of its own kind is needed")
@pytest.mark.parametrize(
    ("closed", "code", "said"),
    [
        (">&-", 2, "cogtally: standard output could not be written: it is closed"),
        ("2>&-", 0, "R-idler 20"),
        ("<&-", 0, "R-idler 20"),
    ],
)
def test_a_stream_closed_from_the_start(closed, code, said):
    """Closed standard output is one line; closed input and error output are no hindrance."""
    line = f'"{sys.executable}" -m cogtally piece 20 --demo {closed}'
    done = subprocess.run(
        ["sh", "-c", line], capture_output=True, encoding="utf-8", timeout=60, check=False
    )
    assert done.returncode == code
    assert said in " ".join((done.stdout + done.stderr).split())
    assert "Traceback" not in done.stderr


def test_output_is_given_back():
    """After a run the streams are those that were there before, whatever happened in it."""
    before = sys.stdin, sys.stdout, sys.stderr
    with suppress(OutputError), watched_output():
        assert sys.stdout is not before[1]
        raise OutputError("full")
    assert (sys.stdin, sys.stdout, sys.stderr) == before


@pytest.mark.parametrize(
    "words",
    [
        ("log", "--catalog", LONG),
        ("catalog", "init", "--catalog", LONG),
        ("stock", "list", "--catalog", LONG),
        ("sheet", "alder-4", "--demo", "--out", f"{LONG}.svg"),
        ("identify", "1=14/31", "--demo", "--picture", f"{LONG}.svg"),
        ("identify", "1=14/31", "--catalog", LONG),
        ("piece", "--demo", "--from", f"{LONG}.csv"),
    ],
)
def test_a_name_too_long_for_the_disk_is_one_line(cogtally, tmp_path, monkeypatch, words):
    """A file that cannot even be asked about is one line with its name, and exit code 2."""
    monkeypatch.chdir(tmp_path)
    ran = cogtally(*words)
    assert (ran.code, ran.out, ran.err.count("\n")) == (2, "", 1)
    assert ran.err.startswith(f"cogtally: {LONG[:30]}")
    assert list(tmp_path.iterdir()) == []


def test_a_folder_of_sessions_that_cannot_be_reached_is_one_line(cogtally, monkeypatch):
    """A folder for sessions that cannot be there is one line."""
    monkeypatch.setenv("COGTALLY_SESSIONS", LONG)
    ran = cogtally("session", "--list")
    assert (ran.code, ran.err.count("\n")) == (2, 1)
    assert "it cannot be reached: file name too long" in ran.err


def test_an_error_of_the_system_without_a_place_is_a_bug(monkeypatch):
    """What names no place is not passed off as something that the person can mend."""

    def broken(words: list[str]) -> int:
        raise OSError(22, "invalid argument")

    monkeypatch.setattr(way_in, "_run", broken)
    with pytest.raises(OSError, match="invalid"):
        way_in.run([])


@pytest.mark.skipif(os.name == "nt", reason="a shell of its own kind is needed")
@pytest.mark.parametrize("words", ["--help", "--version", "stock --help", "ratios 1=14/31", "nope"])
@pytest.mark.parametrize("both", [False, True])
def test_a_reader_that_went_away_is_no_error(words, both):
    """Whatever was to be printed, a closed pipe ends the program quietly with code 141."""
    start = f'"{sys.executable}" -m cogtally {words}'
    # The pipe is closed before the program begins to write into it.
    line = f"( sleep 0.2; {start} {'2>&1' if both else ''}; echo $? >&3 ) 3>&2 | true"
    done = subprocess.run(
        ["sh", "-c", line], capture_output=True, encoding="utf-8", timeout=60, check=False
    )
    expected = "141\n"
    if words == "nope" and not both:
        # Nothing was to be printed where nobody reads.
        expected = "2\n"
    assert done.stderr.splitlines(keepends=True)[-1] == expected
    assert "Traceback" not in done.stderr
    assert "Exception" not in done.stderr


@on_full
@pytest.mark.parametrize(("words", "code"), [("nope", 2), ("ratios 1=14/31 2@4:1.1", 0)])
def test_a_note_that_cannot_be_written_changes_no_exit_code(words, code):
    """Where standard error is full the answer is the same, and so is its exit code."""
    with FULL.open("wb") as full:
        done = subprocess.run(
            [sys.executable, "-m", "cogtally", *words.split()],
            stdout=subprocess.PIPE,
            stderr=full,
            encoding="utf-8",
            timeout=60,
            check=False,
        )
    assert done.returncode == code
    assert done.stdout.endswith("box supported.\n") == (code == 0)


def test_what_was_written_before_an_error_is_said(cogtally, monkeypatch):
    """An error after something was written names it too, and is no code that says nothing was."""

    def half_done(words: list[str]) -> int:
        now_written("train.svg is written")
        raise UserError("the book is in use", "own.db")

    monkeypatch.setattr(way_in, "_run", half_done)
    ran = cogtally("identify")
    assert (ran.code, ran.out) == (1, "")
    assert ran.err.splitlines() == [
        "cogtally: own.db: the book is in use",
        "cogtally: even so, train.svg is written",
    ]
