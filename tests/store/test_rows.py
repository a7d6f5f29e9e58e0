"""What was spoilt in a book behind our back is refused by its name, and comes back from the log."""

import os
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing, suppress
from pathlib import Path
from random import Random

import pytest

from catalog.many import many_families
from cogtally.catalog.book import make_catalog_book, partly_read, read_book, writing
from cogtally.catalog.search import find_in_book, parse_query
from cogtally.catalog.words import read_words
from cogtally.gears.errors import UserError
from cogtally.shelf.stock.book import read_item, read_items
from cogtally.store import STEPS, Step, entries, entry_of, faults, mend, reading, upgrade
from shelf.stocked import stocked_book
from store.killing import in_process

TABLES = ("families", "sets", "items", "item_answers", "log", "changes")
FLIPS = 100


@pytest.fixture
def book(tmp_path) -> Path:
    """A book with families, sets, items and a log of several entries."""
    path = stocked_book(tmp_path)
    with writing(path, "a note") as change:
        change.put_family(change.catalog().families[0])
        change.change.put("families", {"id": change.catalog().families[0].id, "note": "a note"})
    return path


#: Everything that a book says, however it is asked.
ASKED: dict[str, Callable[[Path], object]] = {
    "families": lambda book: read_book(book).families,
    "one by one": lambda book: [*partly_read(book).by_id.values()],
    "names": lambda book: (partly_read(book).pair_names, partly_read(book).set_names),
    "items": read_items,
    "one item": lambda book: [read_item(book, number) for number in (1, 2, 3)],
    "log": entries,
    "entries": lambda book: [entry_of(book, number) for number in (1, 2, 5)],
}


def all_of(book: Path) -> dict[str, object]:
    return {name: ask(book) for name, ask in ASKED.items()}


def spoil(book: Path, statement: str) -> None:
    """Change a book as another tool would."""
    with closing(sqlite3.connect(book)) as other, other:
        other.execute(statement)


SPOILT = {
    "a value": ("UPDATE sets SET source = 'x' WHERE rowid = 2", "of sets is not as it was written"),
    "a number": ("UPDATE sets SET commonness = 2.5 WHERE rowid = 2", "of sets is not as it was"),
    "a digest": ("UPDATE families SET digest = digest + 1 WHERE rowid = 1", "of families is not"),
    "a row that is gone": ("DELETE FROM sets WHERE rowid = 2", "of sets: a row is missing|sets: a"),
    "a row moved": ("UPDATE sets SET id = 'other' WHERE rowid = 2", "other of sets is not as"),
    "an item": ("UPDATE items SET place = 'x' WHERE id = 2", "2 of items is not as it was"),
    "an item gone": ("DELETE FROM items WHERE id = 2", "items: a row is missing"),
    "a total": ("UPDATE totals SET digests = 5 WHERE place = 'sets'", "sets: a row is missing"),
    "an entry": ("UPDATE log SET what = 'x' WHERE id = 2", "2 of log is not as it was written"),
    "what an entry changed": (
        "UPDATE changes SET after = before WHERE entry = 1 AND number = 1",
        "1/1 of changes is not as it was written",
    ),
}


@pytest.mark.parametrize(("statement", "says"), SPOILT.values(), ids=SPOILT)
def test_spoilt(book, statement, says, cogtally):
    """A spoilt row is refused with its name and a way back; the check of the book finds it."""
    spoil(book, statement)
    with pytest.raises(UserError, match=says) as error:
        all_of(book)
    assert "\n" not in str(error.value)
    assert "an export" in str(error.value)
    ran = cogtally("catalog", "check", str(book))
    assert (ran.code, ran.err) == (1, "")
    assert "not as it was written" in ran.out or "rows are missing" in ran.out


@pytest.mark.parametrize("statement", [s for s, _ in SPOILT.values()][:8], ids=list(SPOILT)[:8])
def test_mended(book, statement, cogtally):
    """What was spoilt in the catalog and the stock comes back from the log, all as it was."""
    before = all_of(book)
    spoil(book, statement)
    ran = cogtally("catalog", "check", "--mend", str(book))
    assert (ran.code, ran.err) == (0, "")
    assert f"The book as it was is kept as {book}-before-mend." in ran.out
    assert all_of(book) == before
    assert mend(book).found == ()


def test_not_undone_over_and_not_written_over(book):
    """A change that would write over a spoilt row is refused, and nothing is written."""
    spoil(book, "UPDATE families SET name = 'x' WHERE rowid = 1")
    with pytest.raises(UserError, match="of families is not as it was written"):
        spoilt_family(book)


def spoilt_family(book: Path) -> None:
    with writing(book, "over it") as change:
        (name,) = change.change.rows("SELECT id FROM families WHERE rowid = 1")
        change.change.put("families", {"id": name["id"], "note": "another"})


def test_every_row_has_a_digest(book):
    """Every table of a book that holds rows of ours is checked, and nothing is wrong in a book."""
    with reading(book) as connection:
        assert faults(connection) == []
        for table in TABLES:
            asked = f"SELECT count(*), count(nullif(digest, 0)) FROM {table}"
            rows, digests = connection.execute(asked).fetchone()
            assert rows == digests > 0, table


def test_upgrade_works_them_out(book):
    """A later version with one more column has digests of the new rows; a spoilt row stops it."""
    later = Step(STEPS[-1].version + 1, ("ALTER TABLE items ADD COLUMN more REAL DEFAULT 1",))
    spoilt = Path(shutil.copy(book, book.with_name("spoilt.db")))
    upgrade(book, (*STEPS, later))
    with reading(book, (*STEPS, later)) as connection:
        assert faults(connection) == []
    spoil(spoilt, "UPDATE items SET place = 'x' WHERE id = 2")
    with pytest.raises(UserError, match="2 of items is not as it was written"):
        upgrade(spoilt, (*STEPS, later))


def test_flips(book):
    """A flipped bit anywhere in a book: the same answer or a refusal, never another answer."""
    whole = all_of(book)
    data = book.read_bytes()
    random = Random(8)
    refused = 0
    for _ in range(FLIPS):
        at = random.randrange(len(data))
        flipped = bytearray(data)
        flipped[at] ^= 1 << random.randrange(8)
        for side in book.parent.glob(f"{book.name}-*"):
            side.unlink()
        book.write_bytes(flipped)
        answers = 0
        for name, ask in ASKED.items():
            with suppress(UserError):
                assert ask(book) == whole[name], f"byte {at}: {name}"
                answers += 1
        refused += answers < len(ASKED)
    assert refused > FLIPS / 10


def test_flips_beside_a_book(tmp_path, cogtally):
    """Whatever stands in any file beside a book, it finds, offers and names the same."""
    book = tmp_path / "a.db"
    make_catalog_book(book, many_families(10, 50))
    query = parse_query(["box-7"])
    box = [f"{pair}=17/28" for pair in read_book(book).families[0].train.pairs][:2]

    def asked() -> object:
        return read_words(book), find_in_book(book, query, 10)

    def named() -> object:
        return cogtally("identify", *box, "--family", "box-1", "--catalog", str(book))

    whole, screen = asked(), named()
    sides = {file: file.read_bytes() for file in tmp_path.iterdir() if file != book}
    assert len(sides) >= 2
    random = Random(4)
    for side, data in sides.items():
        for number in range(8):
            flipped = bytearray(data)
            flipped[random.randrange(len(data))] ^= 1 << random.randrange(8)
            spoilt = (bytes(flipped), b"", data[: random.randrange(len(data))])[number % 3]
            side.write_bytes(spoilt)
            if number == 0:
                assert named() == screen, side.name
                side.write_bytes(spoilt)
            assert asked() == whole, side.name


def test_left_by_killed_runs(book):
    """What a killed run left unfinished goes with the next write; what others write stays."""
    dead, alive = in_process(lambda: None), os.getppid()
    os.waitpid(dead, 0)
    left = [f".own.db-{dead}.cogtally", f".a.svg-{dead}.cogtally", f".own.db-{dead}.cogtally-wal"]
    stays = [f".own.db-{alive}.cogtally", f".notes-{dead}", f"own.db-{dead}.cogtally"]
    for name in (*left, *stays):
        (book.parent / name).touch()
    with writing(book, "next") as change:
        change.change.put("families", {"id": change.catalog().families[0].id, "note": "next"})
    names = {file.name for file in book.parent.iterdir()}
    assert names.isdisjoint(left)
    assert names.issuperset(stays)
