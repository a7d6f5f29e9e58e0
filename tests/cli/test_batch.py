"""`piece --from` and `identify --from` through the real entry point, its tables kept as files."""

import csv
import io
import json
import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from cli.terminal import Terminal
from cogtally.shelf.batch import Sheet
from cogtally.shelf.stock.book import read_items
from cogtally.show.screen import CAUTION, DEMO_CAUTION
from conftest import Ran, refused

PIECES = """\
item,counts,role
crate 1,28 24 19 14 12,
"crate 2, left",29 25 20 _ 13,laygear
crate 3,28 24 20 14 12,
crate 4,9-Apr,
crate 5,20,
crate 6,44 20,
crate 7,28 24 abc,
crate 8,,
"crate 9,28 24
crate 10,28 24 19 14 12 30 40,
crate 11,19,first-motion-shaft
crate 12,19,sprocket
,.. 19u 14x3 12,
crate 14,45000,
crate 15,28,laygear,oil
crate 16,_ _,
"crate
17",12 14 19 24 28,
"""
BOXES = """\
item;seen;family;3;R.idler
van;input=17/28 1=14/31 2=19/26;;24/21;20
lorry;input=17/28 1=14/31 2=19/26;Alder four-speed;24/22;
shut;1@4:1.1;;;
dated;;;9/4/41;
odd;foo;;;
elsewhere;1=14/31;larch-9;;
nothing;;alder-4;;
"""


@pytest.fixture
def pieces(tmp_path) -> str:
    return written(tmp_path / "pieces.csv", PIECES)


@pytest.fixture
def boxes(tmp_path) -> str:
    return written(tmp_path / "boxes.csv", BOXES)


def written(path: Path, text: str) -> str:
    path.write_text(text, encoding="utf-8", newline="")
    return str(path)


def table(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


def shown(ran: Ran, path: str) -> str:
    """What was printed, standard output first, without the folder that the test made."""
    return f"{ran.out}\n{ran.err}".replace(path, Path(path).name)


# -- answers ---------------------------------------------------------------------------------


def test_table_of_pieces(pieces, cogtally, snapshot):
    """A row an item in the order of the file; those that cannot be read say why, and exit is 1."""
    ran = cogtally("piece", "--demo", "--from", pieces)
    assert ran.code == 1
    snapshot("batch/pieces", shown(ran, pieces))


def test_table_of_boxes(boxes, cogtally, snapshot):
    """Boxes are read from words, from a column a pair and from a column a wheel."""
    ran = cogtally("identify", "--demo", "--from", boxes)
    assert ran.code == 1
    snapshot("batch/boxes", shown(ran, boxes))


@pytest.mark.parametrize(("command", "text"), [("piece", PIECES), ("identify", BOXES)])
def test_json_has_a_line_for_each_row(command, text, tmp_path, cogtally):
    """Lines of JSON and rows of CSV say the same of the same items, refused ones too."""
    path = written(tmp_path / "items.csv", text)
    rows = table(cogtally(command, "--demo", "--from", path).out)
    lines = [
        json.loads(line)
        for line in cogtally(command, "--demo", "--json", "--from", path).out.splitlines()
    ]
    assert [line["format"] for line in lines] == [1] * len(rows)
    assert [line["item"] for line in lines] == [row["item"] for row in rows]
    assert [line.get("error", "") for line in lines] == [row["error"] for row in rows]
    for line, row in zip(lines, rows, strict=True):
        if not row["error"]:
            assert line["verdict"]["kind"] == row["verdict"]
            assert f"{line['verdict']['probability']:.6f}" == row["probability"]


@pytest.mark.parametrize(
    "words", ["28 24 19 14 12", "28 24 20 14 12", "20", ".. 19 14 12", "44 20", "21x3 27u"]
)
def test_a_row_is_what_the_command_says(words, tmp_path, cogtally):
    """The answers of a row are those of `piece --json` for the same counts."""
    path = written(tmp_path / "one.csv", f"counts\n{words}\n")
    many = json.loads(cogtally("piece", "--demo", "--json", "--from", path).out)
    alone = json.loads(cogtally("piece", "--demo", "--json", *words.split()).out)
    together: dict[tuple[object, ...], float] = {}
    for one in alone["answers"]:
        key = one["family"], one["piece"], *(one["type"] or ())
        together[key] = together.get(key, 0.0) + one["probability"]
    for one in many["answers"]:
        key = one["family"], one["piece"], *(one["type"] or ())
        assert one["probability"] == pytest.approx(together[key], abs=1e-5)
    assert many["uncatalogued"] == pytest.approx(alone["uncatalogued"], abs=1e-12)
    assert many["hands"] == pytest.approx(alone["hands"], abs=1e-12)


def test_a_box_is_what_the_command_says(tmp_path, cogtally):
    """A line of a box has what `identify --json` has, but for advice and reasons."""
    path = written(tmp_path / "one.csv", "item,input,1,3.driver\nvan,17/28,14/31,24\n")
    many = json.loads(cogtally("identify", "--demo", "--json", "--from", path).out)
    words = ("input=17/28", "1=14/31", "3.driver=24")
    alone = json.loads(cogtally("identify", "--demo", "--json", *words).out)
    assert (many.pop("row"), many.pop("item")) == (2, "van")
    left = {key: value for key, value in alone.items() if key in many}
    assert many == left
    assert set(alone) - set(many) <= {"catalog", "next", "count_all_again", "why"}


def test_marks_and_features_of_a_row(tmp_path, cogtally):
    """What was read and looked at besides stands in columns, several in one cell by semicolons."""
    text = "item,counts,mark,feature\na,29 25 20 15 13,W*; LG 3?02,splines=10\n"
    path = written(tmp_path / "one.csv", text)
    many = json.loads(cogtally("piece", "--demo", "--json", "--from", path).out)
    counts = ("29", "25", "20", "15", "13")
    looks = ("--mark", "W*", "--mark", "LG 3?02", "--feature", "splines=10")
    alone = json.loads(cogtally("piece", "--demo", "--json", *counts, *looks).out)
    plain = json.loads(cogtally("piece", "--demo", "--json", *counts).out)
    assert many["uncatalogued"] == pytest.approx(alone["uncatalogued"], rel=1e-9)
    assert many["uncatalogued"] != pytest.approx(plain["uncatalogued"], rel=1e-2)


def test_a_role_is_for_rows_that_name_none(tmp_path, cogtally):
    """--role counts for every row without a role of its own."""
    path = written(tmp_path / "one.csv", "item,counts,role\na,20,\nb,20,3-gear\n")
    rows = table(cogtally("piece", "--demo", "--role", "R-idler", "--from", path).out)
    assert [row["piece"] for row in rows] == ["R-idler", "3-gear"]


def test_it_ends_with_the_caution(pieces, cogtally):
    """What right counts do not say stands on standard error, with the number of rows."""
    ran = cogtally("piece", "--demo", "--from", pieces, columns=100)
    assert ran.err.splitlines()[-2:] == [DEMO_CAUTION, CAUTION]
    assert "9 rows answered, 8 could not be read" in ran.err


# -- rows --------------------------------------------------------------------------------------


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("begin", ["", "\ufeff"])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_dialects(separator, begin, end, tmp_path, cogtally):
    """Commas, semicolons and tabs part cells; a byte order mark and either line end are taken."""
    rows = [["item", "counts"], [f'"a{separator} b"', "28 24 19 14 12"], ["c", "20"]]
    text = begin + end.join(separator.join(row) for row in rows)
    found = table(cogtally("piece", "--demo", "--from", written(tmp_path / "x.csv", text)).out)
    # A tab in a cell comes back as a space.
    assert [row["item"] for row in found] == [f"a{separator} b".replace("\t", " "), "c"]
    assert found[0]["teeth"] == "28 24 19 14 12"


def test_one_bad_row_in_a_hundred(tmp_path, cogtally):
    """Every bad row is told once by its line, all others are answered."""
    rows = [f"{n},{'28 24 19' if n % 100 else '28-24-19'}" for n in range(1, 501)]
    path = written(tmp_path / "x.csv", "\n".join(["item,counts", *rows]))
    ran = cogtally("piece", "--demo", "--from", path)
    told = [line for line in ran.err.splitlines() if line.startswith("cogtally: ")]
    assert ran.code == 1
    assert [line.split(":")[2] for line in told] == ["101", "201", "301", "401", "501"]
    found = table(ran.out)
    assert [row["item"] for row in found] == [str(n) for n in range(1, 501)]
    assert [row["item"] for row in found if row["error"]] == ["100", "200", "300", "400", "500"]


def test_a_row_that_is_no_text(tmp_path, cogtally):
    """Bytes that are no UTF-8 spoil their own row alone, and break no line of the answers."""
    path = tmp_path / "x.csv"
    path.write_bytes(b"item,counts\na,20\n\xff\xfe,20\nc,20\n")
    for option in ((), ("--json",)):
        ran = cogtally("piece", "--demo", "--from", str(path), *option)
        assert ran.code == 1
        assert "not written in UTF-8" in ran.err
        assert len(ran.out.splitlines()) == (3 if option else 4)


def test_rows_are_read_as_they_are_answered():
    """Of an endless file no more rows are held than are looked at."""
    read = 0

    def endless() -> Iterator[str]:
        nonlocal read
        yield "item,counts\n"
        while True:
            read += 1
            yield f'{read},"28 24"\n'

    rows = Sheet(endless(), "endless", lambda columns: None).rows()
    for _ in range(100):
        next(rows)
    assert read <= 110


def test_an_open_quote_spoils_one_row(tmp_path, cogtally):
    """A quote that never closes costs its own row, wherever the next quote stands."""
    text = 'item,counts\n"a,20\nb,20\n"c, d",20\ne,20\n'
    found = table(cogtally("piece", "--demo", "--from", written(tmp_path / "x.csv", text)).out)
    assert [(row["item"], bool(row["error"])) for row in found] == [
        ("", True),
        ("b", False),
        ("c, d", False),
        ("e", False),
    ]


# -- the file written ------------------------------------------------------------------------


@pytest.mark.parametrize("ending", [".csv", ".jsonl"])
def test_cut_anywhere_and_resumed(ending, pieces, tmp_path, cogtally):
    """Cut at any byte and taken up again, the file is the same to the byte, and so is the exit."""
    whole = tmp_path / f"whole{ending}"
    first = cogtally("piece", "--demo", "--from", pieces, "--out", str(whole))
    data = whole.read_bytes()
    dice = random.Random(1)
    for cut in [0, 1, len(data) - 1, len(data), *(dice.randrange(len(data)) for _ in range(12))]:
        part = tmp_path / f"part{ending}"
        part.write_bytes(data[:cut])
        ran = cogtally("piece", "--demo", "--from", pieces, "--out", str(part), "--resume")
        assert part.read_bytes() == data, cut
        assert ran.code == first.code == 1
        assert ran.err.splitlines()[-3] == first.err.splitlines()[-3]


def test_killed_and_resumed(tmp_path, cogtally):
    """Killed in the middle and taken up again, the file is that of an unbroken run."""
    rows = "\n".join(f"crate {n},{20 + n % 9} 24 19 {10 + n % 7}" for n in range(500))
    path = written(tmp_path / "x.csv", f"item,counts\n{rows}\n")
    whole, part = tmp_path / "whole.csv", tmp_path / "part.csv"
    words = ["piece", "--demo", "--from", path, "--out"]
    run = subprocess.Popen([sys.executable, "-m", "cogtally", *words, str(part)])
    until = time.monotonic() + 60
    while not (part.exists() and part.stat().st_size) and time.monotonic() < until:
        time.sleep(0.002)
    os.kill(run.pid, signal.SIGKILL)
    run.wait()
    assert cogtally(*words, str(whole)).code == 0
    assert 0 < part.stat().st_size < whole.stat().st_size
    assert cogtally(*words, str(part), "--resume").code == 0
    assert part.read_bytes() == whole.read_bytes()


def test_a_file_of_others_is_left_alone(pieces, boxes, tmp_path):
    """Neither without --resume nor of another run or file is what stands there written over."""
    from cogtally.cli.main import run

    out = tmp_path / "out.csv"
    other = written(tmp_path / "other.csv", "item,counts\nz,20\ny,20\n")
    assert run(["piece", "--demo", "--from", pieces, "--out", str(out)]) == 1
    kept = out.read_bytes()
    for words in (
        ["piece", "--from", pieces, "--out", str(out)],
        ["piece", "--from", other, "--out", str(out), "--resume"],
        ["identify", "--from", boxes, "--out", str(out), "--resume"],
    ):
        assert run([*words, "--demo"]) == 2
        assert out.read_bytes() == kept


def test_a_cell_cannot_steer_a_terminal(tmp_path):
    """What a terminal would obey in a cell is replaced, on a terminal and off it."""
    path = written(tmp_path / "x.csv", 'item,counts\n"\x1b[31mred",28 24 19 14 12\n')
    words = ("piece", "--demo", "--from", path)
    terminal = Terminal(*words, columns=100, env={"NO_COLOR": "1"})
    terminal.wait_for("1 row answered")
    assert "\ufffd[31mred,type" in terminal.text
    assert terminal.close() == 0
    ran = subprocess.run(
        [sys.executable, "-m", "cogtally", *words], capture_output=True, text=True, check=True
    )
    assert "\n\ufffd[31mred,type" in ran.stdout


# -- wrong input -------------------------------------------------------------------------------

WRONG: list[tuple[tuple[str, ...], str]] = [
    (("piece", "--from", "FILE", "20"), "do not go together"),
    (("identify", "--from", "FILE", "--why"), "leave --why out\n"),
    (("piece", "--from", "FILE", "20"), "leave counts out: each row of the file has its own"),
    (("piece", "--out", "x.csv", "20"), "--from"),
    (("piece", "--resume", "20"), "--from"),
    (("piece", "--from", "FILE", "--resume"), "--out"),
    (("piece", "--from", "FILE", "--out", "x.txt"), ".csv or .jsonl"),
    (("piece", "--from", "FILE", "--json", "--out", "x.csv"), "--json"),
    (("piece", "--from", "no such file"), "cannot be read"),
    (("piece", "--from", "."), "cannot be read"),
    (("piece", "--from", "FILE", "--out", "no/such/x.csv"), "cannot be written"),
    (("piece", "--from", "FILE", "--role", "sprocket"), "sprocket"),
]


@pytest.mark.parametrize(("words", "named"), WRONG)
def test_wrong_options(words, named, pieces, cogtally):
    """Options that make no sense get one line that names them, and nothing is answered."""
    refused(cogtally(*(pieces if word == "FILE" else word for word in words), "--demo"), named)


@pytest.mark.parametrize(
    ("header", "named"),
    [
        ("", "nothing is in this file"),
        ("item,cuonts", "did you mean counts"),
        ("item,role", "counts: the column is missing"),
        ("item,counts,item", "stands twice"),
        ("item,,counts", "no name"),
        ('item,"counts', "quotes"),
        ("28,24,19", "28: there is no such column"),
    ],
)
def test_wrong_header(header, named, tmp_path, cogtally):
    """A header that cannot be used is told in one line before any row is answered."""
    path = written(tmp_path / "x.csv", f"{header}\n")
    refused(cogtally("piece", "--demo", "--from", path), named)


# -- into the stock ----------------------------------------------------------------------------

STOCK = """\
item,counts,seen,pair,role,place,price,currency,quantity,note
crate 1,31 27 21 15 14,,,,shelf 3,45,gbp,,blue van
crate 2,,input=20/31 1=15/36 2=21/30 3=27/24,,,floor,320.50,,,
crate 3,,,3=27/24,,,,,,
,18,,,R-idler,,4.25,,3,
crate 5,18,,,sprocket,,,,,
crate 6,7/8/41,,,,,,,,
crate 7,18,input=20/31,,,,,,,
crate 8,18,,,,,a lot,,,
crate 9,18,,,,,,,0,
"""


def test_stock_from_a_file(book, tmp_path, cogtally, snapshot):
    """What can be read is added, named as `stock add` names it; the rest is told row by row."""
    path = written(tmp_path / "stock.csv", STOCK)
    ran = cogtally("stock", "add", "--from", path)
    assert ran.code == 1
    snapshot("batch/stock", shown(ran, path))
    items = read_items(book)
    assert [item.thing.kind for item in items] == ["piece", "box", "pair", *["piece"] * 3]
    assert [item.details.note for item in items] == ["crate 1; blue van", "crate 2", "crate 3"] + [
        ""
    ] * 3
    money = [item.details.price.text if item.details.price else "" for item in items]
    assert money == ["45 GBP", "320.50 GBP", "", *["4.25 GBP"] * 3]
    cogtally("stock", "add", "31", "27", "21", "15", "14")
    alone = read_items(book)[-1].then
    assert (alone.name, alone.shares) == (items[0].then.name, items[0].then.shares)


def test_stock_from_a_file_is_one_change(book, tmp_path, cogtally):
    """One undo takes back all that a file brought; a file of bad rows alone changes nothing."""
    path = written(tmp_path / "stock.csv", STOCK)
    cogtally("stock", "add", "--from", path)
    assert cogtally("undo").code == 0
    assert read_items(book) == ()
    bad = written(tmp_path / "bad.csv", "counts\n3\n")
    log = cogtally("log").out
    assert cogtally("stock", "add", "--from", bad).code == 1
    assert cogtally("log").out == log


def test_stock_from_a_file_as_json(book, tmp_path, cogtally):
    """JSON has the items that were added and the rows that were refused."""
    path = written(tmp_path / "stock.csv", STOCK)
    document = json.loads(cogtally("stock", "add", "--json", "--from", path).out)
    assert [item["item"] for item in document["items"]] == [1, 2, 3, 4, 5, 6]
    assert [one["row"] for one in document["refused"]] == [6, 7, 8, 9, 10]


def test_a_file_added_again_adds_nothing_twice(book, tmp_path, cogtally):
    """Rows known by label and content are left out, those changed are told; --again adds them."""
    path = written(tmp_path / "stock.csv", STOCK)
    cogtally("stock", "add", "--from", path)
    before = read_items(book)
    ran = cogtally("stock", "add", "--from", path)
    assert "Left out: 6 items" in ran.out
    assert read_items(book) == before
    other = STOCK.replace("shelf 3,45", "shelf 3,50").replace(",,3,\n", ",,4,\n")
    ran = cogtally("stock", "add", "--from", written(tmp_path / "stock.csv", other))
    assert "stock.csv:2: crate 1: it is item 1 in the stock, and this row says otherwise" in ran.err
    assert [item.number for item in read_items(book)][6:] == [7], "one more of the three alike"
    cogtally("stock", "add", "--from", path, "--again")
    assert len(read_items(book)) == 14


def test_a_file_that_was_taken_back_can_be_added(book, tmp_path, cogtally):
    """After an undo the rows are new again; an item sold meanwhile does not come a second time."""
    path = written(tmp_path / "stock.csv", STOCK)
    cogtally("stock", "add", "--from", path)
    cogtally("undo")
    cogtally("stock", "add", "--from", path)
    assert [item.number for item in read_items(book)] == [7, 8, 9, 10, 11, 12]
    cogtally("stock", "sell", "7")
    cogtally("stock", "add", "--from", path)
    assert len(read_items(book)) == 6


@pytest.mark.parametrize("columns", [60, 100])
def test_a_dry_run_shows_what_would_come(book, tmp_path, cogtally, snapshot, columns):
    """--dry-run tells each row with what it would be called, and writes nothing."""
    path = written(tmp_path / "stock.csv", STOCK)
    before = book.read_bytes()
    ran = cogtally("stock", "add", "--from", path, "--dry-run", columns=columns)
    assert book.read_bytes() == before
    assert max(map(len, ran.out.splitlines())) <= columns
    snapshot(f"batch/dry-run-{columns}", ran.out)
    document = json.loads(cogtally("stock", "add", "--from", path, "--dry-run", "--json").out)
    assert [one["row"] for one in document["would_add"]] == [2, 3, 4, 5]
    assert document["items"] == []


def test_headers_in_any_case_and_decimal_commas(book, tmp_path, cogtally):
    """A header is read in any case, and a decimal comma where semicolons part the cells."""
    path = written(tmp_path / "stock.csv", "Item;COUNTS;Price;Currency\ncrate 1;18;45,50;eur\n")
    assert cogtally("stock", "add", "--from", path).code == 0
    (item,) = read_items(book)
    assert item.details.price.text == "45.50 EUR"
    boxes = written(tmp_path / "boxes.csv", "ITEM,R.driver,Family\na,14,birch-4\n")
    assert cogtally("identify", "--from", boxes).code == 0
