"""`cogtally stock label`, run as a person runs it."""

import json
from pathlib import Path

import pytest

from cogtally.shelf.stock.book import read_items
from cogtally.shelf.stock.naming import labels_of, naming_of
from conftest import refused
from shelf.stocked import put, stocked_book

ROLL = ("--size", "60x30")


@pytest.fixture
def book(tmp_path, monkeypatch) -> Path:
    """A book with a piece, a box and a pair in its stock; the tests' folder is the working one."""
    path = stocked_book(tmp_path)
    monkeypatch.setenv("COGTALLY_CATALOG", str(path))
    monkeypatch.chdir(tmp_path)
    return path


def test_all_new(book, cogtally):
    """What never had a label has one, once; what was sold has none; it can be taken back."""
    cogtally("stock", "sell", "2")
    ran = cogtally("stock", "label", "--all-new", *ROLL, "--out", "new.pdf")
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.startswith("Wrote 2 labels on 2 pages: new.pdf")
    assert Path("new.pdf").read_bytes().startswith(b"%PDF")
    assert [bool(item.labelled) for item in read_items(book)] == [True, False, True]
    again = cogtally("stock", "label", "--all-new", *ROLL, "--out", "more.pdf")
    assert (again.code, Path("more.pdf").exists()) == (0, False)
    assert cogtally("undo").code == 0
    assert not any(item.labelled for item in read_items(book))


@pytest.mark.usefixtures("book")
def test_a_file_that_is_there_is_kept(cogtally):
    """Labels are not written over a file that is there already, but with --force."""
    Path("a.pdf").write_text("mine")
    words = ("stock", "label", "1", *ROLL, "--out", "a.pdf")
    refused = cogtally(*words)
    assert (refused.code, Path("a.pdf").read_text()) == (2, "mine")
    assert "--force writes over it" in refused.err
    assert cogtally(*words, "--force").code == 0
    assert Path("a.pdf").read_bytes().startswith(b"%PDF")


@pytest.mark.usefixtures("book")
def test_json(cogtally):
    """As JSON the items stand in the order asked for."""
    ran = cogtally(
        "stock", "label", "#3", "1", "--grid", "8x3", "--start", "24", "--out", "a.pdf", "--json"
    )
    found = json.loads(ran.out)
    assert (found["format"], found["items"], found["pages"]) == (1, [3, 1], 2)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("1", *ROLL, "--out", "a.pdf", "--demo"), "--demo"),
        (("1", *ROLL), "--out is missing"),
        (("1", *ROLL, "--out", "a.png"), ".pdf"),
        ((*ROLL, "--out", "a.pdf"), "--all-new"),
        (("1", "--all-new", *ROLL, "--out", "a.pdf"), "--all-new"),
        (("9", *ROLL, "--out", "a.pdf"), "no such item"),
        (("1", "--out", "a.pdf"), "--grid"),
        (("1", "--grid", "8x3", "--start", "25", "--out", "a.pdf"), "labels 1 to 24"),
        (("1", "--grid", "8x3", "--start", "x", "--out", "a.pdf"), "--start x: this is no whole"),
        (("1", "--grid", "8x3", *ROLL, "--out", "a.pdf"), "on a sheet or on a roll"),
    ],
)
@pytest.mark.usefixtures("book")
def test_wrong(words, said, cogtally):
    """What cannot be made is refused in one line, and no file is written."""
    refused(cogtally("stock", "label", *words), said)
    assert not Path("a.pdf").exists()


def test_what_it_says(book):
    """A label says the ratio of a pair, those of a box, and what to count on a doubtful piece."""
    put(book, "piece", ["44", "20", "_"])
    put(book, "piece", ["27"])
    labels = labels_of(read_items(book), naming_of(book))
    assert [(gear, str(ratio)) for gear, ratio in labels[2].ratios] == [("3", "8/9")]
    assert dict(labels[1].ratios)["4"] == 1
    assert labels[0].price == "45 GBP"
    assert (labels[4].count, labels[4].again, labels[4].has_places) == ("1", True, False)
    assert "not settled" not in labels[4].name
