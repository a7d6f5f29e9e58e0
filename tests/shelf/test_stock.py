"""The stock in the book: read as written, logged, taken back, used by several, in old books."""

import os
import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from cogtally.catalog.book import make_catalog_book, read_book
from cogtally.gears.errors import UserError
from cogtally.shelf.stock.book import read_item, read_items, stock_writing
from cogtally.shelf.stock.items import Money, Sale
from cogtally.store import STEPS, copy_of, entries, make_book, undo
from shelf.stocked import ITEMS, put, stocked_book
from small_catalog import SMALL
from store.killing import assert_whole, in_process


@pytest.fixture
def book(tmp_path) -> Path:
    """A book with a piece, a box and a pair in its stock."""
    return stocked_book(tmp_path)


def test_read_as_written(book):
    """Items come back by number as they were put in, their words as typed."""
    items = read_items(book)
    assert [item.number for item in items] == [1, 2, 3]
    assert [(i.kind, i.thing.words, i.details) for i in items] == list(ITEMS)
    assert all(item.then == item.now and item.sale is None for item in items)
    assert read_item(book, 2) == items[1]


def test_columns_for_people(book):
    """The tables tell what was typed beside what it parses to, exact prices as text."""
    with closing(sqlite3.connect(book)) as connection:
        row = connection.execute("SELECT seen, price, currency FROM items WHERE id = 2").fetchone()
        assert row == ("input=20/31 1=15/36 2=21/30 3=27/24 R=14/18/32", "320.50", "GBP")
        asked = "SELECT item, place, wheel, teeth FROM item_wheels WHERE teeth = 27 ORDER BY item"
        assert connection.execute(asked).fetchall() == [
            (1, 2, None, 27),
            (2, None, "3.driver", 27),
            (3, None, "3.driver", 27),
        ]
        best = "SELECT family, piece, sets FROM item_shares WHERE item = 1 AND moment = 'now'"
        assert connection.execute(best).fetchone() == ("birch-4", "laygear", '["early"]')


def test_what_cannot_be_in_the_tables(book):
    """An amount without a currency, another kind, an answer of no item: none of them goes in."""
    with closing(sqlite3.connect(book)) as connection:
        connection.execute("PRAGMA foreign_keys = 1")
        for sql in (
            "UPDATE items SET currency = NULL WHERE id = 1",
            "UPDATE items SET kind = 'gear'",
            "UPDATE items SET sold_price = '3'",
        ):
            with pytest.raises(sqlite3.IntegrityError):
                connection.execute(sql)
        connection.execute("DELETE FROM items")
        with pytest.raises(sqlite3.IntegrityError):
            connection.commit()


def test_changes_and_undo(book):
    """A sale and an edit are entries of the stock's log, and undo takes each of them back."""
    before = read_items(book)
    with stock_writing(book, "sell") as stock:
        stock.sell(1, Sale(stock.at, "somebody", Money("40", "GBP")))
    with stock_writing(book, "edit") as stock:
        item = stock.item(2)
        stock.put(replace(item, details=replace(item.details, place="attic")))
    sold, moved, _ = read_items(book)
    assert (sold.sale.to, sold.sale.price) == ("somebody", Money("40", "GBP"))
    assert moved.details.place == "attic"
    undo(book)
    assert read_items(book)[1] == before[1]
    undo(book)
    assert read_items(book) == before
    assert [entry.what for entry in entries(book)][:4] == [
        "undo of 5: sell",
        "undo of 6: edit",
        "edit",
        "sell",
    ]


def test_sold_once(book):
    """What is sold cannot be sold again, and nothing is written then."""
    with stock_writing(book, "sell") as stock:
        stock.sell(1, Sale(stock.at))
    count = len(entries(book))
    with pytest.raises(UserError, match="sold already"), stock_writing(book, "again") as stock:
        stock.sell(1, Sale(stock.at, "another"))
    assert len(entries(book)) == count


def test_a_number_is_never_given_twice(book):
    """The number of an item that was taken back is not given to the next."""
    undo(book)
    assert [item.number for item in read_items(book)] == [1, 2]
    assert put(book, "piece", ["20"]).number == 4


def test_label(book):
    """That a label was made is kept, and is no change of the item."""
    with stock_writing(book, "label") as stock:
        stock.put_labelled(3)
    item = read_item(book, 3)
    assert item.labelled
    assert item.changed == item.added


def test_two_writers(book):
    """Two processes that add at once lose no item, and no number is given twice."""
    each = 8

    def add() -> None:
        for _ in range(each):
            put(book, "pair", ["3=27/24"])

    first, second = in_process(add), in_process(add)
    assert [os.waitpid(number, 0)[1] for number in (first, second)] == [0, 0]
    assert [item.number for item in read_items(book)] == list(range(1, 4 + 2 * each))
    assert_whole(book)


def test_a_book_of_version_1(tmp_path):
    """A book from before there was a stock is brought up to date, a copy of it kept beside it."""
    new, old = tmp_path / "new.db", tmp_path / "old.db"
    make_catalog_book(new, SMALL.families)
    make_book(old, "catalog", "init", steps=STEPS[:1])
    with closing(sqlite3.connect(new)) as source, closing(sqlite3.connect(old)) as target:
        for table in ("families", "sets"):
            rows = [row[:-1] for row in source.execute(f"SELECT * FROM {table}")]
            places = ", ".join("?" * len(rows[0]))
            target.executemany(f"INSERT INTO {table} VALUES ({places})", rows)
        target.commit()
    assert read_items(old) == ()
    assert put(old, "piece", ["20"]).number == 1
    assert read_book(old).families == SMALL.families
    with closing(sqlite3.connect(copy_of(old, 1))) as kept:
        assert kept.execute("PRAGMA user_version").fetchone() == (1,)
        assert kept.execute("SELECT count(*) FROM sets").fetchone() == (8,)
    assert_whole(old)
