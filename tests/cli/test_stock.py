"""`cogtally stock`, run as a person runs it."""

import csv
import io
import json
import re
import shlex
import sys

import pytest

from cli.book_of import NOW
from cogtally.catalog.book import writing
from cogtally.shelf.stock.book import read_item, read_items
from cogtally.shelf.stock.items import Money
from conftest import refused
from shelf.stocked import LAYGEAR
from small_catalog import BIRCH, EARLY

#: What fills the stock for the screens: a piece, a box, a pair, three alike, one of no set.
FILL = (
    (*LAYGEAR, "--place", "shelf 3", "--price", "45", "--currency", "gbp", "--note", "blue van"),
    (*EARLY, "--place", "floor, behind the press", "--price", "320.50", "--condition", "worn"),
    ("--pair", "3=27/24", "--place", "Shelf 31"),
    ("18", "--role", "R-idler", "--quantity", "3", "--price", "4.25"),
    ("44", "20u", "_", "--note", "[/b]\x1b[31m what is it?"),
)
#: A screen by name, and the words that it answers.
SCREENS: dict[str, tuple[str, ...]] = {
    "list": ("list",),
    "list-place": ("list", "--place", "shelf 3"),
    "list-none": ("list", "--sold"),
    "show-piece": ("show", "1"),
    "show-box": ("show", "#2"),
    "show-strange": ("show", "7"),
    "find-words": ("find", "blu", "van"),
    "find-teeth": ("find", "27/24"),
    "add": ("add", *LAYGEAR, "--price", "50", "--condition", "light wear", "--quantity", "2"),
    "edit": ("edit", "1", "--seen", "31 27 20 15 14", "--place", "attic"),
    "sell": ("sell", "1", "--price", "40", "--to", "[b]Somebody[/b]", "--note", "by post"),
    "sell-as-asked": ("sell", "2"),
    "recheck-same": ("recheck",),
    "remove": ("remove", "7", "--mistyped"),
}


@pytest.mark.usefixtures("filled")
@pytest.mark.parametrize("columns", [60, 100])
@pytest.mark.parametrize("name", list(SCREENS))
def test_screen(name, columns, cogtally, snapshot):
    """Each screen is what its kept file shows; no line is wider than the screen."""
    ran = cogtally("stock", *SCREENS[name], columns=columns)
    assert (ran.code, ran.err) == (0, "")
    assert max(map(len, ran.out.splitlines())) <= columns
    assert "\x1b" not in ran.out
    snapshot(f"stock/{name}-{columns}", ran.out)


def test_piped(filled, cogtally_process, snapshot):
    """Piped, as a process of its own, nothing steers a terminal."""
    ran = cogtally_process("stock", "list", "--catalog", str(filled))
    assert (ran.code, ran.err) == (0, "")
    snapshot("stock/list-piped", ran.out)


@pytest.mark.parametrize("columns", [60, 100])
def test_recheck(filled, columns, cogtally, snapshot):
    """A recheck after a set went says what is called otherwise, before, now and why."""
    with writing(filled, "remove") as change:
        change.remove_set("birch-4", "early")
    before = read_items(filled)
    ran = cogtally("stock", "recheck", "--dry-run", columns=columns)
    assert (ran.code, ran.err) == (0, "")
    assert max(map(len, ran.out.splitlines())) <= columns
    assert read_items(filled) == before
    snapshot(f"stock/recheck-{columns}", ran.out)
    document = json.loads(cogtally("stock", "recheck", "1", "--json").out)
    (renamed,) = document["renamed"]
    assert renamed["before"]["sets"] == ["early"]
    assert renamed["because"][0]["status"] == "gone"
    assert read_item(filled, 1).now.sets == ()
    assert read_item(filled, 2) == before[1]


def test_add_keeps_what_was_typed(filled):
    """Counts, prices and texts are in the book as typed; three alike have three numbers."""
    items = read_items(filled)
    assert [item.number for item in items] == list(range(1, 8))
    assert items[0].thing.text == "31 27 21 15 14"
    assert items[0].details.price == Money("45", "GBP")
    assert items[1].details.price == Money("320.50", "GBP")
    assert items[6].thing.words == ("44", "20u", "_")
    assert items[6].details.note == "[/b]\x1b[31m what is it?"
    assert {item.thing.role for item in items[3:6]} == {"R-idler"}


def test_add_a_session(book, cogtally, monkeypatch):
    """A box counted at the bench goes into the stock with all that was seen of it."""
    from datetime import datetime

    from cogtally.shelf.session.bench import SEEN, Step
    from cogtally.shelf.session.files import Asked, SessionFile

    folder = book.parent / "sessions"
    monkeypatch.setenv("COGTALLY_SESSIONS", str(folder))
    file = SessionFile(folder, Asked("name"), now=lambda: datetime(2026, 3, 4))
    file.keep(Step(SEEN, EARLY))
    ran = cogtally("stock", "add", "--session", file.id, "--json")
    assert ran.code == 0
    (item,) = json.loads(ran.out)["items"]
    assert (item["kind"], item["seen"]) == ("box", " ".join(EARLY))
    assert item["now"]["sets"] == ["early"]


def test_marks_and_features_are_kept(book, cogtally):
    """What was read off a piece is kept as typed."""
    words = ("--mark", "LG 3?02", "--feature", "splines=10u")
    assert cogtally("stock", "add", *LAYGEAR, *words).code == 0
    (item,) = read_items(book)
    assert (item.thing.marks, item.thing.features) == (("LG 3?02",), ("splines=10u",))


def test_json_of_an_item(filled, cogtally):
    """The JSON has what was typed, what it parses to, and what it may be."""
    document = json.loads(cogtally("stock", "show", "1", "--json").out)
    assert (document["format"], document["item"], document["kind"]) == (1, 1, "piece")
    assert document["seen"] == "31 27 21 15 14"
    assert [count["teeth"] for count in document["counts"]] == [31, 27, 21, 15, 14]
    assert (document["price"], document["currency"]) == ("45", "GBP")
    assert document["now"]["shares"][0]["teeth"] == [31, 27, 21, 15, 14]
    assert document["sold"] is None
    listed = json.loads(cogtally("stock", "list", "--json").out)["items"]
    assert [item["item"] for item in listed] == list(range(1, 8))
    sold = json.loads(cogtally("stock", "sell", "1", "--to", "X", "--json").out)["sold"]
    assert sold == {"at": NOW, "to": "X", "price": "45", "currency": "GBP", "note": ""}


@pytest.mark.usefixtures("filled")
def test_lists(cogtally):
    """What was sold is in a list of its own, and in that of everything."""

    def numbers(*words: str) -> list[int]:
        ran = cogtally("stock", "list", *words, "--json")
        return [item["item"] for item in json.loads(ran.out)["items"]]

    cogtally("stock", "sell", "1", "--to", "X")
    assert numbers() == [2, 3, 4, 5, 6, 7]
    assert numbers("--sold") == [1]
    assert numbers("--all") == list(range(1, 8))
    assert numbers("--family", "birch four-speed", "--place", "SHELF") == [3]
    assert numbers("--family", "twin-2") == []


@pytest.mark.usefixtures("filled")
def test_find_nothing(cogtally):
    """That nothing is found is an answer, and it is no."""
    ran = cogtally("stock", "find", "nothing-like-it")
    assert (ran.code, ran.out, ran.err) == (1, "No item in the stock is like that.\n", "")
    assert json.loads(cogtally("stock", "find", "27", "21", "--json").out)["found"][0]["item"] == 1


@pytest.mark.parametrize("name", ["out.csv", "out.json"])
def test_export(name, filled, cogtally):
    """An export has a row for every item, sold ones too, with what was typed as typed."""
    cogtally("stock", "sell", "1", "--to", "X", "--price", "40.00")
    file = filled.parent / name
    ran = cogtally("stock", "export", str(file))
    assert (ran.code, ran.err) == (0, "")
    text = file.read_text(encoding="utf-8")
    if name.endswith(".json"):
        items = json.loads(text)["items"]
        assert [item["seen"] for item in items] == [i.thing.text for i in read_items(filled)]
        return
    rows = list(csv.DictReader(text.splitlines()))
    assert [row["seen"] for row in rows[:2]] == ["31 27 21 15 14", " ".join(EARLY)]
    assert (rows[0]["sold_to"], rows[0]["sold_price"], rows[0]["price"]) == ("X", "40.00", "45")
    assert rows[1]["price"] == "320.50"
    assert rows[0]["teeth"] == "31 27 21 15 14"
    assert cogtally("stock", "export", str(file)).code == 2
    assert cogtally("stock", "export", str(file), "--force").code == 0


def test_edit_in_an_editor(filled, cogtally, monkeypatch):
    """The text of an item is edited; a wrong one is kept in a file, which takes it up again."""
    script = filled.parent / "editor.py"
    script.write_text(
        "import pathlib, sys\nfile = pathlib.Path(sys.argv[1])\ntext = file.read_text()\n"
        "change = (pathlib.Path(__file__).parent / 'change').read_text().split('>')\n"
        "file.write_text(text.replace(*change))\n"
    )
    monkeypatch.setenv("VISUAL", shlex.join([sys.executable, str(script)]))
    (filled.parent / "change").write_text('"shelf 3">"loft"')
    ran = cogtally("stock", "edit", "1")
    assert (ran.code, ran.err) == (0, "")
    assert read_item(filled, 1).details.place == "loft"
    assert list(filled.parent.glob("edit-*")) == []
    before = read_item(filled, 1)
    (filled.parent / "change").write_text("31 27>31 x7")
    ran = cogtally("stock", "edit", "1")
    assert (ran.code, ran.out) == (2, "")
    assert "x7: at character 1" in ran.err
    assert read_item(filled, 1) == before
    (kept,) = filled.parent.glob("edit-item-1-*.toml")
    kept.write_text(kept.read_text().replace("31 x7", "31 27"))
    ran = cogtally("stock", "edit", "1", "--from", str(kept))
    assert (ran.code, ran.out) == (0, "Nothing was changed in item 1.\n")


def test_edit(filled, cogtally):
    """Other counts are named anew, what it was called at first stays; an empty text takes away."""
    cogtally("stock", "edit", "1", "--seen", "28 30 24 18 14", "--place", "", "--price", "")
    item = read_item(filled, 1)
    assert (item.now.sets, item.then.sets) == (("sport",), ("early",))
    details = item.details
    assert (details.place, details.price, details.note) == ("", None, "blue van")


def test_undo(filled, cogtally):
    """What was added is taken back by its number, whatever else was changed in between."""
    before = read_items(filled)
    said = cogtally("stock", "add", "18").out
    entry = re.search(r"'cogtally undo (\d+)' takes it back", said)
    assert entry
    with writing(filled, "rename") as change:
        change.put_set("birch-4", BIRCH.sets[1])
        change.remove_set("birch-4", "haul")
    ran = cogtally("undo", entry[1])
    assert (ran.code, ran.err) == (0, "")
    assert "stock add: 8" in ran.out
    assert read_items(filled) == before


def test_return(filled, cogtally):
    """A sale is taken back as a sale: the item is for sale again as it was."""
    before = read_item(filled, 2)
    sold = cogtally("stock", "sell", "2", "--to", "A. Buyer").out
    assert "'cogtally stock return 2' takes the sale back" in " ".join(sold.split())
    ran = cogtally("stock", "return", "2")
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.startswith("Item 2 is for sale again")
    assert "sold to A. Buyer for 320.50 GBP" in ran.out
    assert read_item(filled, 2) == before
    again = cogtally("stock", "return", "2")
    assert (again.code, again.err.count("was not sold")) == (2, 1)


def test_remove(filled, cogtally):
    """An item that was scrapped or mistyped is gone, its number is not given again, undo works."""
    before = read_items(filled)
    ran = cogtally("stock", "remove", "7", "--scrapped")
    assert (ran.code, ran.err) == (0, "")
    assert read_items(filled) == before[:-1]
    assert "stock remove: 7, scrapped" in cogtally("log").out
    cogtally("stock", "add", "18")
    assert read_items(filled)[-1].number == 8
    entry = re.search(r"'cogtally undo (\d+)'", ran.out)
    assert entry
    cogtally("undo", entry[1])
    assert read_item(filled, 7) == before[-1]
    cogtally("stock", "sell", "1")
    refused = cogtally("stock", "remove", "1", "--mistyped")
    assert (refused.code, refused.err.count("a sold item is not removed")) == (2, 1)


@pytest.mark.parametrize("columns", [60, 100])
def test_sold(filled, columns, cogtally, monkeypatch, snapshot):
    """What was sold is told with sums by month and currency, exactly; JSON has the same."""
    for month, words in (
        ("2026-02", ("1", "--price", "40.10")),
        ("2026-03", ("2", "--price", "300", "--currency", "EUR")),
        ("2026-03", ("4", "--price", "4.20")),
        ("2026-03", ("5",)),
        ("2026-03", ("7",)),
    ):
        at = f"{month}-04T05:06:07Z"
        monkeypatch.setattr("cogtally.store.file.now", lambda at=at: at)
        assert cogtally("stock", "sell", *words).code == 0
    snapshot(f"stock/sold-{columns}", cogtally("stock", "list", "--sold", columns=columns).out)
    document = json.loads(cogtally("stock", "list", "--sold", "--json").out)
    assert document["months"] == [
        {"month": "2026-03", "items": 4, "sums": {"EUR": "300", "GBP": "8.45"}, "unpriced": 1},
        {"month": "2026-02", "items": 1, "sums": {"GBP": "40.10"}, "unpriced": 0},
    ]


def test_family_of_a_piece(filled, cogtally):
    """A loose piece is named within the one family that --family names."""
    cogtally("stock", "add", "31", "27", "21", "15", "14", "--family", "birch-4")
    assert read_item(filled, 8).thing.only_family == "birch-4"
    assert {share.family for share in read_item(filled, 8).now.shares} == {"birch-4"}


def test_a_demo_session_is_refused(book, cogtally, folder, monkeypatch):
    """A session that asked the invented catalog puts no box into the stock."""
    monkeypatch.setattr("sys.stdin", io.StringIO("input=20/31\n"))
    cogtally("session", "--demo")
    (kept,) = folder.iterdir()
    refused(cogtally("stock", "add", "--session", kept.stem), "that session asked the demo catalog")
    assert read_items(book) == ()


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("add",), "nothing was written of the item"),
        (("add", "28", "3"), "3: at character 1 read '3': a count is 4 to 200 teeth"),
        (("add", "_"), "nothing was counted"),
        (("add", "28", "--pair", "3=24/21"), "an item is a piece, a pair or a box"),
        (("add", "--pair", "3=24"), "one count alone is no pair"),
        (("add", "--session", "2026-01-01-1"), "there is no session called that"),
        (("add", "28", "--role", "laygaer"), "did you mean laygear?"),
        (("add", "1=14/31", "--family", "brich-4"), "did you mean birch-4?"),
        (("add", "28", "--family", "brich-4"), "did you mean birch-4?"),
        (("add", "28", "--price", "4"), "no currency was written yet"),
        (("add", "28", "--currency", "GBP"), "--currency goes with --price"),
        (("add", "28", "--photo", "there/is/none.png"), "there is no such file"),
        (("add", "28", "--quantity", "0"), "so many are not put there at once"),
        (("add", "28", "--quantity", "x"), "this is no number"),
        (("add", "28", "--mark", ""), "--mark"),
        (("add", "28", "--feature", "splined=10"), "splines"),
        (("show",), "ITEM is missing"),
        (("show", "x"), "this is no number of an item"),
        (("show", "1"), "item 1: the stock has no such item"),
        (("sell", "1"), "item 1: the stock has no such item"),
        (("edit", "1", "--place", "x"), "item 1: the stock has no such item"),
        (("recheck", "1"), "item 1: the stock has no such item"),
        (("find",), "nothing to look for was written"),
        (("list", "--sold", "--all"), "two lists"),
        (("list", "--family", "brich-4"), "did you mean birch-4?"),
        (("export",), "FILE is missing"),
        (("export", "out.txt"), "use .csv or .json"),
        (("return", "1"), "item 1: the stock has no such item"),
        (("remove", "1", "--scrapped"), "item 1: the stock has no such item"),
        (("remove", "1"), "say why it goes"),
        (("add", "--from", "x.csv", "--place", "attic"), "--place"),
        (("add", "28", "--dry-run"), "--dry-run goes with --from"),
        (("lsit",), "did you mean list?"),
    ],
)
def test_refusal(words, says, book, cogtally):
    """What cannot be done is one line on standard error and exit code 2; nothing is written."""
    before = book.read_bytes()
    refused(cogtally("stock", *words), says)
    assert book.read_bytes() == before


@pytest.mark.parametrize(
    "words",
    [
        *("add 28", "list", "show 1", "find x", "edit 1 --place x", "sell 1", "recheck"),
        *("export out.csv", "return 1", "remove 1 --scrapped"),
    ],
)
@pytest.mark.usefixtures("book")
def test_only_a_book(words, tmp_path, cogtally):
    """The demo, a folder, a file of families and no book at all have no stock: one line each."""
    (tmp_path / "a.toml").write_text("[family]\n")
    (tmp_path / "a.txt").write_text("no book\n")
    for options, says in (
        (("--demo",), "the stock stands in your own book"),
        (("--catalog", str(tmp_path)), "this is a folder, not a book"),
        (("--catalog", str(tmp_path / "a.toml")), "this is a .toml file, not a book"),
        (("--catalog", str(tmp_path / "a.txt")), "this is no book that can be read"),
        (("--catalog", str(tmp_path / "none.db")), "there is no such book"),
    ):
        refused(cogtally("stock", *words.split(), *options), says)
