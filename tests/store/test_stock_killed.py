"""Whatever moment a change of the stock is killed at, the book is as before or as after."""

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from catalog.many import many_families
from cogtally.catalog.book import read_book, writing
from cogtally.shelf.stock.book import read_items
from cogtally.store import STEPS, copy_of, entries, make_book, upgrade
from shelf.stocked import stocked_book
from small_catalog import BIRCH
from store.killing import assert_whole, kill_often

often = pytest.mark.parametrize(
    "times", [4, pytest.param(40, marks=pytest.mark.long)], ids=["few", "many"]
)
ADD = ("add", "31", "27", "21", "15", "14", "--quantity", "40", "--price", "4")


def state(book: Path) -> object:
    """All that a book says of its stock, without the times."""
    items = [
        (i.number, i.thing, i.details, i.now.name, i.sale and (i.sale.to, i.sale.price))
        for i in read_items(book)
    ]
    return items, [entry.what for entry in entries(book)]


def command(*words: str) -> Callable[[Path], object]:
    """A command of the stock on a copy of a book."""

    def do(copy: Path) -> None:
        from cogtally.cli.main import run

        assert run(["stock", *words, "--catalog", str(copy)]) == 0

    return do


@pytest.fixture
def book(tmp_path) -> Path:
    """A book with a few items."""
    return stocked_book(tmp_path)


@often
@pytest.mark.parametrize(
    "words",
    [ADD, ("edit", "1", "--seen", "31 27 20 15 14", "--note", "x"), ("sell", "2", "--to", "X")],
    ids=["add", "edit", "sell"],
)
def test_command(book, words, times):
    """A killed change of the stock is made whole or not at all."""
    found = kill_often(book, command(*words), state, times)
    assert found.killed > times // 10


@often
def test_recheck(book, times):
    """A killed recheck has named every item again or none."""
    command(*ADD)(book)
    with writing(book, "remove") as change:
        change.remove_set("birch-4", BIRCH.sets[0].id)
    found = kill_often(book, command("recheck"), state, times)
    assert found.killed > times // 10


@often
def test_upgrade(tmp_path, times):
    """A killed upgrade from the book without a stock leaves the old book or the new one."""
    book = tmp_path / "a.db"
    make_book(book, "catalog", "init", steps=STEPS[:1])

    def version(copy: Path) -> object:
        kept = copy_of(copy, 1)
        if kept.exists():
            assert_whole(kept)
        with closing(sqlite3.connect(copy)) as connection:
            return connection.execute("PRAGMA user_version").fetchone()[0]

    found = kill_often(book, lambda copy: upgrade(copy, STEPS), version, times)
    assert found.killed > times // 10


def test_upgraded_book_is_as_a_new_one(tmp_path):
    """An upgraded book has the same tables as a new one."""
    old, new = tmp_path / "old.db", tmp_path / "new.db"
    make_book(old, "catalog", "init", steps=STEPS[:1])
    make_book(new, "catalog", "init")
    upgrade(old)

    def tables(book: Path) -> list[tuple[object, ...]]:
        with closing(sqlite3.connect(book)) as connection:
            asked = "SELECT type, name, sql FROM sqlite_schema ORDER BY type, name"
            return connection.execute(asked).fetchall()

    assert tables(old) == tables(new)
    with writing(old, "fill") as change:
        change.add_families(many_families(1, 3))
    assert len(read_book(old).families) == 1
