"""What strangers wrote: cells that a spreadsheet runs, characters that a terminal obeys, slips."""

import io
import json
import os
import resource
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from random import Random
from tempfile import TemporaryFile

import pytest
from hypothesis import given, strategies as st

from cogtally.catalog.book import make_catalog_book, read_book
from cogtally.catalog.model import Family, RatioSet
from cogtally.gears.errors import cell_text, text_cell
from conftest import refused
from small_catalog import SMALL

RUN = ("=1+1", "+1", "-1", "@x", "'=1", "''=1", "'", "x=1")
TEETH = "28 24 19 14 12"
ANSWERED = (0, 1, 2, 3, 130, 141)


@given(st.text("=+-@'x\t", max_size=6))
def test_cells(text):
    """No cell begins with what a spreadsheet runs, and each gives its text again."""
    cell = text_cell(text)
    assert not cell.startswith(("=", "+", "-", "@", "\t"))
    assert cell_text(cell) == text


def test_export_as_text(cogtally, tmp_path):
    """An exported sheet runs nothing, and comes back the same to the byte."""
    sets = tuple(RatioSet(f"s{n}", name, {"1": (14 + n, 31)}) for n, name in enumerate(RUN))
    make_catalog_book(tmp_path / "a.db", [Family("a", "two-shaft", sets=sets)])
    first, again = tmp_path / "1.csv", tmp_path / "2.csv"
    assert cogtally("catalog", "export", str(first), "--catalog", str(tmp_path / "a.db")).code == 0
    assert cogtally("catalog", "import", str(first), "--catalog", str(tmp_path / "b.db")).code == 0
    assert cogtally("catalog", "export", str(again), "--catalog", str(tmp_path / "b.db")).code == 0
    assert first.read_bytes() == again.read_bytes()
    assert [known.name for known in read_book(tmp_path / "b.db").families[0].sets] == list(RUN)
    cells = [cell for line in first.read_text().splitlines() for cell in line.split(",")]
    assert not [cell for cell in cells if cell.startswith(("=", "+", "-", "@"))]


def test_answers_of_rows(cogtally, tmp_path):
    """Answers of many rows run nothing, and show no character that a terminal would obey."""
    sheet = tmp_path / "a.csv"
    sheet.write_text(f"item,counts\n=1+1,{TEETH}\nx\x1ay\x02\x1b[31m,{TEETH}\n@z,14 \x02 x\n")
    for words in ((), ("--json",)):
        ran = cogtally("piece", "--demo", "--from", str(sheet), *words)
        shown = ran.out + ran.err
        assert [c for c in shown if not c.isprintable() and c != "\n"] == []
        assert not [line for line in ran.out.splitlines() if line[0] in "=+-@"]


def words_of(random: Random) -> list[str]:
    """A command line that was right once, with slips in it."""
    words = random.choice(LINES).split()
    for _ in range(random.randint(1, 3)):
        at = random.randrange(len(words))
        slip = random.randrange(5)
        if slip == 0:
            words.insert(at, random.choice(words))
        elif slip == 1 and len(words) > 1:
            del words[at]
        elif slip == 2:
            words[at] = words[at][: random.randrange(len(words[at]) + 1)]
        elif slip == 3:
            letter = random.choice("=/@:.,+-x\0\x1b٣é\ud800 \n'\"9")
            place = random.randrange(len(words[at]) + 1)
            words[at] = words[at][:place] + letter + words[at][place:]
        else:
            words[at] = random.choice(STRANGE)
    return words


LINES = (
    "identify --demo input=17/28 1=14/31 2=19/26",
    "identify --demo 3=24u/21x2 1@1.1:4 --why --json",
    "piece --demo 28 24 19 14 12 --role laygear --mark LG",
    "ratios input=17/28 1=14/31 --axle 9/41 --json",
    "turning input=17/28 1=14/31 2=19/26 --noise 1",
    "recover 3.65 2.25 1.44",
    "catalog check {folder}",
    "catalog list --demo",
    "catalog show alder-4/wide --demo",
    "catalog add birch-4/x input=20/31 1=16/35 --catalog own.db",
    "catalog export out --catalog own.db",
    "log 1 --catalog own.db",
    "undo 1 --catalog own.db",
    "stock list --catalog own.db",
    "stock add 31 27 21 15 14 --price 4 --catalog own.db",
    "sheet alder-4 --demo",
)
STRANGE = (
    "--help",
    "--json",
    "--catalog",
    "-",
    "",
    "9" * 400,
    "--demo",
    "1=" + "1/" * 50,
    "\udcff",
)


#: No command may take more than so much processor time and memory, whatever it is asked.
MOST_SECONDS, MOST_BYTES = 20, 500_000_000


def bounded(*words: str) -> tuple[int, str, str]:
    """Run the program in a process of its own that the system ends beyond the bounds.

    Returns the exit code (that of the signal, negative, where it was ended), output and errors.
    """
    from cogtally.cli.main import run

    with TemporaryFile() as out, TemporaryFile() as err:
        process = os.fork()
        if process == 0:
            code = 99
            try:
                os.dup2(out.fileno(), 1)
                os.dup2(err.fileno(), 2)
                sys.stdout = io.TextIOWrapper(io.FileIO(1, "w"), "utf-8", "replace")
                sys.stderr = io.TextIOWrapper(io.FileIO(2, "w"), "utf-8", "replace")
                resource.setrlimit(resource.RLIMIT_CPU, (MOST_SECONDS, MOST_SECONDS))
                taken = int(Path("/proc/self/statm").read_text().split()[0])
                most = taken * resource.getpagesize() + MOST_BYTES
                resource.setrlimit(resource.RLIMIT_AS, (most, most))
                code = run(words)
                sys.stdout.flush()
                sys.stderr.flush()
            except BaseException:
                import traceback

                traceback.print_exc()
                sys.stderr.flush()
            finally:
                os._exit(code)
        ended = os.waitstatus_to_exitcode(os.waitpid(process, 0)[1])
        out.seek(0)
        err.seek(0)
        return ended, out.read().decode(), err.read().decode()


on_linux = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="bounds are Linux's")


@on_linux
@pytest.mark.parametrize("times", [50, pytest.param(5_000, marks=pytest.mark.long)])
def test_slips_of_the_pen(times, cogtally, tmp_path, monkeypatch):
    """No command line is a traceback, ends with another exit code, or goes beyond the bounds."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COGTALLY_CATALOG", str(tmp_path / "own.db"))
    make_catalog_book(tmp_path / "own.db", SMALL.families)
    for line in LINES:
        # What is loaded here, no run has to load again.
        cogtally(*line.replace("{folder}", str(tmp_path)).split())
    random = Random(5)
    for _ in range(times):
        words = [word.replace("{folder}", str(tmp_path)) for word in words_of(random)]
        code, _, said = bounded(*words)
        assert code in ANSWERED, (words, said)
        assert "Traceback" not in said, words


@on_linux
@pytest.mark.parametrize("times", [40, pytest.param(2_500, marks=pytest.mark.long)])
def test_spoilt_files(times, cogtally, tmp_path):
    """No file is a traceback or goes beyond the bounds, whatever was cut out of it or doubled."""
    from cogtally.catalog.files.writers import csv_of, toml_of

    plain = replace(SMALL.families[-1], given_pieces={}, paths={}, same={})
    texts = {"a.toml": toml_of(SMALL.families).encode(), "a.csv": csv_of([plain]).encode()}
    for name, text in texts.items():
        (tmp_path / name).write_bytes(text)
        cogtally("catalog", "check", str(tmp_path / name))
    random = Random(6)
    for number in range(times):
        name = random.choice(list(texts))
        data = bytearray(texts[name])
        for _ in range(random.randint(1, 4)):
            start, size = random.randrange(len(data)), random.randint(1, 30)
            part = data[start : start + size]
            noise = bytes(random.randrange(256) for _ in part)
            data[start : start + size] = random.choice(
                [b"\n", part * 2, noise, b"[", b'"', b"= {", b"9" * 99]
            )
        file = tmp_path / name
        file.write_bytes(data)
        code, out, said = bounded("catalog", "check", str(file), *(["--json"] * (number % 2)))
        assert code in ANSWERED, (bytes(data), said)
        assert "Traceback" not in said
        if number % 2 and out:
            json.loads(out)


def family(sets: str) -> str:
    return f'[family]\nid = "a"\nlayout = "layshaft"\n{sets}'


def printed(random: Random) -> str:
    gears = ", ".join(f'g{n} = "{random.uniform(0.06, 18):.6f}"' for n in range(30))
    return f"ratios = {{ {gears} }}"


#: Files that are made to keep their reader long, each by its ending.
HOSTILE: dict[str, tuple[str, Callable[[], str]]] = {
    "ratios that no teeth give": (
        "toml",
        lambda: family(
            "".join(f'[[set]]\nid = "s{n}"\n{printed(Random(n))}\n' for n in range(2_000))
        ),
    ),
    "one number": ("toml", lambda: "a = 0." + "9" * 4_900_000),
    "one string": ("toml", lambda: family('note = "' + "x" * 4_900_000 + '"')),
    "lists in lists": ("toml", lambda: "a = " + "[" * 400_000),
    "many values": ("toml", lambda: "a = [" + "1," * 199_000 + "]"),
    "many keys": ("toml", lambda: family("".join(f"k{n} = 1\n" for n in range(199_000)))),
    "many families": (
        "toml",
        lambda: "".join(f'[[family]]\nid = "f{n}"\nlayout = "axle"\n' for n in range(59_000)),
    ),
    "many features": (
        "toml",
        lambda: family(
            "".join(
                f'[[set]]\nid = "s{n}"\npairs.1 = "14/31"\n[set.features.laygear]\n'
                + "".join(f"f{n}-{k} = 1\n" for k in range(80))
                for n in range(1_900)
            )
        ),
    ),
    "many rows": (
        "csv",
        lambda: (
            "family,layout,set,1.driver\n"
            + "".join(f"f{n // 2},layshaft,s{n},14\n" for n in range(19_000))
        ),
    ),
}


@on_linux
@pytest.mark.long
@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_files(name, cogtally, tmp_path):
    """A file that is made to keep its reader long is refused or checked within the bounds."""
    ending, text = HOSTILE[name]
    file = tmp_path / f"a.{ending}"
    file.write_text(text(), encoding="utf-8")
    code, _, said = bounded("catalog", "check", str(file))
    assert code in (0, 1, 2), said
    assert "Traceback" not in said


def test_limits(cogtally):
    """More than any box or piece has is refused in one line."""
    pairs = [f"{n}=14/31" for n in range(1, 1001)]
    turns = ["1@1:0.5"] * 101
    for words, said in (
        (["turning", *pairs], "a box has at most 200 wheels, and 2,000 were written"),
        (["identify", "--demo", *pairs], "a box has at most 200 wheels"),
        (["identify", "--demo", *turns], "a box has at most 100 turn tests, and 101 were written"),
        (["piece", "--demo", *["20"] * 10_000], "a piece has at most 40 wheels, and 10,000 were"),
    ):
        refused(cogtally(*words), said)
