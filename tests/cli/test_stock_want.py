"""`cogtally stock want`, and where it is told that a piece is one that is looked for."""

import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from cogtally.catalog.book import read_book
from cogtally.shelf.stock import read_wants
from cogtally.store import STEPS, copy_of
from conftest import refused

LAYGEAR, REVERSE = ("31", "27", "21", "15", "14"), ("18", "--role", "R-idler")
INPUT = ("20", "--role", "input-shaft")


@pytest.fixture
def wanting(book, cogtally) -> Path:
    """A book that looks for the 3-gear of birch-4/early, for 30 GBP at most."""
    words = ("birch-4/early", "3-gear", "--up-to", "30", "--currency", "gbp")
    assert cogtally("stock", "want", *words).code == 0
    return book


def test_wants_are_listed(wanting, cogtally):
    """A want has family, set, piece, type and price; a second time it has the new price."""
    assert cogtally("stock", "want", "--list").out == "birch-4/early  3-gear 24, up to 30 GBP\n"
    cogtally("stock", "want", "birch-4/early", "3-gear", "--up-to", "32,50")
    (want,) = json.loads(cogtally("stock", "want", "--list", "--json").out)["wants"]
    assert want == {
        "family": "birch-4",
        "set": "early",
        "piece": "3-gear",
        "type": [24],
        "up_to": "32.50",
        "currency": "GBP",
    }


def test_a_want_is_taken_back(wanting, cogtally):
    """--take-back drops a want; what is not wanted cannot be dropped; undo brings it back."""
    words = ("stock", "want", "birch-4/early", "3-gear", "--take-back")
    assert cogtally(*words).code == 0
    assert "Nothing is wanted" in cogtally("stock", "want").out
    ran = cogtally(*words)
    assert (ran.code, ran.err.count("this is not wanted")) == (2, 1)
    cogtally("undo")
    assert len(read_wants(wanting, read_book(wanting))) == 1


def test_a_piece_that_is_wanted_is_told_so(wanting, cogtally, tmp_path):
    """`piece`, `stock add` and files of pieces say for what it is wanted, up to which price."""
    told = "You want this: 3-gear of birch-4/early, up to 30 GBP"
    assert told in cogtally("piece", "24", "--role", "3-gear").out
    document = json.loads(cogtally("piece", "24", "--role", "3-gear", "--json").out)
    assert document["wanted"][0]["up_to"] == "30"
    assert "You want" not in cogtally("piece", "31", "--role", "3-gear").out
    assert told in cogtally("stock", "add", "24", "--role", "3-gear").out
    file = tmp_path / "pieces.csv"
    file.write_text("item,counts,role\na,24,3-gear\nb,18,R-idler\n")
    first, second = cogtally("piece", "--from", str(file)).out.splitlines()[1:]
    assert "3-gear of birch-4/early, up to 30 GBP" in first
    assert "early, up to" not in second
    assert f"Row 2, a: {told}" in cogtally("stock", "add", "--from", str(file)).out


def test_the_last_piece_is_worth_buying(wanting, cogtally):
    """Where the stock has all else of a set the piece is said to complete it."""
    for words in (LAYGEAR, INPUT, REVERSE, ("36",), ("30",), ("32",)):
        assert cogtally("stock", "add", *words).code == 0
    ran = cogtally("piece", "24", "--role", "3-gear")
    assert ran.out.startswith("Buy it up to 30 GBP: the 3-gear completes birch-4/early.")


@pytest.mark.parametrize("columns", [60, 100])
def test_kits_offer_to_note_what_is_lacking(book, cogtally, snapshot, columns):
    """What nearly complete sets lack can be noted, one by one or all of it with --want."""
    for words in (LAYGEAR, INPUT, REVERSE, ("36",), ("30",), ("32",)):
        cogtally("stock", "add", *words)
    before = cogtally("stock", "kits", columns=columns)
    snapshot(f"stock-kits/offer-{columns}", before.out)
    assert cogtally("stock", "want", "--list").out.startswith("Nothing is wanted")
    after = cogtally("stock", "kits", "--want")
    assert "All of it is noted" in after.out
    listed = cogtally("stock", "want", "--list").out
    assert "birch-4/early  3-gear 24\n" in listed


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("birch-4", "3-gear"), "a piece is wanted for a set; write FAMILY/SET: birch-4/early"),
        (("birch-4/erly", "3-gear"), "did you mean"),
        (("birch-4/early", "3-gaer"), "birch-4 has no such piece"),
        (("birch-4/early",), "FAMILY/SET or PIECE is missing"),
        (("birch-4/early", "3-gear", "--up-to", "30"), "no currency was written yet"),
        (("birch-4/early", "3-gear", "--currency", "GBP"), "--currency goes with --up-to"),
    ],
)
def test_refusal(words, says, book, cogtally):
    """What cannot be wanted is one line and exit code 2; nothing is written."""
    before = book.read_bytes()
    refused(cogtally("stock", "want", *words), says)
    assert book.read_bytes() == before


def test_an_older_book_is_upgraded_in_place(book, cogtally):
    """A book from before there were wants has them after a copy of it was kept beside it."""
    with closing(sqlite3.connect(book)) as older:
        older.execute("DROP TABLE wants")
        older.execute("DELETE FROM totals WHERE place = 'wants'")
        older.execute(f"PRAGMA user_version = {STEPS[-1].version - 1}")
        older.commit()
    assert cogtally("stock", "want", "birch-4/early", "3-gear").code == 0
    assert "3-gear 24" in cogtally("stock", "want", "--list").out
    assert copy_of(book, STEPS[-1].version - 1).exists()
