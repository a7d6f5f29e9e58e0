"""What strangers wrote is shown plain everywhere: no character that a terminal would obey."""

import io
import json
import sys
from collections.abc import Callable

import pytest

#: Clears a screen, colours it, turns text round, ends a line; the same, long and like markup.
SHORT = "Q\x1a\x02\x1b[31m\u202e\u2066\x9b2J\r\n\t\x7f\u2028漢"
LONG = SHORT + "[/b]" + "w" * 200
#: What stands in the tables below for these, and for what was counted.
MEANT = {
    "H": [LONG],
    "S": [SHORT],
    "mark:S": [f"laygear:{SHORT}"],
    "feature=S": [f"splines={SHORT}"],
    "1=S": [f"1=14/{SHORT}"],
    "--S": [f"--{SHORT}"],
    "alder/S": [f"birch-4/{SHORT}"],
    "BOX": ["input=20/31", "1=15/36", "2=21/30", "3=27/24"],
    "PIECE": ["31", "27", "21", "15", "14"],
}
TYPED = f"1.driver=15\nmark laygear: {SHORT}\n{SHORT}\nquit\n"

#: Every text of a family and a set that the rules leave free.
CATALOG = """
[family]
id = "birch-4"
layout = "layshaft"
direct = "4"
name = H
aliases = [H]
note = H
[[set]]
id = "early"
name = H
aliases = [H]
source = H
pairs = { input = "20/31", 1 = "15/36", 2 = "21/30", 3 = "27/24", R = "14/18/32" }
marks = { laygear = [S] }
features = { laygear = { S = S, splines = 10 } }
[[set]]
id = "sport"
name = S
source = H
pairs = { input = "23/28", 1 = "18/33", 2 = "24/27", 3 = "30/21", R = "14/18/32" }
marks = { laygear = [H] }
features = { laygear = { S = "x" }, "1.driven" = { H = H } }
"""
SHEETS = {
    "boxes": "item,seen\nH,1=15/36 2=21/30\nS,1=S\n",
    "pieces": "item,counts\nH,31 27 21 15 14\nS,S\n",
    "stock": "item,counts,place,note\nH,31 27 21 15 14,H,H\n",
}

#: How each text of a book, its stock, a session and a sheet comes in.
FILLED = """
catalog import {folder}/{name}.toml
catalog add birch-4/more BOX R=14/18/32 --source H --name H --alias S
session --title H
stock add PIECE --place H --note H --condition H --photo {folder}/{name}.toml
stock add PIECE --mark S --role laygear
stock add BOX --mark mark:S --price 4 --currency GBP
stock add --from {folder}/stock.csv
stock sell 2 --to H --note H
stock want birch-4/early laygear
"""
#: What is asked on the screen and as JSON.
ASKED = """
identify BOX --why
identify BOX --mark mark:S --feature laygear.splines=S
identify 1=15/36 --expect birch-4/early
identify --from {folder}/boxes.csv
piece PIECE --mark S
piece --from {folder}/pieces.csv
session --list
catalog list
catalog show birch-4
catalog show birch-4/early
catalog find H
catalog find Q
catalog apart birch-4
catalog check {folder}/own.db
catalog check {folder}/{name}.toml
catalog import {folder}/{name}.toml --dry-run
road --set birch-4/early --axle 9/41 --tyre 165/80R15
stock list
stock list --sold
stock show 1
stock show 2
stock show 3
stock show 4
stock find S
stock kits
stock kits birch-4
stock recheck --dry-run
log
log 1
log 2
log 4
log 8
"""
#: What is asked once: what writes, and what is wrong.
ONCE = """
session --resume
sheet birch-4 --out {folder}/{name}.pdf
field --out {folder}/{name}.html
identify BOX --report {folder}/{name}-report.html
identify BOX --picture {folder}/{name}.svg
identify BOX --picture {folder}/{name}/no.svg
stock label 1 --out {folder}/{name}-label.pdf
stock export {folder}/{name}.csv
catalog export {folder}/{name}-out
stock edit 1 --place S
stock return 2
stock remove 2 --mistyped
stock want H
stock kits H
catalog add alder/S BOX
catalog show H
catalog show birch-4/H
catalog check {folder}/{name}
catalog import H
identify H
identify 1=S
identify BOX --catalog H
identify BOX --family H
identify BOX --expect H
identify --from {folder}/{name}
piece H
piece PIECE --role H
recover H
gauge --teeth H
road --tyre H --axle H
ratios H
turning H
session --resume H
session --delete H
sheet H
stock show H
stock add PIECE --price H
stock add PIECE --feature H
log H
guide H
help H
identify --S
catalog H
H
undo
"""


@pytest.fixture
def told(cogtally, tmp_path, monkeypatch) -> Callable:
    """A way to ask a book, a stock and sessions in which every text that is free is hostile."""
    monkeypatch.setenv("COGTALLY_CATALOG", str(tmp_path / "own.db"))
    monkeypatch.setenv("COGTALLY_SESSIONS", str(tmp_path / "sessions"))
    of_toml = {"H": json.dumps(LONG), "S": json.dumps(SHORT)}
    catalog = CATALOG.replace("H", of_toml["H"]).replace("[S]", f"[{of_toml['S']}]")
    catalog = catalog.replace(" S ", f" {of_toml['S']} ").replace("= S", f"= {of_toml['S']}")
    (tmp_path / f"{SHORT}.toml").write_text(catalog.replace("\x7f", "\\u007f"), encoding="utf-8")
    for name, text in SHEETS.items():
        cells = text.replace("H", f'"{LONG}"').replace("S", f'"{SHORT}"')
        (tmp_path / f"{name}.csv").write_text(cells, encoding="utf-8", newline="")

    def ask(line: str, *more: str) -> tuple[int, str]:
        words = [meant for word in line.split() for meant in MEANT.get(word, [word])]
        words = [w.replace("{folder}", str(tmp_path)).replace("{name}", SHORT) for w in words]
        monkeypatch.setattr(sys, "stdin", io.StringIO(TYPED))
        ran = cogtally(*words, *more, columns=60)
        return ran.code, ran.out + ran.err

    return ask


def test_plain(told):
    """No text of a catalog, a stock, a session, a sheet or a command line reaches a screen raw."""
    filled, asked, once = (text.strip().splitlines() for text in (FILLED, ASKED, ONCE))
    as_json = [(line, ("--json",)) for line in asked]
    lines = [*((line, ()) for line in (*filled, *asked)), *as_json, *((line, ()) for line in once)]
    fell, marked = [], 0
    for line, more in lines:
        code, shown = told(line, *more)
        raw = {c for c in shown if not c.isprintable() and c != "\n"}
        if raw or code not in (0, 1, 2, 3) or "Traceback" in shown or (line in filled and code):
            fell.append(f"{line} {more}: {code}, {sorted(raw)}, {shown}")
        marked += "\N{REPLACEMENT CHARACTER}" in shown or "\\u001a" in shown
    assert not fell, "\n".join(fell)
    assert marked > len(lines) / 2
