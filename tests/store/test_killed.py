"""Whatever moment a process is killed at, the book is as before or as after."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from catalog.many import many_families
from cogtally.catalog.book import make_catalog_book, read_book, writing
from cogtally.catalog.book.reading import ROOM
from cogtally.catalog.files.writers import toml_of
from cogtally.store import STEPS, Step, copy_of, entries, make_book, undo, upgrade
from store.killing import assert_whole, kill_often

FEW, MANY = 5, 50

#: A version after the last: a new column in every set, which rewrites the table.
NEXT = Step(
    STEPS[-1].version + 1,
    (
        "CREATE TABLE shelves (id INTEGER PRIMARY KEY, family TEXT REFERENCES families (id))",
        "ALTER TABLE sets ADD COLUMN looked_at TEXT",
        "UPDATE sets SET looked_at = source || id",
        "INSERT INTO shelves (family) SELECT id FROM families",
    ),
)

often = pytest.mark.parametrize(
    "times", [FEW, pytest.param(MANY, marks=pytest.mark.long)], ids=["few", "many"]
)


def state(book: Path) -> object:
    """All that a book says: its catalog and its log."""
    return read_book(book).families, [entry.what for entry in entries(book)]


@pytest.fixture
def book(tmp_path) -> Path:
    """A book of four families of 20 sets."""
    make_catalog_book(tmp_path / "a.db", many_families(4, 20))
    return tmp_path / "a.db"


@often
def test_import(book, tmp_path, times):
    """A killed import leaves the book as before it or as after it."""
    from cogtally.cli.main import run

    file = tmp_path / "more.toml"
    file.write_text(toml_of(many_families(6, 20, commonness=7)), encoding="utf-8")

    def do(copy: Path) -> None:
        words = ["catalog", "import", str(file), "--replace", "--catalog", str(copy)]
        assert run(words) == 0

    found = kill_often(book, do, state, times)
    assert found.killed > times // 10


@often
def test_undo(book, times):
    """A killed undo leaves the book as before it or as after it."""
    with writing(book, "many sets") as change:
        for family in many_families(4, 60):
            for known in family.sets:
                change.put_set(family.id, known)
    found = kill_often(book, lambda copy: undo(copy), state, times)
    assert found.killed > times // 10


@often
def test_upgrade(book, times):
    """A killed upgrade leaves the book of the old version or of the new, and the copy whole."""
    version = STEPS[-1].version

    def do(copy: Path) -> None:
        upgrade(copy, (*STEPS, NEXT))

    def version_and_rows(copy: Path) -> object:
        kept = copy_of(copy, version)
        if kept.exists():
            assert_whole(kept)
            assert read_book(kept).families == tuple(many_families(4, 20))
        with closing(sqlite3.connect(copy)) as connection:
            found = connection.execute("PRAGMA user_version").fetchone()[0]
            assert found == version or kept.exists()
            return found, connection.execute("SELECT * FROM sets").fetchall()

    found = kill_often(book, do, version_and_rows, times)
    assert found.killed > times // 10


@often
def test_make(tmp_path, times):
    """A killed import that makes the book leaves no book or a whole one."""
    families = many_families(4, 20)
    anchor = tmp_path / "anchor.db"
    make_book(anchor, ROOM, "nothing")

    def made(copy: Path) -> Path:
        return copy.with_name("new.db")

    def do(copy: Path) -> None:
        make_catalog_book(made(copy), families)

    def there(copy: Path) -> object:
        return read_book(made(copy)).families if made(copy).exists() else None

    found = kill_often(anchor, do, there, times)
    assert found.killed > times // 10


@pytest.mark.parametrize("stop", [ZeroDivisionError, KeyboardInterrupt, SystemExit])
def test_stopped_in_the_middle(book, stop):
    """A change that ends half way leaves the book and its log as they were, and no note."""
    before = state(book)

    def change_and_stop() -> None:
        with writing(book, "half") as change:
            change.remove_family("box-1")
            raise stop

    with pytest.raises(stop):
        change_and_stop()
    assert state(book) == before
    assert sorted(file.name for file in book.parent.iterdir()) == ["a.db"]
