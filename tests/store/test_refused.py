"""What is no book is refused in one line, and not a byte of it is touched."""

import shutil
import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from catalog.many import many_families
from cogtally.catalog.book import make_catalog_book, read_book, writing
from cogtally.catalog.book.reading import ROOM
from cogtally.gears.errors import UserError
from cogtally.store import STEPS, make_book, undo


@pytest.fixture
def book(tmp_path) -> Path:
    """A book of a family of 60 sets."""
    make_catalog_book(tmp_path / "a.db", many_families(1, 60))
    return tmp_path / "a.db"


def text(book: Path) -> None:
    book.write_text("set,teeth\n" * 200)


def nothing(book: Path) -> None:
    book.write_bytes(b"")


def cut(book: Path) -> None:
    book.write_bytes(book.read_bytes()[:-4096])


def cut_in_its_head(book: Path) -> None:
    book.write_bytes(book.read_bytes()[:60])


def of_another_program(book: Path) -> None:
    book.unlink()
    with closing(sqlite3.connect(book)) as other:
        other.execute("CREATE TABLE sets (family TEXT, id TEXT)")


def newer(book: Path) -> None:
    with closing(sqlite3.connect(book)) as later:
        later.execute(f"PRAGMA user_version = {STEPS[-1].version + 1}")


def overwritten(book: Path) -> None:
    whole = book.read_bytes()
    book.write_bytes(whole[:4096] + bytes(len(whole) - 4096))


def a_folder(book: Path) -> None:
    book.unlink()
    book.mkdir()


def not_there(book: Path) -> None:
    book.unlink()


SPOILT = {
    text: "this is no book that can be read: it is no SQLite database",
    nothing: "this is no book that can be read: the file is empty",
    cut: "this is no book that can be read: its end is missing",
    cut_in_its_head: "this is no book that can be read: its end is missing",
    of_another_program: "this is no book that can be read: it is another program's database",
    newer: f"the book is of version {STEPS[-1].version + 1}, and this program knows",
    overwritten: "the book is damaged",
    a_folder: "this is no book that can be read: it is no file",
    not_there: "there is no such book",
}


def bytes_of(folder: Path) -> dict[str, bytes]:
    return {file.name: file.read_bytes() for file in folder.iterdir() if file.is_file()}


def change(book: Path) -> None:
    with writing(book, "change") as open_book:
        open_book.remove_family("box-0")


@pytest.mark.parametrize("spoil", SPOILT, ids=lambda spoil: spoil.__name__)
@pytest.mark.parametrize(
    "use", [read_book, change, lambda book: undo(book)], ids=["read", "change", "undo"]
)
def test_refused(book, spoil, use):
    """Whatever is asked of it, what is no book is refused in one line and left as it was."""
    spoil(book)
    before = bytes_of(book.parent)
    with pytest.raises(UserError) as error:
        use(book)
    said = str(error.value)
    assert SPOILT[spoil] in said
    assert said.startswith(str(book))
    assert "\n" not in said
    assert bytes_of(book.parent) == before


@pytest.mark.parametrize("spoil", [text, newer, a_folder], ids=lambda spoil: spoil.__name__)
def test_not_made_over(book, spoil):
    """A new book is never made in place of what is there, and leaves nothing beside it."""
    spoil(book)
    before = bytes_of(book.parent)
    with pytest.raises(UserError, match="there is a file already"):
        make_catalog_book(book, many_families(1, 2))
    assert bytes_of(book.parent) == before


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("teeth", "'[1]'"),
        ("teeth", "'{\"1\": 5}'"),
        ("ratios", "'7'"),
        ("marks", "'{\"a\": 3}'"),
        ("aliases", "'3'"),
    ],
)
def test_strange_values(book, column, value):
    """A row that another tool wrote is named and refused in one line."""
    with closing(sqlite3.connect(book)) as other, other:
        other.execute(f"UPDATE sets SET {column} = {value} WHERE id = 'set-3'")
    with pytest.raises(UserError, match="the book is damaged: box-0/set-3 of sets is not as"):
        read_book(book)


@pytest.mark.parametrize(
    "assignment", ["teeth = '{'", "commonness = 'often'", "commonness = 0", "name = NULL"]
)
def test_refused_by_the_tables(book, assignment):
    """The tables themselves refuse values of the wrong kind."""
    with closing(sqlite3.connect(book)) as other, pytest.raises(sqlite3.IntegrityError):
        other.execute(f"UPDATE sets SET {assignment}")


def test_read_beside_a_log_ahead(book, tmp_path):
    """A book copied with its write-ahead log, as after a crash, is read with what is in that."""
    crashed = tmp_path / "crashed"
    crashed.mkdir()
    with closing(sqlite3.connect(book)) as other:
        other.execute("SELECT count(*) FROM sets").fetchone()
        with writing(book, "a name") as change:
            (family,) = change.catalog().families
            change.put_set("box-0", replace(family.sets[3], name="in the log"))
        for file in tmp_path.glob("a.db*"):
            shutil.copy(file, crashed)
    assert (crashed / "a.db-wal").stat().st_size > 0
    (family,) = read_book(crashed / "a.db").families
    assert family.sets[3].name == "in the log"


def test_reading_leaves_nothing(book):
    """Reading changes no byte of a book and leaves no file beside it."""
    before = bytes_of(book.parent)
    read_book(book)
    assert bytes_of(book.parent) == before


def test_make_is_whole(tmp_path):
    """A book that cannot be filled does not appear."""

    def fill(change: object) -> None:
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        make_book(tmp_path / "a.db", ROOM, "nothing", fill)
    assert list(tmp_path.iterdir()) == []
