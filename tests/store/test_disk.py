"""A disk that fills up or breaks at any call of a command that writes: before it or after it.

The calls are made to fail by a small library, built here, that is loaded before the program.
"""

import errno
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from cogtally.catalog.book import read_book
from cogtally.shelf.session.files import all_sessions
from cogtally.shelf.stock import read_items
from cogtally.store import entries
from shelf.stocked import stocked_book

COMPILER = shutil.which("cc") or shutil.which("gcc")
BIRCH = ("input=20/31", "1=16/35", "2=21/30", "3=27/24", "R=14/18/32")
#: What was asked, then what is typed.
COMMANDS = {
    "add": (["catalog", "add", "birch-4/x", *BIRCH, "--source", "x"], ""),
    "import": (["catalog", "import", "{folder}/more.toml"], ""),
    "undo": (["undo"], ""),
    "stock add": (["stock", "add", "31", "27", "21", "15", "14"], ""),
    "sell": (["stock", "sell", "2", "--to", "X"], ""),
    "init": (["catalog", "init", "--catalog", "{folder}/new.db"], ""),
    "session": (["session"], "1.driver=15\n1.driven=35\nquit\n"),
}
MORE = '[family]\nid = "oak"\nlayout = "two-shaft"\n[[set]]\nid = "a"\npairs = { 1 = "14/31" }\n'


def state(folder: Path) -> list[object]:
    """All that a book and the sessions beside it say, without the times."""
    book, new = folder / "own.db", folder / "new.db"
    items = [(item.number, item.thing, item.sale and item.sale.to) for item in read_items(book)]
    seen = [session.bench.words for session in all_sessions(folder / "sessions")[0]]
    log = [entry.what for entry in entries(book)]
    return [read_book(book).families, items, log, seen, new.exists() and read_book(new).families]


@pytest.fixture(scope="session")
def library(tmp_path_factory) -> Path:
    """The library that makes calls fail."""
    if COMPILER is None or not sys.platform.startswith("linux"):
        pytest.skip("there is no compiler here, or no way to load a library before a program")
    made = tmp_path_factory.mktemp("faults") / "faults.so"
    source = Path(__file__).with_name("faults.c")
    subprocess.run([COMPILER, "-shared", "-fPIC", "-O1", "-o", made, source, "-ldl"], check=True)
    return made


class Disk:
    """Copies of one folder, in each of which a command runs and a call may fail."""

    def __init__(self, library: Path, folder: Path, words: list[str], typed: str) -> None:
        self._library, self._folder = library, folder
        self._words, self._typed = words, typed

    def run(self, at: int, error: int = 0) -> tuple[Path, int, int, str]:
        """Run with the call `at` failing; the folder, the exit code, the calls, what was said."""
        copy = self._folder.with_name(f"copy-{at}-{error}")
        shutil.copytree(self._folder, copy)
        count = copy.with_suffix(".count")
        done = subprocess.run(
            [sys.executable, "-m", "cogtally", *(w.format(folder=copy) for w in self._words)],
            input=self._typed,
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
            env={
                **os.environ,
                "COGTALLY_CATALOG": str(copy / "own.db"),
                "COGTALLY_SESSIONS": str(copy / "sessions"),
                "LD_PRELOAD": str(self._library),
                "FAULT_FOLDER": str(copy),
                "FAULT_AT": str(at),
                "FAULT_ERROR": str(error),
                "FAULT_COUNT": str(count),
            },
        )
        return copy, done.returncode, int(count.read_text()), done.stdout + done.stderr


@pytest.mark.parametrize(
    "every", [60, pytest.param(10, marks=pytest.mark.long)], ids=["few", "many"]
)
@pytest.mark.parametrize("name", COMMANDS)
def test_disk(name, every, library, tmp_path):
    """A command on a failing disk is done and says so, or is not and says that."""
    folder = tmp_path / "kept"
    folder.mkdir()
    book = stocked_book(folder)
    (folder / "more.toml").write_text(MORE)
    words, typed = COMMANDS[name]
    disk = Disk(library, folder, words, typed)
    before = state(folder)
    whole, code, calls, _ = disk.run(0)
    after = state(whole)
    assert (code, book.exists()) == (0, True)
    assert after != before
    for error in (errno.ENOSPC, errno.EIO):
        for at in range(1 + error % 7, calls + 1, every):
            copy, code, _, said = disk.run(at, error)
            place = f"{name}, call {at} of {calls}, error {error}: {said}"
            assert "Traceback" not in said, place
            assert code in (0, 1, 2), place
            left = state(copy)
            if name == "session":
                assert left[:3] == before[:3], place
                assert left[3] in ([], [("1.driver=15",)], after[3][:1]), place
            elif code == 0:
                assert left == after, place
            elif code == 2:
                assert left == before, place
            else:
                assert left in (before, after), place
            shutil.rmtree(copy)
