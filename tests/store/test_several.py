"""Several processes at one book, a book that may not be written, and a disk that is full."""

import os
import resource
import shutil
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from tempfile import mkdtemp

import pytest

import cogtally.store.change as opening_file
from catalog.many import many_families
from cogtally.catalog.book import make_catalog_book, read_book, writing
from cogtally.catalog.model import RatioSet
from cogtally.gears.errors import UserError
from cogtally.store import STEPS, Step, copy_of, entries, reading, undo, upgrade
from store.killing import assert_whole, in_process


@pytest.fixture
def book(tmp_path) -> Path:
    """A book of a family of 20 sets."""
    make_catalog_book(tmp_path / "a.db", many_families(1, 20))
    return tmp_path / "a.db"


@pytest.mark.parametrize("each", [50, pytest.param(500, marks=pytest.mark.long)])
def test_two_writers(book, each, monkeypatch):
    """Two processes that add sets at once, one a change, lose none of them."""
    # Who waits is not told when it is its turn, and on a busy machine may wait long for it.
    monkeypatch.setattr(opening_file, "LONGEST_WAIT", 120.0)

    def add(name: str) -> None:
        for number in range(each):
            known = RatioSet(f"{name}-{number}", pairs={"input": (17, 28)}, source=name)
            with writing(book, f"add {known.id}") as change:
                change.put_set("box-0", known)

    first = in_process(lambda: add("left"))
    second = in_process(lambda: add("right"))
    assert [os.waitpid(number, 0)[1] for number in (first, second)] == [0, 0]
    (family,) = read_book(book).families
    assert len(family.sets) == 20 + 2 * each
    assert len({known.id for known in family.sets}) == 20 + 2 * each
    assert len(entries(book)) == 1 + 2 * each
    assert_whole(book)


@pytest.fixture
def short_wait(monkeypatch) -> None:
    """Wait for another writer a tenth of a second only."""
    monkeypatch.setattr(opening_file, "LONGEST_WAIT", 0.1)


@pytest.mark.usefixtures("short_wait")
def test_who_holds_it(book):
    """A book held for too long says who holds it, since when and for what; nothing is lost."""
    ready, tell = os.pipe()

    def hold() -> None:
        with writing(book, "a long import") as change:
            change.remove_set("box-0", "set-3")
            os.write(tell, b"!")
            time.sleep(0.8)

    holder = in_process(hold)
    os.read(ready, 1)
    with pytest.raises(UserError) as error, writing(book, "mine"):
        pass
    said = str(error.value)
    assert f"the book is in use: process {holder}, a long import, since " in said
    assert "nothing was changed; try again" in said
    assert len(read_book(book).families[0].sets) == 20
    assert os.waitpid(holder, 0)[1] == 0
    assert len(read_book(book).families[0].sets) == 19
    with writing(book, "mine") as change:
        change.remove_set("box-0", "set-4")
    assert [entry.what for entry in entries(book)] == ["mine", "a long import", "catalog init"]


@pytest.mark.usefixtures("short_wait")
def test_held_by_another_program(book):
    """A book that another tool holds says that another program does."""
    with closing(sqlite3.connect(book, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(UserError, match="in use: another program holds it"):
            undo(book)


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that every user may read, with a book in it."""
    folder = Path(mkdtemp(dir="/tmp"))
    folder.chmod(0o755)
    make_catalog_book(folder / "a.db", many_families(1, 20))
    yield folder
    shutil.rmtree(folder)


def as_somebody_else(do: Callable[[], object]) -> int:
    """Do something as a user who owns nothing, where this process may; return the exit code."""

    def work() -> None:
        if os.getuid() == 0:
            os.setuid(65534)
        do()

    return os.waitstatus_to_exitcode(os.waitpid(in_process(work), 0)[1])


def test_read_only(open_folder):
    """A book in a folder that may not be written is read; writing it says so."""
    book = open_folder / "a.db"
    book.chmod(0o444)
    open_folder.chmod(0o555)

    def read_and_write() -> None:
        assert len(read_book(book).families[0].sets) == 20
        with pytest.raises(UserError, match="the book cannot be written"), writing(book, "mine"):
            pass
        with pytest.raises(UserError, match="the book cannot be written"):
            undo(book)

    before = book.read_bytes()
    assert as_somebody_else(read_and_write) == 0
    assert book.read_bytes() == before


def test_folder_read_only(open_folder):
    """A book that may be written, in a folder that may not, is read; writing it says so."""
    book = open_folder / "a.db"
    book.chmod(0o666)
    open_folder.chmod(0o555)

    def read_and_write() -> None:
        assert len(read_book(book).families[0].sets) == 20
        with pytest.raises(UserError, match="the book cannot be written"), writing(book, "mine"):
            pass

    assert as_somebody_else(read_and_write) == 0


def run_with(size: int, folder: Path, *words: str | Path) -> subprocess.CompletedProcess[str]:
    """Run the program where no file may grow beyond `size` bytes."""
    return subprocess.run(
        [sys.executable, "-B", "-m", "cogtally", *words],
        capture_output=True,
        text=True,
        cwd=folder,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (size, size)),
        check=False,
    )


@pytest.mark.parametrize(
    "command", [["catalog", "import", "big.toml"], ["undo"]], ids=["import", "undo"]
)
@pytest.mark.parametrize("size", [0, 4096, 40_000, 150_000, 400_000])
def test_full_disk(book, tmp_path, size, command):
    """A disk that takes no more, wherever that is, is one line; the book is as it was."""
    (tmp_path / "big.toml").write_text(_toml(900), encoding="utf-8")
    with writing(book, "many") as change:
        change.remove_family("box-0")
        change.add_families(many_families(30, 60))
    before = read_book(book).families
    ran = run_with(size, tmp_path, *command, "--catalog", book)
    assert (ran.returncode, ran.stdout) == (2, "")
    assert ran.stderr.splitlines()[-1].startswith(
        f"cogtally: {book}: the disk did not take it: it may be full; the book is as it was before"
    )
    assert read_book(book).families == before
    assert len(entries(book)) == 2
    assert_whole(book)


def test_full_disk_at_the_end(book, tmp_path):
    """An export that the disk does not take leaves the files that were there, and no others."""
    (tmp_path / "out.toml").write_text("mine")
    with writing(book, "many") as change:
        change.add_families([replace(f, id=f"new-{f.id}") for f in many_families(5, 60)])
    before = sorted(tmp_path.iterdir())
    ran = run_with(40_000, tmp_path, "catalog", "export", "out.toml", "--force", "--catalog", book)
    assert (ran.returncode, ran.stderr.count("\n")) == (2, 1)
    assert (tmp_path / "out.toml").read_text() == "mine"
    assert sorted(tmp_path.iterdir()) == before


@pytest.mark.parametrize("size", [0, 4096, 20_000])
def test_full_disk_at_the_beginning(tmp_path, size):
    """A book that the disk does not take does not appear, nor anything beside it."""
    ran = run_with(size, tmp_path, "catalog", "init", "--catalog", "new.db")
    assert ran.returncode == 2
    assert ran.stderr.startswith("cogtally: new.db: the disk did not take it: it may be full")
    assert list(tmp_path.iterdir()) == []


def _toml(sets: int) -> str:
    from cogtally.catalog.files.writers import toml_of

    return toml_of([replace(f, id=f"new-{f.id}") for f in many_families(sets // 60, 60)])


NEXT = Step(STEPS[-1].version + 1, ("ALTER TABLE sets ADD COLUMN looked_at TEXT",))


def test_upgrade(book):
    """A book of an older version is brought up to date when it is read, and a copy is kept."""
    families = read_book(book).families
    with reading(book, (*STEPS, NEXT)) as newer:
        assert newer.execute("PRAGMA user_version").fetchone() == (NEXT.version,)
    copy = copy_of(book, STEPS[-1].version)
    assert read_book(copy).families == families
    with pytest.raises(UserError, match=r"this program knows \d+; it was left as it is"):
        read_book(book)


def test_upgrade_that_fails(book):
    """An upgrade that cannot be made leaves the book of its old version."""
    before = book.read_bytes()
    wrong = Step(
        STEPS[-1].version + 1, ("CREATE TABLE a (b TEXT)", "INSERT INTO nowhere VALUES (1)")
    )
    with pytest.raises(UserError, match="the book cannot be written: no such table"):
        upgrade(book, (*STEPS, wrong))
    assert book.read_bytes() == before


def test_upgrade_that_breaks_ties(book):
    """An upgrade that leaves sets without their family is not made."""
    wrong = Step(STEPS[-1].version + 1, ("DELETE FROM families",))
    with pytest.raises(UserError, match="rows of it are about others that are not there"):
        upgrade(book, (*STEPS, wrong))
    assert len(read_book(book).families) == 1


def test_two_upgrades(book):
    """Two processes that upgrade at once do it once."""
    numbers = [in_process(lambda: upgrade(book, (*STEPS, NEXT))) for _ in range(4)]
    assert [os.waitpid(number, 0)[1] for number in numbers] == [0] * 4
    with reading(book, (*STEPS, NEXT)) as newer:
        assert newer.execute("SELECT count(*) FROM sets").fetchone() == (20,)
