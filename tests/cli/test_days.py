"""A day of each user, from the first command to the last, as kept screens."""

import io
import re
import shlex
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from cli.book_of import NOW
from cogtally.shelf.stock import read_items

REPO = Path(__file__).parents[2]
WIDTHS = pytest.mark.parametrize("columns", [60, 100])

#: A list as a spreadsheet saved it, with ten rows that cannot be taken as they stand.
LOT = """\
Item;Counts;Seen;Pair;Role;Family;Place;Price;Currency;Quantity;Note
C1;28 24 19 14 12;;;laygear;;shelf 3;45,50;GBP;;light wear
C2;;input=17/28 1=14/31 2=19/26 3=24/21 R=12/20/28;;;;floor;320;;;
C3;20;;;R-idler;alder-4;drawer;4,25;;3;
C4;9-Apr;;;;;;;;;
C5;21;;;3-gera;alder-4;;;;;
C6;21;input=17/28;;3-gear;;;;;;
C7;21;;;3-gear;aldre-4;;;;;
C8;21;;;3-gear;alder-4;;a lot;;;
C9;21;;;3-gear;alder-4;;1,250;;;
C10;21;;;3-gear;alder-4;;;;0;
C11;;;;3-gear;;;;;;
C12;3;;;3-gear;;;;;;
C13;21;;;3-gear;alder-4;;;;1;good; very
"""
#: The same with those rows put right.
MENDED = LOT[: LOT.index("C4")] + "C5;21;;;3-gear;alder-4;;12,50;;;\n"


class Day:
    """Commands run one after the other, and what was typed and told so far."""

    def __init__(self, cogtally: Callable, columns: int, patch: pytest.MonkeyPatch) -> None:
        self.told = ""
        self._cogtally = cogtally
        self._columns = columns
        self._patch = patch

    def __call__(self, line: str, *typed: str, code: int = 0) -> str:
        """Run a command line, `typed` at its prompts, and return what it told."""
        with self._patch.context() as patch:
            patch.setattr("sys.stdin", io.StringIO("".join(f"{one}\n" for one in typed)))
            # What is told on both streams, in the order in which it is told.
            patch.setattr("sys.stderr", sys.stdout)
            ran = self._cogtally(*shlex.split(line), columns=self._columns)
        assert ran.code == code, (line, ran)
        # The name of a session and its times are those of today.
        told = re.sub(r"\d{4}-\d\d-\d\d-\d+", "2026-03-04-1", ran.out)
        told = re.sub(r"\d{4}-\d\d-\d\d \d\d:\d\d(?! UTC)", "2026-03-04 05:06", told)
        told = told.replace(str(Path.cwd()), "~")
        self.told += f"$ cogtally {line}\n{told}\n"
        return " ".join(told.split())


@pytest.fixture
def day(columns, cogtally, tmp_path, monkeypatch) -> Day:
    """Begin a day with nothing but a family that somebody shared."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("COGTALLY_SESSIONS", "sessions")
    for place in ("cogtally.store.now", "cogtally.store.file.now"):
        monkeypatch.setattr(place, lambda: NOW)
    Path("alder-4.toml").write_bytes((REPO / "catalog" / "alder-4.toml").read_bytes())
    return Day(cogtally, columns, monkeypatch)


@WIDTHS
def test_the_buyer(day, columns, snapshot):
    """From nothing to "buy it, it completes …": what is lacking is noted, and known on sight."""
    assert "You have no catalog yet" in day("piece 21", code=2)
    day("catalog import alder-4.toml")
    for piece, counts in (
        ("laygear", "28 24 19 14 12"),
        ("input-shaft", "17"),
        ("1-gear", "31 28"),
        ("2-gear", "26"),
        ("R-idler", "20"),
    ):
        day(f"stock add {counts} --role {piece} --family alder-4")
    assert "needs a 3-gear 21" in day("stock kits")
    day("stock want alder-4/wide 3-gear --up-to 30 --currency GBP")
    assert "You want this" not in day("piece 22 --role 3-gear")
    told = day("piece 21 --role 3-gear")
    assert told.startswith("Buy it up to 30 GBP: the 3-gear completes alder-4/wide.")
    day("stock add 21 --role 3-gear --price 25 --currency GBP")
    assert "1 complete set" in day("stock kits")
    day("stock want alder-4/wide 3-gear --take-back")
    snapshot(f"days/buyer-{columns}", day.told)


@WIDTHS
def test_the_seller(day, columns, snapshot):
    """From a list with ten mistakes to labels, a sale, a return; nothing comes in twice."""
    day("catalog import alder-4.toml")
    Path("lot.csv").write_text(LOT)
    assert "Nothing was written" in day("stock add --from lot.csv --dry-run", code=1)
    assert day("stock add --from lot.csv", code=1).count("cogtally: lot.csv:") == 10
    Path("lot.csv").write_text(MENDED)
    assert "Added 1 item as 6." in day("stock add --from lot.csv")
    day("stock list")
    day("stock label --all-new --grid 8x3 --out labels.pdf")
    day("stock sell 1 --to 'A. Buyer' --price 40")
    day("stock sell 6")
    assert "2026-03 2 items, 52.50 GBP" in day("stock list --sold")
    day("stock return 1")
    assert "2026-03 1 item, 12.50 GBP" in day("stock list --sold")
    day("stock remove 5 --scrapped")
    day("log")
    assert [item.number for item in read_items(Path("data/cogtally/cogtally.db"))] == [
        *(1, 2, 3, 4, 6)
    ]
    snapshot(f"days/seller-{columns}", day.told)


@WIDTHS
def test_the_rebuilder(day, columns, snapshot):
    """From a session with a foreign gear and two miscounts to a remedy, a report, a kept set."""
    day("catalog import alder-4.toml")
    day(
        "session --sure --title 'Mrs K., blue van'",
        *("input=17/28", "1=15/31", "2=19/27", "3=24/22", "R=12/20/28"),
        *("1.driver=14x2", "2.driven=26x2", "3.driven=22x2", "quit"),
    )
    assert "Mrs K., blue van" in day("session --list")
    counts = "input=17/28 1=14x2/31 2=19/26x2 3=24/22x3 R=12/20/28"
    told = day(f"identify {counts} --report report.pdf")
    assert "To make it wide: a 3-gear of 21 teeth" in told
    assert Path("report.pdf").read_bytes().startswith(b"%PDF")
    new = "input=17/28 1=14/31 2=19/26 3=25x2/20x2 R=12/20/28"
    assert "NEW SET" in day(f"identify {new} --keep-as alder-4/blue-van")
    assert "MATCHED: Alder four-speed, blue-van" in day(f"identify {new}")
    snapshot(f"days/rebuilder-{columns}", day.told)
